"""An estimate in a sentence."""

from __future__ import annotations

from candlelab.glossary import GLOSSARY
from candlelab.text import amount


def quantity(metric: str, value: float) -> str:
    """An estimate with its unit: two decimals for rates and hours, else one.

    That is one more than a reading is worth in a table, so that a small difference and the ends of
    its interval are told from zero.

    Parameters
    ----------
    metric : str
        Name of the column, which the glossary knows.
    value : float
        The estimate, in the unit of the column.
    """
    unit = GLOSSARY[metric].unit
    return amount(value, unit, 2 if unit in ("g/h", "h") else 1)
