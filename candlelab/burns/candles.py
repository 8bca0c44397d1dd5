"""Burns into one row per wick run and one row per candle, the experimental unit.

A burn that is left out does not count in rates, maxima and numbers of burns; its wax and its hours
still belong to the candle. A candle that is left out keeps its row, worked out from all its burns
and marked, for whoever reads on to leave out.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab import candle_formulas as formulas
from candlelab.burns.candidates import RECIPE
from candlelab.burns.groups import first_rows, reduced, set_aside_whole
from candlelab.logs.batch import Batch
from candlelab.logs.groups import begins, medians

_MAXIMA = (
    "wall_max_c", "wall_max_warm_room_c", "flame_max_mm", "pool_share_max_pct",
    "pool_depth_max_mm", "soot_max", "mushroom_max_mm",
)  # fmt: skip
_NEVER = 1e9
_OF_LINE = ["fill_used_start_pct", "fill_used_pct", "burn_rate_g_per_h"]
# A projected life allows for burns that follow each other's luck (this many times the error of
# burns that do not), and for a rate that bends over the whole life (standard deviation, as a share
# of the rate). Assumptions, no source; tests/benchmarks/evidence.py tries them on other candles.
_HANG, _BEND = 1.4, 0.25


def that_count(burns: pd.DataFrame) -> pd.Series:
    """True for the burns that count in the summary of their candle."""
    return ~burns["excluded"] | set_aside_whole(burns)


def wick_runs(batch: Batch, burns: pd.DataFrame) -> pd.DataFrame:
    """One row per wick run (a candle on one wick), in candle and run order.

    Parameters
    ----------
    batch : Batch
        A batch as `read_batch` gives it.
    burns : pandas.DataFrame
        Its table of `burn_cycles`.

    Returns
    -------
    pandas.DataFrame
        Over the burns that count: ``burn_rate_g_per_h`` is total wax by total time,
        ``rate_drift_g_per_h`` the slope of rate on the share of fill used, from a full candle to an
        empty one; ``wall_max_c`` and the other maxima; ``full_pool_h`` is the median over burns,
        empty when most never got there. ``replaced``, ``replaced_because`` and ``replaced_by`` say
        what became of the wick. `GLOSSARY` has every column.

    Examples
    --------
    >>> from candlelab import burn_cycles, demo_folder, read_batch, wick_runs
    >>> batch = read_batch(demo_folder("screening"))
    >>> runs = wick_runs(batch, burn_cycles(batch))
    >>> runs.loc[runs["replaced"], ["candle", "wick", "replaced_by"]].iloc[0].tolist()
    ['S01', 'flat braid 3', 'flat braid 4']
    """
    table, code = _groups(burns, ["candle", "run"])
    first, last = _ends(code)
    first, last = (burns["burn"].to_numpy()[at] for at in (first, last))
    changes = batch.wick_changes
    key = zip(changes["candle"], changes["before_burn"], strict=True)
    reason = dict(zip(key, changes["reason"], strict=True))
    came_because = [reason.get(of, "") for of in zip(table["candle"], first, strict=True)]
    follows = (table["candle"] == table["candle"].shift(-1)).to_numpy()

    def of_next(values):
        return np.where(follows, np.concatenate((values[1:], [""])), "")

    more = {
        **_summaries(burns, code, len(table), batch),
        "first_burn": first,
        "last_burn": last,
        "replaced": follows,
        "replaced_because": pd.Series(of_next(came_because), dtype="str"),
        "replaced_by": pd.Series(of_next(table["wick"].to_numpy(dtype=object)), dtype="str"),
        **_marks(burns, code),
    }
    return pd.concat([table, pd.DataFrame(more)], axis=1)


def candle_summary(batch: Batch, burns: pd.DataFrame, runs: pd.DataFrame) -> pd.DataFrame:
    """One row per candle: what it was poured as, how it burned, how long, and what was left.

    An unfinished candle has a projected life: the straight line of its last wick's burn rate
    against share of fill used is carried on (three burns at least). It leaves as much wax as the
    ended candles of its wick, or of the batch, or none if none has ended; at the lower end up to
    ``hang_up_pct``. One that went out early has none.

    Parameters
    ----------
    batch : Batch
        A batch as `read_batch` gives it.
    burns, runs : pandas.DataFrame
        Its tables of `burn_cycles` and `wick_runs`.

    Returns
    -------
    pandas.DataFrame
        Columns as in `wick_runs`, and ``life_h``, the sum of all burn times of a candle burned to
        its end; ``life_projected_h`` with ``life_low_h`` and ``life_high_h``, a 95 % prediction
        interval whose upper end is empty when the interval of the rate reaches zero;
        ``wax_left_g``, ``wax_left_pct`` of the fill, ``hang_up``. `GLOSSARY` has every column.

    Examples
    --------
    >>> from candlelab import burn_cycles, candle_summary, demo_folder, read_batch, wick_runs
    >>> batch = read_batch(demo_folder("confirmation"))
    >>> burns = burn_cycles(batch)
    >>> candles = candle_summary(batch, burns, wick_runs(batch, burns))
    >>> len(candles), bool(candles["ended"].all())
    (9, True)
    """
    table, code = _groups(burns, ["candle"])
    protocol = batch.settings.protocol
    last = burns.iloc[_ends(code)[1]]
    fill_used = last["fill_used_pct"].to_numpy()
    left_pct, went_out = 100.0 - fill_used, (last["ended_by"] == "self").to_numpy()
    ended = went_out & (left_pct <= protocol.end_wax_left_pct)
    hours = burns["burn_time_h"].groupby(code).sum().to_numpy()
    n_runs = last["run"].to_numpy()
    at_end = pd.Series(left_pct, index=last.index).where(ended & ~last["excluded"])
    stays = _wax_that_stays(last["candidate"], at_end)
    swaps = _swaps(runs)
    more = {
        "fill_mass_g": last["fill_mass_g"].to_numpy(),
        **_summaries(burns, code, len(table), batch),
        "n_runs": n_runs,
        "ended": ended,
        "life_h": np.where(ended, hours, np.nan),
        **_projected_life(burns, code, n_runs, hours, stays, went_out, protocol),
        "wax_left_g": last["fill_mass_g"].to_numpy() * wax_left(fill_used) / 100.0,
        "wax_left_pct": wax_left(fill_used),
        "hang_up": ended & (left_pct > protocol.hang_up_pct),
        "between_burns_g": np.bincount(code, _between_burns(burns), minlength=len(table)),
        "replaced": n_runs > 1,
        **{
            name: pd.Series([of.get(candle, "") for candle in table["candle"]], dtype="str")
            for name, of in swaps.items()
        },
        **_marks(burns, code),
    }
    return pd.concat([table, pd.DataFrame(more)], axis=1)


def wax_left(fill_used_pct: np.ndarray | pd.Series) -> np.ndarray:
    """Wax left [% of the fill]: none where scale and pour leave a little less than nothing, missing
    where the weights do not add up (2 %, as `check` has it; common practice, no source)."""
    left = 100.0 - np.asarray(fill_used_pct, dtype=float)
    return np.where(left < -2.0, np.nan, np.maximum(left, 0.0))


def _between_burns(burns: pd.DataFrame) -> np.ndarray:
    """What each candle gained before a burn since the one before [g]."""
    same = (burns["candle"] == burns["candle"].shift()).to_numpy()
    step = burns["mass_before_g"] - burns["mass_after_g"].shift()
    return np.nan_to_num(np.where(same, step, 0.0))


def _swaps(runs: pd.DataFrame) -> dict[str, dict[str, str]]:
    """Why and by what the wicks of a candle were replaced, one after the other, by candle."""
    gone = runs[runs["replaced"]]
    found: dict[str, dict[str, str]] = {}
    for name in ("replaced_because", "replaced_by"):
        of = found.setdefault(name, {})
        for candle, told in zip(gone["candle"], gone[name], strict=True):
            of[candle] = f"{of[candle]}; {told}" if candle in of else told
    return found


def _groups(burns: pd.DataFrame, by: list[str]) -> tuple[pd.DataFrame, np.ndarray]:
    """First row's names of each group, and the group of each burn; burns come in order."""
    starts = first_rows(burns, by)
    code = np.repeat(np.arange(len(starts)), np.diff(starts, append=len(burns)))
    names = [*by, "candidate", "wick", "wick_series", "wick_size", *RECIPE]
    return burns[names].iloc[starts].reset_index(drop=True), code


def _ends(code: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The first and the last burn of each group."""
    change = np.flatnonzero(np.diff(code))
    return np.append(0, change + 1), np.append(change, len(code) - 1)


def _summaries(
    burns: pd.DataFrame, code: np.ndarray, n: int, batch: Batch
) -> dict[str, np.ndarray]:
    """What both summaries hold, by group.

    Groups 0 .. n-1 come in order; one without a burn that counts is missing.
    """
    keep = that_count(burns).to_numpy()
    group = code[keep]
    starts = begins(group)

    def used(name):
        return burns[name].to_numpy()[keep]

    wax = ~np.isnan(used("wax_used_g"))
    hours = np.where(wax, used("burn_time_h"), 0.0)

    def total(values):
        return np.bincount(group, np.where(wax, values, 0.0), minlength=n)

    def largest(name):
        return reduced(group, used(name).astype(float), n)

    middle = (used("fill_used_start_pct") + used("fill_used_pct")) / 200.0
    line = formulas.grouped_line(group, middle, used("burn_rate_g_per_h"), n)
    never = np.isnan(used("full_pool_h")) & ~np.isnan(used("pool_watched_h"))
    typical = medians(np.where(never, _NEVER, used("full_pool_h")), group)
    typical = np.append(typical, np.full(n - len(typical), np.nan))
    full_pool = ~np.isnan(used("full_pool_by_h"))
    turn = np.arange(len(group)) - np.repeat(starts, np.diff(starts, append=len(group))) + 1
    at_least = 100.0 - batch.settings.protocol.end_wax_left_pct
    early = (used("ended_by") == "self") & (used("fill_used_pct") < at_least)
    u_wax = np.sqrt(total(np.square(used("burn_rate_u_g_per_h") * hours)))
    first, last = _ends(code)
    share, smoke = used("pool_share_last_pct"), pd.Series(used("aftersmoke_s")).groupby(group)
    at = np.where(np.isnan(share), -1, np.arange(len(share)))
    latest = reduced(group, at, n, by=np.maximum, blank=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        per_hour = 1.0 / np.where(total(hours) > 0, total(hours), np.nan)
    return {
        "n_burns": np.bincount(group, minlength=n),
        "hours_h": np.bincount(code, burns["burn_time_h"], minlength=n),
        "wax_used_g": np.bincount(code, burns["wax_used_g"], minlength=n),
        "burn_rate_g_per_h": total(used("wax_used_g")) * per_hour,
        "burn_rate_u_g_per_h": u_wax * per_hour,
        "rate_drift_g_per_h": line["slope"],
        "rate_drift_u_g_per_h": line["slope_u"],
        "heat_release_w": total(used("heat_release_w") * hours) * per_hour,
        "fragrance_release_g_per_h": total(used("fragrance_release_g_per_h") * hours) * per_hour,
        "fill_used_start_pct": burns["fill_used_start_pct"].to_numpy()[first],
        "fill_used_pct": burns["fill_used_pct"].to_numpy()[last],
        **{name: largest(name) for name in _MAXIMA},
        "pool_share_last_pct": np.where(latest >= 0, np.append(share, np.nan)[latest], np.nan),
        "full_pool_h": np.where(typical >= _NEVER / 10, np.nan, typical),
        "burns_to_full_pool": reduced(group[full_pool], turn[full_pool], n, by=np.minimum),
        "aftersmoke_s": smoke.mean().reindex(range(n)).to_numpy(),
        "self_out_early": np.bincount(group, early, minlength=n).astype(int),
    }


def _marks(burns: pd.DataFrame, code: np.ndarray) -> dict[str, object]:
    first, _ = _ends(code)
    excluded = np.logical_and.reduceat(burns["excluded"].to_numpy(), first)
    reasons = burns["exclusion_reason"].to_numpy(dtype=object)[first]
    return {"excluded": excluded, "exclusion_reason": np.where(excluded, reasons, "")}


def _wax_that_stays(wick: pd.Series, left_at_end: pd.Series) -> np.ndarray:
    """Share of the fill [%] that a candle will leave, going by those that ended on its wick."""
    of_wick = left_at_end.groupby(wick).transform("mean")
    return of_wick.fillna(left_at_end.mean()).fillna(0.0).to_numpy()


def _projected_life(burns, code, runs, hours, stays, went_out, protocol) -> dict[str, np.ndarray]:
    """The last wick's line of rate on share of fill used, carried to the wax that stays.

    The interval allows for burns that hang together, for a rate that bends, and takes what burns
    differ by from all candles that still burn.
    """
    n = len(runs)
    keep = (that_count(burns) & (burns["run"].to_numpy() == runs[code])).to_numpy()
    used, group = burns[_OF_LINE][keep], code[keep]
    middle = (used["fill_used_start_pct"] + used["fill_used_pct"]).to_numpy() / 200.0
    line = formulas.grouped_line(group, middle, used["burn_rate_g_per_h"], n)
    _, ends = _ends(code)
    fill = burns["fill_mass_g"].to_numpy()[ends]
    fill_used = burns["fill_used_pct"].to_numpy()[ends] / 100.0
    left, least = (
        fill * np.maximum(1.0 - fill_used - share / 100.0, 0.0)
        for share in (stays, np.maximum(stays, protocol.hang_up_pct))
    )
    until = 1.0 - stays / 100.0
    ahead = (fill_used + until) / 2.0 - line["x_mean"]
    square = formulas.grouped_line(group, middle, middle**2 + 0.0 * used["burn_rate_g_per_h"], n)
    bent = ((fill_used + until) / 2.0) ** 2 + (until - fill_used) ** 2 / 12.0
    bent -= square["y_mean"] + square["slope"] * ahead
    sd, df = _burn_to_burn(line)
    with np.errstate(invalid="ignore", divide="ignore"):
        rate = line["y_mean"] + line["slope"] * ahead
        rate = np.where((rate > 0) & ~went_out & (left > 0), rate, np.nan)
        burns_ahead = np.maximum(left / rate / protocol.burn_h, 1.0)
        spread = (
            _HANG
            * sd
            * np.sqrt(1.0 / burns_ahead + 1.0 / line["n"] + np.square(ahead) / line["sxx"])
        )
        reach = np.hypot(formulas.t_quantile(0.975, df) * spread, 1.96 * _BEND * rate * bent)
        reach = np.where(line["n"] > 2, reach, np.nan)
        slow = np.where(rate - reach > 0, rate - reach, np.nan)
        return {
            "life_projected_h": np.where(np.isfinite(reach), hours + left / rate, np.nan),
            "life_low_h": hours + least / (rate + reach),
            "life_high_h": hours + left / slow,
        }


def _burn_to_burn(line) -> tuple[float, np.ndarray]:
    """What burns differ by about the lines of all candles, and how well that is known."""
    df = np.where(np.isfinite(line["residual_sd"]), np.maximum(line["n"] - 2.0, 0.0), 0.0)
    squares = np.nansum(df * np.square(line["residual_sd"]))
    total = float(df.sum())
    return float(np.sqrt(squares / total)) if total else np.nan, np.array([total])


def wick_change_effects(runs: pd.DataFrame) -> pd.DataFrame:
    """One row per wick change: the same candle before and after.

    The second wick met a part-used candle, so the change is the wick and the depth together.

    Parameters
    ----------
    runs : pandas.DataFrame
        The table of `wick_runs`.

    Returns
    -------
    pandas.DataFrame
        ``candle``, ``before_burn``, ``wick_before``, ``wick_after``, ``reason``; burn rate [g/h],
        widest pool [% of the width] and hottest wall [degC] before and after.

    Examples
    --------
    >>> from candlelab import burn_cycles, demo_folder, read_batch, wick_change_effects, wick_runs
    >>> batch = read_batch(demo_folder("screening"))
    >>> changes = wick_change_effects(wick_runs(batch, burn_cycles(batch)))
    >>> changes[["candle", "wick_before", "wick_after"]].iloc[0].tolist()
    ['S01', 'flat braid 3', 'flat braid 4']
    """
    before = runs[runs["replaced"].to_numpy(dtype=bool)].reset_index(drop=True)
    after = runs[(runs["run"] > 1).to_numpy()].reset_index(drop=True)
    return pd.DataFrame(
        {
            "candle": before["candle"],
            "before_burn": after["first_burn"],
            "wick_before": before["wick"],
            "wick_after": after["wick"],
            "reason": before["replaced_because"],
            "burn_rate_before_g_per_h": before["burn_rate_g_per_h"],
            "burn_rate_after_g_per_h": after["burn_rate_g_per_h"],
            "burn_rate_change_g_per_h": after["burn_rate_g_per_h"] - before["burn_rate_g_per_h"],
            "pool_before_pct": before["pool_share_max_pct"],
            "pool_after_pct": after["pool_share_max_pct"],
            "wall_before_c": before["wall_max_c"],
            "wall_after_c": after["wall_max_c"],
            "fill_used_pct": after["fill_used_start_pct"],
        }
    )
