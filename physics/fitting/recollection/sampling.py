"""Samples of the unknowns, drawn ever nearer to where the facts are given, with their weights.

Unknowns are standard normal here; whoever simulates turns them into values of a build. The first stage is drawn
from what was known before. Each later one is drawn from a normal distribution about the samples that give the facts
best so far, and every sample of every stage keeps a weight: what was known before over the mixture of all that was
drawn from. J.-M. Cornuet, J.-M. Marin, A. Mira, C. P. Robert, Adaptive multiple importance sampling, Scandinavian
Journal of Statistics 39 (2012) 798-812 (arXiv:0907.1254), with the mixture's weights after A. Owen, Y. Zhou, Safe
and effective importance sampling, Journal of the American Statistical Association 95 (2000) 135-143 (from memory).
As the first stage is what was known before, no weight is above the number of stages.

While few samples give the facts, a power of the likelihood below 1 stands for it when the next stage is placed:
R. M. Neal, Annealed importance sampling, Statistics and Computing 11 (2001) 125-139 (from memory).

How many samples weights are worth is the effective sample size (sum w)^2 / sum w^2: L. Kish, Survey Sampling, Wiley
1965; J. S. Liu, R. Chen, Sequential Monte Carlo methods for dynamic systems, Journal of the American Statistical
Association 93 (1998) 1032-1044 (both from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.fitting.recollection.fact import Fact, likelihood

LEAST_TO_PLACE = 0.05
"""Part of the samples that must stay effective where the next stage is placed; else the power is lowered."""

_WIDER = 1.3
"""Each stage's spread over that of the samples it is placed by: too wide costs samples, too narrow the truth."""

_NEAREST_TO_CERTAIN = 1e-9


@dataclass(frozen=True)
class Drawn:
    """Samples, what they predict, and what weight they have before any fact is looked at.

    Attributes
    ----------
    unknowns : array, shape (n, d)
        Standard normal before any fact.
    prior : array, shape (n,)
        Weight from how they were drawn, of mean about 1; all 1 where they were drawn from what was known before.
    predicted : array, shape (n, facts)
        As `physics.fitting.recollection.fact.likelihood` takes them.
    complete : bool
        False where it was stopped before the last stage.
    """

    unknowns: Floats
    prior: Floats
    predicted: Floats
    complete: bool = True


def effective_sample_size(weights: ArrayLike) -> float:
    """How many equal weights would be worth as much: (sum w)^2 / sum w^2.

    Parameters
    ----------
    weights : array, shape (n,)
        Zero or above.

    Returns
    -------
    float
        0 to n; 0 where all are zero.

    Examples
    --------
    >>> effective_sample_size([1.0, 1.0, 0.0, 0.0])
    2.0
    """
    weights = np.asarray(weights, dtype=float)
    squares = np.square(weights).sum()
    return float(weights.sum() ** 2 / squares) if squares > 0 else 0.0


def refined(
    predict: Callable[[Floats, Floats], Floats | None],
    facts: Sequence[Fact],
    points: Sequence[Floats],
    dimensions: int,
) -> Drawn | None:
    """Samples from stage to stage.

    Parameters
    ----------
    predict : callable
        Takes unknowns, shape (n, d), standard normal before any fact, and points of the unit cube, shape (n, e),
        for all that differs from ride to ride; gives predictions, shape (n, facts), or None where it was stopped.
    facts : sequence of Fact
        What is remembered.
    points : sequence of array, shape (n, d + e)
        Evenly spread points of the unit cube, for each stage.
    dimensions : int
        How many unknowns, d.

    Returns
    -------
    Drawn or None
        None where it was stopped before the first stage was done.

    Examples
    --------
    >>> from physics.fitting.recollection.fact import TOP_SPEED, Observable
    >>> cube = np.random.default_rng(1).random((2, 2000, 1))
    >>> fact = Fact(Observable(TOP_SPEED), 32.0, 0.1)
    >>> drawn = refined(lambda unknowns, _: 30.0 + unknowns, [fact], cube, 1)
    >>> weights = drawn.prior * likelihood(fact, drawn.predicted[:, 0])[0]
    >>> round(float(np.average(drawn.unknowns[:, 0], weights=weights)), 1)
    2.0
    """
    from scipy.special import ndtri

    placed = [(np.zeros(dimensions), np.eye(dimensions))]
    unknowns, predicted = np.empty((0, dimensions)), np.empty((0, len(facts)))
    for stage, cube in enumerate(points):
        middle, root = placed[-1]
        even = np.clip(cube, _NEAREST_TO_CERTAIN, 1 - _NEAREST_TO_CERTAIN)
        drawn = middle + ndtri(even[:, :dimensions]) @ root.T
        found = predict(drawn, even[:, dimensions:])
        if found is None:
            break
        unknowns, predicted = np.concatenate([unknowns, drawn]), np.concatenate([predicted, found])
        prior = _prior_over_mixture(unknowns, placed)
        if stage + 1 < len(points):
            logs = np.sum([np.log(likelihood(fact, predicted[:, i])[0]) for i, fact in enumerate(facts)], axis=0)
            placed.append(_about(unknowns, tempered(prior, np.broadcast_to(logs, prior.shape))))
    if not len(unknowns):
        return None
    return Drawn(unknowns, prior, predicted, len(unknowns) == sum(map(len, points)))


def tempered(prior: Floats, logs: Floats, least: float = LEAST_TO_PLACE) -> Floats:
    """Weights with the highest power of the likelihood, at most 1, that leaves enough samples effective.

    Parameters
    ----------
    prior : array, shape (n,)
        Weights before any fact.
    logs : array, shape (n,)
        Logarithm of the likelihood.
    least : float
        Part of the samples that must be left.

    Returns
    -------
    array, shape (n,)
        The largest is about 1 where the prior's are.

    Examples
    --------
    >>> weights = tempered(np.ones(100), np.r_[0.0, np.full(99, -50.0)], 0.5)
    >>> round(effective_sample_size(weights))
    50
    """
    logs = logs - logs.max()

    def weights(power: float) -> Floats:
        return prior * np.exp(power * logs)

    def spare(power: float) -> float:
        return effective_sample_size(weights(power)) - least * len(logs)

    if spare(1.0) >= 0 or spare(0.0) <= 0:
        return weights(1.0 if spare(1.0) >= 0 else 0.0)
    from scipy.optimize import brentq

    return weights(brentq(spare, 0.0, 1.0, xtol=1e-4))


def _about(unknowns: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Mean and root of the covariance from which the next stage is drawn."""
    shares = weights / weights.sum()
    middle = shares @ unknowns
    away = unknowns - middle
    covariance = _WIDER**2 * (away.T * shares) @ away + 1e-6 * np.eye(len(middle))
    return middle, np.linalg.cholesky(covariance)


def _prior_over_mixture(unknowns: Floats, placed: Sequence[tuple[Floats, Floats]]) -> Floats:
    """Density of what was known before over the mean of all that was drawn from; stages are of equal size."""
    logs = [_log_normal(unknowns, *place) for place in placed]
    return 1.0 / np.mean(np.exp(np.clip(np.array(logs) - logs[0], -700.0, 700.0)), axis=0)


def _log_normal(unknowns: Floats, middle: Floats, root: Floats) -> Floats:
    """Logarithm of a normal density, without the constant that all of them share."""
    from scipy.linalg import solve_triangular

    away = solve_triangular(root, (unknowns - middle).T, lower=True)
    return -0.5 * np.square(away).sum(axis=0) - sum(math.log(each) for each in np.diag(root))
