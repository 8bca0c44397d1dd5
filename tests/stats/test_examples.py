"""The examples in the docstrings of the public functions give what they show."""

import doctest

import pytest

from candlelab.stats import factorial, intervals, pairwise, proportions, survival

FUNCTIONS = [
    pairwise.compare_candidates,
    pairwise.compare_with_reference,
    pairwise.equivalence_test,
    factorial.compare_crossed,
    factorial.trend,
    proportions.compare_proportions,
    proportions.candles_needed,
    proportions.reliability_shown,
    survival.compare_times,
    intervals.inverse_prediction,
    intervals.lower_bounds,
]


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f.__name__)
def test_examples(function):
    (examples,) = doctest.DocTestFinder(recurse=False).find(
        function, globs={function.__name__: function}
    )
    ran = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS).run(examples)
    assert ran.attempted
    assert not ran.failed


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f.__name__)
def test_docstrings_have_their_parts(function):
    for part in ("Parameters", "Returns", "Examples"):
        assert f"\n    {part}\n    {'-' * len(part)}\n" in function.__doc__
