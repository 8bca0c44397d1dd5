"""Small logs to judge: candles burned to their end with nothing wrong, then changed by hand."""

from __future__ import annotations

import tempfile
from pathlib import Path

import batches
from batches import candle, life

from candlelab.judge.worked import WorkedBatch

# said of a confirmation where no number of fresh candles shows a small change
FEW = (
    "as many fresh candles as you can, at least three: its candles differ too much to show a 20 % "
    "change in burn rate."
)
LIMITS = "[limits]\npool_depth_mm = 13\n"
TWO_VESSELS = batches.TOML + "[vessels.tin]\ninner_diameter_mm = 60\n"


class Log:
    """A log in the making; each method changes it and hands it back.

    ``wicks`` gives the wick of each candle: ``Log(A="flat braid 2", B="flat braid 3")``. Every
    candle of 100 g burns five times for four hours, is checked every hour, and goes out by itself
    with 3 g left.
    """

    def __init__(self, **wicks: str) -> None:
        self.candles, self.burns, self.checks = [], [], []
        self.exclusions, self.wick_changes = [], []
        self.toml = batches.TOML + LIMITS
        for name, wick in wicks.items():
            self.add(name, wick)

    def add(self, name: str, wick: str = "flat braid 2", **of_candle) -> Log:
        """One more candle, burned to its end."""
        burns, rows = life(name)
        self.candles.append(candle(name, wick, **of_candle))
        self.burns += burns
        self.checks += rows
        return self

    def poured(self, name: str, wick: str = "flat braid 2", **of_candle) -> Log:
        """One more candle, not lit yet."""
        self.candles.append(candle(name, wick, **of_candle))
        return self

    def check(self, name: str, burn: int, minute: float | None = None, **seen) -> Log:
        """Change what was seen at one check of a burn, or at all of them."""
        for row in self.checks:
            here = (row["candle"], row["burn"]) == (name, burn)
            if here and minute in (None, row["elapsed_min"]):
                row |= seen
        return self

    def every_check(self, name: str, **seen) -> Log:
        """Change what was seen at all checks of a candle."""
        for row in self.checks:
            if row["candle"] == name:
                row |= seen
        return self

    def missed(self, name: str, burn: int, *minutes: float) -> Log:
        """Checks that were not made; all of the burn without a minute."""
        self.checks = [
            row
            for row in self.checks
            if (row["candle"], row["burn"]) != (name, burn)
            or (minutes and row["elapsed_min"] not in minutes)
        ]
        return self

    def burn(self, name: str, burn: int, **more) -> Log:
        """Change one burn."""
        for row in self.burns:
            if (row["candle"], row["burn"]) == (name, burn):
                row |= more
        return self

    def until(self, name: str, burn: int, minutes: int | None = None, **last) -> Log:
        """Nothing after that burn, which may have been shorter; it ended by the timer."""
        self.burns = [r for r in self.burns if r["candle"] != name or r["burn"] <= burn]
        self.checks = [r for r in self.checks if r["candle"] != name or r["burn"] <= burn]
        if minutes is not None:
            own = next(r for r in self.burns if (r["candle"], r["burn"]) == (name, burn))
            own["out_at"] = f"{own['lit_at'][:10]} {9 + minutes // 60:02d}:{minutes % 60:02d}"
            own["used"] = round(own["used"] * minutes / 240, 1)
            late = [m for m in (60, 120, 180, 240) if m > minutes]
            self.missed(name, burn, *late) if late else None
        return self.burn(name, burn, **{"ended_by": "timer", **last})

    def short(self, name: str, minutes: int = 11, **more) -> Log:
        """One more burn at the end, too short for a check; the burn before ended by the timer."""
        last = max(row["burn"] for row in self.burns if row["candle"] == name)
        self.burn(name, last, ended_by="timer", used=18.4)
        row = batches.burn(name, last + 1, 0.8, h=minutes / 60, ended_by="self")
        self.burns.append(row | more)
        return self

    def aside(self, name: str, burn: int | None = None, reason: str = "draft") -> Log:
        """Set a candle or one of its burns aside."""
        self.exclusions.append({"candle": name, "burn": burn, "reason": reason})
        return self

    def wick(self, name: str, before_burn: int, wick: str, reason: str = "left wax") -> Log:
        """Change a candle's wick."""
        series, _, size = wick.rpartition(" ")
        row = {"candle": name, "before_burn": before_burn, "wick_series": series}
        self.wick_changes.append(row | {"wick_size": size, "reason": reason})
        return self

    def settings(self, text: str) -> Log:
        """More lines of batch.toml; those with a section come last."""
        self.toml = text + self.toml if "[" not in text.split("\n")[0] else self.toml + text
        return self

    def worked(self, folder: Path | None = None) -> WorkedBatch:
        """The log, written, read and worked out; once, where tests write the same."""
        if folder is None:
            with tempfile.TemporaryDirectory() as folder:
                return self.worked(Path(folder) / "log")
        more = {"exclusions": self.exclusions, "wick_changes": self.wick_changes}
        made = batches.batch(
            folder, self.candles, self.burns, self.checks, toml=self.toml,
            **{name: rows for name, rows in more.items() if rows},
        )  # fmt: skip
        return WorkedBatch(made)


def three(wick: str = "flat braid 2", names: str = "ABC") -> Log:
    """Candles of one wick."""
    return Log(**dict.fromkeys(names, wick))


def in_two_vessels() -> Log:
    """Two wicks in a jar and in a tin, a candle each."""
    log = Log()
    log.toml = TWO_VESSELS
    for name, vessel, wick in (
        ("J1", "jar", "flat braid 2"), ("J2", "jar", "flat braid 3"),
        ("T1", "tin", "flat braid 2"), ("T2", "tin", "flat braid 3"),
    ):  # fmt: skip
        log.add(name, wick, vessel=vessel)
    return log


def fates(worked: WorkedBatch) -> dict[str, str]:
    """The fate of each candidate."""
    return worked.fates.set_index("candidate")["fate"].to_dict()


def step(worked: WorkedBatch, candidate: str) -> str:
    """The next step of a candidate."""
    return worked.fates.set_index("candidate").at[candidate, "next_step"]


def because(worked: WorkedBatch, candidate: str) -> str:
    """Why a candidate has its fate."""
    return worked.fates.set_index("candidate").at[candidate, "because"]


def lines(worked: WorkedBatch, n: int = 0) -> tuple[str, ...]:
    """The lines of the one decision, or the first ones of them."""
    (decision,) = worked.decisions
    return decision.lines[:n] if n else decision.lines
