"""kill -9 at random moments: everything that was answered is there once, nothing is torn."""

import os

import pytest
from bench_kills import kill_at_random, kill_browsers, what_is_wrong
from conftest import CHROMIUM


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="kill -9 is POSIX")
def test_what_was_answered_is_there_once(tmp_path):
    folder, maker = kill_at_random(tmp_path, kills=5, seed=20261126)
    assert what_is_wrong(folder, maker) == []
    assert len(maker.saved) > 5


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix" or CHROMIUM is None, reason="no chromium")
def test_a_browser_that_dies_loses_nothing_that_was_answered(tmp_path):
    pytest.importorskip("playwright.sync_api")
    folder, maker = kill_browsers(tmp_path, kills=4, seed=20261126)
    assert what_is_wrong(folder, maker) == []
    assert maker.saved
