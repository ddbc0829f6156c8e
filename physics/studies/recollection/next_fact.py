"""Which fact to collect next: the one that the bikes which are still possible differ in most.

For each observable, the spread of its prediction over those bikes, all on the same day, is set against what blurs
it: the error of the memory, and what the day brings. Their ratio r is what counts: a normal quantity is worth
(1/2) ln(1 + r^2), D. V. Lindley, On a measure of the information provided by an experiment, Annals of Mathematical
Statistics 27 (1956) 986-1005 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from physics.arrays import Floats
from physics.build import Build
from physics.fitting.recollection import Observable, Recollected
from physics.studies.recollection.predict import LONGEST, predictions, rides, unknowns_of
from physics.studies.uncertainty.draws import SEED, spread_points
from physics.studies.uncertainty.tolerance import Tolerance

BIKES = 256
"""Bikes still possible that are tried, each on a middling day and on one drawn by lot."""

_MOST_MISSING = 0.1
_ONE_DEVIATION = (0.1587, 0.8413)
"""Quantiles of a normal distribution one standard deviation off; a few bikes far away do not move them."""


@dataclass(frozen=True)
class NextFact:
    """One observable that could be looked at next.

    Attributes
    ----------
    observable : Observable
        What to look at.
    expected : float
        Median of what would be seen, SI.
    spread, noise : float
        Standard deviations, SI: over the bikes that are possible, and of what blurs it.
    about : str
        Path of the unknown it would say most about.
    """

    observable: Observable
    expected: float
    spread: float
    noise: float
    about: str

    @property
    def ratio(self) -> float:
        """Spread over noise: below 1 it would hardly tell anything new."""
        return self.spread / self.noise


def next_fact(
    build: Build,
    found: Recollected,
    candidates: Sequence[tuple[Observable, float, bool]],
    tolerances: Sequence[Tolerance] | None = None,
    *,
    known: Sequence[Observable] = (),
    bikes: int = BIKES,
    seed: int = SEED,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[NextFact, ...]:
    """Rank observables by what they would say that is not known yet.

    Parameters
    ----------
    build : Build
        As it was given to `recollect`.
    found : Recollected
        What `recollect` made of the facts.
    candidates : sequence of (Observable, float, bool)
        What could be looked at, the error it would be remembered with, and whether that is a share of the value.
    tolerances : sequence of Tolerance, optional
        As given to `recollect`.
    known : sequence of Observable
        Those of the facts there were.
    bikes : int
        How many are tried.
    seed : int
        Of the lot.
    executor, progress, cancelled
        As `physics.studies.sweep.sweep` takes them.

    Returns
    -------
    tuple of NextFact
        The most telling first; without those that many bikes never show. Empty where it was stopped.

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.fitting.recollection import LOADED_VOLTAGE, TOP_SPEED, Fact
    >>> from physics.studies.recollection.recollect import recollect
    >>> voltage, speed = Observable(LOADED_VOLTAGE, 150.0), Observable(TOP_SPEED)
    >>> found = recollect(example_build(), [Fact(speed, 29.5, 2.0)], stages=1, count=1024)
    >>> ranked = next_fact(example_build(), found, [(voltage, 1.0, False), (speed, 0.07, True)], bikes=64)
    >>> ranked[0].observable.kind, ranked[0].about
    ('voltage under load', 'pack.resistance')
    """
    observables = [observable for observable, _, _ in candidates]
    unknowns = unknowns_of(build, [*known, *observables], tolerances)
    own = unknowns_of(build, known, tolerances)  # what the facts' samples hold
    place = (np.arange(bikes) + 0.5) / bikes
    chosen = np.searchsorted(np.cumsum(found.weights), place)  # the systematic resampling of G. Kitagawa, 1996
    drawn = found.unknowns[np.minimum(chosen, len(found.weights) - 1)]
    missing = len(unknowns.build) - len(own.build)
    columns = len(unknowns.day) * len(rides(observables))
    lot = spread_points(columns + missing, bikes, seed)
    if missing:
        from scipy.special import ndtri

        drawn = np.column_stack([drawn, ndtri(np.clip(lot[:, columns:], 1e-9, 1 - 1e-9))])
    both = predictions(
        build,
        observables,
        [LONGEST] * len(observables),
        unknowns,
        np.concatenate([drawn, drawn]),
        np.concatenate([np.full((bikes, columns), 0.5), lot[:, :columns]]),
        executor=executor,
        progress=progress,
        cancelled=cancelled,
    )
    if both is None:
        return ()
    paths = [item.path for item in unknowns.build]
    ranked = [
        _judged(candidate, both[:bikes, column], both[bikes:, column], drawn, paths)
        for column, candidate in enumerate(candidates)
    ]
    return tuple(sorted((item for item in ranked if item is not None), key=lambda item: -item.ratio))


def _judged(
    candidate: tuple[Observable, float, bool],
    same_day: Floats,
    any_day: Floats,
    drawn: Floats,
    paths: Sequence[str],
) -> NextFact | None:
    """One candidate; None where too many of the bikes never show it."""
    held = np.isfinite(same_day) & np.isfinite(any_day)
    if held.mean() < 1 - _MOST_MISSING:
        return None
    seen, bikes = same_day[held], drawn[held]
    expected, day = float(np.median(seen)), float(np.var(any_day[held] - seen))
    error = candidate[1] * (expected if candidate[2] else 1.0)
    away = bikes - bikes.mean(axis=0)
    size = np.sqrt(np.square(away).sum(axis=0))
    shared = np.abs((seen - seen.mean()) @ away) / np.where(size > 0, size, 1.0)
    return NextFact(
        candidate[0],
        expected,
        float(np.diff(np.quantile(seen, _ONE_DEVIATION))[0] / 2),
        float(np.sqrt((error / 2.0) ** 2 + day)),
        paths[int(np.argmax(shared))],
    )
