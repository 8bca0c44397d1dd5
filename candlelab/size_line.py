"""A straight line through one value per candle against the size of its wick, and what it says elsewhere."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from candlelab.calibration import Inverse, inverse_prediction
from candlelab.designs import CannotCompare, Model, fit, read_rows

UNIT = ("batch", "candle")


@dataclass(frozen=True, eq=False)
class SizeLine:
    """A line through the candles of a series, with the spread of candles about it."""

    model: Model
    middle: float
    df: float
    t: float
    candle_variance: float

    def at(self, x) -> tuple[np.ndarray, np.ndarray]:
        """Mean and its standard error at x."""
        x = np.atleast_1d(np.asarray(x, dtype=float)) - self.middle
        estimate, error, _ = self.model.contrasts(np.column_stack((np.ones_like(x), x)))
        return estimate, error

    @property
    def slope(self) -> tuple[float, float]:
        """Slope and its standard error."""
        estimate, error, _ = self.model.contrasts([[0.0, 1.0]])
        return float(estimate[0]), float(error[0])

    def meets(self, aim: float) -> Inverse | None:
        """The x at which the mean is ``aim``; None without an aim, or for a level line."""
        if not np.isfinite(aim) or self.slope[0] == 0.0:
            return None
        found = inverse_prediction(*self.model.coef[:2], self.model.cov[:2, :2], aim, self.t)
        ends = (found.conf_low + self.middle, found.conf_high + self.middle)
        return Inverse(found.estimate + self.middle, found.std_error, *ends, found.g)

    @property
    def shown(self) -> bool:
        """Whether the slope is told from zero."""
        slope, error = self.slope
        return abs(slope) > self.t * error


def fit_line(points: pd.DataFrame, confidence: float) -> tuple[SizeLine | None, list[str]]:
    """The line through the candles in ``points`` (columns x, value), or why there is none."""
    table = points[points["in_line"]]
    notes: list[str] = []
    if table["x"].nunique() < 2:
        return None, []
    covariates = ("batch",) if table["batch"].nunique() > 1 else ()
    try:
        try:
            model, middle = _fitted(table, covariates)
        except CannotCompare:
            if not covariates:
                raise
            model, middle = _fitted(table, ())
            notes.append(
                "sizes and batches cannot be told apart, so what differs between batches (days, room, lots) is in the"
                " line"
            )
    except CannotCompare:  # one candle of each size: the sentences say so
        return None, []
    t = float(stats.t.ppf((1.0 + confidence) / 2.0, model.df))
    line = SizeLine(model, middle, float(model.df), t, model.candle_sd**2)
    if table["x"].nunique() > 2:
        notes += _bend(table, middle, confidence)
    return line, notes


def _fitted(table: pd.DataFrame, covariates: tuple[str, ...]) -> tuple[Model, float]:
    rows = read_rows(table, metric="value", by="x", unit=UNIT, covariates=covariates)
    x = np.array([cell[0] for cell in rows.cells], dtype=float)[rows.cell]
    return fit(rows, np.column_stack((np.ones_like(x), x - x.mean())), what="the line"), float(x.mean())


def _bend(table: pd.DataFrame, middle: float, confidence: float) -> list[str]:
    rows = read_rows(table, metric="value", by="x", unit=UNIT)
    x = np.array([cell[0] for cell in rows.cells], dtype=float)[rows.cell] - middle
    try:
        curve = fit(rows, np.column_stack((np.ones_like(x), x, x**2)), what="the curve")
    except CannotCompare:
        return []
    estimate, error, df = curve.contrasts([[0.0, 0.0, 1.0]])
    if abs(estimate[0]) > stats.t.ppf((1.0 + confidence) / 2.0, df[0]) * error[0]:
        return ["the line is shown to be bent: what it says between and beyond the sizes burnt is rough"]
    return []


def band_of(table: pd.DataFrame, line: SizeLine) -> pd.DataFrame:
    """The line with its interval and the range of one fresh candle, drawn over the sizes that are predicted."""
    x = np.linspace(*table.loc[table["predicted"].notna(), "x"].agg(["min", "max"]), 50)
    mean, error = line.at(x)
    candle = line.t * np.sqrt(error**2 + line.candle_variance)
    return pd.DataFrame(
        {
            "x": x,
            "predicted": mean,
            "conf_low": mean - line.t * error,
            "conf_high": mean + line.t * error,
            "candle_low": mean - candle,
            "candle_high": mean + candle,
        }
    )
