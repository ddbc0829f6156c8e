"""A straight line through values of several dates, weighted by their intervals, with what it says of another date.

Weighted least squares with the scale found from the scatter: N. R. Draper, H. Smith, Applied Regression Analysis,
3rd ed., Wiley 1998, sections 1.4 (interval of a new reading) and 9.2 (weights; section numbers from memory). So the
intervals count against each other; how wide the answer is follows from how far the values lie off the line.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from physics.arrays import Floats
from physics.fitting.regression import linear_fit
from physics.fitting.result import FitResult

FEWEST = 4
"""Values on different dates: with three, one degree of freedom is left, and the interval is 13 standard errors."""
TWO_SIDED_95 = 1.959963985
"""Standard errors in half a 95 % interval of a normal value."""


class TooFewError(ValueError):
    """There are too few values to say anything of a trend."""


@dataclass(frozen=True, eq=False)
class Trend:
    """A line through values of several dates.

    Attributes
    ----------
    fit : FitResult
        "level", at `middle`, and "rate", a unit of time.
    middle : float
        Weighted mean of the times.
    first, last : float
        Of the times.
    scale : float
        Standard deviation, over its own standard error, of a value about the line.
    usual_error : float
        Median standard error of the values: what another one is taken to have.
    """

    fit: FitResult
    middle: float
    first: float
    last: float
    scale: float
    usual_error: float

    @property
    def rises(self) -> bool:
        """Whether the 95 % interval of the rate lies above zero."""
        return self.fit.bounds("rate")[0] > 0

    @property
    def falls(self) -> bool:
        """Whether the 95 % interval of the rate lies below zero."""
        return self.fit.bounds("rate")[1] < 0

    def line(self, time: ArrayLike) -> tuple[Floats, Floats, Floats]:
        """The line at some times, and the ends of the 95 % interval in which the line itself lies.

        Parameters
        ----------
        time : float or array
            In the unit the trend was made with.

        Returns
        -------
        (value, low, high) : arrays
            Of the times' shape.
        """
        return self._at(time, 0.0)

    def reading(self, time: ArrayLike) -> tuple[Floats, Floats, Floats]:
        """The line at some times, and the ends of the 95 % interval in which one more value is to be expected.

        Parameters
        ----------
        time : float or array
            In the unit the trend was made with.

        Returns
        -------
        (value, low, high) : arrays
            Of the times' shape.
        """
        return self._at(time, self.scale * self.usual_error)

    def _at(self, time: ArrayLike, own: float) -> tuple[Floats, Floats, Floats]:
        away = np.asarray(time, float) - self.middle
        value = self.fit.value("level") + self.fit.value("rate") * away
        one, two = self.fit.error("level"), self.fit.error("rate")
        both = 2.0 * self.fit.correlation[0, 1] * one * two * away
        error = np.sqrt(np.maximum(one**2 + (two * away) ** 2 + both + own**2, 0.0))
        reach = float(stdtrit(self.fit.n - 2, 0.975)) * error
        return value, value - reach, value + reach


def trend(time: ArrayLike, value: ArrayLike, low: ArrayLike, high: ArrayLike, shortest: float = 0.0) -> Trend:
    """Fit a straight line through values with 95 % intervals, each weighted by one over its variance.

    Parameters
    ----------
    time : array, shape (n,)
        In any unit.
    value, low, high : array, shape (n,)
        The values and the ends of their 95 % intervals.
    shortest : float
        Time that must lie between the first and the last.

    Returns
    -------
    Trend

    Raises
    ------
    TooFewError
        With fewer than `FEWEST` different times, less time between them than the shortest, or all weight on one.
    ValueError
        Where an interval has no width, or a number is not finite.

    Examples
    --------
    >>> t = np.array([0.0, 1.0, 2.0, 3.0])
    >>> found = trend(t, 50.0 + 2.0 * t, 49.0 + 2.0 * t, 51.0 + 2.0 * t)
    >>> round(found.fit.value("rate"), 9), round(float(found.line(5.0)[0]), 9)
    (2.0, 60.0)
    """
    t, y, below, above = (np.asarray(each, float) for each in (time, value, low, high))
    if not all(np.isfinite(each).all() for each in (t, y, below, above)):
        raise ValueError("Every time, value and end of an interval must be a finite number.")
    if not (above > below).all():
        raise ValueError("Every interval must have its upper end above its lower end.")
    dates = np.unique(t).size
    if dates < FEWEST:
        raise TooFewError(f"{dates} different dates are too few for a trend; at least {FEWEST} are needed.")
    span = float(np.ptp(t))
    if span < shortest:
        raise TooFewError(
            f"The values span {span:g}, too short a time for a trend; at least {shortest:g} is needed."
        )
    error = (above - below) / (2.0 * TWO_SIDED_95)
    weight = 1.0 / error**2
    middle = float(weight @ t / weight.sum())
    design = np.column_stack([np.ones(t.size), (t - middle) / span]) / error[:, None]
    fit = linear_fit(design, y / error, ("level", "rate"), largest_relative_error=np.inf)
    if not np.isfinite(fit.interval).all():
        raise TooFewError("One interval is so much narrower than the others that the line hangs on it alone.")
    return Trend(
        _per_unit(fit, span),
        middle,
        float(t.min()),
        float(t.max()),
        fit.residual_standard_deviation,
        float(np.median(error)),
    )


def _per_unit(fit: FitResult, span: float) -> FitResult:
    """A fit over time in spans, its rate turned into one a unit of time."""
    per = np.array([1.0, span])
    return replace(
        fit,
        values=fit.values / per,
        standard_error=fit.standard_error / per,
        interval=fit.interval / per[:, None],
    )
