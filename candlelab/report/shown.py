"""How the tables of a report stand on its page, and the words whose meaning it tells."""

from __future__ import annotations

from dataclasses import replace

from candlelab.pages.page import Shown, not_checked
from candlelab.pages.show import show_criteria, show_grid
from candlelab.pages.words import METHOD
from candlelab.report.results import BatchResults

KINDS = {"standard": "Criteria of published standards", "studio": "Your own limits"}
WORDS = (
    "burn_rate_g_per_h", "burn_rate_u_g_per_h", "rate_drift_g_per_h", "run", "heat_release_w",
    "fragrance_release_g_per_h", "wall_margin_warm_room_c", "pool_share_max_pct",
    "full_pool_after_h", "full_pool_by_h", "full_pool_h", "soot", "mushroom_mm", "aftersmoke_s",
    "life_h", "life_low_h", "life_high_h", "hang_up", "failure_rate_up_to_pct", "n_part_used",
    "decides",
)  # fmt: skip


def how(results: BatchResults) -> tuple[str, ...]:
    """How the report was worked out, in sentences."""
    return (*results.compared_words, *METHOD)


def shown(results: BatchResults) -> dict[str, Shown]:
    """How each table stands on the page."""
    return {
        "ranking": Shown(
            "Wicks in order",
            "candidate rank fate n_passed n_candles targets_hit next_step",
            "First the wicks that are safe so far, by how many candles passed, then by targets.",
            cards=True,
        ),
        "gaps": not_checked(results.gaps),
        "left_out": Shown("Set aside", nothing="Nothing was set aside.", at_most=12, cards=True),
        **_appendix(results),
    }


def _appendix(results: BatchResults) -> dict[str, Shown]:
    first = results.failures.drop_duplicates(["candle", "criterion"]).reset_index(drop=True)
    return {
        "first_failures": Shown(
            "What failed, the first time on each candle",
            "candidate candle burn elapsed_min words note excluded",
            "Setting a candle or a burn aside changes averages. It does not undo a failure.",
            "Nothing failed.",
            rows=first,
            cards=True,
            of="failures",
            at_most=200,
        ),
        "every_gap": replace(
            not_checked(results.gaps),
            caption="Everything that keeps a candle from a pass",
            at_most=200,
            nothing="",
        ),
        "counts": Shown(
            "Candles of each wick",
            "candidate n_candles n_passed n_failed n_gaps n_part_used failure_rate_up_to_pct "
            "targets_hit targets_asked",
            rows=results.ranking,
            of="ranking",
        ),
        "advice": Shown(
            "Signs that were seen, and the next step",
            "candidate fate next_step finding evidence counter_evidence how_sure",
            cards=True,
        ),
        "walls": Shown(
            "Hottest wall by wick",
            note="No candle fire-safety standard sets a wall temperature: these are your own "
            "limits. What was set aside is not in this table. The 30 °C (86 °F) room is an "
            "approximation.",
        ),
        "wick_changes": Shown(
            "Wick changes",
            note="The second wick burned a part-used candle: the change is wick and depth "
            "together.",
            nothing="No wick was changed.",
        ),
        **_candles(results),
        **_log(results),
    }


def _candles(results: BatchResults) -> dict[str, Shown]:
    return {
        "recipes": Shown(
            "What was poured",
            "candidate candle vessel inner_diameter_mm wax fragrance fragrance_load_pct dye "
            "fill_mass_g poured_on wax_lot",
        ),
        "wick_runs": Shown(
            "Each candle on each wick",
            "candle wick n_burns burn_rate_g_per_h rate_drift_g_per_h burns_to_full_pool "
            "full_pool_h pool_depth_max_mm flame_max_mm wall_max_c mushroom_max_mm soot_max "
            "replaced_because excluded",
        ),
        "candles": Shown(
            "Each candle to its end",
            "candle candidate replaced_by hours_h life_h wax_left_pct excluded",
        ),
        "unfinished": Shown(
            "Candles not burned to the end",
            "candle candidate hours_h wax_left_pct life_projected_h life_low_h life_high_h",
            "Projected: the burn rate goes on as a straight line, and as much wax stays as on the "
            "candles that ended.",
            "Every candle was burned to its end.",
            rows=results.unfinished,
            of="candles",
        ),
    }


def _log(results: BatchResults) -> dict[str, Shown]:
    in_book = (results.batch.problems["cell"] != "").any()
    place = "cell" if in_book else "line"
    return {
        "burns": Shown(
            "Every burn",
            "candle burn wick lit_at burn_time_h wax_used_g burn_rate_g_per_h burn_rate_u_g_per_h "
            "flame_max_mm wall_max_c wall_margin_warm_room_c pool_share_max_pct full_pool_after_h "
            "full_pool_by_h aftersmoke_s room_c n_checks ended_by excluded",
        ),
        "notes": Shown(
            "Notes",
            "candle burn elapsed_min note",
            "Those with a time are of a check, the others of a burn.",
            nothing="No burn and no check has a note.",
            rows=results.noted,
            of="checks",
        ),
        "off_plan": Shown(
            "Off plan",
            f"candle problem found expected file {place} what_to_do",
            "Listed; none of it fails a candle.",
            "The test plan was followed.",
            rows=results.deviations,
            of="problems",
        ),
        "to_look_at": Shown(
            "Look at this",
            f"file {place} candle problem column found expected what_to_do",
            nothing="Nothing else in the log asks for a look.",
            rows=results.to_look_at,
            of="problems",
        ),
        "criteria": Shown("Criteria and their sources"),
        "rules": Shown("Signs of a wick that is too small or too large, with their sources"),
    }


def show_verdicts(results: BatchResults) -> None:
    """Every criterion, candle by candle and wick by wick: first standards, then your own limits.

    Parameters
    ----------
    results : BatchResults
        What `batch_results` gives.
    """
    for kind, own in results.verdicts.candles.groupby("kind", sort=False):
        show_grid(own, f"{KINDS[kind]}, candle by candle")
    for kind, own in results.verdicts.candidate_criteria.groupby("kind", sort=False):
        show_criteria(own, f"{KINDS[kind]}, wick by wick")
