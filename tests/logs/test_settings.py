"""batch.toml into Settings: values, defaults, units, and the line of every fault.

Messages are in tests/broken.
"""

import dataclasses
import math

import pytest

from candlelab.logs.columns import TARGETS
from candlelab.logs.problems import ProblemList
from candlelab.logs.settings import Instruments, Limits, Protocol, Settings, Target, Vessel, Wax
from candlelab.logs.settings_reader import read_settings
from candlelab.pages.glossary import GLOSSARY

LEAST = 'title = "t"\n[vessels.tin]\ninner_diameter_mm = 60\n'


def read(text):
    problems = ProblemList()
    return read_settings(text, problems), problems.table()


def test_the_least_that_is_needed():
    settings, problems = read(LEAST)
    assert problems.empty
    assert settings == Settings(title="t", vessels={"tin": Vessel(60.0)})
    assert settings.stage == "screening"
    assert settings.load_basis == "wax"
    assert settings.limits == Limits()
    assert settings.targets == ()


def test_everything_at_once_in_the_units_of_the_file():
    settings, problems = read(
        """
        title = "t"
        question = "q"
        stage = "confirmation"
        confirms = "first"
        studio = "s"
        time_zone = "Europe/Lisbon"
        slash_dates = "day/month/year"
        load_basis = "total"
        [vessels."small tin"]
        inner_diameter_in = 2.5
        inner_height_cm = 4
        brimful_volume_floz = 5
        description = "plain"
        [waxes.soft]
        heat_of_combustion_kj_per_g = 40
        cure_days = 10
        [limits]
        wall_caution_f = 140
        wall_stop_f = 150
        flame_in = 2
        pool_depth_mm = 13
        [protocol]
        burn_min = 240
        rest_h = 4
        room_low_f = 68
        [instruments]
        scale_resolution_oz = 0.01
        clock_resolution_s = 30
        [targets]
        burn_rate_g_per_h = {low = 5, high = 6.5}
        wall_max_c = {high = 60}
        """
    )
    assert problems.empty
    tin = settings.vessels["small tin"]
    assert tin.inner_diameter_mm == pytest.approx(63.5)  # 2.5 in, NIST SP 811
    assert tin.inner_height_mm == pytest.approx(40)
    assert tin.brimful_volume_ml == pytest.approx(147.867648, rel=1e-8)  # 5 US fl oz, NIST SP 811
    assert settings.waxes["soft"] == Wax(40.0, 10.0)
    assert settings.limits.wall_caution_c == pytest.approx(60)
    assert settings.limits.wall_stop_c == pytest.approx(65.5555555556)  # 150 degF, NIST SP 811
    assert settings.limits.flame_mm == pytest.approx(50.8)
    assert settings.protocol.burn_h == pytest.approx(4)
    assert settings.protocol.rest_h == 4
    assert settings.protocol.room_low_c == pytest.approx(20)
    assert settings.instruments.scale_resolution_g == pytest.approx(0.28349523125)
    assert settings.instruments.clock_resolution_min == pytest.approx(0.5)
    assert settings.targets == (
        Target("burn_rate_g_per_h", 5, 6.5),
        Target("wall_max_c", -math.inf, 60),
    )
    assert (settings.stage, settings.confirms, settings.load_basis) == (
        "confirmation",
        "first",
        "total",
    )


def test_defaults_of_the_standards_and_of_practice():
    # ASTM F2417, read second-hand: 4 h burns, hourly checks, 20-30 degC, 3 h of rest, wick 1/4 in
    protocol = Protocol()
    assert (protocol.burn_h, protocol.check_every_min, protocol.rest_h) == (4, 60, 3)
    assert (protocol.room_low_c, protocol.room_high_c) == (20, 30)
    assert protocol.wick_length_max_mm == 6.35
    # common practice, no source: caution 60 degC, stop 65 degC
    assert (Limits().wall_caution_c, Limits().wall_stop_c) == (60, 65)
    # Hamins, Bundy, Dillon, J. Fire Prot. Eng. 15(4), 2005: paraffin
    assert Wax().heat_of_combustion_kj_per_g == 43.8
    assert Instruments().scale_resolution_g == 0.1


def test_records_cannot_be_changed():
    settings, _ = read(LEAST)
    with pytest.raises(dataclasses.FrozenInstanceError):
        settings.title = "other"


@pytest.mark.parametrize("quantity", TARGETS)
def test_every_target_is_in_the_glossary(quantity):
    assert quantity in GLOSSARY
    settings, problems = read(f"{LEAST}[targets]\n{quantity} = {{low = 1}}\n")
    assert problems.empty
    assert settings.targets == (Target(quantity, 1, math.inf),)


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [
        (LEAST + "[limits]\nwall_stop_c = 'x'\n", 5, "limits.wall_stop_c"),
        (LEAST + "[ limits ]\n# wall_stop_c = 65\n  wall_stop_c = true\n", 6, "limits.wall_stop_c"),
        (
            'title = "within limits?"\nlimits = {wall_stop_c = "x"}\n' + LEAST.split("\n", 1)[1],
            2,
            "limits.wall_stop_c",
        ),
        (
            'title = "t"\nlimits.wall_stop_c = nan\n' + LEAST.split("\n", 1)[1],
            2,
            "limits.wall_stop_c",
        ),
        (
            LEAST + "[vessels.'old tin']\ninner_diameter_mm = 'wide'\n",
            5,
            "vessels.old tin.inner_diameter_mm",
        ),
        (LEAST + '[ vessels . "old tin" ]\ninner_height_mm = 5\n', 4, "vessels.old tin"),
        (LEAST + "[waxes.soft]\ncolour = 'white'\n", 5, "waxes.soft.colour"),
        ('title = "t"\nweather = [1]\n' + LEAST.split("\n", 1)[1], 2, "weather"),
        (LEAST + "[targets]\nlife_h = {low = nan}\n", 5, "targets.life_h"),
        (LEAST + "[targets]\nlife_h = {least = 3}\n", 5, "targets.life_h"),
        (LEAST + "[waxes]\nsoft = 3\n", 5, "waxes.soft"),
        (LEAST + "[targets]\ntime_zone = 'UTC'\n", 5, "targets.time_zone"),
        (LEAST + "slash_dates = 'day/month/year'\n", 4, "vessels.tin.slash_dates"),
        (LEAST + "[instruments]\nscale_resolution_mm = 3\n", 5, "instruments.scale_resolution_mm"),
        (LEAST + "description_g = 3\n", 4, "vessels.tin.description_g"),
        (LEAST + f"[limits]\nwall_stop_c = {'9' * 400}\n", 5, "limits.wall_stop_c"),
        (LEAST + f"[targets]\nlife_h = {{low = {'9' * 400}}}\n", 5, "targets.life_h"),
    ],
)
def test_a_fault_is_found_on_its_line(text, line, column):
    _, problems = read(text)
    assert len(problems) == 1
    assert problems["line"][0] == line
    assert problems["column"][0] == column
    assert problems["file"][0] == "batch.toml"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("title = t\n", 1),
        ('title = "a\nb"\n', 1),
        (LEAST + "title = 3\n[vessels.tin]\n", 5),
        ("title", 1),
        ("x = " + "[" * 5000, 1),
        ("x = " + "1" * 5000, 1),
    ],
)
def test_what_is_no_toml(text, line):
    settings, problems = read(text)
    assert settings is None
    assert list(problems["problem"]) == ["line that cannot be read"]
    assert problems["line"][0] == line


def test_an_empty_file_lacks_title_and_vessels():
    settings, problems = read("")
    assert settings.title == "untitled"
    assert list(problems["column"]) == ["title", "vessels"]


def test_a_line_break_of_windows_counts_once():
    _, problems = read((LEAST + "[limits]\nwall_stop_c = 'x'\n").replace("\n", "\r\n"))
    assert problems["line"][0] == 5
