"""candlelab: find the wick that burns best, and show it.

Everything that a notebook needs comes from here: ``from candlelab import read_batch, WorkedBatch``.
"""

from importlib import import_module, metadata

_PUBLIC = {
    "logs.batch": "Batch read_batch check_batch",
    "logs.problems": "BurnLogError",
    "logs.writer": "write_batch",
    "burns.burns": "burn_cycles",
    "burns.candles": "wick_runs candle_summary wick_change_effects",
    "judge.worked": "WorkedBatch",
    "judge.safety": "Verdicts judge_safety",
    "judge.margins": "margins reading_limits",
    "judge.diagnosis": "Diagnosis diagnose",
    "judge.ranking": "rank_candidates",
    "judge.targets": "target_results targets_of",
    "scent.judged": "judge_scent",
    "scent.page": "scent_page",
    "scent.figures": "draw_scent draw_throw draw_worth",
    "stats.designs": "CannotCompare",
    "stats.pairwise": "compare_candidates compare_with_reference equivalence_test",
    "stats.unequal": "compare_as_they_vary",
    "stats.factorial": "compare_crossed trend",
    "stats.proportions": "compare_proportions reliability_shown candles_needed",
    "stats.survival": "compare_times",
    "stats.intervals": "inverse_prediction lower_bounds",
    "compare.metrics": "METRICS",
    "compare.ask": "compare_batches",
    "compare.record": "OUTCOMES methods explained",
    "compare.words": "NO_CHOICE",
    "compare.page": "compare_page",
    "compare.figures": "draw_estimates draw_differences draw_crossed draw_trend",
    "confirm.confirmation": "CannotConfirm confirm_pick candles_to_confirm",
    "confirm.rounds": "round_facts",
    "confirm.page": "confirm_page",
    "confirm.figures": "draw_confirmation",
    "size.metrics": "SIZE_METRICS",
    "size.sizing": "size_wicks",
    "size.page": "size_page",
    "size.figures": "draw_sizing",
    "bench.frame": "show_bench",
    "claim.claims": "CannotClaim claim_label",
    "claim.page": "claim_page",
    "claim.figures": "draw_lives",
    "plan.planned": "PlanError read_plan",
    "plan.sample_size": "CannotPlan Wanted plan_candles",
    "plan.folder": "make_plan",
    "plan.page": "plan_page",
    "plan.words": "FILE_WORDS assumptions identities",
    "plan.figures": "draw_benches draw_day draw_sessions",
    "report.results": "batch_results",
    "report.page": "report_page",
    "report.shown": "show_verdicts",
    "report.make": "Refused make_report make_comparison make_sizing make_claim make_scent "
    "make_confirmation",
    "report.panels": "draw_burn_rates draw_pool_growth",
    "report.figures": "draw_wax_left draw_wick_changes",
    "report.life": "draw_life",
    "pages.page": "Page",
    "pages.decision_figure": "draw_margins",
    "pages.publish": "NotOurFolder",
    "pages.run": "ReportFailed demo_folder",
    "pages.show": "show_answer show_criteria show_figure show_glossary show_grid show_heading "
    "show_list show_sentences show_table show_targets",
    "pages.words": "CAUTION CAUTIONS HOW_TO_READ METHOD NOT_A_CERTIFICATE",
    "share.pack": "CannotPack make_pack",
    "share.verify": "verify_pack",
    "share.diff": "pack_differences",
    "simulate.batch": "simulate_batch simulate_many",
    "simulate.model": "BatchPlan Bench WickTruth",
    "glossary": "GLOSSARY heading in_words",
}
_HOME = {name: module for module, names in _PUBLIC.items() for name in names.split()}
__all__ = sorted([*_HOME, "__version__"])


def __getattr__(name: str):
    """Import a public name when it is first asked for: ``import candlelab`` costs nothing."""
    if name == "__version__":
        return metadata.version("candlelab")
    if name in _HOME:
        return getattr(import_module(f"candlelab.{_HOME[name]}"), name)
    raise AttributeError(f"module 'candlelab' has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
