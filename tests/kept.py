"""What was worked out of batches is kept with them: tests ask for the same ones in many ways, and
nobody changes a batch or a table."""

from functools import wraps
from importlib import import_module

import numpy as np

# In this order: what a module takes of another one is kept already.
FUNCTIONS = (
    ("candlelab.burns.repeats", "repeats"),
    ("candlelab.confirm.matching", "candidate_recipes"),
    ("candlelab.judge.together", "side_by_side"),
    ("candlelab.compare.pooled", "pool"),
)


def keep() -> None:
    """Keep what each of these functions gives, what was judged of batches side by side, and
    the picture's fit of the same scores."""
    for module, name in FUNCTIONS:
        source = import_module(module)
        setattr(source, name, _once(getattr(source, name)))
    logit = import_module("candlelab.stats.cumulative_logit")
    logit.fit_cumulative_logit = _once_for_numbers(logit.fit_cumulative_logit)
    together = import_module("candlelab.judge.together").Together
    together.__new__ = lambda cls, worked: once_for(
        [*worked.values()], (cls, *worked), lambda: object.__new__(cls)
    )


def _once(function):
    """The function of a batch, or of several; doctest would not find an example of it."""
    assert ">>> " not in function.__doc__, function

    @wraps(function)
    def once(given):
        batches = list(given) if hasattr(given, "__iter__") else [given]
        again = batches if hasattr(given, "__iter__") else given
        return once_for(batches, (function,), lambda: function(again)) if batches else function([])

    return once


def _once_for_numbers(function):
    """A function of arrays, worked out once for the same numbers."""
    assert ">>> " not in function.__doc__, function
    known = {}

    @wraps(function)
    def once(first, second, several=()):
        arrays = [np.asarray(one) for one in (first, second, *several)]
        key = tuple((one.shape, one.dtype.str, one.tobytes()) for one in arrays)
        if key not in known:
            known[key] = function(first, second, several)
        return known[key]

    return once


def once_for(batches, key, made):
    """What ``made`` gives, made once for these very batches and this key.

    They are held with it, so that their ids stay theirs.
    """
    known = batches[0].__dict__.setdefault("kept", {})
    key = (*key, *map(id, batches))
    if key not in known:
        known[key] = made(), batches
    return known[key][0]
