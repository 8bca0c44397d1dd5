import pytest
from places import DEMO

from candlelab.logs.batch import read_batch


@pytest.fixture(scope="session")
def batches():
    """The demo batches by name."""
    return {
        name: read_batch(DEMO / name) for name in ("screening", "confirmation", "waxes", "loads")
    }
