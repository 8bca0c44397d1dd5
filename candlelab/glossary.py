"""The glossary as data: every table, every column, its unit, its plausible range and its meaning.

Axis labels, problem messages, the report's glossary and the table schemas all come from here, so a
quantity is named once. A quantity's name ends in its unit (``mass_before_g``); a log may use any
other unit of the same dimension (``mass_before_oz``) and is converted on reading.

Plausible ranges are warned about and never refused. Their sources: burn rate 4.4-7.3 g/h for
single-wick pillars (Indoor Air, ultrafine particles from five candle types, abstract), widened for
containers; everything else is common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from candlelab.units import unit_symbol


@dataclass(frozen=True)
class Column:
    """One column. ``kind`` is text, number, whole, time, date, flag or choice."""

    name: str
    kind: str
    label: str
    meaning: str
    required: bool = False
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """Unit symbol for people, or an empty string."""
        return unit_symbol(self.name)

    @property
    def heading(self) -> str:
        """Label with its unit, for axes and table heads."""
        return f"{self.label} ({self.unit})" if self.unit else self.label


@dataclass(frozen=True)
class Table:
    """One table of a batch folder."""

    name: str
    row_is: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    required: bool = True

    @property
    def file(self) -> str:
        """File name inside the batch folder."""
        return f"{self.name}.csv"

    def column(self, name: str) -> Column:
        """The column of that name; KeyError when there is none."""
        return {c.name: c for c in self.columns}[name]


def _text(name, label, meaning, required=False):
    return Column(name, "text", label, meaning, required)


def _number(name, label, meaning, low=None, high=None, required=False):
    return Column(name, "number", label, meaning, required, low, high)


def _whole(name, label, meaning, low=None, high=None, required=False):
    return Column(name, "whole", label, meaning, required, low, high)


def _flag(name, label, meaning):
    return Column(name, "flag", label, meaning)


_CANDLE = _text("candle", "candle", "name of the candle, the same in every table", required=True)
_BURN = _whole(
    "burn", "burn", "number of the burn of this candle: 1, 2, 3 ...", 1, 200, required=True
)
_NOTE = _text("note", "note", "anything worth keeping")
_SERIES = _text("wick_series", "wick series", "wick series, as in wicks.csv", required=True)
_SIZE = _text("wick_size", "wick size", "size within the series, as in wicks.csv", required=True)

TABLES = {
    table.name: table
    for table in (
        Table("candles", "a candle", ("candle",), (
            _CANDLE,
            _text("vessel", "vessel", "name of the vessel, as in batch.toml", required=True),
            _text("wax", "wax", "wax or blend", required=True),
            _SERIES,
            _SIZE,
            _number("fill_mass_g", "fill", "mass of wax and fragrance poured", 20, 2000, required=True),
            _text("fragrance", "fragrance", "fragrance, empty for none"),
            _number("fragrance_load_pct", "fragrance load", "fragrance load, on the basis that batch.toml names", 0, 15),
            _text("dye", "dye", "dye, empty for none"),
            _whole("wick_count", "wicks", "number of wicks in the candle", 1, 6),
            Column("poured_on", "date", "poured on", "day on which the candle was poured"),
            _text("bench_position", "bench position", "place on the bench"),
            _text("wax_lot", "wax lot", "lot of the wax"),
        )),
        Table("burns", "a burn", ("candle", "burn"), (
            _CANDLE,
            _BURN,
            Column("lit_at", "time", "lit at", "moment the wick was lit", True),
            Column("out_at", "time", "out at", "moment the flame was out", True),
            _number("mass_before_g", "mass before", "candle with vessel, before lighting", 30, 5000, required=True),
            _number("mass_after_g", "mass after", "candle with vessel, after cooling", 30, 5000, required=True),
            _number("room_c", "room", "room temperature at the bench", 10, 40),
            _number("wick_length_mm", "wick length", "length of the trimmed wick at lighting", 2, 15),
            Column("ended_by", "choice", "ended by", "what ended the burn", choices=("timer", "self", "stopped")),
            _number("aftersmoke_s", "aftersmoke", "time the wick smoked after the flame was out", 0, 120),
            _NOTE,
        )),
        Table("checks", "a check", ("candle", "burn", "elapsed_min"), (
            _CANDLE,
            _BURN,
            _number("elapsed_min", "elapsed", "time since lighting", 0, 1500, required=True),
            _number("flame_height_mm", "flame height", "height of the flame above the wick's foot", 3, 100),
            _number("wall_c", "wall temperature", "hottest place on the outside of the vessel", 15, 110),
            _number("pool_diameter_mm", "pool diameter", "width of the melted wax", 0, 250),
            _number("pool_depth_mm", "pool depth", "depth of the melted wax", 0, 40),
            Column("soot", "choice", "soot", "0 none, 1 a wisp, 2 repeated wisps, 3 steady black smoke",
                   choices=("0", "1", "2", "3")),
            _number("mushroom_mm", "mushroom", "width of the carbon cap on the wick", 0, 15),
            _number("secondary_ignition_s", "secondary ignition", "time that anything but the wick burned", 0, 60),
            _flag("flame_on_vessel", "flame on vessel", "the flame touched the vessel"),
            _flag("vessel_damaged", "vessel damaged", "the vessel cracked or broke"),
            _flag("surface_damaged", "surface damaged", "the surface under the candle was marked"),
            _flag("tipped", "tipped", "the candle tipped over"),
            _flag("reignited", "re-ignited", "it lit again by itself after it was put out"),
            _NOTE,
        )),
        Table("wicks", "a wick size", ("wick_series", "wick_size"), (
            _SERIES,
            _SIZE,
            _whole("size_rank", "size rank", "place of the size within its series, 1 the smallest", 1, 60, required=True),
            _number("linear_density_tex", "linear density", "mass per length (ISO 1144)", 50, 20000),
            _number("width_mm", "width", "width or diameter of the wick", 0.5, 40),
        )),
        Table("wick_changes", "a wick change", ("candle", "before_burn"), (
            _CANDLE,
            _whole("before_burn", "before burn", "first burn on the new wick", 2, 200, required=True),
            _SERIES,
            _SIZE,
            _text("reason", "reason", "why the wick was changed"),
            _number("rest_days", "rest", "time the candle stood before it was lit again", 0, 60),
            _NOTE,
        ), required=False),
        Table("exclusions", "a candle or burn left out", ("candle", "burn"), (
            _CANDLE,
            _whole("burn", "burn", "the burn left out; empty leaves out the whole candle", 1, 200),
            _text("reason", "reason", "why it is left out", required=True),
        ), required=False),
        Table("throw", "a panel score", ("candle", "burn", "assessor", "place", "lit"), (
            _CANDLE,
            _BURN,
            _text("assessor", "assessor", "who scored, by a code and not a name", required=True),
            _number("score", "score", "scent strength on the panel's scale", 0, 10, required=True),
            _text("place", "place", "room or seat"),
            _number("distance_m", "distance", "distance from the candle", 0, 20),
            _flag("lit", "lit", "yes for hot throw, no for cold throw"),
        ), required=False),
    )
}  # fmt: skip

# Quantities that batch.toml may name a target for.
TARGET_QUANTITIES = (
    "burn_rate_g_per_h", "wall_max_c", "flame_max_mm", "pool_depth_max_mm", "full_pool_h", "burns_to_full_pool",
    "mushroom_max_mm", "soot_max", "life_h", "wax_left_pct", "fragrance_release_g_per_h", "heat_release_w",
)  # fmt: skip

# Columns that candlelab works out. One row of each table is named in DERIVED_TABLES.
_DERIVED = (
    _text("candidate", "candidate", "wick series, size and count, with what else differs within the batch"),
    _text("wick", "wick", "wick series and size in the candle during this burn"),
    _whole("run", "wick run", "1 for the first wick of a candle, 2 after a wick change"),
    _number("burn_time_h", "burn time", "out_at minus lit_at"),
    _number("rest_h", "rest before", "time since the end of the burn before"),
    _number("wax_used_g", "wax used", "mass before minus mass after"),
    _number("burn_rate_g_per_h", "burn rate", "wax used per hour; over several burns, total wax by total time", 1.5, 15),
    _number("burn_rate_u_g_per_h", "± burn rate", "standard uncertainty of the burn rate from scale and clock (GUM)"),
    _number("heat_release_w", "heat release", "burn rate times the heat of combustion"),
    _number("fragrance_release_g_per_h", "fragrance release", "burn rate times the load: an upper bound"),
    _number("wall_max_c", "highest wall temperature", "highest wall reading, as read"),
    _number("wall_margin_c", "margin to stop", "stop limit minus the highest wall reading"),
    _number("wall_max_warm_room_c", "highest wall, 30 °C room", "highest wall reading plus (30 °C minus room): an approximation"),
    _number("wall_margin_warm_room_c", "margin to stop, 30 °C room", "stop limit minus the wall corrected to a 30 °C room"),
    _number("flame_max_mm", "tallest flame", "tallest flame of all checks"),
    _number("flame_last_mm", "last flame", "flame at the last check"),
    _number("pool_share_max_pct", "widest pool", "largest pool diameter as a share of the inner diameter"),
    _number("pool_share_last_pct", "pool at the last check", "pool diameter at the last check as a share of the inner diameter"),
    _number("pool_depth_max_mm", "deepest pool", "deepest melt pool of all checks"),
    _number("full_pool_after_h", "full pool after", "last check at which the pool was not yet full"),
    _number("full_pool_by_h", "full pool by", "first check at which the pool was full; empty when it never was"),
    _number("full_pool_h", "time to full pool", "interpolated between the two checks around it"),
    _number("pool_watched_h", "pool watched for", "time of the last check at which the pool was measured"),
    _whole("soot_max", "worst soot", "highest soot grade of all checks"),
    _number("mushroom_max_mm", "largest mushroom", "widest carbon cap of all checks"),
    _whole("n_checks", "checks", "number of checks"),
    _number("longest_gap_min", "longest time unchecked", "longest time between lighting, checks and the end"),
    _flag("gap", "check missed", "a stretch longer than the check interval and its tolerance went unchecked"),
    _number("fill_used_start_pct", "fill used at lighting", "share of the fill used before this burn"),
    _number("fill_used_pct", "fill used", "share of the fill used at the end of this burn"),
    _flag("excluded", "left out", "marked to be left out of every summary"),
    _text("exclusion_reason", "reason left out", "why it is left out"),
    # per wick run
    _whole("n_burns", "burns", "number of burns counted"),
    _whole("first_burn", "first burn", "first burn of the wick run"),
    _whole("last_burn", "last burn", "last burn of the wick run"),
    _number("hours_h", "time burnt", "sum of the burn times"),
    _number("rate_drift_g_per_h", "rate drift", "change of burn rate from a full candle to an empty one, straight line through the run's "
        "burns"),
    _number("rate_drift_u_g_per_h", "± rate drift", "standard error of the rate drift"),
    _whole("burns_to_full_pool", "burns to first full pool", "first burn of the run with a full pool; empty when none"),
    _flag("replaced", "replaced", "the wick was taken out before the candle ended"),
    _text("replaced_because", "replaced because", "reason given for the wick change"),
    _text("replaced_by", "replaced by", "wick that took its place"),
    _whole("self_out_early", "went out early", "burns that went out by themselves before the end of the candle"),
    # per candle
    _flag("ended", "burnt to the end", "the last burn went out by itself with little wax left"),
    _number("life_h", "life", "sum of all burn times of a candle burnt to the end"),
    _number("life_projected_h", "projected life", "life of an unfinished candle if its burn rate goes on as a straight line and it leaves "
        "as much wax as those that have ended"),
    _number("life_low_h", "projected life, low", "lower end of the 95 % prediction interval"),
    _number("life_high_h", "projected life, high", "upper end of the 95 % prediction interval; empty when there is none"),
    _number("wax_left_g", "wax left", "fill minus all wax used"),
    _number("wax_left_pct", "wax left", "wax left as a share of the fill"),
    _flag("hang_up", "wax left on the wall", "the candle has ended and wax is left"),
    _whole("n_runs", "wicks used", "number of wicks that this candle has had"),
    _number("between_burns_g", "change between burns", "sum of weight changes from the end of one burn to the start of the next"),
    # safety
    _text("criterion", "criterion", "short name of the criterion"),
    _text("outcome", "outcome", "met, not met or not recorded"),
    _text("kind", "kind", "standard: from a published standard; studio: the studio's own limit"),
    _number("value", "value", "the reading that decided, in the criterion's unit"),
    _number("limit", "limit", "limit of the criterion, in its unit"),
    _text("unit", "unit", "unit of value and limit"),
    _text("statement", "statement", "the criterion in words"),
    _text("source", "source", "where the limit comes from"),
    _flag("decides", "counts for the verdict", "whether the criterion decides: a deciding one that is not met puts a candidate out, "
        "another is only shown"),
    _whole("n_candles", "candles", "candles that count here; in tables of safety and targets the fresh ones"),
    _whole("n_part_used", "part-used candles", "candles that met this wick after a wick change"),
    _whole("n_met", "met", "fresh candles that met it"),
    _whole("n_not_met", "not met", "candles, fresh or part-used, that did not"),
    _whole("n_not_recorded", "not recorded", "fresh candles with a gap in what was required"),
    _text("standard_verdict", "standards' criteria", "met, not met or not recorded over all criteria taken from standards"),
    _text("studio_verdict", "studio's limits", "met, not met or not recorded over the studio's own limits"),
    _whole("n_passed", "passed", "fresh candles that met every deciding criterion"),
    _whole("n_failed", "failed", "candles, fresh or part-used, that did not meet a deciding criterion"),
    _whole("n_open", "open", "fresh candles with a gap in what was required and no failure"),
    _number("failure_rate_up_to_pct", "failure rate up to", "one-sided 95 % upper bound (Clopper-Pearson) on the share of candles that would fail"),
    # diagnosis
    _text("finding", "too small, too large?", "too small, too large, mixed, neither or not enough seen"),
    _text("advice", "advice", "what to do next"),
    _text("next_wick", "next wick", "the wick to try, from wicks.csv"),
    _text("evidence", "evidence", "observations that speak for the finding"),
    _text("counter_evidence", "counter-evidence", "observations that speak against it"),
    _text("how_sure", "how sure", "how much the finding rests on"),
    _flag("weak", "weak sign", "a sign that proves nothing when it stands alone"),
    _text("rule", "sign", "name of a sign"),
    _text("points_to", "points to", "too small, too large or neither"),
    _text("words", "in words", "what was seen"),
    _text("threshold", "shows when", "reading from which the sign counts, in the unit of its words"),
    _text("not_met_in_it", "not met in it", "criteria that the part left out did not meet"),
    # plans
    _whole("day_group", "group", "candles of one group are lit together"),
    _text("bench", "bench", "the bench on which it stands"),
    _number("x_mm", "along the bench", "middle of the candle, from the left end of the bench"),
    _number("y_mm", "from the front", "middle of the candle, from the front of the bench"),
    _whole("round", "round", "in each round along a bench every candidate comes once, in an order drawn by lot"),
    _number("life_planned_h", "expected life", "the fill divided by the expected burn rate"),
    _whole("burns_planned", "burns planned", "burns to the expected end of life, with the plan's margin"),
    _number("wax_g", "wax to weigh", "mass of wax, in whole steps of the scale"),
    _number("fragrance_g", "fragrance to weigh", "mass of fragrance, in whole steps of the scale"),
    _number("load_weighed_pct", "load as weighed", "the load that the rounded masses give, on the basis of the plan"),
    _number("room_ml", "room it takes", "volume of the fill when it takes most room: liquid, where that density is given, else "
        "set"),
    _number("brim_pct", "share of the brim", "the room that the fill takes, as a share of what the vessel holds to the brim"),
    _whole("pour", "pour", "number of the jug"),
    _number("poured_g", "poured", "sum of the fills that a jug pours"),
    _number("losses_g", "stays in the jug", "what is weighed out less what is poured"),
    _number("weighed_out_g", "weigh out", "wax and fragrance together, rounded up to a step of the scale"),
    _text("candles", "its candles", "the candles by name"),
    _text("item", "what", "a wax, a fragrance, a vessel or a wick"),
    _number("needed_g", "needed", "mass that the plan uses"),
    _number("to_order_g", "order", "needed mass with the plan's reserve, rounded up"),
    _whole("n_needed", "needed", "pieces that the plan uses"),
    _whole("n_to_order", "order", "needed pieces with the plan's reserve, rounded up"),
    _whole("session", "session", "number of the burn session, as on its log sheets"),
    Column("lit_from", "time", "lit from", "moment at which the first candle of the session is lit"),
    Column("over_at", "time", "over at", "moment at which the last candle of the session is out and checked"),
    Column("check_from", "time", "check from", "moment at which the first candle is checked"),
    Column("check_to", "time", "to", "moment at which the last candle has been checked"),
    # problems
    _text("level", "level", "must fix, look at this or protocol"),
    _text("problem", "problem", "what is wrong or odd"),
    _text("file", "file", "file of the batch folder"),
    _whole("bytes", "bytes", "size of the file"),
    _text("sha256", "SHA-256", "fingerprint of the file: another file has another one"),
    _whole("line", "line", "line of the text file on which the row begins"),
    _whole("row", "row", "row number that a spreadsheet shows"),
    _text("column", "column", "column, as the file spells it"),
    _text("found", "found", "what the file has"),
    _text("expected", "expected", "what was expected"),
    _text("what_to_do", "what to do", "how to mend it"),
    # ranking
    _whole("rank", "rank", "1 for the best, equal ranks share the number"),
    _text("target", "target", "a target of batch.toml"),
    _number("low", "at least", "lower end of the target"),
    _number("high", "at most", "upper end of the target"),
    _number("mean", "mean of candles", "mean over candles"),
    _number("smallest", "smallest", "smallest candle"),
    _number("largest", "largest", "largest candle"),
    _whole("n_inside", "inside", "candles inside the target"),
    _whole("targets_hit", "targets hit", "candle by target pairs inside"),
    _whole("targets_asked", "of", "candle by target pairs asked for"),
    # comparison
    _text("reference", "less", "the candidate that is subtracted"),
    _number("estimate", "estimate", "mean of a candidate, or a difference between two, in the unit of what is compared"),
    _number("std_error", "standard error", "how far the estimate would typically miss, for so many candles"),
    _number("df", "degrees of freedom", "how many independent looks at the spread between candles the estimate rests on"),
    _number("conf_low", "from", "lower end of the interval that holds the true value with the confidence stated"),
    _number("conf_high", "to", "upper end of the interval that holds the true value with the confidence stated"),
    _number("p_value", "p", "how often luck alone would give a difference at least as large, looking at this one pair", 0, 1),
    _number("p_adjusted", "p, all looked at", "how often luck alone would give one as large somewhere among all pairs looked at", 0, 1),
    _whole("n_left_out", "left out", "rows left out of the comparison"),
    _text("equivalence", "equivalence", "whether a difference below the margin is shown; not shown does not mean different"),
    _text("factor", "compared", "which of two crossed columns is compared"),
    _text("within", "within", "level of the other column; empty for all of them alike"),
    _text("within_reference", "less within", "level of the other column that is subtracted"),
    _number("statistic", "F", "spread of what is asked about, as a multiple of the spread by luck"),
    _whole("df_num", "differences tested", "number of independent differences in the question"),
    _whole("n_yes", "yes", "candles with a yes"),
    _number("score_low", "score from", "lower end of the score interval (Wilson)", 0, 1),
    _number("score_high", "score to", "upper end of the score interval (Wilson)", 0, 1),
    _number("share", "share still without", "share of candles in which it has not happened yet", 0, 1),
    _number("after", "after", "last time at which it had not happened"),
    _number("until", "until", "first time at which it had happened"),
    _number("median_low", "median from", "half of the candles got there after this time"),
    _number("median_high", "median to", "half of the candles had got there by this time"),
    _whole("n_seen", "seen", "candles in which it was seen to happen"),
    _text("earlier", "earlier in", "candidate in which it tends to happen first"),
    _number("smallest_p", "smallest p", "smallest p that so many candles can give", 0, 1),
    _flag("counted_out", "counted out", "every way of dealing out the candles was counted: p is exact"),
    # walls, recipes, traces
    _text("over_caution", "over caution", "candles whose wall went over the studio's caution limit"),
    _text("over_stop", "over stop", "candles whose wall went over the studio's stop limit"),
    _text("over_caution_warm_room", "over caution, 30 °C room", "candles that would go over caution in a 30 °C room: an approximation"),
    _text("over_stop_warm_room", "over stop, 30 °C room", "candles that would go over stop in a 30 °C room: an approximation"),
    _number("inner_diameter_mm", "inner diameter", "inner diameter of the vessel at the height of the wax"),
    _whole("n_readings", "checks like it", "checks of this candle with the same outcome"),
    # comparisons
    _number("depth_pct", "share of fill used", "share of the fill used in the middle of the burn"),
    _text("batch", "batch", "folder of the batch"),
    _number("satisfaction", "satisfaction", "how far the targets are met together, from 0 to 1 (Derringer and Suich 1980)"),
    _number("probability_best", "probability of being the best", "share of draws, each from resampled candles, in which it satisfies most of all "
        "candidates here"),
    _flag("pareto", "not beaten", "no other candidate is at least as good in every target and better in one"),
    _number("shift", "change that would turn it", "smallest change of the winner's mean, in the unit of the target, at which the runner-up "
        "satisfies more"),
    _number("shift_in_std_errors", "in standard errors", "the same change beside how well the mean is known: under 2 the answer hangs on this "
        "measurement"),
    # confirmation
    _text("verdict", "verdict", "stands, does not stand or not enough candles"),
    _text("because", "because", "what the verdict, or the leaving out, rests on"),
    _whole("n_fresh", "fresh candles", "candles of the confirmation that count, on the wick they were poured with"),
    _whole("n_needed", "needed", "fresh candles at which a change that matters would be noticed; empty where no number is "
        "enough"),
    _whole("n_more", "still wanting", "how many more candles, watched at every check, would settle it; empty where no number "
        "does"),
    _text("metric", "column", "what was measured, by its column"),
    _text("quantity", "measured", "what was measured, with its unit"),
    _whole("n_screened", "screened", "candles of the screening that the middle of the range rests on"),
    _number("middle", "screening", "middle of the screening's candles: their mean, geometric where the spread is a share"),
    _number("range_low", "predicted from", "lower end of the range in which every fresh candle should fall"),
    _number("range_high", "predicted to", "upper end of the range in which every fresh candle should fall; empty where it is open"),
    _whole("n_measured", "measured on", "fresh candles that burnt to their end and have this measurement"),
    _number("fresh_mean", "fresh mean", "mean of the fresh candles, taken as in the screening"),
    _number("mean_low", "mean from", "lower end of the range in which the mean of the fresh candles should fall"),
    _number("mean_high", "mean to", "upper end of the range in which the mean of the fresh candles should fall; empty where "
        "it is open"),
    _whole("n_outside", "outside", "fresh candles outside of the range predicted"),
    _text("held", "fell", "inside, outside, not measured, or why there is no range"),
    _number("candle_sd", "spread of candles", "standard deviation between candles that the range rests on"),
    _text("spread_from", "spread from", "candidates of the screening that the spread was taken from"),
    _text("fell", "fell", "where the fresh candle fell; outside only when all of the time between two checks does"),
    _text("round", "round", "screening, confirmation or both together"),
    _text("part", "part", "part of the recipe, or of how the round was burnt"),
    _text("in_screening", "screening", "as the screening has it"),
    _text("in_confirmation", "confirmation", "as the confirmation has it"),
    _text("sameness", "the same?", "same, same but spelt otherwise, changed or not recorded"),
    _text("near", "nearest in screening", "candidate of the screening that it differs least from"),
    _text("changed", "what changed", "parts of the recipe that are not the same"),
    # wick changes
    _text("wick_before", "wick before", "the wick that was taken out"),
    _text("wick_after", "wick after", "the wick that was put in"),
    _number("burn_rate_before_g_per_h", "burn rate before", "on the wick that was taken out"),
    _number("burn_rate_after_g_per_h", "burn rate after", "on the wick that was put in"),
    _number("burn_rate_change_g_per_h", "change of burn rate", "after minus before, same candle"),
    _number("pool_before_pct", "pool before", "widest pool on the wick that was taken out, as a share of the inner diameter"),
    _number("pool_after_pct", "pool after", "widest pool on the wick that was put in, as a share of the inner diameter"),
    _number("wall_before_c", "wall before", "highest wall reading on the wick that was taken out"),
    _number("wall_after_c", "wall after", "highest wall reading on the wick that was put in"),
    # how many candles
    _whole("n_each", "candles of each", "candles of each candidate; for a claim, candles of the candidate"),
    _whole("n_in_all", "candles in all", "candles of all candidates together"),
    _number("found_simulated_pct", "succeeds, simulated", "share of simulated batches in which the analysis finds, shows or carries what is asked"),
    _number("found_formula_pct", "succeeds, by formula", "the same share by the closed formula"),
    _number("smallest_difference", "smallest found", "difference that is found as often as the plan asks, in the unit of what is compared"),
    _number("known_to", "known to about ±", "usual half width of the interval of a difference, in the unit of what is compared"),
    _number("smallest_margin", "narrowest margin ±", "margin within which two equal candidates are shown alike as often as the plan asks"),
    _whole("failures_allowed", "failures allowed", "candles that may fail without losing the claim"),
    # sizes
    _text("series", "series", "wick series, with what else differs between the candles"),
    _text("where", "where", "whether the size was burnt, lies between sizes that were, or beyond"),
    _number("predicted", "predicted mean", "mean of such candles by the line; where there is no line, of those burnt"),
    _number("candle_low", "one candle from", "lower end of the range for one fresh candle"),
    _number("candle_high", "one candle to", "upper end of the range for one fresh candle"),
    _text("safety", "safety", "met, not met or not recorded by the candles of this size; empty when it was not burnt"),
    _text("not_met", "did not meet", "criteria that candles did not meet"),
    _text("in_target", "target", "whether the target is met"),
    _text("barred", "not to be used", "why the size must not be advised"),
    _text("against", "against", "what stands for the size of a wick"),
    _number("aim", "aim", "value that the line is read at, in the unit of the metric"),
    _number("size_at", "met at", "size at which the mean meets the aim: linear density in tex, or rank"),
    _number("size_low", "met from", "lower end of its interval"),
    _number("size_high", "met up to", "upper end of its interval"),
    _text("pick", "size advised", "size that comes nearest to the target and may be used; empty for none"),
    _text("next_test", "next test", "what to burn next"),
    _number("of_candle", "value of the candle", "value of one candle, in the unit of the metric"),
    _flag("in_line", "in the line", "whether the candle counts in the line"),
    _text("why", "why", "why a row counts or does not"),
    # claims
    _text("bound", "way", "which lower bound over candles"),
    _text("what_it_means", "what the time means", "which share of candles a time that might be printed holds for"),
    _number("bound_h", "hours", "lower bound over candles, or their mean"),
    _number("declared_h", "printed as", "the bound rounded down to whole hours"),
    _number("band_low_h", "less 10 %", "what is printed, less 10 %"),
    _number("band_high_h", "plus 10 %", "what is printed, plus 10 %"),
    _whole("n_below", "shorter", "candles that burnt shorter than the range"),
    _whole("n_above", "longer", "candles that burnt longer than the range"),
    _flag("counts", "counts", "whether the candle is in the bound"),
    _text("condition", "condition", "what a burn time depends on"),
    _text("as_tested", "as tested", "what the candles here had"),
    _text("property", "property", "property of the wick"),
    _text("tolerance", "tolerance", "how far it may differ before it is another wick"),
    _text("change", "when this changes", "a change that asks for another test"),
    _text("tested", "tested with", "what the candles here had"),
    _text("again", "test again", "what to burn"),
    _text("topic", "topic", "what a label or its paperwork speaks of"),
    _text("to_settle", "to settle", "what the maker has to decide or find out"),
    _text("standard", "standard to buy", "where the words and numbers that count stand"),
)  # fmt: skip

# Columns that mean something of their own in one table, by the name of that table.
_OF_TABLE = {
    "safety": (
        _text("verdict", "safety", "met, not met or not recorded over all deciding criteria"),
    ),
    "layout": (
        _whole("round", "round", "in each round along a bench every candidate comes once, in an order drawn by lot"),
    ),
    "pieces": (
        _whole("n_needed", "needed", "pieces that the plan uses"),
    ),
}  # fmt: skip

# What a column means where its table says nothing else.
GLOSSARY = {c.name: c for table in TABLES.values() for c in table.columns} | {
    c.name: c for c in _DERIVED
}


def column(name: str, table: str = "") -> Column:
    """The column of a table, as that table means it; KeyError for an unknown name.

    ``table`` is the name of a table of ``results.json``, or of a log. A column of which the table
    says nothing of its own, and a column without a table, means what it means everywhere.
    """
    own = _OF_TABLE.get(table, ()) + (TABLES[table].columns if table in TABLES else ())
    return next((c for c in own if c.name == name), None) or GLOSSARY[name]


def heading(name: str, table: str = "") -> str:
    """Label and unit of a column, for an axis or a table head; KeyError for an unknown name."""
    return column(name, table).heading


def in_words(text: str) -> str:
    """A sentence in which the names of columns are turned into their labels."""
    return re.sub(
        r"\b[a-z]+(?:_[a-z0-9]+)+\b",
        lambda m: GLOSSARY[m[0]].label if m[0] in GLOSSARY else m[0],
        text,
    )
