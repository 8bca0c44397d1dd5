"""Which targets were missed, and by how much, in the reader's units."""

from batches import read
from judged import Log, three
from places import DEMO

from candlelab.judge.worked import WorkedBatch


def _off(worked):
    every = [line for decision in worked.decisions for line in decision.lines]
    return [line.split("Off target: ")[1] for line in every if "Off target: " in line]


def test_the_reading_farthest_off_stands_beside_the_target(tmp_path):
    targets = "[targets]\nlife_h = {low = 21, high = 22}\n"
    assert _off(three().settings(targets).worked(tmp_path)) == [
        "life down to 20 h, target 21 to 22 h (3 of 3 candles)."
    ]


def test_a_reading_is_told_from_its_target_however_near(tmp_path):
    log = Log(A="flat braid 2").check("A", 2, 60, wall_c=50.04)
    assert _off(log.settings("[targets]\nwall_max_c = {high = 50}\n").worked(tmp_path)) == [
        "highest wall temperature 50.04 °C, target at most 50 °C."
    ]


def test_a_pool_that_stays_short_of_the_wall_says_by_how_much():
    """K14: the middle of its nine widest pools is 88.5 % of 91.44 mm, 5.3 mm (0.21 in) short."""
    worked = WorkedBatch(read(DEMO / "kitchen"))
    told = [line for line in _off(worked) if "K14" in line]
    own = worked.burns[worked.burns["candle"] == "K14"]
    short = 91.44 * (1 - own["pool_share_max_pct"].median() / 100) / 2 / 25.4
    assert len(told) == 1
    assert told[0].startswith(
        f"melt pool of K14 not full in 9 of 9 burns, usually {short:.2f} in short of the wall "
        "(1 of 3 candles)."
    )
