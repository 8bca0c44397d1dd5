"""Tables that go with a claim: the conditions it holds under, the wick and its tolerance, when to
test again.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.burns.candidates import RECIPE, natural_order
from candlelab.compare.pooled import Pooled
from candlelab.size.line import sizes_of
from candlelab.size.sizing import size_wicks
from candlelab.text import listed


def conditions(pooled: Pooled, own: pd.DataFrame) -> pd.DataFrame:
    """Under what the burn time was found: a label that says otherwise is not covered."""
    key = pd.MultiIndex.from_frame(own[["batch", "candle"]])
    burns = pooled.burns[
        pd.MultiIndex.from_frame(pooled.burns[["batch", "candle"]]).isin(key)
        & ~pooled.burns["excluded"]
    ]
    candles = _candle_rows(pooled, own)
    first, protocol = own.iloc[0], pooled.first.settings.protocol
    load = (
        ""
        if first["fragrance"] == "none"
        else f", {first['fragrance_load_pct']:g} % of {pooled.first.settings.load_basis}"
    )
    length = (
        burns["wick_length_mm"].dropna() if "wick_length_mm" in burns else pd.Series(dtype=float)
    )
    rooms = burns["room_c"].dropna() if "room_c" in burns else pd.Series(dtype=float)
    rows = [
        (
            "fill",
            (
                f"{candles['fill_mass_g'].mean():.1f} g ({candles['fill_mass_g'].min():.1f} to "
                f"{candles['fill_mass_g'].max():.1f} g)"
            ),
        ),
        ("vessel, wax", f"{first['vessel']}, {first['wax']}"),
        (
            "fragrance",
            f"{'no fragrance' if first['fragrance'] == 'none' else first['fragrance']}{load}",
        ),
        (
            "length of a burn",
            f"{burns['burn_time_h'].median():.1f} h usually, the longest "
            f"{burns['burn_time_h'].max():.1f} h",
        ),
        ("rest", f"at least {protocol.rest_h:g} h by plan"),
        (
            "wick before a burn",
            (
                f"{length.min():.1f} to {length.max():.1f} mm"
                if len(length)
                else f"at most {protocol.wick_length_max_mm:g} mm by plan"
            ),
        ),
        (
            "room",
            (
                f"{rooms.min():.1f} to {rooms.max():.1f} °C"
                if len(rooms)
                else f"{protocol.room_low_c:g} to {protocol.room_high_c:g} °C by plan"
            ),
        ),
    ]
    return pd.DataFrame(rows, columns=["condition", "as_tested"])


def _candle_rows(pooled: Pooled, own: pd.DataFrame) -> pd.DataFrame:
    every = pd.concat(
        [b.candles.assign(batch=name) for name, b in pooled.batches.items()], ignore_index=True
    )
    return own[["batch", "candle"]].merge(every, on=["batch", "candle"], how="left")


def wick_table(pooled: Pooled, first) -> pd.DataFrame:
    """The wick as tested, with the tolerance to agree on with its supplier: half the way to the
    next size.
    """
    sizes, _ = sizes_of(pooled)
    series = sizes[sizes["wick_series"] == first["wick_series"]].reset_index(drop=True)
    at = int(series.index[series["wick_size"] == first["wick_size"]][0])
    rows = [
        (
            "series, size",
            f"{first['wick_series']} {first['wick_size']}",
            "no other; a size is never swapped without a test",
        ),
        ("wicks in the candle", f"{first['wick_count']:g}", "none"),
    ]
    for name, label, unit in (
        ("linear_density_tex", "linear density", "tex"),
        ("width_mm", "width", "mm"),
    ):
        value = series[name].iat[at]
        if np.isnan(value):
            rows.append((label, "not in wicks.csv: ask the supplier and write it down", "–"))
            continue
        gaps = [
            abs(series[name].iat[n] - value)
            for n in (at - 1, at + 1)
            if 0 <= n < len(series) and not np.isnan(series[name].iat[n])
        ]
        half = min(gaps) / 2.0 if gaps else np.nan
        worth = _worth(pooled, first, half) if name == "linear_density_tex" and gaps else ""
        rows.append(
            (
                label,
                f"{value:g} {unit}",
                (
                    f"±{half:.3g} {unit}, half the way to the next size{worth}"
                    if gaps
                    else "not known: no neighbouring size in wicks.csv"
                ),
            )
        )
    rows.append(
        (
            "length before a burn",
            f"at most {pooled.first.settings.protocol.wick_length_max_mm:g} mm",
            "trimmed before every burn",
        )
    )
    return pd.DataFrame(rows, columns=["property", "as_tested", "tolerance"])


def _worth(pooled: Pooled, first, half: float) -> str:
    """What that tolerance does to the burn rate, where the line of `sizing` shows it."""
    for line in size_wicks(pooled.worked.values()).series:
        if (
            line.series == first["series"]
            and len(line.slope)
            and line.column == "linear_density_tex"
        ):
            row = line.slope.iloc[0]
            if row["conf_low"] > 0:
                return (
                    f"; by the line through its sizes that is worth ±{half * row['estimate']:.2f} "
                    "g/h"
                )
    return ""


def triggers(pooled: Pooled, own: pd.DataFrame) -> pd.DataFrame:
    """Each change that asks for another test, with what was tested."""
    candles, first = _candle_rows(pooled, own), own.iloc[0]
    lots = listed(
        natural_order(filter(None, candles["wax_lot"].fillna("").unique())) or ["not recorded"]
    )
    now = {name: str(first[name]) for name in RECIPE} | {
        "wax_lot": lots,
        "fragrance_load_pct": f"{first['fragrance_load_pct']:g} %",
        "fill": f"{candles['fill_mass_g'].mean():.1f} g",
        "wick": first["wick"] + "; supplier not recorded",
        "wick_count": f"{first['wick_count']:g}",
        "cure": _cure(pooled),
        "": "",
    }
    return pd.DataFrame(
        [(change, now[key], again) for change, key, again in TRIGGERS],
        columns=["change", "tested", "again"],
    )


def _cure(pooled: Pooled) -> str:
    days = pooled.first.settings.protocol.cure_days
    return "not recorded" if days is None else f"{days:g} days by plan"


# what changes, and what to do again
TRIGGERS = (
    (
        "lot of wax",
        "wax_lot",
        "burn a confirmation round on the new lot before it is sold: waxes vary from lot to lot",
    ),
    ("wax or blend", "wax", "start again with a screening round"),
    (
        "fragrance",
        "fragrance",
        "start again with a screening round, one for each fragrance: the same load of another oil "
        "burns differently",
    ),
    (
        "fragrance load",
        "fragrance_load_pct",
        "burn a confirmation round; a screening round when it changes by more than a percent or so",
    ),
    ("dye", "dye", "burn a confirmation round: pigments clog wicks"),
    (
        "vessel or its supplier",
        "vessel",
        "start again with a screening round: inner diameter, wall and material decide",
    ),
    (
        "fill",
        "fill",
        "work out the burn time anew, and burn a confirmation round when the height of the fill "
        "changes",
    ),
    (
        "wick size, series or its supplier",
        "wick",
        "start again with a screening round; a new lot from the same supplier takes a confirmation "
        "round",
    ),
    ("number or place of the wicks", "wick_count", "start again with a screening round"),
    ("curing or pouring", "cure", "burn a confirmation round"),
    (
        "a complaint or an incident",
        "",
        "stop selling that lot, keep the candle, and burn the same lot again",
    ),
)

# topic, what the maker has to settle, where the words that count stand
CAUTIONARY_TOPICS = (
    ("being watched", "that somebody is with the candle while it burns", "ASTM F2058; EN 15494"),
    (
        "what is near it",
        "clearance from things that burn, and from other candles",
        "ASTM F2058; EN 15494",
    ),
    ("children and animals", "who must not reach it", "ASTM F2058; EN 15494"),
    (
        "trimming the wick",
        "the length before each burn; this was tested as given under the conditions",
        "EN 15494",
    ),
    (
        "length of a burn",
        "the longest burn; nothing longer was tested here than is given under the conditions",
        "EN 15494",
    ),
    ("draught and surface", "where it may stand", "EN 15494"),
    (
        "moving it, and liquid wax",
        "that it stays where it is while wax is liquid; no water on burning wax",
        "EN 15494",
    ),
    ("the end of it", "how much wax has to be left when it is put out for good", "EN 15494"),
    ("a damaged vessel", "that it is not lit again", "ASTM F2058; EN 15494"),
    (
        "fire safety as a whole",
        "flame, ignition, stability, end of life: tested here as screening, not as certified",
        "ASTM F2417; EN 15493",
    ),
    (
        "soot",
        "how much smoke is made, on the standard's own apparatus; the soot grades here are not "
        "that",
        "EN 15426; ASTM F2326",
    ),
    (
        "what the fragrance contains",
        "hazard words and pictograms from the supplier's safety data sheet and the mixture as sold",
        "CLP (Regulation (EC) No 1272/2008) in Europe, local law elsewhere",
    ),
    (
        "mass and burn time",
        "declared mass, and how a declared burn time is tested",
        "local law on prepackages; RAL-GZ 041 where its mark is used",
    ),
)
BUY = (
    "The standards named are sold by ASTM and by the national members of CEN. What they cover is "
    "given from memory and from pages that quote them; which edition applies, and which words a "
    "label must carry, the purchased standard and the local authority decide."
)
DECLARED_TOLERANCE = 0.10  # RAL-GZ 041, read second-hand
DECLARED_SOURCE = "RAL-GZ 041, read second-hand: burn time within 10 % of what is declared"


def caution_table() -> pd.DataFrame:
    """Cautions by topic: what to settle, and the standard that holds the words."""
    return pd.DataFrame(CAUTIONARY_TOPICS, columns=["topic", "to_settle", "standard"])
