"""An estimate in a sentence."""

from __future__ import annotations

from candlelab.pages.glossary import GLOSSARY
from candlelab.units import SI, Display


def quantity(metric: str, value: float, display: Display = SI, *, span: bool = False) -> str:
    """An estimate with its unit, with the decimals that a mean is worth.

    Parameters
    ----------
    metric : str
        Name of the column, which the glossary knows.
    value : float
        The estimate, in the unit of the column.
    display : Display
        The reader's units.
    span : bool
        Whether it is a difference of two values.
    """
    return display.amount(value, GLOSSARY[metric].unit, mean=True, span=span)
