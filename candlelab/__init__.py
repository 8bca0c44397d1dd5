"""candlelab: find the wick that burns best, and show it."""

from importlib import import_module

_PUBLIC = {
    "BurnLogError": "logs.problems", "Batch": "logs.batch", "read_batch": "logs.batch", "check_batch": "logs.batch", "burn_cycles": "burns.burns",
    "wick_runs": "burns.candles", "candle_summary": "burns.candles", "wick_change_effects": "burns.candles", "judge_safety": "judge.safety", "diagnose": "judge.diagnosis",
    "batch_results": "report.results", "results_record": "report.results", "make_report": "pages.run",
    "make_pack": "share.pack", "verify_pack": "share.verify", "pack_differences": "share.diff",
}  # fmt: skip
__all__ = sorted(_PUBLIC)


def __getattr__(name: str):
    """Import a public name when it is first asked for, so that ``import candlelab`` costs
    nothing."""
    if name in _PUBLIC:
        return getattr(import_module(f"candlelab.{_PUBLIC[name]}"), name)
    raise AttributeError(f"module 'candlelab' has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
