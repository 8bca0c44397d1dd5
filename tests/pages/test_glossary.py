"""Units against NIST SP 811 and pint; headers; what columns mean in the tables of every page."""

from collections import defaultdict

import numpy as np
import pandas as pd
import pytest
from batches import read
from places import DEMO

import candlelab
from candlelab.logs.columns import TABLES, TARGETS
from candlelab.pages import columns_report as report
from candlelab.pages import columns_scent as scent
from candlelab.pages import columns_steps as steps
from candlelab.pages.columns_of_table import OWN
from candlelab.pages.glossary import GLOSSARY, column, heading
from candlelab.units import UNITS, convert, normalise_header, split_unit, unit_symbol


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        (1, "oz", "g", 28.349523125),  # NIST SP 811, appendix B.8: exact
        (1, "lb", "g", 453.59237),  # NIST SP 811: exact
        (1, "in", "mm", 25.4),  # NIST SP 811: exact
        (0.25, "in", "mm", 6.35),  # trim length of ASTM F2417, second-hand
        (3, "in", "mm", 76.2),  # flame limit of ASTM F2417, second-hand
        (1, "ft", "mm", 304.8),  # NIST SP 811: exact
        (1, "floz", "ml", 29.5735295625),  # US fluid ounce, NIST SP 811: 2.957 353 E-05 m3
        (140, "f", "c", 60),  # definition of the scale, NIST SP 811
        (150, "f", "c", 65.5555555556),
        (68, "f", "c", 20),
        (86, "f", "c", 30),
        (-40, "c", "f", -40),
        (90, "min", "h", 1.5),
        (90, "s", "min", 1.5),
        (2, "days", "h", 48),
        (2, "cm", "in", 0.7874015748),
    ],
)
def test_conversion_by_outside_numbers(value, unit, to, expected):
    assert convert(value, unit, to) == pytest.approx(expected, rel=1e-11)
    assert convert(expected, to, unit) == pytest.approx(value, rel=1e-9)


PINT_NAMES = {
    "g": "gram", "kg": "kilogram", "oz": "ounce", "lb": "pound",
    "mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch", "ft": "foot",
    "c": "degC", "f": "degF", "h": "hour", "min": "minute", "s": "second", "days": "day",
    "pct": "percent", "tex": "tex", "w": "watt", "g_per_h": "gram / hour",
    "ml": "milliliter", "floz": "US_fluid_ounce",
    "oz_per_h": "ounce / hour", "kj_per_g": "kilojoule / gram", "g_per_ml": "gram / milliliter",
}  # fmt: skip


@pytest.mark.slow
def test_every_unit_agrees_with_pint():
    pint = pytest.importorskip("pint")
    registry = pint.UnitRegistry()
    assert PINT_NAMES.keys() == UNITS.keys()
    for name, unit in UNITS.items():
        for other, target in UNITS.items():
            if unit.dimension == target.dimension:
                expected = registry.Quantity(37.5, PINT_NAMES[name]).to(PINT_NAMES[other]).magnitude
                assert convert(37.5, name, other) == pytest.approx(expected, rel=1e-12), (
                    name,
                    other,
                )


def test_convert_takes_arrays_and_leaves_them_alone():
    values = np.array([212.0, 32.0, np.nan])
    np.testing.assert_allclose(convert(values, "f", "c"), [100, 0, np.nan], atol=1e-12)
    np.testing.assert_array_equal(values, [212.0, 32.0, np.nan])


def test_convert_refuses_another_dimension():
    with pytest.raises(ValueError, match=r"^g is a mass, mm a length$"):
        convert(1, "g", "mm")


@pytest.mark.parametrize(
    ("name", "stem", "unit"),
    [
        ("mass_before_oz", "mass_before", "oz"),
        ("burn_rate_g_per_h", "burn_rate", "g_per_h"),
        ("heat_of_combustion_kj_per_g", "heat_of_combustion", "kj_per_g"),
        ("brimful_volume_floz", "brimful_volume", "floz"),
        ("lit_at", "lit_at", None),
        ("note", "note", None),
        ("g", "g", None),
    ],
)
def test_the_unit_is_split_off(name, stem, unit):
    assert split_unit(name) == (stem, unit)
    assert unit_symbol(name) == (UNITS[unit].symbol if unit else "")


@pytest.mark.parametrize(
    ("header", "name"),
    [
        ("mass_before_g", "mass_before_g"),
        (" Mass before [oz] ", "mass_before_oz"),
        ("Mass Before (Ounces)", "mass_before_oz"),
        ("Room [°F]", "room_f"),
        ("Wall temperature °C", "wall_temperature_c"),
        ("Fragrance load [%]", "fragrance_load_pct"),
        ("Elapsed (hrs)", "elapsed_h"),
        ("Rest, days", "rest_days"),
        ("burn-rate [g/h]", "burn_rate_g_h"),
        ("hours", "hours"),
        ("", ""),
        ("  ", ""),
    ],
)
def test_headers_come_to_the_house_spelling(header, name):
    assert normalise_header(header) == name


def test_headings_carry_the_unit():
    assert heading("wall_c") == "wall temperature (°C)"
    assert heading("burn_rate_g_per_h") == "burn rate (g/h)"
    assert heading("candle") == "candle"
    with pytest.raises(KeyError):
        heading("colour")


def test_every_table_is_in_order():
    for name, table in TABLES.items():
        assert table.name == name
        assert table.file == f"{name}.csv"
        names = [c.name for c in table.columns]
        assert len(names) == len(set(names))
        assert set(table.key) <= set(names)
        stems = [split_unit(n)[0] for n in names]
        assert len(stems) == len(set(stems)), "a quantity stands in a table in one unit"
        for own in table.columns:
            assert own.meaning
            assert own.label
            if own.kind in ("number", "whole"):
                assert own.low < own.high
        whose = {"wicks": "wick_size", "pairs": "first", "throw": "assessor"}  # a code may stand
        assert table.column(whose.get(name, "candle")).required
    with pytest.raises(KeyError):
        TABLES["wicks"].column("candle")


def test_a_name_means_one_thing_everywhere():
    for table in TABLES.values():
        for logged in table.columns:
            assert GLOSSARY[logged.name].label == logged.label
            assert GLOSSARY[logged.name].unit == logged.unit


def test_no_name_is_declared_twice():
    """Once for every table, and at most once for one table."""
    everywhere = [*TARGETS] + [c.name for c in (*report.COLUMNS, *steps.COLUMNS, *scent.COLUMNS)]
    assert len(everywhere) == len(set(everywhere))
    in_one = [(table, c.name) for tables, *own in OWN for table in tables.split() for c in own]
    assert len(in_one) == len(set(in_one))


def test_a_table_may_mean_something_of_its_own():
    assert heading("words", "failures") == "what happened"
    assert heading("words", "signs") == "in words"
    assert column("n_needed", "pieces").meaning == "pieces that the plan uses"
    assert column("n_needed", "verdicts") == GLOSSARY["n_needed"]
    assert column("burn", "exclusions").meaning.startswith("the burn set aside")
    assert heading("wall_max_c", "a table of somebody else") == heading("wall_max_c")
    with pytest.raises(KeyError):
        column("colour", "safety")


@pytest.fixture(scope="module")
def pages():
    """The tables of every page over the demo batches, by the name of the page."""
    batches = {name: read(DEMO / name) for name in ("screening", "confirmation", "waxes", "loads")}
    found = {
        f"report of {name}": candlelab.report_page(candlelab.batch_results(batch))
        for name, batch in batches.items()
    }
    for name, by in (("screening", "wick"), ("waxes", "wax"), ("loads", "fragrance_load_pct")):
        for margin in (0.0, 2.0) if by == "wick" else (0.0,):
            asked = candlelab.compare_batches([batches[name]], by=by, margin=margin)
            found[f"comparison of {name}, margin {margin}"] = candlelab.compare_page(asked)
            if asked.crossed is not None:
                crossed = asked.crossed.interaction_differences
    rounds = [batches["screening"], batches["confirmation"]]
    found["confirmation"] = candlelab.confirm_page(candlelab.confirm_pick(*rounds))
    found["scent"] = candlelab.scent_page(candlelab.judge_scent(batches["loads"]))
    found["sizes"] = candlelab.size_page(candlelab.size_wicks(rounds))
    found["claims"] = candlelab.claim_page(candlelab.claim_label(rounds, "square braid 2"))
    plan = candlelab.read_plan(DEMO / "plan" / "plan.toml")
    found["plan"] = candlelab.plan_page(plan)
    tables = {
        name: {table: rows for table, (_, rows) in page.tables.items()}
        | {"inputs": pd.DataFrame(page.inputs)}
        for name, page in found.items()
    }
    tables["comparison of waxes, margin 0.0"]["interaction_differences"] = crossed
    tables["plan"]["problems"] = plan.problems
    wanted = candlelab.Wanted(difference=2.0, margin=2.0, reliability=0.5)
    tables["candles"] = {
        name: rows
        for name, (_, rows) in candlelab.plan_candles(rounds, wanted=wanted).tables().items()
    }
    return tables


def test_every_column_of_every_table_is_declared(pages):
    for tables in pages.values():
        for name, table in tables.items():
            for own in table.columns:
                assert column(own, name).label
                assert column(own, name).meaning


def test_no_table_has_two_columns_of_one_heading(pages):
    for page, tables in pages.items():
        for name, table in tables.items():
            heads = [heading(own, name) for own in table.columns]
            assert len(heads) == len(set(heads)), (page, name)


def test_no_page_has_two_meanings_under_one_heading(pages):
    for page, tables in pages.items():
        meanings = defaultdict(set)
        for name, table in tables.items():
            for own in table.columns:
                meanings[heading(own, name)].add(column(own, name).meaning)
        assert not {h: m for h, m in meanings.items() if len(m) > 1}, page


def test_what_a_table_means_of_its_own_stands_on_some_page(pages):
    """Else it is misspelled, or idle because it says what is said for every table."""
    shown = {
        (name, own)
        for tables in pages.values()
        for name, table in tables.items()
        for own in table.columns
    }
    for tables, *own in OWN:
        assert {(table, c.name) for table in tables.split() for c in own} <= shown
        assert all(c != GLOSSARY[c.name] for c in own)
