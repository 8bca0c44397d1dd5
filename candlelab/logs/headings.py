"""What a studio may call a column: the trade's words, and the column that they stand for."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping

from candlelab.units import UNITS, split_unit

# Each column, without its unit, and the headings that mean it. A word that could mean two columns
# of one table is left out.
_CANDLE = ("candle no", "candle number", "candle id", "candle name", "jar no", "jar id", "sample",
           "tester", "test candle", "candle code")  # fmt: skip
_BURN = ("burn no", "burn number", "burn id", "test burn", "burn session", "burn cycle")
_NOTE = ("comment", "comments", "remark", "remarks", "observation", "observations")
# fmt: off
_WORDS = {
    "candles": {
        "candle": _CANDLE,
        "vessel": ("container", "jar", "glass", "tin", "vessel name"),
        "wax": ("wax type", "wax blend", "wax name"),
        "wick_series": ("wick", "wick type", "wick name", "series"),
        "wick_size": ("size", "wick no"),
        "fill_mass": ("fill", "fill weight", "fill wt", "wax weight", "wax wt", "net weight",
                      "net wt", "poured weight"),
        "fragrance": ("fo", "fragrance oil", "scent", "fragrance name", "oil"),
        "fragrance_load": ("load", "fo load", "scent load", "oil load", "fragrance", "fo"),
        "dye": ("color", "colour", "colorant"),
        "wick_count": ("wicks", "number of wicks", "no of wicks"),
        "poured_on": ("pour date", "date poured", "poured", "poured date"),
        "bench_position": ("position", "place", "spot", "bench place"),
        "wax_lot": ("lot", "lot no", "wax batch"),
    },
    "burns": {
        "candle": _CANDLE,
        "burn": _BURN,
        "lit_at": ("start time", "time lit", "light time", "lit time", "time started", "started",
                   "burn start", "lighting time"),
        "out_at": ("end time", "stop time", "time out", "time ended", "ended", "burn end",
                   "extinguished", "extinguished at", "put out", "put out at"),
        "mass_before": ("start wt", "start weight", "starting wt", "starting weight", "wt before",
                        "weight before", "before wt", "before weight", "initial wt",
                        "initial weight", "pre burn weight", "pre burn wt", "weight before burn"),
        "mass_after": ("end wt", "end weight", "ending wt", "ending weight", "wt after",
                       "weight after", "after wt", "after weight", "final wt", "final weight",
                       "post burn weight", "post burn wt", "weight after burn"),
        "room": ("room temp", "room temperature", "ambient", "ambient temp", "ambient temperature"),
        "wick_length": ("trim", "trimmed to", "wick trim", "trim length", "trimmed wick"),
        "ended_by": ("end reason", "reason ended", "how ended", "how it ended", "stopped by"),
        "aftersmoke": ("after smoke", "smoke after", "smoke time", "after smoke time"),
        "note": _NOTE,
    },
    "checks": {
        "candle": _CANDLE,
        "burn": _BURN,
        "elapsed": ("time", "minutes", "hours", "elapsed time", "time elapsed", "check time",
                    "time since lit", "time since lighting", "minute", "hour", "time burning"),
        "flame_height": ("flame", "flame ht", "flame hgt", "flame size", "height of flame"),
        "wall": ("wall temp", "glass temp", "jar temp", "vessel temp", "container temp",
                 "outside temp", "glass temperature", "jar temperature", "vessel temperature",
                 "surface temp", "hot spot"),
        "pool_diameter": ("melt pool", "pool", "mp", "melt pool diameter", "melt pool width",
                          "pool width", "mp width", "mp diameter", "melt pool dia", "pool dia",
                          "pool size"),
        "pool_depth": ("melt pool depth", "mp depth", "depth", "depth of pool"),
        "soot": ("sooting", "smoke", "smoking", "black smoke", "soot grade"),
        "mushroom": ("mushrooming", "carbon", "carbon cap", "mushroom size", "carbon ball"),
        "secondary_ignition": ("second ignition", "other ignition", "flash"),
        "flame_on_vessel": ("flame on glass", "flame on wall", "flame touches glass",
                            "flame touches vessel", "flame touched glass"),
        "vessel_damaged": ("cracked", "crack", "glass cracked", "jar cracked", "vessel cracked",
                           "broken", "vessel broken"),
        "surface_damaged": ("surface marked", "table marked", "surface scorched", "scorched"),
        "tipped": ("tipped over", "tip over", "fell over"),
        "reignited": ("relit", "re lit", "relights", "lit again", "re ignition", "reignition"),
        "note": _NOTE,
    },
    "wicks": {
        "wick_series": ("series", "wick", "wick type"),
        "wick_size": ("size", "wick no"),
        "size_rank": ("rank", "order"),
    },
    "wick_changes": {"candle": _CANDLE, "before_burn": ("from burn", "burn", "new wick from burn"),
                     "wick_series": ("new wick", "new series"), "wick_size": ("new size",),
                     "note": _NOTE},
    "exclusions": {"candle": _CANDLE, "burn": _BURN, "reason": ("why", "because")},
    "throw": {"candle": _CANDLE, "burn": _BURN, "assessor": ("nose", "who", "smelled by"),
              "score": ("strength", "rating", "throw", "hot throw")},
}
# fmt: on


def guess(name: str, table: str, free: Collection[str]) -> str | None:
    """The column that a heading most likely means, in the heading's unit; None without a guess.

    Parameters
    ----------
    name : str
        The heading in the house spelling, as ``units.normalise_header`` gives it.
    table : str
        Name of the table.
    free : collection of str
        Columns that no other heading names.
    """
    stem, unit = split_unit(name)
    words = re.sub(r"^(the|avg|max)_|_(degc|degf)$", "", stem).replace("_", " ").strip()
    known = {split_unit(column): column for column in free}
    for (column, own), full in known.items():
        if words not in _WORDS.get(table, {}).get(column, ()):
            continue
        if bool(own) != bool(unit) and unit:
            continue
        if own and unit and UNITS[unit].dimension != UNITS[own].dimension:
            continue
        return f"{column}_{unit}" if own and unit else full
    return None


def to_paste(headings: Mapping[str, Mapping[str, tuple[str, str]]]) -> list[str]:
    """Lines for ``batch.toml`` by which headings are read as they are.

    ``headings`` are those that ``ProblemList`` has kept: by table and heading, the column, and what
    is to be looked at first.
    """
    lines = []
    for table, own in headings.items():
        lines.append(f"[columns.{table}]")
        for heading, (name, remark) in own.items():
            line = f"{json.dumps(heading, ensure_ascii=False)} = {json.dumps(name)}"
            lines.append(line + (f"  # {remark}" if remark else ""))
    return lines
