"""What a log should not hold: burns after a failure, limits that are not read, cells of two."""

import pytest

from candlelab.logs.batch import check_batch
from candlelab.logs.problems import LOOK, MUST_FIX
from tests.batches import TOML, burn, candle, checks, write

COLUMNS = ["level", "file", "line", "column", "found", "what_to_do"]


def of(problems, problem):
    """Level, file, line, column, found and advice of each problem of that name."""
    rows = problems.loc[problems["problem"] == problem, COLUMNS]
    return list(rows.itertuples(index=False, name=None))


def three_burns(folder, seen=(), *, minutes=(60, 120, 180, 240), toml=TOML, **more):
    """Problems of candle A after three burns; ``seen`` has what its checks saw, by burn."""
    seen = dict(seen)
    rows = [row for n in (1, 2, 3) for row in checks("A", n, minutes, **seen.get(n, {}))]
    burns = [burn("A", n, 19) for n in (1, 2, 3)]
    return check_batch(write(folder, [candle("A")], burns, rows, toml=toml, **more))


@pytest.mark.parametrize(
    ("seen", "text"),
    [
        ({"vessel_damaged": ["no", "no", "yes", "yes"]}, "the vessel was damaged in burn 1 at 180"),
        ({"soot": [0, 3, 0, 0]}, "steady black smoke in burn 1 at 120"),
        ({"secondary_ignition_s": [0, 0, 0, 11]}, "something other than the wick burned in burn 1"),
        ({"flame_height_mm": [30, 75.5, 30, 30]}, "a flame over 75 mm in burn 1 at 120 min"),
        ({"wall_c": [45, 45, 65.5, 45]}, "a wall over 65 °C in burn 1 at 180 min"),
    ],
)
def test_a_candle_lit_again_after_a_failure(tmp_path, seen, text):
    ((level, *place, found, do),) = of(
        three_burns(tmp_path, {1: seen}), "candle lit again after a failure"
    )
    assert (level, *place) == (LOOK, "burns.csv", 3, "burn")
    assert found.startswith(text)
    assert do == "Do not light it again: the test of this candle ended there."


def test_nothing_follows_a_failure_of_the_last_burn_or_a_reading_at_its_limit(tmp_path):
    seen = {3: {"tipped": "yes"}, 1: {"wall_c": 65, "soot": 2, "secondary_ignition_s": 10}}
    assert not of(three_burns(tmp_path, seen), "candle lit again after a failure")


def test_the_flame_limit_is_that_of_the_standard_named_and_of_the_studio(tmp_path):
    tall = {1: {"flame_height_mm": 76}}
    astm = 'standard = "ASTM F2417"\n' + TOML
    problem = "candle lit again after a failure"
    assert not of(three_burns(tmp_path / "astm", tall, toml=astm), problem)
    own = astm + "[limits]\nflame_mm = 50\n"
    ((*_, found, _),) = of(three_burns(tmp_path / "own", tall, toml=own), problem)
    assert found == "a flame over 50 mm in burn 1 at 60 min"


def test_a_new_wick_begins_a_new_test_but_mends_no_vessel(tmp_path):
    change = {"candle": "A", "before_burn": 2, "wick_series": "flat braid", "wick_size": "1"}
    for seen, times in (({"soot": 3}, 0), ({"vessel_damaged": "yes"}, 1)):
        problems = three_burns(tmp_path / f"{times}", {1: seen}, wick_changes=[change])
        assert len(of(problems, "candle lit again after a failure")) == times


@pytest.mark.parametrize("name", ["limit", "Limits", "limtis", "wall_limits"])
def test_a_misspelled_section_of_limits_must_be_fixed(tmp_path, name):
    toml = TOML + f"[{name}]\nwall_stop_c = 55\n"
    do = "Name the section [limits]: a limit that is not read is not there."
    assert of(three_burns(tmp_path, toml=toml), "unknown setting") == [
        (MUST_FIX, "batch.toml", 7, name, name, do)
    ]


def test_limits_at_the_top_and_unknown_ones_must_be_fixed(tmp_path):
    toml = "wall_stop_c = 55\nweather = 1\n" + TOML + "[limits]\nwall_stp_c = 55\n"
    found = of(three_burns(tmp_path, toml=toml), "unknown setting")
    assert [row[:4] for row in found] == [
        (MUST_FIX, "batch.toml", 1, "wall_stop_c"),
        (MUST_FIX, "batch.toml", 10, "limits.wall_stp_c"),
        (LOOK, "batch.toml", 2, "weather"),
    ]
    assert found[0][-1].startswith("Write wall_stop_c below [limits]: a limit that is not read")
    assert found[1][-1].startswith("Did you mean 'wall_stop_c'?")


def test_limits_that_guard_nothing(tmp_path):
    toml = TOML + "[limits]\nwall_caution_c = 68\nwall_stop_c = {}\n"
    problems = three_burns(tmp_path / "low", toml=toml.format(66))
    ((*place, found, _),) = of(problems, "caution above stop")
    assert place == [LOOK, "batch.toml", 8, "limits.wall_caution_c"]
    assert found == "caution at 68 °C (154 °F), stop at 66 °C (151 °F)"
    ((*place, found, _),) = of(
        three_burns(tmp_path / "hot", toml=toml.format(71)), "stop limit too hot"
    )
    assert (place, found) == ([LOOK, "batch.toml", 9, "limits.wall_stop_c"], "71 °C (160 °F)")
    assert three_burns(tmp_path / "good", toml=toml.format(70)).empty


@pytest.mark.parametrize(
    ("header", "column", "found"),
    [("candle,reason", "burn", "no such column"), ("candle,burns,reason", "burns", "burns")],
)
def test_exclusions_must_name_their_burns(tmp_path, header, column, found):
    three_burns(tmp_path)
    path = tmp_path / "exclusions.csv"
    row = header.replace("candle", "A").replace("burns", "2").replace("reason", "a draft")
    path.write_text(f"{header}\n{row}\n", encoding="utf-8")
    do = "Name the burn of each row; leave its cell empty only to set the whole candle aside."
    problems = check_batch(tmp_path)
    assert of(problems, "exclusions without burns") == [
        (MUST_FIX, "exclusions.csv", 1, column, found, do)
    ]
    assert len(problems) == 1


def test_exclusions_without_rows_or_with_empty_burns_are_fine(tmp_path):
    assert three_burns(tmp_path / "none", exclusions=[]).empty
    whole = [{"candle": "A", "burn": "", "reason": "a draft"}]
    assert three_burns(tmp_path / "whole", exclusions=whole).empty


@pytest.mark.parametrize(
    ("text", "do"),
    [
        ("80/78", "These are two readings: write the higher one, 80, and put the other in the"),
        ("78/80 °C", "These are two readings: write the higher one, 80, and put the other in the"),
        ("80-78", "These are two readings: write the higher one, 80, and put the other in the"),
        ("78, 80.5", "These are two readings: write the higher one, 80.5, and put the other in"),
        ("12/16", "These are two readings: write the higher one, 16, and put the other in the"),
        ("5/8", "Write 0.625."),
        ("1 1/4", "Write 1.25."),
        ("80/78/77", "Write the number only; its unit stands in the column's name"),
    ],
)
def test_two_readings_in_a_cell_are_never_made_one_number(tmp_path, text, do):
    ((*_, found, told),) = of(
        three_burns(tmp_path, {1: {"wall_c": [text, 45, 45, 45]}}), "text where a number belongs"
    )
    assert found == text
    assert told.startswith(do)


def test_a_remark_in_place_of_a_weight_may_say_that_nobody_weighed(tmp_path):
    path = write(tmp_path, [candle("A")], [burn("A", 1, 19, mass_after_g="forgot")])
    ((*_, do),) = of(check_batch(path), "text where a number belongs")
    assert do.endswith("remarks go to the note. If nobody weighed it, write: not taken.")


def test_of_two_weights_neither_is_the_right_one(tmp_path):
    path = write(tmp_path, [candle("A")], [burn("A", 1, 19, mass_after_g="381/379")])
    ((*_, do),) = of(check_batch(path), "text where a number belongs")
    assert do == "These are two readings: write one of them, and put the other in the note."


@pytest.mark.parametrize("name", ["Total", "SUM", "average", "Totals:"])
def test_a_row_of_totals_is_no_candle(tmp_path, name):
    three_burns(tmp_path)
    for file in ("candles", "burns", "checks"):
        path = tmp_path / f"{file}.csv"
        text = path.read_text("utf-8")
        path.write_text(text + name + "," * text.split("\n")[0].count(",") + "\n", "utf-8")
    problems = check_batch(tmp_path)
    do = "Take this row out: it is a sum, not a candle."
    assert of(problems, "row of totals") == [
        (MUST_FIX, f"{file}.csv", line, "candle", name, do)
        for file, line in (("burns", 5), ("candles", 3), ("checks", 14))
    ]
    assert len(problems) == 3


def test_walls_and_flames_that_no_burning_candle_has(tmp_path):
    as_room = {"wall_c": 22}
    problems = three_burns(tmp_path / "same", {2: as_room, 3: as_room})
    ((*place, found, _),) = of(problems, "wall as cold as the room")
    assert place == [LOOK, "checks.csv", 6, "wall_c"]
    assert found == "22 °C at every check of burn 2, as the room; 2 burns"
    assert len(problems) == 1

    problems = three_burns(tmp_path / "cold", {1: {"wall_c": [45, 20, 20, 45]}})
    ((*place, found, _),) = of(problems, "wall colder than the room")
    assert place == [LOOK, "checks.csv", 3, "wall_c"]
    assert found == "20 °C in a room of 22 °C, burn 1; 2 checks"

    problems = three_burns(tmp_path / "out", {3: {"flame_height_mm": [30, 0, 30, 0]}})
    ((*place, found, _),) = of(problems, "no flame while it burned")
    assert (place[:3], found) == ([LOOK, "checks.csv", 11], "a flame of 0 in burn 3; 1 check")


def test_one_wall_as_cold_as_the_room_is_a_reading_like_another(tmp_path):
    assert three_burns(tmp_path / "first", {1: {"wall_c": [22, 30, 40, 45]}}).empty
    gaps = three_burns(tmp_path / "gaps", {1: {"wall_c": ["", 22, "", 22]}})
    assert len(of(gaps, "wall as cold as the room")) == 1
    lone = three_burns(tmp_path / "lone", {1: {"wall_c": 22}}, minutes=(60,))
    assert not of(lone, "wall as cold as the room")


@pytest.mark.parametrize(
    ("note", "wanted"),
    [
        ("The jar CRACKED at the rim", "vessel_damaged = yes"),
        ("it smoked and caught fire", "soot = 3 and secondary_ignition_s or a yes"),
        ("tipped when I moved it", "tipped = yes"),
        ("flame shot up, blew it out", "the flame at its tallest"),
        ("put out early, flame too high", "the flame at its tallest"),
        ("flare up at the wick", "secondary_ignition_s or a yes"),
        ("flame against the glass", "flame_on_vessel = yes"),
        ("smoking when I came back", "soot = 3"),
        ("jar leaked on the bench", "vessel_damaged = yes"),
        ("label singed", "surface_damaged = yes"),
        ("relit by itself", "reignited = yes"),
        ("no crack, not smoked, without smoke", ""),
        ("never tipped, didn't crack, wax level fell, small flame", ""),
        ("firewood and a cracker nearby", ""),
    ],
)
def test_a_note_of_an_incident_that_no_check_has(tmp_path, note, wanted):
    problems = three_burns(tmp_path / "check", {2: {"note": ["", note, "", ""]}})
    rows = [burn("A", n, 19, note=note if n == 2 else "") for n in (1, 2, 3)]
    path = write(tmp_path / "burn", [candle("A")], rows, checks("A", 2))
    for found, file, line in ((problems, "checks.csv", 7), (check_batch(path), "burns.csv", 3)):
        told = of(found, "note of an incident")
        assert [row[:5] for row in told] == ([(LOOK, file, line, "note", note)] if wanted else [])
        expected = found.loc[found["problem"] == "note of an incident", "expected"]
        assert list(expected) == ([f"a check of this burn with {wanted}"] if wanted else [])


def test_a_note_that_its_check_bears_out(tmp_path):
    seen = {"note": ["cracked", "", "", ""], "vessel_damaged": "yes"}
    assert three_burns(tmp_path, {3: seen}).empty


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("check.csv", "checks.csv"),
        ("burns (1).csv", "burns.csv"),
        ("checks.xlsx", "checks.csv"),
        ("burns.ods", "burns.csv"),
        ("Checks old.csv", "checks.csv"),
    ],
)
def test_a_file_like_a_table_was_not_read(tmp_path, name, meant):
    three_burns(tmp_path)
    (tmp_path / name).write_bytes(b"candle\n")
    (row,) = check_batch(tmp_path).to_dict("records")
    assert (row["level"], row["problem"]) == (LOOK, "file was not read")
    assert (row["file"], row["expected"]) == (name, meant)
    assert row["what_to_do"].startswith("It was not read: put what it holds into")


def test_a_file_that_is_no_table_is_left_alone(tmp_path):
    three_burns(tmp_path)
    for name in ("burns.png", "README.md", "prices.xlsx"):
        (tmp_path / name).write_bytes(b"x")
    assert check_batch(tmp_path).empty


@pytest.mark.parametrize(
    ("setting", "found"), [("burn_h = 3.5", "3.5 h"), ("burn_min = 120", "2 h"), ("burn_h = 4", "")]
)
def test_burns_shorter_than_those_of_the_standards(tmp_path, setting, found):
    problems = three_burns(tmp_path, toml=TOML + f"[protocol]\n{setting}\n")
    told = of(problems, "burns shorter than the standards'")
    column = f"protocol.{setting.split()[0]}"
    assert [row[:5] for row in told] == ([(LOOK, "batch.toml", 8, column, found)] if found else [])


def test_a_short_burn_of_the_protocol_hides_nothing_that_left_it(tmp_path):
    toml = TOML + "[protocol]\nburn_h = 3\n"
    assert len(of(three_burns(tmp_path, toml=toml), "burn too long or too short")) == 3
