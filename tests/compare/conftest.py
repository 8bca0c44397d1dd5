import pytest
from batches import read
from places import DEMO


@pytest.fixture(scope="session")
def batches():
    """The demo batches by name."""
    return {name: read(DEMO / name) for name in ("screening", "confirmation", "waxes", "loads")}
