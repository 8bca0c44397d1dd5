"""Everything a report says about one batch: worked out once, and written out as plain data."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import pandas as pd

from candlelab.burns.candidates import RECIPE
from candlelab.burns.candles import wick_change_effects
from candlelab.candle_formulas import full_pool_width, pool_share
from candlelab.compare.ask import choice_of
from candlelab.compare.blocks import design_of, shared_within, tied_words, with_levels
from candlelab.compare.parts import compare_parts
from candlelab.compare.pooled import Pooled, pool
from candlelab.compare.values import candle_values, said_of
from candlelab.compare.words import choice_words
from candlelab.judge.decision import all_lines
from candlelab.judge.safety import FAIL, PASS, Verdicts
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch
from candlelab.logs.burn_log import burn_places
from candlelab.logs.problems import LOOK, PROTOCOL
from candlelab.pages.glossary import GLOSSARY, in_words
from candlelab.stats.designs import CannotCompare
from candlelab.stats.pairwise import Comparison
from candlelab.text import capital, counted, listed

FORMAT = "candlelab results 1"
_WALLS = [
    "candidate", "wall_max_c", "over_caution", "over_stop", "wall_max_warm_room_c",
    "over_caution_warm_room", "over_stop_warm_room",
]  # fmt: skip


class BatchResults(WorkedBatch):
    """A worked batch with what its report adds.

    ``tables()`` names all tables; ``answer`` is three sentences.
    """

    @cached_property
    def advice(self) -> pd.DataFrame:
        """One row per candidate: its fate, what to do next, and the signs that were seen."""
        found = self.diagnosis.candidates.set_index("candidate")
        table = self.ranking[["candidate", "fate", "next_step", "next_wick"]]
        seen = found.reindex(table["candidate"])[
            ["finding", "evidence", "counter_evidence", "how_sure"]
        ]
        return pd.concat([table, seen.reset_index(drop=True)], axis=1)

    @property
    def comparison(self) -> Comparison | None:
        """Burn rates of the candidates against each other; None where they cannot be compared."""
        return self._compared[0]

    @cached_property
    def luck(self) -> tuple[str, ...]:
        """How far luck goes in the order of the wicks that are safe so far; nothing where there are
        several vessels, no targets or no two of them."""
        if len(self.decisions) != 1:
            return ()
        choice = choice_of(self._pooled, [])
        if choice is None or len(choice.candidates) < 2:
            return ()
        return tuple(capital(line) for line in choice_words(choice, self))

    @property
    def not_compared(self) -> str:
        """Why the candidates cannot be compared; empty where they are."""
        return self._compared[1]

    @property
    def tied(self) -> tuple[str, ...]:
        """What cannot be told from the candidates, to be said before they are compared."""
        return self._compared[2]

    @property
    def compared_words(self) -> tuple[str, ...]:
        """How the candidates were compared, or why they were not."""
        found, refused, _, said = self._compared
        told = (refused,) if found is None else (found.method, *found.notes)
        return tuple(in_words(line) for line in (*said, *told))

    @cached_property
    def _compared(self) -> tuple[Comparison | None, str, tuple[str, ...], tuple[str, ...]]:
        return _compared(self._pooled)

    @cached_property
    def _pooled(self) -> Pooled:
        return pool([self])

    @cached_property
    def changes(self) -> pd.DataFrame:
        """What each wick change did."""
        return wick_change_effects(self.runs)

    @cached_property
    def left_out(self) -> pd.DataFrame:
        """What was set aside and why, and which criteria were not met in it."""
        return _left_out(self.burns, self.verdicts)

    @property
    def answer(self) -> tuple[str, ...]:
        """The decisions in sentences."""
        return all_lines(self.decisions)

    @property
    def to_look_at(self) -> pd.DataFrame:
        """What the check of the log pointed out."""
        return self.batch.problems[self.batch.problems["level"] == LOOK].reset_index(drop=True)

    @property
    def deviations(self) -> pd.DataFrame:
        """Deviations from the protocol."""
        return self.batch.problems[self.batch.problems["level"] == PROTOCOL].reset_index(drop=True)

    @property
    def unfinished(self) -> pd.DataFrame:
        """Candles that were not burned to their end."""
        return self.candles[~self.candles["ended"]].reset_index(drop=True)

    @property
    def walls(self) -> pd.DataFrame:
        """Per candidate the hottest wall, as read and in a 30 degC room, and who crosses what."""
        limits, rows = self.batch.settings.limits, []
        for candidate, own in self.burns[~self.burns["excluded"]].groupby("candidate", sort=False):
            row = {"candidate": candidate}
            for name, room in (("wall_max_c", ""), ("wall_max_warm_room_c", "_warm_room")):
                row[name] = own[name].max()
                row[f"over_caution{room}"] = _over(own, name, limits.wall_caution_c)
                row[f"over_stop{room}"] = _over(own, name, limits.wall_stop_c)
            rows.append(row)
        return pd.DataFrame(rows, columns=_WALLS)

    @property
    def recipes(self) -> pd.DataFrame:
        """What was poured: one row per candidate, fill as the mean of its candles."""
        candidate = self.candles.set_index("candle")["candidate"]
        candles = self.batch.candles
        candles = candles.assign(candidate=candles["candle"].map(candidate))
        inner = {name: v.inner_diameter_mm for name, v in self.batch.settings.vessels.items()}
        how = {
            "candle": ", ".join,
            **dict.fromkeys(RECIPE, "first"),
            "fill_mass_g": "mean",
            "poured_on": "min",
            "wax_lot": lambda lots: ", ".join(dict.fromkeys(filter(None, lots))),
        }
        first = candles.groupby("candidate", sort=False).agg(how)
        return first.assign(inner_diameter_mm=first["vessel"].map(inner)).reset_index()

    @property
    def traces(self) -> pd.DataFrame:
        """The worst reading of each criterion not met, or its first gap, by line of checks.csv."""
        checks = self.verdicts.checks
        lines = np.tile(self.batch.lines["checks"], checks["criterion"].nunique())
        rows = checks.assign(line=lines, order=-checks["value"].fillna(np.inf))
        worst = rows[rows["outcome"] != PASS].sort_values(["order", "line"], kind="stable")
        groups = worst.groupby(["candle", "criterion", "outcome"], sort=False)
        first = {
            name: (name, "first") for name in ("burn", "elapsed_min", "value", "limit", "unit")
        }
        found = groups.agg(**first, n_readings=("line", "size"), line=("line", "first"))
        order = {name: n for n, name in enumerate(self.candles["candle"])}
        return found.reset_index().sort_values(
            "candle", key=lambda names: names.map(order), kind="stable", ignore_index=True
        )

    @property
    def under_title(self) -> tuple[str, ...]:
        """What stands under the title: the question, which round it is, and whose."""
        s = self.batch.settings
        of = f" of “{s.confirms}”" if s.confirms else ""
        return s.question, f"{capital(s.stage)}{of}{f' by {s.studio}' if s.studio else ''}"

    @property
    def counts(self) -> dict[str, int]:
        """How many candles, burns and checks, and how many of them were set aside."""
        return {
            "candles": len(self.candles),
            "candles_left_out": int(self.candles["excluded"].sum()),
            "burns": len(self.burns),
            "burns_left_out": int(self.burns["excluded"].sum()),
            "checks": len(self.batch.checks),
        }

    @property
    def noted(self) -> pd.DataFrame:
        """Every note of a burn or of one of its checks, burn by burn, that of the burn first."""
        names = ["candle", "burn", "elapsed_min", "note"]
        order = self.burns[["candle", "burn"]].assign(at=range(len(self.burns)))
        checks = self.batch.checks[names].merge(order, on=["candle", "burn"])
        both = pd.concat([self.burns[["note"]].join(order), checks])
        both = both[both["note"] != ""].sort_values(["at", "elapsed_min"], na_position="first")
        return both[names].astype({"burn": "int64"}).reset_index(drop=True)

    @property
    def bench_words(self) -> tuple[str, ...]:
        """How and when it was burned, in sentences."""
        s, burns = self.batch.settings, self.burns
        show, room = s.display, (s.protocol.room_low_c, s.protocol.room_high_c)
        low, high = (show.bare(end, "°C") for end in room)
        days = (
            f"Burned from {show.day(burns['lit_at'].min())} to {show.day(burns['out_at'].max())}"
            if len(burns)
            else "Nothing is burned yet"
        )
        tools = s.instruments
        return (
            f"{days}, time zone {s.time_zone or 'not given'}. {self._how_much()}",
            f"Fragrance load is a share of "
            f"{'the wax' if s.load_basis == 'wax' else 'the whole fill'}.",
            f"Burns of {s.protocol.burn_h:g} h give or take {s.protocol.burn_tolerance_min:g} min, "
            f"a check every {s.protocol.check_every_min:g} min, room {low} to {high} "
            f"{show.symbol('°C')}, rest of {s.protocol.rest_h:g} h, wick at most "
            f"{show.written(s.protocol.wick_length_max_mm, 'mm')}.",
            f"The scale shows steps of {show.written(tools.scale_resolution_g, 'g')} and repeats "
            f"to {show.written(tools.scale_repeatability_g, 'g')}, the clock steps of "
            f"{tools.clock_resolution_min:g} min.",
        )

    def _how_much(self) -> str:
        """How many candles, burns and checks, and how many of them were set aside."""
        n = self.counts
        told = []
        for what, aside in (("candle", "candles_left_out"), ("burn", "burns_left_out")):
            rest = f" ({n[aside]} set aside)" if n[aside] else ""
            told.append(f"{counted(n[what + 's'], what)}{rest}")
        return f"{capital(listed([*told, counted(n['checks'], 'check')]))}."

    @property
    def pool_checks(self) -> pd.DataFrame:
        """Checks that measured the pool: candidate, hours and share of the width."""
        inner = {name: v.inner_diameter_mm for name, v in self.batch.settings.vessels.items()}
        place = burn_places(self.burns, self.batch.checks)
        table = self.batch.checks.assign(
            candidate=self.burns["candidate"].to_numpy()[place],
            vessel=self.burns["vessel"].to_numpy()[place],
        )
        table = table.assign(
            elapsed_h=table["elapsed_min"] / 60.0,
            pool_share_pct=pool_share(table["pool_diameter_mm"], table["vessel"].map(inner)),
        )
        ranks = {name: n for n, name in enumerate(dict.fromkeys(self.burns["candidate"]))}
        table = table.assign(rank=table["candidate"].map(ranks))
        table = table.sort_values(["rank", "candle", "burn", "elapsed_min"])
        columns = ["candidate", "candle", "burn", "elapsed_h", "pool_share_pct"]
        return table[columns].dropna().reset_index(drop=True)

    @property
    def full_pool_pct(self) -> float:
        """Share of the width at which the narrowest vessel's pool counts as full."""
        settings = self.batch.settings
        margin = settings.protocol.full_pool_margin_mm
        inner = [settings.vessels[name].inner_diameter_mm for name in self.burns["vessel"].unique()]
        return min(pool_share(full_pool_width(width, margin), width) for width in inner)

    def tables(self) -> dict[str, tuple[str, pd.DataFrame]]:
        """Each table by its name, with what one row of it is."""
        compared = {}
        if self.comparison is not None:
            compared = {
                "burn_rate_estimates": ("a candidate", self.comparison.estimates),
                "burn_rate_differences": ("a pair", self.comparison.differences),
            }
        problem = "something to look at, or off plan"
        return {
            "ranking": ("a candidate", self.ranking),
            "targets": ("a candidate and a target", self.targets),
            "candidate_criteria": ("a candidate and a criterion", self.verdicts.candidate_criteria),
            "candle_criteria": ("a candle on one wick and a criterion", self.verdicts.candles),
            "candle_verdicts": ("a candle on one wick", self.verdicts.candle_verdicts),
            **compared,
            "advice": ("a candidate", self.advice),
            "findings": ("a candle on one wick", self.diagnosis.runs),
            "candles": ("a candle", self.candles),
            "wick_runs": ("a candle on one wick", self.runs),
            "burns": ("a burn", self.burns),
            "walls": ("a candidate", self.walls),
            "recipes": ("a candidate", self.recipes),
            "failures": ("a failure", self.failures),
            "gaps": ("something that was not checked", self.gaps),
            "traces": (
                "a candle and a criterion that it failed, or that was not checked",
                self.traces,
            ),
            "wick_changes": ("a wick change", self.changes),
            "left_out": ("a candle or burn set aside", self.left_out),
            "problems": (problem, self.batch.problems),
            "criteria": ("a criterion", self.verdicts.criteria),
            "rules": ("a rule of the diagnosis", self.diagnosis.rules),
        }


def batch_results(batch: Batch) -> BatchResults:
    """Everything that the report of a batch says.

    Parameters
    ----------
    batch : Batch
        A batch as `read_batch` gives it.

    Returns
    -------
    BatchResults
        A `WorkedBatch` with the answer, what to try next, and every table of the report.

    Examples
    --------
    >>> from candlelab import batch_results, demo_folder, read_batch
    >>> results = batch_results(read_batch(demo_folder("confirmation")))
    >>> results.decisions[0].pick, results.counts["candles"]
    ('square braid 2', 9)
    """
    return BatchResults(batch)


def _compared(pooled: Pooled):
    """Burn rates of the candidates against each other, or why they cannot be compared; what cannot
    be told from them, and what has to be known of the candles."""
    rate = "burn_rate_g_per_h"
    table = with_levels(candle_values(pooled, rate))
    table = table.assign(**{rate: table["value"].where(table["counts"])})
    counts = table[table["counts"]]
    design = design_of(counts, "candidate", shared_within(counts))
    said = (tuple(tied_words(design, "candidate")), tuple(said_of(table, GLOSSARY[rate].label)))
    try:
        return compare_parts(table, design, metric=rate), "", *said
    except CannotCompare as error:
        return None, in_words(str(error)), *said


def _over(burns: pd.DataFrame, name: str, limit: float) -> str:
    return ", ".join(dict.fromkeys(burns.loc[burns[name] > limit + 1e-9, "candle"]))


def _left_out(burns: pd.DataFrame, verdicts: Verdicts) -> pd.DataFrame:
    """What was set aside and why, and which criteria were not met in it: nothing is hidden."""
    whole = burns.groupby("candle")["excluded"].transform("all")
    marked = burns.assign(burn=burns["burn"].astype("Int64").mask(whole))[burns["excluded"]]
    failed = verdicts.burns[verdicts.burns["outcome"] == FAIL].merge(
        burns.loc[burns["excluded"], ["candle", "burn"]], on=["candle", "burn"]
    )
    rows = []
    for (candle, burn), part in marked.groupby(["candle", "burn"], dropna=False, sort=False):
        own = failed[failed["candle"] == candle]
        own = own if pd.isna(burn) else own[own["burn"] == burn]
        not_met = ", ".join(dict.fromkeys(own["criterion"]))
        rows.append((candle, burn, part["exclusion_reason"].iat[0], len(part), not_met))
    columns = ["candle", "burn", "exclusion_reason", "n_burns", "not_met_in_it"]
    return pd.DataFrame(rows, columns=columns).astype({"burn": "Int64"})
