"""candlelab: find the wick that burns best, and show it.

Everything that a notebook needs comes from here: ``from candlelab import read_batch, WorkedBatch``.
"""

import lazy_loader

# what is handed out, and where each name lives, stands in __init__.pyi: type checkers read it too
_public, _, _names = lazy_loader.attach_stub(__name__, __file__)
__all__ = sorted([*_names, "__version__"])


def __getattr__(name: str):
    """Import a public name when it is first asked for: ``import candlelab`` costs nothing."""
    if name != "__version__":
        return _public(name)
    from importlib import metadata  # slow, and needed for nothing else

    return metadata.version("candlelab")


def __dir__() -> list[str]:
    return __all__
