"""A log is written as it was asked for, and says the same in every style."""

import numpy as np
import pandas as pd
import pytest

from candlelab.logs.writer import SPREADSHEET, write_batch
from candlelab.simulate.demo import demo_screening


@pytest.fixture(scope="module")
def tables():
    return demo_screening().tables


def test_styles_write_the_same_batch_another_way(tmp_path, tables):
    write_batch(tables, 'title = "a"\n', tmp_path / "plain")
    write_batch(tables, 'title = "a"\n', tmp_path / "other", style=SPREADSHEET)
    plain = pd.read_csv(tmp_path / "plain" / "burns.csv")
    other = pd.read_csv(
        tmp_path / "other" / "burns.csv", sep=";", decimal=",", encoding="utf-8-sig"
    )
    assert list(plain)[:6] == [
        "candle",
        "burn",
        "lit_at",
        "out_at",
        "mass_before_g",
        "mass_after_g",
    ]
    # 28.349523125 g in an ounce (NIST SP 811); three decimals are 0.014 g at most.
    np.testing.assert_allclose(
        other["Mass before [oz]"] * 28.349523125, plain["mass_before_g"], atol=0.0143
    )
    np.testing.assert_allclose((other["Room [°F]"] - 32) / 1.8, plain["room_c"], atol=0.028)
    assert (tmp_path / "plain" / "burns.csv").read_bytes()[:3] == b"can"
    assert b"\r" not in (tmp_path / "other" / "checks.csv").read_bytes()


def test_writing_changes_no_table(tmp_path, tables):
    before = {name: table.copy() for name, table in tables.items()}
    write_batch(tables, "", tmp_path, style=SPREADSHEET)
    for name, table in before.items():
        pd.testing.assert_frame_equal(table, tables[name])
