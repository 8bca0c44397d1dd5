import pytest
from batches import TOML
from claimed import made

SCREENED = (29.75, 30.0, 30.25, 29.85, 30.1, 29.95)


@pytest.fixture
def rounds(tmp_path):
    """A screening and its confirmation of flat braid 2, nothing wrong with either."""

    def pair(first=SCREENED, second=(29.5, 29.8, 30.15), **more):
        return [
            made(tmp_path / "first", first, toml=TOML, name="S"),
            made(tmp_path / "second", second, **{"month": 8} | more),
        ]

    return pair
