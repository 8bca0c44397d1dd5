import pytest
from batches import read
from confirmed import CONFIRMATION, FRESH, OTHERS, SCREENED, made
from places import DEMO

from candlelab.confirm.confirmation import confirm_pick


@pytest.fixture
def pair(tmp_path):
    """A screening of two wicks, and three fresh candles of the first."""
    return made(tmp_path / "first", SCREENED, more=[(OTHERS, "flat braid 1")]), made(
        tmp_path / "second", FRESH, toml=CONFIRMATION, month=8
    )


@pytest.fixture(scope="session")
def demo():
    return confirm_pick(read(DEMO / "screening"), read(DEMO / "confirmation"))
