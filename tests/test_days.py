"""Days in words: names and order against those of Unicode CLDR, as the library Babel holds them."""

from datetime import date

import pytest

from candlelab.days import LANGUAGES, MONTH_FIRST, day_words
from candlelab.units import Display

# A weekday and a month each, all of both.
DAYS = [date(2026, month, 4 + month) for month in range(1, 13)]
# CLDR's long and full forms; English of the world puts the day first, that of the US the month.
REGIONS = {"en": "en_GB"}


@pytest.mark.parametrize("language", LANGUAGES)
def test_names_and_order_are_those_of_cldr(language):
    dates = pytest.importorskip("babel.dates")
    locale = REGIONS.get(language, language)
    weekdays = dates.get_day_names("wide", locale=locale)
    for day in DAYS:
        long = dates.format_date(day, "long", locale=locale)
        assert day_words(day, language) == long
        full = day_words(day, language, weekday=True)
        assert full.replace(",", "") == f"{weekdays[day.weekday()]} {long}"


def test_the_month_first():
    dates = pytest.importorskip("babel.dates")
    for day in DAYS:
        us = Display(dates=MONTH_FIRST)
        assert us.day(day) == dates.format_date(day, "long", locale="en_US")
        assert us.day(day, weekday=True) == dates.format_date(day, "full", locale="en_US")


def test_without_babel_a_few_from_memory():
    """CLDR, from memory."""
    day = date(2026, 9, 21)
    assert day_words(day, "de", weekday=True) == "Montag, 21. September 2026"
    assert day_words(day, "fr", weekday=True) == "lundi 21 septembre 2026"
    assert day_words(day, "es") == "21 de septiembre de 2026"
    assert day_words(day, "pt", year=False) == "21 de setembro"
    assert day_words(day, "", MONTH_FIRST, year=False) == "September 21"
    # only English has two orders
    assert day_words(day, "it", MONTH_FIRST) == "21 settembre 2026"
