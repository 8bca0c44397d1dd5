"""What is said of every fault of a log, as data; texts in braces are filled in on the spot."""

from __future__ import annotations

import string

from candlelab.logs.file_faults import FILE_FAULTS
from candlelab.logs.problems import LOOK, MUST_FIX, PROTOCOL

_QUOTES = (
    'quotes in pairs, as in "a note"',
    "Close the quote, or take the quotes out; the row was not read.",
)
_NOT_READ = "It was not read; keep it if it is your own."
_OR_RIGHT = (
    'If it is right, write "is right" in the note of its row; until then what would fail counts as '
    "not checked."
)
_COUNTS = "Its numbers count; "

# Each fault: how bad it is, the column, what was found, what is expected, what to do. A number with
# the name of a column behind a colon is shown in the unit in which the file has that column.
# fmt: off
FAULTS = FILE_FAULTS | {
    # headers
    "header line not recognised": (
        MUST_FIX, "", "{found}", "the names of the columns, such as {names}",
        "Name the columns in the first line, parted by commas, semicolons or tabs."),
    "missing column": (
        MUST_FIX, "{column}", "", "a column {column}: {meaning}", "Add the column {column}."),
    "column without a name": (
        LOOK, "", "column {place}", "a name in the header line",
        "Name the column, or empty it; it was not read."),
    "two columns for one quantity": (
        MUST_FIX, "{header}", "{other} and {header}", "one column for {label}",
        "Keep one of the two columns."),
    "unit of another kind": (
        MUST_FIX, "{header}", "{header}", "a unit of {dimension}, as in {column}",
        "Check the unit at the end of the column's name."),
    "unit missing": (
        MUST_FIX, "{header}", "{header}", "a name that ends in one of {units}",
        "Name the column {column}, or with the unit that you used."),
    "unknown unit": (
        MUST_FIX, "{header}", "{header}", "a name that ends in one of {units}",
        "Name the column {column}, or with the unit that you used."),
    "misspelt column": (
        "{level}", "{header}", "{header}", "{meant}",
        "Did you mean {meant}? Rename the column.{unread}"),
    "heading of your own": (
        "{level}", "{header}", "{header}", "{meant}",
        'Rename the column to {meant}, or write "{header}" = "{meant}" under [columns.{table}] in '
        "batch.toml.{unread}"),
    "exclusions without burns": (
        MUST_FIX, "{column}", "{found}", "a column burn",
        "Name the burn of each row; leave its cell empty only to set the whole candle aside."),
    "column not known": (LOOK, "{header}", "{header}", "", _NOT_READ),
    # rows and cells
    "table without rows": ("{level}", "", "", "a row below the header", "{do}"),
    "unclosed quote": (MUST_FIX, "", "{found}", *_QUOTES),
    "broken quoting": (MUST_FIX, "", "{found}", *_QUOTES),
    "wrong number of cells": (
        MUST_FIX, "", "{cells}", "{width} cells, as in the header",
        "Look for {what} {part}{hint}; the row was not read."),
    "row given twice": (
        MUST_FIX, "{column}", "{found}", "each only once",
        "Remove one of the two rows (the first is on line {first}), or correct its number{gap}."),
    "row of totals": (
        MUST_FIX, "candle", "{found}", "the name of a candle",
        "Take this row out: it is a sum, not a candle."),
    "implausible column": (
        LOOK, "{column}", "{odd} of {read} readings, the first {found}", "{expected}",
        "Check the unit in the column's name; keep it if it is right."),
    "implausible value": (
        LOOK, "{column}", "{found}", "{expected}",
        "Check the number and the unit in the column's name; keep it if it is right."),
    # names
    "unknown candle": (
        MUST_FIX, "candle", "{found}", "a candle of candles.csv", "{do}"),
    "unknown vessel": (MUST_FIX, "vessel", "{found}", "a vessel of batch.toml: {known}", "{do}"),
    "wax not described": (LOOK, "wax", "{found}", "a wax of batch.toml: {known}", "{do}"),
    "unknown wick series": (
        MUST_FIX, "wick_series", "{found}", "a series of wicks.csv: {known}", "{do}"),
    "unknown wick size": (
        MUST_FIX, "wick_size", "{found}", "a size of {series} in wicks.csv: {known}", "{do}"),
    "spelt in two ways": (
        LOOK, "{column}", "{found}", "one spelling; there is also {usual}",
        "They count as {count}. Write both alike, or keep them if they are two things."),
    # candles
    "fragrance without a load": (
        LOOK, "fragrance_load_pct", "", "the load in percent",
        "Fill in the load; without it no fragrance release is worked out."),
    "load below half a percent": (
        LOOK, "fragrance_load_pct", "{load:g} %{times}", "percent, as in 8",
        "{pct:g} % may have been saved as {load:g}; keep it if it is right."),
    "candle without a burn": (
        LOOK, "candle", "{found}", "its burns in burns.csv",
        "Nothing if it is still to be burned; else add its burns."),
    "burned before it was poured": (
        LOOK, "poured_on", "{poured:%Y-%m-%d}", "a day before the first burn, {lit:%Y-%m-%d}",
        "Correct the day of pouring or the dates of the burns."),
    "cure too short": (
        PROTOCOL, "poured_on", "{stood:g} days", "at least {wanted:g} days",
        _COUNTS + "cure longer next time."),
    # order of burns
    "out before lit": (
        MUST_FIX, "out_at", "{out}", "a time after {lit}",
        "Correct one of the two times; mind the date when a burn passes midnight."),
    "burn longer than a day": (
        MUST_FIX, "out_at", "{out}", "a time a few hours after {lit}",
        "Correct the date of one of the two times."),
    "burns of one candle overlap": (
        MUST_FIX, "lit_at", "{lit}",
        "a time after burn {burn_before:g} ended, {trusted_out_before}",
        "Correct the times of the two burns."),
    "burns out of order": (
        MUST_FIX, "lit_at", "{lit}",
        "a time after burn {burn_before:g} ended, {trusted_out_before}",
        "Correct the times, or number the burns in the order in which they were done."),
    "burn numbers with a gap": (
        MUST_FIX, "burn", "{burn:g}", "{due:g}",
        "Add the missing burn, or number the burns again; the checks have to follow."),
    "went out by itself before its end": (
        LOOK, "ended_by", "went out by itself, yet burn {next:g} follows",
        "self only at the end of a candle or wick",
        "Correct ended_by if it was the timer; else it is a sign of drowning."),
    # weights
    "weight gained in a burn": (
        MUST_FIX, "mass_after_g", "{end:mass_after_g}", "at most {start:mass_after_g}",
        "Correct one of the two weights."),
    "more wax used than filled": (
        MUST_FIX, "mass_after_g", "{total:mass_after_g} used so far",
        "at most the fill of {fill_mass_g:mass_after_g}",
        "Check the weights of this candle and its fill in candles.csv."),
    "weights that do not add up": (
        MUST_FIX, "", "burn {burn:g} from {start:mass_before_g} to {end:mass_after_g}; in the end "
        "{all_used:mass_after_g} used", "at most the fill of {fill_mass_g:mass_after_g}",
        "This is the first weight that does not fit: check it and the one before it, then the fill "
        "in candles.csv."),
    "implausible burn rate": (
        LOOK, "mass_after_g", "{rate:.1f} g/h",
        "{plausible.low:g} to {plausible.high:g} g/h for each wick",
        "Check the two weights and the two times; keep them if they are right."),
    "weight gained between burns": (
        LOOK, "mass_before_g", "{start:mass_before_g}",
        "about {end_before:mass_before_g}, as after burn {burn_before:g}",
        'Check the weights. If wax was added, write "topped up" in the note. A weight with its lid '
        'on: write it without the lid, or write "with lid" in the note.'),
    "weight lost between burns": (
        LOOK, "mass_before_g", "{start:mass_before_g}",
        "about {end_before:mass_before_g}, as after burn {burn_before:g}",
        'Check the weights. Write in the note "wax taken out" or "leveled", or "not logged" for a '
        "burn that nobody logged; log a new wick in wick_changes.csv."),
    # scores of scent
    "neither candle nor code": (
        MUST_FIX, "{column}", "", "a candle, or a code of codes.csv", "Fill one of the two in."),
    "code of no candle": (MUST_FIX, "{column}", "{found}", "a code of codes.csv", "{do}"),
    "key still closed": (
        LOOK, "code", "{times}", "codes.csv, which says whose codes these are",
        "Put it in when all scores are in. Until then these rows are not used."),
    "candle and code do not agree": (
        MUST_FIX, "code", "{code} beside {found}", "{meant}, as codes.csv has it",
        "Correct the candle or the code."),
    "code that hides nothing": (
        LOOK, "code", "{found}", "a code that does not tell the candle",
        "Use three digits drawn by lot: a name that is known is scored for itself."),
    "no score in this row": (
        MUST_FIX, "score", "", "a score or a rank", "Fill it in, or take the row out."),
    "score off the scale": (
        MUST_FIX, "score", "{found:g}", "0 to {top:g}{words}",
        "Correct the score, or the scale in [scent] of batch.toml."),
    "score between two steps": (
        LOOK, "score", "{found:g}", "a whole step of the scale", "It counts as it stands."),
    "hot throw without its burn": (
        MUST_FIX, "burn", "", "the burn in which it was smelled",
        "Fill in the burn, or write no in the column lit."),
    "cold throw after a burn": (
        PROTOCOL, "lit", "no, with burn {found:g}", "cold throw before the first burn, burn empty",
        _COUNTS + "smell cold throw before the candle is lit."),
    "time since lighting of a cold candle": (
        LOOK, "since_lit_min", "{found:since_lit_min}", "nothing where lit is no",
        "Correct one of the two."),
    "two candles at one place": (
        MUST_FIX, "order", "{found:g} for {assessor} in session {session}", "each place once",
        "Number what was smelled in the order in which it was smelled."),
    "ranks that are no order": (
        MUST_FIX, "rank", "{found} by {assessor}", "1 to {many}, each once; ties share the middle",
        "Correct the ranks of this session."),
    "name in place of a code": (
        LOOK, "assessor", "{found}", "a code such as P1",
        "Use a code: names of people do not belong in a file that may be shared."),
    "assessor spelled in two ways": (
        MUST_FIX, "assessor", "{found}", "one spelling; there is also {other}",
        "Write both alike if they are one person."),
    "smelled beside itself": (
        MUST_FIX, "second", "{found}", "another candle than the first", "Correct one of the two."),
    "neither of the two": (
        MUST_FIX, "stronger", "{found}", "{first} or {second}", "Name one of the two."),
    # clocks
    "no time zone given": (
        LOOK, "time_zone", "", 'time_zone = "Europe/Lisbon", say',
        "Name the zone of the bench; without it a clock change during a burn goes unseen."),
    "burn over a clock change": (
        MUST_FIX, "out_at", "{lit} to {out}",
        "both times with their offset from UTC, as in 2026-03-29 03:10+01:00",
        "The clocks in {zone} changed during this burn: write both times with their offset."),
    # rows of a burn in other tables
    "burn that does not exist": (
        MUST_FIX, "{column}", "{number:g}{times}",
        "at most {last:g}, the candle's last burn in burns.csv",
        "Correct the number, or add the burn to burns.csv."),
    "burn that is not filled in": (
        MUST_FIX, "{column}", "{number:g}{times}", "a burn whose row in burns.csv is filled in",
        "Fill in the row of this burn in burns.csv, or correct the number."),
    "wick change before a burn that does not exist": (
        MUST_FIX, "{column}", "{number:g}{times}",
        "at most {last:g}, the candle's last burn in burns.csv",
        "Correct the number, or add the burn to burns.csv."),
    "check outside its burn": (
        MUST_FIX, "elapsed_min", "{elapsed:elapsed_min}",
        "at most {lasted:elapsed_min}, when the burn ended",
        "Correct the time of the check, its burn, or the end of the burn."),
    "pool wider than the vessel": (
        LOOK, "pool_diameter_mm", "{pool:pool_diameter_mm}",
        "at most the inner diameter of {inner:pool_diameter_mm}",
        "Check the reading, its unit, and the inner diameter in batch.toml."),
    # the bench's journal
    "burn not finished": (
        LOOK, "", "{found}", "a burn that was put out and weighed",
        "{seen}{do} on the bench page. Until then it is not in the tables and not judged ({checks} "
        "so far)."),
    "corrected at the bench": (
        LOOK, "{column}", "{found}", "{text}, as corrected at the bench",
        "Change the cell yourself if the correction is right: the bench never changes a row."),
    "withdrawn at the bench": (
        LOOK, "", "the row of an entry that was withdrawn", "no such row",
        "Take the row out yourself if it should go: the bench never changes a row."),
    "row gone from its table": (
        LOOK, "", "{found}", "every row that the bench wrote",
        "If a program saved an older file over it, add it again on the bench page; if you took it "
        "out, withdraw it there."),
    "line of the journal that cannot be read": (
        LOOK, "", "{found}", "one entry of the bench page",
        "Nothing: it was cut off before it was confirmed."),
    "candle lit again after a failure": (
        LOOK, "burn", "{failed}", "no burn after it",
        "Do not light it again: the test of this candle ended there."),
    "not written down": (
        LOOK, "{name}", "{blank} of {checks} checks without it, this one first",
        "an answer at every check",
        "Write no (or 0) where somebody looked and nothing happened. A blank cell counts as not "
        "checked, and the candle has no pass."),
    "never written down": (
        LOOK, "", "no column {names}", "an answer at every check",
        "Add it, and write no (or 0) where somebody looked and nothing happened. Without it the "
        "candles have no pass."),
    "wall as cold as the room": (
        LOOK, "wall_c", "{wall:wall_c} at every check of burn {burn:g}, as the room; {times}",
        "a wall warmer than the room",
        "Check where and with what the wall was read; a wall that was not read stays empty."),
    "wall colder than the room": (
        LOOK, "wall_c", "{wall:wall_c} in a room of {room:wall_c}, burn {burn:g}; {times}",
        "a wall warmer than the room",
        "Check the two temperatures and their units; a wall that was not read stays empty."),
    "no flame while it burned": (
        LOOK, "", "a flame of 0 in burn {burn:g}; {times}", "a flame, or an empty cell",
        "Leave the cell empty if nobody measured; if it went out, correct when the burn ended."),
    "flame and wall swapped": (
        LOOK, "flame_height_mm",
        "a flame of {flame:flame_height_mm} beside a wall of {wall:wall_c} in burn {burn:g}; "
        "{times}", "a wall with more degrees than its flame has mm",
        "Check whether wall and flame stand in each other's column. " + _OR_RIGHT),
    "flames that grow like a pool": (
        LOOK, "flame_height_mm",
        "a flame of {flame:flame_height_mm} in burn {burn:g} that grows at every check, and no "
        "melt pool", "a flame that goes up and down",
        "Check whether the melt pool stands in the column of the flame. " + _OR_RIGHT),
    "column in another unit": (
        MUST_FIX, "{name}", "{read:{name}} and more of the kind", "readings of a burning candle",
        "The numbers look like {unit}: name the column {header}, or write them in the unit of its "
        'name. If they are right, write "is right" in the note of this row.'),
    "candle in another unit": (
        LOOK, "{name}", "{read:{name}} in burn {burn:g}; {times}",
        "readings like those of the other candles",
        "They look like {unit}: write them in the unit of the column. " + _OR_RIGHT),
    "checks in another unit": (
        LOOK, "{name}", "{read:{name}} in burn {burn:g}; {times}", "checks over the whole burn",
        "They look like {unit}: write them in the unit of the column."),
    "reading in another unit": (
        LOOK, "{name}", "{read:{name}} in burn {burn:g}; {times}",
        "a reading like the others of this candle",
        "If it was {raw}, write {other}. " + _OR_RIGHT),
    "reading too high for its burn": (
        LOOK, "{name}", "{read:{name}} in burn {burn:g}, and cooler at the next check; {times}",
        "a wall that warms and cools slowly",
        "If it was {raw}, write {other}; else keep it: it counts as a failure."),
    "wick changed to the same one": (
        LOOK, "wick_size", "{wick}, the wick that was in it", "another wick",
        "Correct the wick, or keep it if a new one of the same size went in. A wick that was only "
        "trimmed belongs in the note of its burn."),
    "failure set aside": (
        LOOK, "", "{failed}", "nothing that failed",
        "It counts all the same, on every page: setting aside changes averages only."),
    "every burn set aside": (
        LOOK, "burn", "{found}", "one row with an empty burn",
        "It counts as the whole candle set aside: it is neither a pass nor a failure, and what "
        "failed in it stays a failure."),
    "note of an incident": (
        LOOK, "note", "{note}", "a check of this burn with {wanted}",
        "Write it into the check as well: a note is not judged. Keep it if it means another "
        "thing."),
    # the protocol
    "burn too long or too short": (
        PROTOCOL, "out_at", "{hours:.2f} h",
        "{protocol.burn_h:g} h, give or take {protocol.burn_tolerance_min:g} min",
        _COUNTS + "keep the length next time."),
    "room outside the range": (
        PROTOCOL, "room_c", "{room:room_c}", "{comfort}",
        _COUNTS + "wall temperatures are also given for a 30 °C room."),
    "no room temperature": (
        PROTOCOL, "room_c", "{found}", "the room's temperature at every burn",
        "Note it next time; the wall cannot be worked out for a warm room without it."),
    "wick longer than the trim length": (
        PROTOCOL, "wick_length_mm", "{wick:wick_length_mm}",
        "at most {protocol.wick_length_max_mm:wick_length_mm}", "Trim before each burn."),
    "weight not taken": (
        PROTOCOL, "", "burn {burn:g} without a weight", "a weight before and after every burn",
        "Its hours and checks count; burns around a weight that was not taken share their wax by "
        "their hours."),
    "rest too short": (
        PROTOCOL, "lit_at", "{rest:.1f} h", "at least {protocol.rest_h:g} h",
        "Let the candle cool to room temperature between burns."),
    "check missed": (
        PROTOCOL, "", "{gap:.0f} min without a check",
        "a check every {protocol.check_every_min:g} min",
        "What was not seen counts as not checked."),
}
# Each fault of a settings file: how bad it is, what is expected, what to do.
SETTINGS_FAULTS = {
    "wrong encoding": (MUST_FIX, "UTF-8 text", "Save the file again as UTF-8."),
    "line that cannot be read": (
        MUST_FIX, 'lines such as key = "text" or key = 1.5',
        "Fix the line: text stands in quotes, numbers have a dot and no unit, each name stands "
        "once."),
    "setting in the wrong place": (
        MUST_FIX, "{key} at the top", "Move it above the first [section]."),
    "unknown setting": (MUST_FIX, "one of {known}", "{do}"),
    "unknown target": (MUST_FIX, "one of {known}", "{do}"),
    "unknown vessel": (MUST_FIX, "a vessel of batch.toml: {known}", "{do}"),
    "unknown table": (MUST_FIX, "one of {known}", "{do}"),
    "unknown column": (MUST_FIX, "one of {known}", "{do}"),
    "missing setting": (MUST_FIX, "{expected}", "{do}"),
    "two settings for one quantity": (MUST_FIX, "{name} once", "Keep one of the two settings."),
    "wrong type of value": (MUST_FIX, "{expected}", "{do}"),
    "text where a number belongs": (
        MUST_FIX, "a number without quotes", "Write the number only; its unit stands in the name."),
    "not one of the choices": (MUST_FIX, "{choices}", "Use one of these words."),
    "unknown time zone": (
        MUST_FIX, "a name as in Europe/Lisbon",
        "Use the zone's name from the IANA list, a region and a city."),
    "impossible value": (MUST_FIX, "{expected}", "Check the number."),
    "implausible value": (
        LOOK, "{name} from {low:g} to {high:g}",
        "Check the number and its unit; keep it if it is right."),
    "caution above stop": (
        LOOK, "a caution limit at or below the stop limit",
        "Lower the caution limit, or raise the stop limit: now the stop comes before the warning."),
    "stop limit too hot": (
        LOOK, "at most {most}",
        "Most makers stop at 60 to 65 °C (140 to 150 °F). Lower it: a hotter wall burns a hand."),
    "burns shorter than the standards'": (
        LOOK, "at least {least:g} h",
        "Keep it if you mean it: a shorter burn does not show what the standards' 4 h burns show."),
    "too loose": (MUST_FIX, "{name} at most {most:g}", "{do}"),
    "target of another form": (
        MUST_FIX,
        "{{low = 5.0, high = 6.5}}, or one of the two; best = 5.7 and weight = 2 may stand beside "
        "them",
        "Write the ends of the target as numbers."),
    "target turned round": (
        MUST_FIX, "low below best below high", "Put the ends of the target in order."),
}
# fmt: on


def said(problem: str, form: string.Formatter | None = None, **values) -> dict[str, str]:
    """The texts of a fault, filled in with ``values``, by their names in ``ProblemList.add``."""
    form = form or string.Formatter()
    names = ("level", "column", "found", "expected", "do")
    filled = {"problem": problem}
    for name, text in zip(names, FAULTS[problem], strict=True):
        filled[name] = form.vformat(text, (), values) if "{" in text else text
    return filled
