"""What is said of every fault of a plan, as data; texts in braces are filled in on the spot."""

from __future__ import annotations

from candlelab.logs.faults import SETTINGS_FAULTS
from candlelab.logs.problems import LOOK, MUST_FIX, PROTOCOL

# Each fault: how bad it is, what is expected, what to do.
# fmt: off
PLAN_FAULTS = SETTINGS_FAULTS | {
    # numbers and texts
    "half of a pair": (
        MUST_FIX, "candle_sd_g_per_h and burn_sd_g_per_h", "Give both, or neither."),
    "checks too close together": (
        MUST_FIX, "at least 5 min", "Check every hour, as the standard's record does."),
    "implausible bench": (MUST_FIX, "at most {most:mm}", "Check the number and its unit."),
    "implausible cure": (
        MUST_FIX, "at most {most:g} days", "Check cure_days of [protocol] and of each wax."),
    "implausible day": (MUST_FIX, "a day from 2000 to 2199", "Check the year."),
    "text that a spreadsheet runs as a formula": (
        MUST_FIX, "a text that does not begin with = + - or @", "{do}"),
    "name too long for a log sheet": (
        MUST_FIX, "at most {most} characters", "Shorten the name."),
    # candidates
    "unknown vessel": (MUST_FIX, "a {key} of this file: {known}", "{do}"),
    "unknown wax": (MUST_FIX, "a {key} of this file: {known}", "{do}"),
    "unknown wick series": (MUST_FIX, "a series of wicks.csv: {known}", "{do}"),
    "unknown wick size": (
        MUST_FIX, "a size of {series} in wicks.csv: {known}",
        "Add the size to wicks.csv, or correct it."),
    "impossible load": (
        MUST_FIX, "{expected}", "Write percent, as in 8; load_basis says of what."),
    "implausible load": (LOOK, "0 to {most:g} %", "Check it; keep it if it is right."),
    "load without a fragrance": (
        MUST_FIX, 'fragrance = "..." beside it', "Name the fragrance, or set the load to 0."),
    "fragrance without a load": (
        MUST_FIX, "fragrance_load_pct beside it", "Give the load in percent."),
    "candidate given twice": (
        MUST_FIX, "each candidate once; it is also candidates {first}",
        "Take one out, and give its number of candles."),
    # fills
    "outer diameter below inner": (
        MUST_FIX, "more than {inner:mm}", "Correct one of the two diameters."),
    "fill over the brim": (
        MUST_FIX, "at most {brim:ml}, {measured}",
        "Fill less, or correct the volume or the density."),
    "scale too coarse": (
        MUST_FIX, "steps of a tenth of the fill at most",
        "Check the scale's resolution and the fill."),
    "jug smaller than a candle": (
        MUST_FIX, "at least {least:grams}, one candle and what stays in the jug",
        "Take a larger jug, or correct the fill."),
    # the bench
    "candles near an edge": (
        LOOK, "{least:mm} clear of every edge, wall and curtain",
        "Keep the candles {least:mm} clear: raise edge_mm, or turn the bench."),
    "reaching over a flame": (
        LOOK, "one row of candles that can be reached from the front",
        "Reach no candle over a lit one: use less of the bench's depth, or light the rows in "
        "turn."),
    "many flames for one person": (
        LOOK, "at most {most} lit candles for each person",
        "Light fewer at a time, or let somebody else watch as well."),
    "no time for the check itself": (
        LOOK, "a minute at least for each check, and time to spare",
        "A check takes its time: look, measure, write. Give minutes_per_check and spare_pct more."),
    "candles close together": (
        PROTOCOL, "at least {least:mm}",
        "Candles that warm each other burn otherwise than alone; give them room."),
    "too many candles": (MUST_FIX, "at most {most:,}", "Split the plan into several."),
    "more candles than places": (
        MUST_FIX, "at most {most} ({of_each}) at {spacing:mm} between vessels of {width:mm}",
        "Plan fewer candles, add a bench, or part the plan into two."),
    # days and times
    "cure too short": (
        MUST_FIX, "{cured} or later: poured {poured}, {days:g} days of cure",
        "Burn later, or pour earlier."),
    "not a day of the week": (MUST_FIX, "{week}", "Use these short names."),
    "not a time of day": (MUST_FIX, "a time as in 09:00", "Use the 24-hour clock."),
    "nobody can watch a candle": (
        MUST_FIX, "at most {usable:g} min, the time between checks less the spare time",
        "Check faster, or keep less time spare."),
    "sessions overlap": (
        MUST_FIX,
        "at least {length:g} min after the time before: lighting one candle every {stagger} min, a "
        "burn of {burn_h:g} h and the last check",
        "Light later, or burn one session a day."),
    "session past midnight": (
        MUST_FIX, "a time that leaves {length:g} min of the day", "Light earlier."),
    "more burns than anybody logs": (
        MUST_FIX, "at most {most} burns of {burn_h:g} h", "Check the expected burn rate."),
}
# fmt: on
