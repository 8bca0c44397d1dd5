"""How many cells a maker types for 3 wicks x 3 candles x 10 burns: tables, workbook, bench page.

Usage: typed_cells.py [burns of each candle on the page]. Ends with 1 when the workbook or the page
takes more than 1,300. The plain tables take 11 cells a candle, 10 a burn and 15 a check, all but
the notes; the workbook and the page leave the same readings, but for pools that are full already.
"""

import sys
import tempfile
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import pandas as pd
from benches import START, Bench
from filled import book_style, burned, fill_in, three_by_three

from candlelab.bench.state import state_of
from candlelab.logs.writer import write_batch
from candlelab.plan import folder as planning
from candlelab.plan.planned import read_plan
from candlelab.plan.workbook import BOOK, workbook_bytes

MOST = 1300
_LIGHT = ("wick_length_mm", "mass_before_g", "room_c")
_CHECK = ("flame_height_mm", "wall_c", "pool_diameter_mm", "mushroom_mm", "secondary_ignition_s")
_NOTHING_OF_ALL_THIS = {
    "soot": "0", "flame_on_vessel": "no", "vessel_damaged": "no", "surface_damaged": "no",
    "tipped": "no", "reignited": "no",
}  # fmt: skip


class Page:
    """A maker at the bench page: what is offered is tapped, the rest is typed."""

    def __init__(self, folder: Path) -> None:
        self.bench, self.typed, self.tapped = Bench(folder, START.replace(month=9, day=21)), 0, 0

    def save(self, kind: str, row, names, **picked) -> None:
        """One form: its readings, and what is picked by a click on a button of its own."""
        desk = self.bench.desk
        cards = {one["candle"]: one for one in state_of(desk)["candles"]}
        offers, values = cards[row.candle]["offers"], {}
        for name in names:
            value = getattr(row, name)
            if pd.isna(value):
                continue
            text = f"{float(value):g}"
            offered = float(offers[name]["text"]) == float(value) if name in offers else False
            self.tapped += offered
            self.typed += not offered
            values[name] = text
        self.tapped += bool(picked)
        self.bench.saved(kind, row.candle, int(row.burn), **values, **picked)


def on_the_page(planned, folder: Path, most_burns: int) -> tuple[int, int, int]:
    """Cells that are typed, and taps, for the first burns of each candle; how many burns."""
    tables = burned(planned)
    toml = planning.batch_toml(planned.plan.settings)
    empty = {name: table.iloc[:0] for name, table in tables.items()}
    write_batch(empty | {"candles": planned.candles, "wicks": planned.wicks}, toml, folder)
    page = Page(folder)
    burns = tables["burns"].assign(session=planned.due["session"])
    burns = burns[burns["burn"] <= most_burns]
    checks = tables["checks"].assign(mushroom_mm=0.0)
    for _, session in burns.groupby("session"):
        for row in session.itertuples():
            page.save("light", row, _LIGHT)
        for _, round_ in checks.merge(session[["candle", "burn"]]).groupby("elapsed_min"):
            page.bench.clock.move(60)
            for row in round_.itertuples():
                page.save("check", row, _CHECK, **_NOTHING_OF_ALL_THIS)
        for row in session.itertuples():
            page.save("out", row, ("aftersmoke_s",), ended_by="timer")
        page.bench.clock.move(180)
        for row in session.itertuples():
            page.save("weigh", row, ("mass_after_g",))
        page.bench.clock.now += timedelta(hours=17)
    return page.typed, page.tapped, len(burns)


def main() -> int:
    most_burns = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    with tempfile.TemporaryDirectory() as own:
        planned = read_plan(three_by_three(Path(own) / "plan"))
        candles, burns, checks = (len(t) for t in (planned.candles, planned.burns, planned.checks))
        plain = 11 * candles + 10 * burns + 15 * checks
        print(f"plain tables: {plain:,} cells")
        known = 10 * candles + 2 * burns + 3 * checks
        print(f"tables that the plan has filled in as far as it can: {plain - known:,}")
        path = Path(own) / BOOK
        path.write_bytes(workbook_bytes(planned, style=book_style(planned)))
        typed = fill_in(path, planned, burned(planned))
        book = sum(typed.values())
        print(f"workbook: {book:,} ({', '.join(f'{n} {what}' for what, n in typed.items())})")
        page, taps, made = on_the_page(planned, Path(own) / "page", most_burns)
        fills = candles
        print(f"bench page: {page + fills:,} typed and {taps:,} taps for {made} burns of {burns}")
    return 0 if book <= MOST and page + fills <= MOST else 1


if __name__ == "__main__":
    sys.exit(main())
