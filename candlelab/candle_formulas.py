"""The trade's formulas: numbers or arrays in, numbers or arrays out.

Each docstring gives units, source and range of validity. Nothing here knows tables or files;
arrays broadcast as in NumPy, and a missing number (NaN) gives a missing number. Over 400 lines,
because the docstrings of all formulas stand in one place.
"""

from __future__ import annotations

import numpy as np

PARAFFIN_KJ_PER_G = 43.8  # Hamins, Bundy, Dillon, J. Fire Prot. Eng. 15(4), 2005


def wax_used(mass_before_g, mass_after_g):
    """Wax used in a burn.

    Parameters
    ----------
    mass_before_g, mass_after_g : array_like
        Candle with vessel before lighting and after cooling [g].

    Returns
    -------
    array_like
        Mass before minus mass after [g].
    """
    return np.subtract(mass_before_g, mass_after_g)


def burn_rate(wax_used_g, burn_time_h):
    """Burn rate.

    Parameters
    ----------
    wax_used_g : array_like
        Wax used [g].
    burn_time_h : array_like
        Burn time [h].

    Returns
    -------
    array_like
        Wax used per hour [g/h]; NaN where the time is not positive.
    """
    time = np.asarray(burn_time_h, dtype=float)
    return np.divide(wax_used_g, np.where(time > 0, time, np.nan))


def reading_uncertainty(resolution, repeatability):
    """Standard uncertainty of one reading of an instrument.

    A display that rounds to ``resolution`` adds resolution / sqrt(12), a rectangular distribution
    (JCGM 100:2008, 4.3.7 and F.2.2.1).

    Parameters
    ----------
    resolution : array_like
        Step of the display, in the unit of the reading.
    repeatability : array_like
        Standard deviation of repeated readings, in the same unit.

    Returns
    -------
    array_like
        Standard uncertainty, in the same unit.
    """
    return np.sqrt(np.square(resolution) / 12.0 + np.square(repeatability))


def burn_rate_uncertainty(wax_used_g, burn_time_h, u_mass_g, u_time_h):
    """Standard uncertainty of a burn rate.

    u = sqrt(2 u_m^2 / t^2 + 2 (m u_t / t^2)^2): two weighings and two clock readings, uncorrelated
    (JCGM 100:2008, 5.1.2).

    Parameters
    ----------
    wax_used_g : array_like
        Wax used [g].
    burn_time_h : array_like
        Burn time [h].
    u_mass_g : array_like
        Standard uncertainty of one weighing [g].
    u_time_h : array_like
        Standard uncertainty of one reading of the clock [h].

    Returns
    -------
    array_like
        Standard uncertainty [g/h]; NaN where the time is not positive.
    """
    time = np.asarray(burn_time_h, dtype=float)
    time = np.where(time > 0, time, np.nan)
    return np.sqrt(
        2.0 * np.square(u_mass_g / time) + 2.0 * np.square(wax_used_g * u_time_h / time**2)
    )


def heat_release(burn_rate_g_per_h, heat_of_combustion_kj_per_g=PARAFFIN_KJ_PER_G):
    """Heat release = rate x heat of combustion / 3.6, complete combustion assumed.

    Parameters
    ----------
    burn_rate_g_per_h : array_like
        Burn rate [g/h].
    heat_of_combustion_kj_per_g : array_like
        Heat of combustion [kJ/g]. Default for paraffin: Hamins, Bundy, Dillon 2005; vegetable
        waxes are about 37-42 kJ/g (from memory).

    Returns
    -------
    array_like
        Heat release [W].
    """
    return np.multiply(burn_rate_g_per_h, heat_of_combustion_kj_per_g) / 3.6


def fragrance_fraction(load_pct, basis):
    """Mass fraction of fragrance in the fill.

    Parameters
    ----------
    load_pct : array_like
        Fragrance load [%].
    basis : str
        ``wax`` (grams of fragrance per 100 g of wax) or ``total`` (per 100 g of fill).

    Returns
    -------
    array_like
        Mass of fragrance by mass of fill, from 0 to 1.

    Raises
    ------
    ValueError
        For another basis.
    """
    load = np.asarray(load_pct, dtype=float)
    if basis == "wax":
        return load / (100.0 + load)
    if basis == "total":
        return load / 100.0
    raise ValueError(f"load basis must be wax or total, not {basis!r}")


def load_on_basis(load_pct, basis, wanted):
    """A fragrance load on another basis: 8 % of the wax are 7.407 % of the fill.

    Parameters
    ----------
    load_pct : array_like
        Fragrance load [%].
    basis, wanted : str
        As in `fragrance_fraction`.

    Returns
    -------
    array_like
        Fragrance load [%] on the basis that is wanted.
    """
    if basis == wanted:
        return load_pct
    share = fragrance_fraction(load_pct, basis)
    return 100.0 * (share if wanted == "total" else share / (1.0 - share))


def fragrance_release(burn_rate_g_per_h, load_pct, basis):
    """Fragrance release, an upper bound: assumes that oil leaves in proportion to wax.

    Parameters
    ----------
    burn_rate_g_per_h : array_like
        Burn rate [g/h].
    load_pct, basis
        As in `fragrance_fraction`.

    Returns
    -------
    array_like
        Fragrance release [g/h].
    """
    return np.multiply(burn_rate_g_per_h, fragrance_fraction(load_pct, basis))


def pool_share(pool_diameter_mm, inner_diameter_mm):
    """Melt pool diameter as a share of the inner diameter.

    Parameters
    ----------
    pool_diameter_mm, inner_diameter_mm : array_like
        Width of the melted wax, and of the vessel at the height of the wax [mm].

    Returns
    -------
    array_like
        Share [%].
    """
    return 100.0 * np.divide(pool_diameter_mm, inner_diameter_mm)


def full_pool_width(inner_diameter_mm, margin_mm=3.0):
    """Pool diameter from which a pool counts as full: near the wall on either side.

    Parameters
    ----------
    inner_diameter_mm : array_like
        Width of the vessel at the height of the wax [mm].
    margin_mm : array_like
        How near to the wall [mm]. Common practice, no source.

    Returns
    -------
    array_like
        Pool diameter [mm].
    """
    return np.subtract(inner_diameter_mm, 2.0 * margin_mm)


def warm_room_wall(wall_c, room_c, warm_room_c=30.0):
    """Wall in a warm room, by default the warm end of the test range: wall + (30 - room).

    An engineering approximation that keeps the rise over the room.

    Parameters
    ----------
    wall_c, room_c : array_like
        Wall and room as read [degC].
    warm_room_c : array_like
        The warm room [degC].

    Returns
    -------
    array_like
        Wall temperature in the warm room [degC].
    """
    return np.add(wall_c, np.subtract(warm_room_c, room_c))


def wax_of_depth(depth_mm, inner_diameter_mm, wax_g_per_ml=0.9):
    """Wax that stands so deep in a straight vessel, as if it lay level.

    Parameters
    ----------
    depth_mm, inner_diameter_mm : array_like
        Depth of the wax, and width of the vessel at the height of the wax [mm].
    wax_g_per_ml : array_like
        Density of the wax [g/ml]. Common practice, no source.

    Returns
    -------
    array_like
        Wax [g].
    """
    area_cm2 = np.pi / 4.0 * np.square(np.divide(inner_diameter_mm, 10.0))
    return np.multiply(depth_mm, 0.1) * area_cm2 * wax_g_per_ml


def failure_rate_upper(failures, candles, confidence=0.95):
    """One-sided upper bound on the failure rate (Clopper and Pearson 1934).

    No failure: 1 - (1 - confidence)^(1/n), 63.2 % for three.

    Parameters
    ----------
    failures, candles : array_like
        Candles that failed, of so many judged.
    confidence : float
        How often the bound holds, from 0 to 1.

    Returns
    -------
    ndarray
        Share, from 0 to 1; NaN without a candle, 1 when all failed.
    """
    from scipy import special  # a fifth of a second, which no check of a log has to wait for

    k, n = np.broadcast_arrays(np.asarray(failures, dtype=float), np.asarray(candles, dtype=float))
    with np.errstate(invalid="ignore"):
        bound = special.betaincinv(k + 1.0, np.where(n > k, n - k, 1.0), confidence)
    return np.where(n <= 0, np.nan, np.where(k >= n, 1.0, bound))


def grouped_line(group, x, y, n_groups):
    """Least-squares straight line of y on x in each group, all groups at once.

    Parameters
    ----------
    group : array_like of int
        Whole numbers 0 .. n_groups-1.
    x, y : array_like
        Rows with a missing x or y are left out.
    n_groups : int
        How many groups there are, with and without rows.

    Returns
    -------
    dict of str to ndarray
        Arrays of length n_groups: ``n, x_mean, y_mean, sxx, slope, slope_u, residual_sd``. The
        slope needs two different x; its standard error and the residual standard deviation need
        three rows.
    """
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    keep = np.isfinite(x) & np.isfinite(y)
    group, x, y = np.asarray(group)[keep], x[keep], y[keep]

    def total(values):
        return np.bincount(group, values, minlength=n_groups)

    n = np.bincount(group, minlength=n_groups).astype(float)
    with np.errstate(invalid="ignore", divide="ignore"):
        x_mean, y_mean = total(x) / n, total(y) / n
        dx, dy = x - x_mean[group], y - y_mean[group]
        sxx = total(dx * dx)
        scale = np.where(np.isfinite(x_mean), np.abs(x_mean), 0.0) + 1.0
        flat = sxx <= 1e-12 * np.square(scale)
        slope = np.where(flat, np.nan, total(dx * dy) / np.where(flat, 1.0, sxx))
        residual = total(np.square(dy - np.nan_to_num(slope)[group] * dx))
        residual_sd = np.where(
            (n > 2) & ~flat, np.sqrt(residual / np.where(n > 2, n - 2, 1.0)), np.nan
        )
        slope_u = residual_sd / np.sqrt(np.where(flat, np.nan, sxx))
    return {
        "n": n,
        "x_mean": x_mean,
        "y_mean": y_mean,
        "sxx": sxx,
        "slope": slope,
        "slope_u": slope_u,
        "residual_sd": residual_sd,
    }


def t_quantile(probability, df):
    """Quantile of Student's t.

    Parameters
    ----------
    probability : float
        From 0 to 1.
    df : array_like
        Degrees of freedom.

    Returns
    -------
    ndarray
        The quantile; NaN where df is not positive.
    """
    from scipy import special

    df = np.asarray(df, dtype=float)
    return np.where(df > 0, special.stdtrit(np.where(df > 0, df, 1.0), probability), np.nan)


def longest_gap(burn, elapsed, duration):
    """Longest stretch of each burn without a look; lighting and end count as looks.

    Parameters
    ----------
    burn : array_like of int
        Burn (0 .. n-1) that each check belongs to.
    elapsed : array_like
        When each check was made, since lighting.
    duration : array_like
        How long each of the n burns lasted, in the unit of ``elapsed``.

    Returns
    -------
    ndarray
        Longest stretch of each burn, in the unit of ``elapsed``.
    """
    burn, elapsed = np.asarray(burn), np.asarray(elapsed, dtype=float)
    duration = np.asarray(duration, dtype=float)
    order = np.lexsort((elapsed, burn))
    burn, elapsed = burn[order], elapsed[order]
    before = np.concatenate(([0.0], elapsed[:-1]))
    first = np.concatenate(([True], burn[1:] != burn[:-1]))[: len(burn)]
    longest, last = np.zeros(len(duration)), np.zeros(len(duration))
    np.maximum.at(longest, burn, elapsed - np.where(first, 0.0, before[: len(burn)]))
    np.maximum.at(last, burn, elapsed)
    return np.maximum(longest, duration - last)


def in_order(burn: np.ndarray, elapsed: np.ndarray) -> bool:
    """Whether checks stand burn by burn, and in each burn as the minutes went by."""
    later = elapsed[1:] >= elapsed[:-1]
    return bool(((burn[1:] > burn[:-1]) | (burn[1:] == burn[:-1]) & later).all())


def unchecked(burn, elapsed, duration, stopped, *, every, tolerance):
    """The first stretch of each burn in which a check was due and not made: its start and its end.

    Parameters
    ----------
    burn, elapsed : array_like
        Which burn (0 .. n-1) each check belongs to, and when it was made [min after lighting].
    duration, stopped : array_like of length n
        How long each burn lasted [min], and whether it was stopped before its time.
    every, tolerance : float
        The check interval and how late a check may be [min].

    Returns
    -------
    start, end : numpy.ndarray of length n
        Minutes after lighting; both missing where no check is missing.

    Notes
    -----
    A check is due at every interval while the candle burns. A burn that ends before its first check
    is due owes none. The last interval of a burn may end unchecked, within the tolerance. A burn
    that was stopped owes the reading for which it was stopped: one within the tolerance of its end.
    """
    duration, stopped = np.asarray(duration, dtype=float), np.asarray(stopped, dtype=bool)
    n, burn = len(duration), np.asarray(burn, dtype=int)
    elapsed = np.asarray(elapsed, dtype=float)
    if not in_order(burn, elapsed):
        order = np.lexsort((elapsed, burn))
        burn, elapsed = burn[order], elapsed[order]
    before = np.zeros(len(burn))
    before[1:] = elapsed[:-1]
    before[1:][burn[1:] != burn[:-1]] = 0.0
    start, end, last = np.full(n, np.nan), np.full(n, np.nan), np.zeros(n)
    np.maximum.at(last, burn, elapsed)
    tail = duration - last > every + tolerance
    tail |= (duration >= every) & (last < every - tolerance)
    tail |= stopped & (last < duration - tolerance)
    start[tail], end[tail] = last[tail], duration[tail]
    # The first stretch of a burn is written last.
    missed = np.flatnonzero(elapsed - before > every + tolerance)[::-1]
    start[burn[missed]], end[burn[missed]] = before[missed], elapsed[missed]
    return start, end
