"""Questions to demo batches that several tests ask: each is answered once."""

from functools import cache

from batches import read
from places import DEMO

from candlelab.compare.ask import compare_batches


@cache
def of_demo(name, by, **more):
    """What is asked of a demo batch: nobody changes it."""
    return compare_batches([read(DEMO / name)], by=by, **more)
