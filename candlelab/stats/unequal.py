"""Candidates whose candles vary by different amounts: a variation of its own where one needs it.

With one spread for all, few candles of a wick that varies much and many of one that varies little
make luck look like a difference. A rule asks which candidates stand apart (Cochran's test at 5 %):
they get a spread of their own, the others keep the common one, which is known better. Of two
candidates with different numbers of candles the rule sees too little, so the wider of both
intervals is taken.
"""

from __future__ import annotations

from dataclasses import replace

from candlelab.stats.columns import CannotCompare
from candlelab.stats.designs import POOLED, SEPARATE
from candlelab.stats.models import fit_apart, fit_separate
from candlelab.stats.pairwise import (
    Comparison,
    all_differences,
    compare_all,
    comparison_of,
    model_of,
)
from candlelab.stats.words import apart, apart_words

_UNEQUAL = (
    "The two have different numbers of candles: of the interval with one variation for both and "
    "that with one for each the wider one is shown."
)
# tests/benchmarks/evidence.py, "variation 2 v 6 six times"
_TWO = (
    "Two candles say little of how much candles vary. Where one varies six times as much as the "
    "other, luck passes for a difference in about 9 of 100 such comparisons, not in 5. A third "
    "candle would help."
)


def compare_as_they_vary(
    table, *, metric, by, unit="candle", covariates=(), confidence=0.95
) -> Comparison:
    """As `compare_candidates`, with a variation of its own for each candidate that needs one.

    Parameters
    ----------
    table, metric, by, unit, covariates, confidence
        As in `compare_candidates`. With covariates one spread stands for all.

    Returns
    -------
    Comparison
        That of `compare_candidates` where no candidate stands apart. ``candle_sd`` is the spread
        that candidates have together.

    Raises
    ------
    CannotCompare
        As in `compare_candidates`.

    References
    ----------
    Cochran 1941, Ann. Eugen. 11:47; ISO 5725-2; Welch 1938, Biometrika 29:350; Satterthwaite 1946,
    Biometrics Bull. 2:110.

    Examples
    --------
    >>> from candlelab import compare_as_they_vary
    >>> import pandas as pd
    >>> table = pd.DataFrame({"wick": list("AAABBBCCC"), "candle": range(9)})
    >>> table["rate"] = [5.1, 5.1, 5.2, 5.9, 5.8, 5.9, 4.0, 6.5, 5.0]
    >>> compare_as_they_vary(table, metric="rate", by="wick").differences["df"].round(1).tolist()
    [4.0, 2.0, 2.0]
    """
    rows, model = model_of(table, metric, by, unit, covariates, confidence, POOLED)
    plain = compare_all(rows, model, confidence, POOLED)
    outlying, count = apart(rows), [rows.candles_of(i) for i in range(len(rows.cells))]
    if len(count) == 2:
        alone = not (rows.blocks or rows.numbers or rows.n_shared) and min(count) > 1
        if alone and (outlying or count[0] != count[1]):
            why = apart_words(rows, outlying) if outlying else _UNEQUAL
            found = _wider(plain, rows, confidence, why)
            return replace(found, notes=(*found.notes, _TWO)) if min(count) == 2 else found
        return plain
    if not outlying:
        return plain
    model = fit_apart(rows, frozenset(outlying))
    differences = all_differences(rows, model, confidence)
    method = (
        f"One value per candle. {apart_words(rows, outlying)} So each of them has a variation of "
        "its own, and all others have one together (Welch). Intervals of the differences allow for "
        f"looking at all {len(differences)} pairs (Games-Howell)."
    )
    return comparison_of(rows, model, differences, method, confidence, SEPARATE)


def _wider(plain, rows, confidence, why) -> Comparison:
    """Of two candidates the wider of both intervals."""
    try:
        own = compare_all(rows, fit_separate(rows), confidence, SEPARATE)
    except CannotCompare as error:
        return replace(plain, notes=(*plain.notes, str(error)))
    if own.differences["p_value"].iat[0] < plain.differences["p_value"].iat[0]:
        return plain
    return replace(own, method=f"{own.method} {why}", candle_sd=plain.candle_sd)
