"""candlelab: find the wick that burns best, and show it."""

from importlib import import_module

_PUBLIC = {
    "BurnLogError": "problems", "Batch": "logs", "read_batch": "logs", "check_batch": "logs", "burn_cycles": "cycles",
    "wick_runs": "runs", "candle_summary": "runs", "wick_change_effects": "runs", "judge_safety": "safety", "diagnose": "diagnosis",
    "batch_results": "results", "results_record": "results", "make_report": "report",
    "make_pack": "packing", "verify_pack": "verifying", "pack_differences": "differing",
}  # fmt: skip
__all__ = sorted(_PUBLIC)


def __getattr__(name: str):
    """Import a public name when it is first asked for, so that ``import candlelab`` costs nothing."""
    if name in _PUBLIC:
        return getattr(import_module(f"candlelab.{_PUBLIC[name]}"), name)
    raise AttributeError(f"module 'candlelab' has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
