"""What goes with a claim: its conditions, the wick and its tolerance, tests again, cautions.

Topics and words are our own. The text that a label must carry stands in the standards, which have
to be bought; it is not given here, not even from memory.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from candlelab.burns.candidates import RECIPE, natural_order
from candlelab.compare.pooled import UNIT, Pooled
from candlelab.size.line import in_series, size_values, sizes_of
from candlelab.size.series import density_slope
from candlelab.text import NONE as NO_VALUE
from candlelab.text import amount, listed
from candlelab.units import Display

# What changes, and what to do again.
_SCREEN, _CONFIRM = "start again with a screening round", "burn a confirmation round"
TRIGGERS = (
    ("lot of wax", "wax_lot",
     f"{_CONFIRM} on the new lot before it is sold: waxes vary from lot to lot"),
    ("wax or blend", "wax", _SCREEN),
    ("fragrance", "fragrance",
     f"{_SCREEN}, one for each fragrance: the same load of another oil burns differently"),
    ("fragrance load", "fragrance_load_pct",
     f"{_CONFIRM}; a screening round when it changes by more than a percent or so"),
    ("dye", "dye", f"{_CONFIRM}: pigments clog wicks"),
    ("vessel or its supplier", "vessel",
     f"{_SCREEN}: inner diameter, wall and material decide"),
    ("fill", "fill",
     "work out the burn time anew, and burn a confirmation round when the height of the fill "
     "changes"),
    ("wick size, series or its supplier", "wick",
     f"{_SCREEN}; a new lot from the same supplier takes a confirmation round"),
    ("number or place of the wicks", "wick_count", _SCREEN),
    ("curing or pouring", "cure", _CONFIRM),
    ("a complaint or an incident", "",
     "stop selling that lot, keep the candle, and burn the same lot again"),
)  # fmt: skip

# Topic, what the maker has to settle, where the words that count stand.
_BOTH = "ASTM F2058; EN 15494"
CAUTIONARY_TOPICS = (
    ("being watched", "that somebody is with the candle while it burns", _BOTH),
    ("what is near it", "clearance from things that burn, and from other candles", _BOTH),
    ("children and animals", "who must not reach it", _BOTH),
    ("trimming the wick",
     "the length before each burn; this was tested as given under the conditions", "EN 15494"),
    ("length of a burn",
     "the longest burn; nothing longer was tested here than is given under the conditions",
     "EN 15494"),
    ("draught and surface", "where it may stand", "EN 15494"),
    ("moving it, and liquid wax",
     "that it stays where it is while wax is liquid; no water on burning wax", "EN 15494"),
    ("the end of it", "how much wax has to be left when it is put out for good", "EN 15494"),
    ("a damaged vessel", "that it is not lit again", _BOTH),
    ("fire safety as a whole",
     "flame, ignition, stability, end of life: tested here as screening, not as certified",
     "ASTM F2417; EN 15493"),
    ("soot",
     "how much smoke is made, on the standard's own apparatus; the soot grades here are not that",
     "EN 15426; ASTM F2326"),
    ("what the fragrance contains",
     "hazard words and pictograms from the supplier's safety data sheet and the mixture as sold",
     "CLP (Regulation (EC) No 1272/2008) in Europe, local law elsewhere"),
    ("mass and burn time",
     "declared mass, and how a declared burn time is tested",
     "local law on prepackages; RAL-GZ 041 where its mark is used"),
)  # fmt: skip
BUY = (
    "The standards named are sold by ASTM and by the national members of CEN. What they cover is "
    "given from memory and from pages that quote them; which edition applies, and which words a "
    "label must carry, the purchased standard and the local authority decide."
)
DECLARED_TOLERANCE = 0.10  # RAL-GZ 041, read second-hand
DECLARED_SOURCE = "RAL-GZ 041, read second-hand: burn time within 10 % of what is declared"


def conditions(pooled: Pooled, own: pd.DataFrame) -> pd.DataFrame:
    """Under what the burn time was found: a label that says otherwise is not covered."""
    key = pd.MultiIndex.from_frame(own[UNIT])
    burns = pooled.burns[~pooled.burns["excluded"]]
    burns = burns[pd.MultiIndex.from_frame(burns[UNIT]).isin(key)]
    fill = _candle_rows(pooled, own)["fill_mass_g"]
    first, protocol = own.iloc[0], pooled.first.settings.protocol
    scent = f"{first['fragrance']}, {first['fragrance_load_pct']:g} %"
    scent = f"{scent} of {pooled.first.settings.load_basis}"
    hours = burns["burn_time_h"]
    show = pooled.first.settings.display
    length = f"at most {show.written(protocol.wick_length_max_mm, 'mm')} by plan"
    low, high = show.bare(protocol.room_low_c, "°C"), show.written(protocol.room_high_c, "°C")
    room = f"{low} to {high} by plan"
    rows = [
        ("fill", f"{show.amount(fill.mean(), 'g')} ({_span(fill, 'g', show)})"),
        ("vessel, wax", f"{first['vessel']}, {first['wax']}"),
        ("fragrance", "no fragrance" if first["fragrance"] == "none" else scent),
        (
            "length of a burn",
            f"{in_hours(hours.median())} usually, the longest {in_hours(hours.max())}",
        ),
        ("rest", f"at least {protocol.rest_h:g} h by plan"),
        ("wick before a burn", _span(burns["wick_length_mm"], "mm", show) or length),
        ("room", _span(burns["room_c"], "°C", show) or room),
    ]
    return pd.DataFrame(rows, columns=["condition", "as_tested"])


def _span(values: pd.Series, unit: str, show: Display) -> str:
    """From the least to the largest value that was recorded; empty for none."""
    known = values.dropna()
    if known.empty:
        return ""
    return f"{show.number(known.min(), unit)} to {show.amount(known.max(), unit)}"


def in_hours(value: float) -> str:
    """A time as the claim says it: "32.9 h"."""
    return amount(value, "h")


def printed(declared: pd.DataFrame) -> pd.Series:
    """The row of the time that is printed: the lower of these pours and of others."""
    return declared.loc[declared["declared_h"].iloc[:2].idxmin()]


def hours_at_least(value: float) -> str:
    """A time that is promised, rounded down: "32.8 h"."""
    return amount(math.floor(10.0 * value + 1e-9) / 10.0, "h")


def whole_hours(value: float) -> int:
    """Whole hours, rounded down: a label must not promise the part that was rounded up."""
    return max(math.floor(value + 1e-9), 0)


def _candle_rows(pooled: Pooled, own: pd.DataFrame) -> pd.DataFrame:
    told = ["candle", "fill_mass_g", "wax_lot"]
    every = [batch.candles[told].assign(batch=name) for name, batch in pooled.batches.items()]
    return own[UNIT].merge(pd.concat(every, ignore_index=True), on=UNIT, how="left")


def wick_table(pooled: Pooled, first) -> pd.DataFrame:
    """The wick as tested, with the tolerance to agree on: half the way to the next size."""
    sizes, _ = sizes_of(pooled)
    series = sizes[sizes["wick_series"] == first["wick_series"]].reset_index(drop=True)
    at = int(series.index[series["wick_size"] == first["wick_size"]][0])
    settings = pooled.first.settings
    length = f"at most {settings.display.written(settings.protocol.wick_length_max_mm, 'mm')}"
    no_other = "no other; a size is never swapped without a test"
    rows = [
        ("series, size", f"{first['wick_series']} {first['wick_size']}", no_other),
        ("wicks in the candle", f"{first['wick_count']:g}", "none"),
        ("linear density", *_tolerance(pooled, first, series, at, "linear_density_tex", "tex")),
        ("width", *_tolerance(pooled, first, series, at, "width_mm", "mm")),
        ("length before a burn", length, "trimmed before every burn"),
    ]
    return pd.DataFrame(rows, columns=["property", "as_tested", "tolerance"])


def _tolerance(
    pooled: Pooled, first, series: pd.DataFrame, at: int, measure: str, unit: str
) -> tuple[str, str]:
    """A measure of the wick, and half the way from it to the nearer of its neighbours."""
    values = series[measure]
    value = values.iat[at]
    if np.isnan(value):
        return "not in wicks.csv: ask the supplier and write it down", NO_VALUE
    gaps = [abs(values.iat[n] - value) for n in (at - 1, at + 1) if 0 <= n < len(values)]
    show = pooled.first.settings.display
    half = np.nanmin(gaps) / 2.0 if not np.all(np.isnan(gaps)) else np.nan
    if np.isnan(half):
        return show.written(value, unit), "not known: no neighbouring size in wicks.csv"
    worth = _worth(pooled, first, series, half) if unit == "tex" else ""
    within = f"{show.value(half, unit):.3g} {show.symbol(unit)}"
    return show.written(value, unit), f"±{within}, half the way to the next size{worth}"


def _worth(pooled: Pooled, first, sizes: pd.DataFrame, half: float) -> str:
    """What that tolerance does to the burn rate, where the line of `sizing` shows it."""
    points = size_values(in_series(pooled), "burn_rate_g_per_h")
    points = points[points["series"] == first["series"]]
    if points.empty:
        return ""
    for row in density_slope(first["series"], points, sizes, 0.95).itertuples():
        if row.conf_low > 0:
            worth = pooled.first.settings.display.amount(half * row.estimate, "g/h")
            return f"; by the line through its sizes that is worth ±{worth}"
    return ""


def triggers(pooled: Pooled, own: pd.DataFrame) -> pd.DataFrame:
    """Each change that asks for another test, with what was tested."""
    candles, first = _candle_rows(pooled, own), own.iloc[0]
    lots = natural_order(filter(None, candles["wax_lot"].fillna("").unique()))
    now = {name: str(first[name]) for name in RECIPE} | {
        "wax_lot": listed(lots or ["not written down"]),
        "fragrance_load_pct": f"{first['fragrance_load_pct']:g} %",
        "fill": pooled.first.settings.display.amount(candles["fill_mass_g"].mean(), "g"),
        "wick": first["wick"] + "; supplier not written down",
        "wick_count": f"{first['wick_count']:g}",
        "cure": _cure(pooled),
        "": "",
    }
    rows = [(change, now[key], again) for change, key, again in TRIGGERS]
    return pd.DataFrame(rows, columns=["change", "tested", "again"])


def _cure(pooled: Pooled) -> str:
    days = pooled.first.settings.protocol.cure_days
    return "not written down" if days is None else f"{days:g} days by plan"


def caution_table() -> pd.DataFrame:
    """Cautions by topic: what to settle, and the standard that holds the words."""
    return pd.DataFrame(CAUTIONARY_TOPICS, columns=["topic", "to_settle", "standard"])
