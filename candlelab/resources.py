"""Where the notebooks and the demo batches are, in a checkout and in an installed package alike."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def shipped(name: str) -> Path:
    """Path of ``notebooks`` or ``data/demo``: inside the installed package, or beside it in a checkout.

    Raises FileNotFoundError when it is in neither place.
    """
    for base in (_PACKAGE, _PACKAGE.parent):
        if (base / name).exists():
            return base / name
    raise FileNotFoundError(f"{name} is missing from this installation of candlelab: install it again.")
