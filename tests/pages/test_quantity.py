"""Estimates in sentences, with the decimals of tests/compare, tests/size and tests/confirm."""

import numpy as np
import pytest

from candlelab.pages.quantity import quantity


@pytest.mark.parametrize(
    ("metric", "value", "said"),
    [
        ("burn_rate_g_per_h", 5.716, "5.72 g/h"),
        ("life_h", 36.333, "36.33 h"),
        ("aftersmoke_s", 0.44, "0.4 s"),  # shown to differ from zero, and not rounded to it
        ("heat_release_w", -0.04, "0.0 W"),
        ("soot_max", 1.19, "1.2"),
        ("wall_max_c", np.nan, "–"),
    ],
)
def test_an_estimate_in_a_sentence(metric, value, said):
    assert quantity(metric, value) == said
