"""What facts say of the unknowns, what they leave open, and which of them cannot be true together.

Two facts contradict each other where they are far less likely of one bike than of two: the ratio of the evidence of
both together to the product of that of each alone, P. Marshall, N. Rajguru, A. Slosar, Bayesian evidence as a
diagnostic for tension, Physical Review D 73 (2006) 067302 (from memory). A ratio below a tenth counts, which H.
Jeffreys, Theory of Probability, 3rd ed., Oxford 1961, appendix B, calls strong (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.fitting.recollection.fact import Fact, likelihood
from physics.fitting.recollection.sampling import Drawn, effective_sample_size

LEAST_EFFECTIVE = 200.0
"""Effective samples below which nothing is concluded: ten of them on either side of a 90 % interval."""

LEFT_OPEN = 0.8
"""An interval at least so wide, over that before the facts, counts as left open."""

CONTRADICT = 0.1
"""Evidence of two facts together over that of each alone, below which they contradict each other."""

DOUBTFUL = 0.5
"""Chance of being plain wrong above which a fact is named."""

CONCLUDED, TOO_FEW_FIT, STOPPED = 1, -1, 0
"""Status: 1 there are values, -1 too few samples give the facts, 0 it was stopped before any stage was done."""

INTERVAL = (0.05, 0.5, 0.95)
_NOTHING = 1e-9
"""Weights below this share of the largest need not be sorted."""


@dataclass(frozen=True)
class Finding:
    """One unknown before and after the facts; the unit is that of the values that were given.

    Attributes
    ----------
    name : str
        Of the unknown.
    low, middle, high : float
        90 % interval and median after the facts.
    before_low, before_middle, before_high : float
        The same before them.
    """

    name: str
    low: float
    middle: float
    high: float
    before_low: float
    before_middle: float
    before_high: float

    @property
    def narrowed(self) -> float:
        """Width of the interval over that before the facts."""
        before = self.before_high - self.before_low
        return (self.high - self.low) / before if before > 0 else 1.0

    @property
    def left_open(self) -> bool:
        """Whether the facts say hardly anything about it."""
        return self.narrowed > LEFT_OPEN


@dataclass(frozen=True)
class Told:
    """One fact against what the samples make of it.

    Attributes
    ----------
    low, middle, high : float
        90 % interval and median of the prediction, after all facts; NaN where there is nothing of the kind.
    wrong_alone, wrong : float
        Chance that it is plain wrong, beside what was known before, and beside the other facts as well.
    """

    low: float
    middle: float
    high: float
    wrong_alone: float
    wrong: float


@dataclass(frozen=True)
class Contradiction:
    """Two facts, by their places, that are far less likely of one bike than of two; `ratio` says how much less."""

    first: int
    second: int
    ratio: float


@dataclass(frozen=True, eq=False)
class Recollected:
    """What the facts say.

    Attributes
    ----------
    status : int
        1 concluded, -1 too few samples give the facts, 0 stopped before any stage was done.
    message : str
        The same as a sentence.
    findings : tuple of Finding
        One for each unknown; empty unless concluded.
    told : tuple of Told
        One for each fact.
    contradictions : tuple of Contradiction
        The worst first.
    samples : int
        How many were drawn.
    effective : float
        How many equal weights would be worth as much.
    weights : array, shape (n,)
        Of the samples, after the facts; their sum is 1.
    unknowns : array, shape (n, d)
        Of the samples, standard normal before any fact.
    """

    status: int
    message: str
    findings: tuple[Finding, ...]
    told: tuple[Told, ...]
    contradictions: tuple[Contradiction, ...]
    samples: int
    effective: float
    weights: Floats
    unknowns: Floats

    @property
    def success(self) -> bool:
        """Whether there are values."""
        return self.status == CONCLUDED

    @property
    def doubtful(self) -> tuple[int, ...]:
        """Places of the facts that are more likely plain wrong than not, the worst first."""
        worst = [max(fact.wrong_alone, fact.wrong) for fact in self.told]
        order = sorted(range(len(worst)), key=lambda place: -worst[place])
        return tuple(place for place in order if worst[place] > DOUBTFUL)

    def finding(self, name: str) -> Finding:
        """The finding of one unknown."""
        return next(item for item in self.findings if item.name == name)


def weighted_quantiles(values: ArrayLike, weights: ArrayLike, places: Sequence[float] = INTERVAL) -> Floats:
    """Quantiles of weighted values: the value at which the share of the weight passes each place.

    Parameters
    ----------
    values, weights : array, shape (n,)
        Finite or infinite, and zero or above.
    places : sequence of float
        0 to 1.

    Returns
    -------
    array, shape (len(places),)

    Examples
    --------
    >>> weighted_quantiles([3.0, 1.0, 2.0], [1.0, 1.0, 2.0], [0.5])
    array([2.])
    """
    value, weight = np.asarray(values, dtype=float), np.asarray(weights, dtype=float)
    counts = weight > _NOTHING * weight.max()
    value, weight = value[counts], weight[counts]
    order = np.argsort(value)
    shares = np.cumsum(weight[order])
    index = np.searchsorted(shares, np.asarray(places) * shares[-1])
    return value[order][np.minimum(index, len(value) - 1)]


def conclude(names: Sequence[str], values: Floats, drawn: Drawn, facts: Sequence[Fact]) -> Recollected:
    """What facts say of the unknowns.

    Parameters
    ----------
    names : sequence of str
        Of the unknowns.
    values : array, shape (n, len(names))
        Of the unknowns in each sample, in their own units.
    drawn : Drawn
        The samples.
    facts : sequence of Fact
        At least one.

    Returns
    -------
    Recollected

    Examples
    --------
    >>> from scipy.special import ndtri
    >>> from physics.fitting.recollection.fact import TOP_SPEED, Observable
    >>> unknown = ndtri((np.arange(4000) + 0.5) / 4000)
    >>> drawn = Drawn(unknown[:, None], np.ones(4000), 30.0 + unknown[:, None])
    >>> found = conclude(["x"], unknown[:, None], drawn, [Fact(Observable(TOP_SPEED), 31.0, 2.0)])
    >>> round(found.finding("x").middle, 1), found.doubtful
    (0.5, ())
    """
    pairs = [likelihood(fact, drawn.predicted[:, place]) for place, fact in enumerate(facts)]
    each, wrong = (np.array(side) for side in zip(*pairs, strict=True))
    posterior = drawn.prior * each.prod(axis=0)
    posterior = posterior / posterior.sum()
    effective = effective_sample_size(posterior)
    weighted = each * (drawn.prior / drawn.prior.sum())
    alone = weighted.sum(axis=1)  # the evidence of each fact
    wrong_alone = (wrong * weighted).sum(axis=1) / alone
    wrong_beside = (wrong * posterior).sum(axis=1)
    told = tuple(
        Told(*_interval(drawn.predicted[:, place], posterior), float(by_itself), float(beside))
        for place, (by_itself, beside) in enumerate(zip(wrong_alone, wrong_beside, strict=True))
    )
    enough = effective >= LEAST_EFFECTIVE
    count = f"{effective:.0f} of {len(posterior)} samples"
    return Recollected(
        CONCLUDED if enough else TOO_FEW_FIT,
        f"The facts leave what {count} are worth."
        + ("" if enough else f" That is too few to conclude: it takes {LEAST_EFFECTIVE:.0f}."),
        tuple(
            Finding(
                name,
                *_interval(values[:, column], posterior),
                *_interval(values[:, column], drawn.prior),
            )
            for column, name in enumerate(names)
        )
        if enough
        else (),
        told,
        _contradictions(each, alone, drawn.prior),
        len(posterior),
        effective,
        posterior,
        drawn.unknowns,
    )


def _interval(values: Floats, weights: Floats) -> tuple[float, float, float]:
    known = ~np.isnan(values)
    if weights[known].sum() <= 0.5 * weights.sum():
        return float("nan"), float("nan"), float("nan")
    low, middle, high = weighted_quantiles(values[known], weights[known])
    return float(low), float(middle), float(high)


def _contradictions(each: Floats, alone: Floats, prior: Floats) -> tuple[Contradiction, ...]:
    """Pairs of facts whose evidence together is far below the product of that of each."""
    found = []
    for first, second in combinations(range(len(each)), 2):
        together = (prior * each[first] * each[second]).sum() / prior.sum()
        ratio = float(together / (alone[first] * alone[second]))
        if ratio < CONTRADICT:
            found.append(Contradiction(first, second, ratio))
    return tuple(sorted(found, key=lambda pair: pair.ratio))
