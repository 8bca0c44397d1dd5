"""How much wax and fragrance goes into a candle, into a pour and onto the order.

Numbers in, numbers out. Two identities hold everywhere, also after rounding to the scale: wax +
fragrance = fill, and poured + left in the jug = weighed out.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from candlelab.candle_formulas import fragrance_fraction


@dataclass(frozen=True)
class Weighed:
    """What to weigh out [g], in whole steps of the scale; wax and fragrance make the total."""

    total_g: float
    wax_g: float
    fragrance_g: float

    def load_pct(self, basis: str) -> float:
        """The load [%] of the rounded masses, on a basis as `fragrance_fraction` has it."""
        return 100.0 * self.fragrance_g / (self.wax_g if basis == "wax" else self.total_g)


def fill_density(
    load_pct: float, basis: str, wax_g_per_ml: float, fragrance_g_per_ml: float | None = None
) -> float:
    """Density [g/ml] of wax with fragrance.

    They are taken to mix without a change of volume, an approximation.

    A fragrance without a density is taken to be as dense as the wax.
    """
    share = float(fragrance_fraction(load_pct, basis))
    return 1.0 / ((1.0 - share) / wax_g_per_ml + share / (fragrance_g_per_ml or wax_g_per_ml))


def weigh(
    total_g: float, load_pct: float, basis: str, step_g: float, *, up: bool = False
) -> Weighed:
    """Part a mass [g] into wax and fragrance, in steps of the scale [g].

    ``up`` rounds the mass up, so that it suffices.

    Raises ValueError when the load leaves no wax.
    """
    share = float(fragrance_fraction(load_pct, basis))
    if not 0.0 <= share < 1.0:
        raise ValueError(f"a load of {load_pct:g} % of the {basis} leaves no wax")
    steps = total_g / step_g
    whole = math.ceil(round(steps, 6)) if up else math.floor(steps + 0.5)
    of_fragrance = math.floor(whole * share + 0.5)
    return Weighed(*(_grams(n, step_g) for n in (whole, whole - of_fragrance, of_fragrance)))


def _grams(steps: int, step_g: float) -> float:
    """Steps of the scale as grams, without the digits that binary fractions add."""
    return round(steps * step_g, 9)


def pour_total(fills_g: list[float], losses_pct: float) -> float:
    """What to weigh out [g] for these fills when ``losses_pct`` of it stays in the jug."""
    if not 0.0 <= losses_pct < 100.0:
        raise ValueError(f"losses of {losses_pct:g} % leave nothing to pour")
    return math.fsum(fills_g) / (1.0 - losses_pct / 100.0)


def share_out(fills_g: list[float], losses_pct: float, jug_g: float) -> list[int]:
    """How many candles each pour fills, in the order given, when a jug holds ``jug_g`` [g].

    As equal as possible.

    Raises ValueError when one candle alone is more than the jug holds.
    """
    for pours in range(1, len(fills_g) + 1):
        small, more = divmod(len(fills_g), pours)
        sizes = [small + (n < more) for n in range(pours)]
        spans = itertools.pairwise(itertools.accumulate(sizes, initial=0))
        if all(pour_total(fills_g[a:z], losses_pct) <= jug_g + 1e-9 for a, z in spans):
            return sizes
    raise ValueError(f"a jug of {jug_g:g} g does not hold one candle")


def to_order(needed: float, reserve_pct: float) -> int:
    """What to order, in whole units of ``needed``, with a reserve [%]; never less than needed."""
    return math.ceil(round(needed * (1.0 + reserve_pct / 100.0), 6))
