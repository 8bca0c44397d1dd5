"""How fast the bench answers: on a batch of 5,000 checks, and its page in a browser.

Usage: bench_speed.py [repeats]. Prints medians, with the least and the most.
"""

import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from batches import burn, candle, checks, write
from benches import LIT, SEEN, START, Bench, Served
from conftest import CHROMIUM, FLAGS

from candlelab.bench.state import state_of

BURNS = 10


def batch_of(folder: Path, candles: int) -> Path:
    """Candles of ten burns with four checks each."""
    names = [f"L{n:03d}" for n in range(candles)]
    burns = [burn(name, n, 6) for name in names for n in range(1, BURNS + 1)]
    seen = [row for name in names for n in range(1, BURNS + 1) for row in checks(name, n)]
    return write(folder, [candle(name) for name in names], burns, seen)


def timed(work, repeats: int) -> list[float]:
    took = []
    for n in range(repeats):
        began = time.perf_counter()
        work(n)
        took.append(1000 * (time.perf_counter() - began))
    return took


def say(what: str, took: list[float]) -> None:
    low, high = min(took), max(took)
    print(f"{what}: {statistics.median(took):.0f} ms ({low:.0f} to {high:.0f}, {len(took)} times)")


def of_the_desk(folder: Path, repeats: int) -> None:
    bench = Bench(folder, START.replace(month=7))
    light = LIT | {"mass_before_g": "340"}
    bench.saved("light", "L001", 11, **light)
    bench.clock.move(60)
    bench.desk.draft(bench.entry("check", "L001", 11, **SEEN))
    say(
        "validation of a check while typing, 5,000 checks in the folder",
        timed(
            lambda n: bench.desk.draft(bench.entry("check", "L001", 11, wall_c=f"4{n}")), repeats
        ),
    )

    def save(n):
        bench.clock.move(1)
        bench.saved("check", "L001", 11, **SEEN)

    say("an entry from the call to the answer, validated and on the disk", timed(save, repeats))
    say("the state of the bench", timed(lambda n: state_of(bench.desk), repeats))


def of_the_page(folder: Path, repeats: int) -> None:
    from playwright.sync_api import sync_playwright

    served = Served(folder, START.replace(month=7))
    entry = {"id": "lit-by-the-benchmark", "kind": "light", "candle": "L002", "burn": 11}
    values = {"at": served.clock().isoformat(), "values": LIT | {"mass_before_g": "340"}}
    assert served.desk.record(entry | values).status == "saved"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)

        pages = [browser.new_page(viewport={"width": 390, "height": 844}) for _ in range(repeats)]

        def visit(n):
            pages[n].goto(served.url)
            pages[n].get_by_role("button", name="Check L002").click()
            pages[n].locator("#f-wall_c").fill("40")

        visit(0)
        say("from navigation to the first reading typed into an open form", timed(visit, repeats))
        browser.close()
    served.close()


def main() -> None:
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    with tempfile.TemporaryDirectory() as own:
        of_the_desk(batch_of(Path(own) / "large", 125), repeats)  # 5,000 checks
        of_the_page(batch_of(Path(own) / "page", 18), repeats)


if __name__ == "__main__":
    main()
