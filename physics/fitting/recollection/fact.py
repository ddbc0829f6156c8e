"""Facts: what a rider remembers of a ride, how sure he is of it, and how well a prediction gives it.

A fact is right, and then its value lies about the true one by what the rider's memory is worth, or it is plain
wrong: another day, another setting, another bike. How often the latter is so, WRONG, and how far off it then is,
are common practice, no source. The likelihood is the mixture of both, as in the contamination model of P. J. Huber,
Robust estimation of a location parameter, Annals of Mathematical Statistics 35 (1964) 73-101, so that a fact which
does not fit is left alone rather than obeyed, and can be named.

That the pack held, or cut out, is an event. Its soft edge is the rider's sense of time: it cuts out within a time
with the chance that the true time, which lies about the predicted one by a factor, is less than that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats

TOP_SPEED, TIME_TO_SPEED, CUT_OUT, HELD, FRONT_LIGHT, LOADED_VOLTAGE = (
    "top speed", "time to a speed", "cut out", "held", "front light", "voltage under load",
)  # fmt: skip

COVERAGE = 2.0
"""Standard deviations in the error of a fact, as in a normal tolerance."""

WRONG = 0.05
"""How many memories are plain wrong."""

_WRONG_SPAN = math.log(4.0)
"""A wrong value lies anywhere from half the true one to twice it, its logarithm evenly spread."""

_WRONG_EVENT = 0.5
"""A wrong memory of an event is worth as much as the toss of a coin."""


class Kind(NamedTuple):
    """What a fact of one kind holds: lowest and highest value, and of what it was observed at, both SI."""

    low: float
    high: float
    unit: str
    at_low: float | None = None
    at_high: float | None = None
    at_unit: str = ""


KINDS = {
    TOP_SPEED: Kind(1.0, 120.0, "m/s"),
    TIME_TO_SPEED: Kind(0.2, 120.0, "s", 1.0, 120.0, "m/s"),
    CUT_OUT: Kind(0.1, 120.0, "s", 1.0, 5000.0, "A"),
    HELD: Kind(0.1, 120.0, "s", 1.0, 5000.0, "A"),
    FRONT_LIGHT: Kind(0.01, 1.0, ""),
    LOADED_VOLTAGE: Kind(1.0, 1000.0, "V", 1.0, 5000.0, "A"),
}
"""top speed: m/s. time to a speed: s, at m/s. cut out and held: after or for so many s, at a line limit of A. front
light: the throttle, 0 to 1. voltage under load: V, after ten seconds at A."""

EVENTS = (CUT_OUT, HELD)


@dataclass(frozen=True)
class Observable:
    """What can be observed of a bike, whatever comes out.

    Attributes
    ----------
    kind : str
        One of KINDS.
    at : float or None
        At what it is observed: a speed, m/s, a line limit, A, or a current, A; None where there is no such thing.
    conditions : tuple of (str, float)
        Field path and value, where the day and the settings differ from the build's.
    """

    kind: str
    at: float | None = None
    conditions: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"Kind of fact: got {self.kind!r}; accepts one of {', '.join(KINDS)}.")
        kind = KINDS[self.kind]
        if kind.at_low is not None and kind.at_high is not None:
            fine = self.at is not None and kind.at_low <= self.at <= kind.at_high
            accepts = f"a number from {kind.at_low:g} to {kind.at_high:g} {kind.at_unit}"
        else:
            fine, accepts = self.at is None, "nothing"
        if not fine:
            raise ValueError(f"{self.kind}, at: got {self.at!r}; accepts {accepts}.")


@dataclass(frozen=True)
class Fact:
    """What was observed, as it is remembered.

    Attributes
    ----------
    observable : Observable
        What was looked at.
    value : float
        What came out, SI.
    error : float
        On either side of the value, in its unit: it holds the true one 95 times in 100, where the memory is right.

    Examples
    --------
    >>> Fact(Observable(TOP_SPEED), 31.0, 1.0).error
    1.0
    >>> Fact(Observable(TOP_SPEED), -3.0, 1.0)
    Traceback (most recent call last):
    ...
    ValueError: top speed: got -3.0; accepts a number from 1 to 120 m/s.
    """

    observable: Observable
    value: float
    error: float

    def __post_init__(self) -> None:
        kind = KINDS[self.kind]
        if not kind.low <= self.value <= kind.high:
            accepts = f"a number from {kind.low:g} to {kind.high:g} {kind.unit}".rstrip()
            raise ValueError(f"{self.kind}: got {self.value!r}; accepts {accepts}.")
        if not 0 < self.error < math.inf:
            raise ValueError(f"{self.kind}, how sure: got {self.error!r}; accepts a number above 0.")

    @property
    def kind(self) -> str:
        """One of KINDS."""
        return self.observable.kind


def likelihood(fact: Fact, predicted: ArrayLike) -> tuple[Floats, Floats]:
    """How well predictions give a fact.

    Parameters
    ----------
    fact : Fact
        What is remembered.
    predicted : array, shape (n,)
        The same in each sample, SI; for events the time after which it cuts out, infinite for never. NaN where
        there is nothing of the kind, as a time to a speed that is not reached.

    Returns
    -------
    tuple of array, shape (n,)
        Likelihood, and the chance that the fact is plain wrong if that sample is the bike.

    Examples
    --------
    >>> weight, wrong = likelihood(Fact(Observable(TOP_SPEED), 30.0, 1.0), [30.0, 30.5, 36.0])
    >>> bool(weight[0] > weight[1] > weight[2]), bool(wrong[0] < 0.01 < 0.99 < wrong[2])
    (True, True)
    """
    right = np.where(np.isnan(predicted), 0.0, _if_right(fact, np.asarray(predicted, dtype=float)))
    wrong = WRONG * _if_wrong(fact)
    both = (1.0 - WRONG) * right + wrong
    return both, wrong / both


def _if_right(fact: Fact, predicted: Floats) -> Floats:
    """Density of the value, or chance of the event, where memory is right."""
    deviation = fact.error / COVERAGE
    if fact.kind not in EVENTS:
        return _normal((fact.value - predicted) / deviation) / deviation
    spread = deviation / fact.value  # of the logarithm of time
    with np.errstate(divide="ignore"):
        away = (np.log(predicted) - math.log(fact.value)) / spread
    from scipy.special import ndtr  # half a second to import, and a page that asks for no facts needs none of it

    return ndtr(away) if fact.kind == HELD else _normal(away) / spread


def _if_wrong(fact: Fact) -> float:
    if fact.kind == HELD:
        return _WRONG_EVENT
    return 1.0 / _WRONG_SPAN if fact.kind == CUT_OUT else 1.0 / (fact.value * _WRONG_SPAN)


def _normal(away: Floats) -> Floats:
    return np.exp(-0.5 * np.square(np.minimum(np.abs(away), 30.0))) / math.sqrt(2.0 * math.pi)
