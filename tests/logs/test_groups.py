"""Groups of rows as arrays, against the same worked out group by group."""

import numpy as np
import pandas as pd
import pytest

from candlelab.logs.groups import asked_once, medians, medians_of_others


@pytest.mark.parametrize("seed", range(40))
def test_medians_of_a_group_and_of_all_others(seed):
    rng = np.random.default_rng(seed)
    n = rng.integers(1, 40)
    code = rng.integers(0, rng.integers(1, 8), n)  # a number may be missing
    values = np.round(rng.normal(size=n) * 3, rng.integers(0, 3))  # the same value more than once
    own, others = medians(values, code), medians_of_others(values, code)
    assert len(own) == len(others) == code.max() + 1
    for group in range(code.max() + 1):
        for found, rows in ((own, code == group), (others, code != group)):
            expected = np.median(values[rows]) if rows.any() else np.nan
            assert found[group] == pytest.approx(expected, nan_ok=True, abs=0)


def test_each_distinct_text_is_asked_once():
    asked = []
    texts = pd.Series(["a", "", "b", "a", ""] * 3, dtype="str")
    found = asked_once(texts, lambda text: asked.append(text) or text == "a")
    assert found.tolist() == [True, False, False, True, False] * 3
    assert sorted(asked) == ["", "a", "b"]
