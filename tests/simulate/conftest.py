"""The simulated demo batches, each made once."""

import pytest

from candlelab.simulate import demo


@pytest.fixture(scope="session")
def screening():
    return demo.demo_screening()


@pytest.fixture(scope="session")
def confirmation():
    return demo.demo_confirmation()


@pytest.fixture(scope="session")
def waxes():
    return demo.demo_waxes()


@pytest.fixture(scope="session")
def loads():
    return demo.demo_loads()
