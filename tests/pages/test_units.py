"""The reader's units: what is converted and how it is rounded.

That no page forgets one is tested with the pages, in `test_for_makers`.

Factors: NIST SP 811, appendix B.
"""

from batches import read
from demo_copies import FINE, IN_US, copied_demo
from places import DEMO

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


def test_the_log_says_which_units_where_the_settings_do_not(tmp_path):
    kitchen = read(DEMO / "kitchen").settings.display
    assert (kitchen.mass, kitchen.length, kitchen.temperature) == ("oz", "in", "F")
    assert (kitchen.paper, kitchen.dates) == ("Letter", "month day year")
    # its scale shows 0.01 oz, its rule 0.01 in, its thermometer whole degrees
    assert dict(kitchen.decimals) == {"oz": 2, "in": 2, "°F": 0}
    other = read(DEMO / "waxes").settings.display
    assert (other.mass, other.length, other.temperature, other.paper) == ("g", "mm", "C", "A4")
    mixed = '[display]\ntemperature = "F"\npaper = "Letter"'
    mixed = read(copied_demo(tmp_path, "waxes", mixed)).settings.display
    assert (mixed.mass, mixed.length, mixed.temperature) == ("g", "mm", "F")
    assert mixed.paper == "Letter"


def test_a_log_in_our_units_shows_the_decimals_of_the_instruments_in_the_readers(tmp_path):
    batch = read(copied_demo(tmp_path, "kitchen", IN_US, FINE))
    assert batch.settings.display.decimals == read(DEMO / "kitchen").settings.display.decimals
