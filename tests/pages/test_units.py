"""The reader's units: what is converted, how it is rounded, and that no page forgets one.

Factors: NIST SP 811, appendix B.
"""

import re
import shutil

import matplotlib
import pytest

matplotlib.use("Agg")

from batches import read
from places import DEMO
from shown_pages import shown, text_of

from candlelab.logs.writer import WritingStyle, write_batch
from candlelab.pages.glossary import column
from candlelab.units import SI, Display

US = Display(mass="oz", length="in", temperature="F", dates="month day year")


def test_a_value_is_converted_and_keeps_the_decimals_that_it_is_worth():
    assert US.amount(28.349523125, "g") == "1.00 oz"
    assert US.amount(25.4, "mm") == "1.00 in"
    assert US.amount(5.72, "g/h", mean=True) == "0.202 oz/h"
    assert US.amount(65.0, "°C") == "149.0 °F"
    assert SI.amount(65.0, "°C") == "65.0 °C"
    assert US.amount(4.0, "h") == SI.amount(4.0, "h") == "4.0 h"
    shown_by_scale = Display(mass="oz", decimals=(("oz", 3), ("°F", 0)))
    assert shown_by_scale.amount(28.349523125, "g") == "1.000 oz"


def test_a_difference_of_temperatures_is_no_temperature():
    assert US.amount(5.0, "°C", span=True) == "9.0 °F"
    assert US.amount(5.0, "°C") == "41.0 °F"


def test_a_limit_is_written_as_somebody_would_and_in_both_systems_where_it_guards():
    assert SI.written(6.35, "mm") == "6.35 mm"
    assert US.written(6.35, "mm") == "0.25 in"
    assert SI.both(65.0, "°C") == "65 °C (149 °F)"
    assert US.both(65.55555555555556, "°C") == "150 °F (66 °C)"
    assert US.both(76.2, "mm") == "3 in (76.2 mm)"
    assert US.bare(0.0, "g") == "0"
    assert SI.bare(0.0001, "g") == "0.0001"


def test_headings_follow():
    assert US.heading(column("burn_rate_g_per_h")) == "burn rate (oz/h)"
    assert US.heading(column("wall_max_c")) == "highest wall temperature (°F)"
    assert SI.heading(column("fill_mass_g")) == "fill (g)"


# ------------------------------------------------------------------------- from the log


def _copy(folder, name, more="", style=None):
    """A demo batch with lines at the end of its batch.toml; its log written again in a style."""
    shutil.copytree(DEMO / name, folder / name)
    toml = folder / name / "batch.toml"
    text = f"{toml.read_text(encoding='utf-8')}\n{more}\n"
    toml.write_text(text, encoding="utf-8")
    if style is None:
        return folder / name
    batch = read(DEMO / name)
    names = ("candles", "burns", "wicks", "wick_changes", "exclusions")
    write_batch({n: getattr(batch, n) for n in names}, text, folder / name, style=style)
    # the writer keeps flames in whole mm, which is coarser than 0.01 in
    flags = batch.checks.select_dtypes("boolean")
    words = {name: flags[name].map({True: "yes", False: "no"}) for name in flags}
    checks = batch.checks.assign(soot=batch.checks["soot"].astype("Int64"), **words)
    checks.to_csv(folder / name / "checks.csv", index=False, float_format="%.12f")
    return folder / name


FINE = WritingStyle(decimals={"g": 12, "mm": 12, "c": 12})
IN_US = '[display]\nunits = "us"'


def test_the_log_says_which_units_where_the_settings_do_not(tmp_path):
    kitchen = read(DEMO / "kitchen").settings.display
    assert (kitchen.mass, kitchen.length, kitchen.temperature) == ("oz", "in", "F")
    assert (kitchen.paper, kitchen.dates) == ("Letter", "month day year")
    # its scale shows 0.01 oz, its rule 0.01 in, its thermometer whole degrees
    assert dict(kitchen.decimals) == {"oz": 2, "in": 2, "°F": 0}
    other = read(DEMO / "waxes").settings.display
    assert (other.mass, other.length, other.temperature, other.paper) == ("g", "mm", "C", "A4")
    mixed = '[display]\ntemperature = "F"\npaper = "Letter"'
    mixed = read(_copy(tmp_path, "waxes", mixed)).settings.display
    assert (mixed.mass, mixed.length, mixed.temperature) == ("g", "mm", "F")
    assert mixed.paper == "Letter"


def test_a_log_in_our_units_shows_the_decimals_of_the_instruments_in_the_readers(tmp_path):
    batch = read(_copy(tmp_path, "kitchen", IN_US, FINE))
    assert batch.settings.display.decimals == read(DEMO / "kitchen").settings.display.decimals


OURS = re.compile(r"(?<![\w/])(g|mm|°C|g/h|ml|kg)(?![\w/])")
# Where both systems stand, and the standing texts with both.
BOTH = re.compile(
    r"\([\d.]+ (mm|°C|°F|in)\)|°F/\d+ °C|[\d.]+ (mm|°C) \([\d.]+ (in|°F)\)|30 cm \(12 in\)"
)


def _forgotten(text):
    """Every place that shows a unit of ours alone, with what stands around it."""
    text = BOTH.sub("", text)
    return [text[max(0, m.start() - 60) : m.end() + 20] for m in OURS.finditer(text)]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("notebook", "parameters"),
    [
        ("batch_report", {"batch_folder": str(DEMO / "kitchen")}),
        ("compare_wicks", {"batch_folders": [str(DEMO / "kitchen")]}),
        ("compare_wicks", {"batch_folders": [str(DEMO / "kitchen")], "metric": "wall_max_c"}),
        ("size_wick", {"batch_folders": [str(DEMO / "kitchen")]}),
        (
            "label_claims",
            {
                "batch_folders": [str(DEMO / "kitchen")],
                "candidate": "flat braid 2 x3, stoneware tumbler",
            },
        ),
    ],
)
def test_no_page_of_the_kitchen_shows_a_unit_of_ours_alone(notebook, parameters):
    text = text_of(shown(notebook, **parameters))
    assert _forgotten(text) == []
    assert "°F" in text or notebook == "size_wick"


@pytest.mark.slow
@pytest.mark.parametrize("notebook", ["confirm_pick", "compare_waxes", "compare_fragrance_loads"])
def test_a_reader_who_asks_for_other_units_gets_them_on_every_page(notebook, tmp_path):
    names = {"compare_waxes": "waxes", "compare_fragrance_loads": "loads"}
    if notebook == "confirm_pick":
        given = {
            "screening_folder": str(_copy(tmp_path, "screening", IN_US)),
            "confirmation_folder": str(DEMO / "confirmation"),
        }
    else:
        given = {"batch_folders": [str(_copy(tmp_path, names[notebook], IN_US))]}
    assert _forgotten(text_of(shown(notebook, **given))) == []


@pytest.mark.slow
def test_the_same_batch_logged_in_either_system_makes_one_page(tmp_path):
    """To the last digit that the instruments show; what differs names the files, their bytes and
    what a row of them holds."""
    ours = shown("batch_report", batch_folder=str(_copy(tmp_path, "kitchen", IN_US, FINE)))
    theirs = shown("batch_report", batch_folder=str(DEMO / "kitchen"))
    files = re.compile(r"Files read|Look at this|Off plan|results\.json")
    told = [[piece for piece in pieces if not files.search(piece)] for pieces in (ours, theirs)]
    assert told[0] == told[1]
    assert sum(len(re.findall(r"\d", piece)) for piece in told[0]) > 5_000


SILLY = re.compile(r"\d+\.\d{5,}|\d{5,}\.\d")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("notebook", "parameters"),
    [
        ("batch_report", {"batch_folder": str(DEMO / "screening")}),
        ("batch_report", {"batch_folder": str(DEMO / "kitchen")}),
        ("compare_wicks", {}),
        ("compare_waxes", {}),
        ("compare_fragrance_loads", {}),
        ("size_wick", {}),
        ("confirm_pick", {}),
        ("label_claims", {}),
        ("plan_batch", {}),
    ],
)
def test_no_page_shows_more_digits_than_anybody_reads(notebook, parameters):
    text = text_of(shown(notebook, **_in_place(notebook, parameters)))
    text = re.sub(r"[0-9a-f]{64}|\d+\.\d+\.\d+\S*", "", text)
    found = [text[max(0, m.start() - 50) : m.end() + 10] for m in SILLY.finditer(text)]
    assert found == []


def _in_place(notebook, parameters):
    """The parameters with the demo folders where the tests find them."""
    usual = {
        "compare_wicks": {"batch_folders": [str(DEMO / "screening")]},
        "compare_waxes": {"batch_folders": [str(DEMO / "waxes")]},
        "compare_fragrance_loads": {"batch_folders": [str(DEMO / "loads")]},
        "size_wick": {"batch_folders": [str(DEMO / "screening")]},
        "confirm_pick": {
            "screening_folder": str(DEMO / "screening"),
            "confirmation_folder": str(DEMO / "confirmation"),
        },
        "label_claims": {"batch_folders": [str(DEMO / "screening"), str(DEMO / "confirmation")]},
        "plan_batch": {"plan_file": str(DEMO / "plan" / "plan.toml")},
    }
    return parameters or usual[notebook]
