"""An empty batch folder, with a comment in each file on what goes in."""

from __future__ import annotations

from pathlib import Path

from candlelab.logs.columns import TABLES
from candlelab.units import split_unit

US = {"g": "oz", "mm": "in", "c": "f"}
# What stands above the header of each table; a comment has neither comma nor semicolon.
COMMENTS = {
    "wicks": "One row for each wick size that you have. size_rank 1 is the smallest of its series.",
    "candles": "One row for each candle that you pour. The vessel as it is named in batch.toml.",
    "burns": "One row for each burn. Weigh before and after. ended_by is timer or self or stopped.",
    "checks": "One row for each check. Every hour while the candle burns. soot is 0 to 3. Write no "
    "where you looked and all was fine.",
}
_SETTINGS = """\
# What no table holds. A line that begins with # is not read: take the # away to use it.
# "candlelab columns" lists every setting.
title = "My test batch"
# question = "Which wick for the tumbler?"
# studio = "My studio"
# time_zone = "America/Chicago"        # as Area/City; for burns over a change of the clocks
# slash_dates = "month/day/year"       # how you write 3/4/2026
# standard = "ASTM F2417"              # or "EN 15493"; the stricter one counts when not given

[vessels."my vessel"]                  # one of these for each vessel, as candles.csv names it
inner_diameter_{length} = {inner}      # inside, at the height of the wax

# [waxes."my wax"]
# cure_days = 14

# [limits]                             # your own limits
# wall_stop_{temp} = {stop}            # put it out when the wall is hotter
# pool_depth_{length} = {depth}        # the melt pool may not be deeper

# [targets]                            # what you want; a wick that fits most of them is the pick
# burn_rate_g_per_h = {{low = 5, high = 6.5}}
# wax_left_pct = {{high = 5}}
"""
_IN_SI = {"length": "mm", "inner": "80.0", "temp": "c", "stop": "65", "depth": "13"}
_IN_US = {"length": "in", "inner": "3.15", "temp": "f", "stop": "150", "depth": "0.5"}


def new_batch(folder: Path, *, us: bool = False) -> list[Path]:
    """Write an empty batch folder; FileExistsError where a file of that name is there already.

    Parameters
    ----------
    folder : Path
        Made when it is not there.
    us : bool
        Columns in ounces, inches and degrees Fahrenheit.
    """
    texts = {"batch.toml": _SETTINGS.format(**(_IN_US if us else _IN_SI))}
    for name, comment in COMMENTS.items():
        header = ",".join(_in(column.name, us) for column in TABLES[name].columns)
        texts[TABLES[name].file] = f"# {comment}\n{header}\n"
    there = [name for name in texts if (folder / name).exists()]
    if there:
        raise FileExistsError(f"{folder} has its own {', '.join(there)}. Give another folder.")
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
    return [folder / name for name in texts]


def _in(name: str, us: bool) -> str:
    stem, unit = split_unit(name)
    return f"{stem}_{US[unit]}" if us and unit in US else name
