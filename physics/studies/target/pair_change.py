"""Two changes that reach a target together, each smaller than it would have to be alone.

For each pair of helpful levers a coarse grid inside what each would need alone is run. On every row of the grid the
place where the target is reached is estimated between neighbours; the row with the least combined share of what is
allowed is narrowed down, all pairs together in one batch.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.studies.target.levers import Lever
from physics.studies.target.outcome import Outcome, Trials, outcomes, trials
from physics.studies.target.single_change import REACHES, SAME_SPEED, Change, TargetResult

MOST_LEVERS = 8
"""Levers that are paired: those that gain most for the share of their range they use."""

STEPS = 5
"""Values of each lever in a pair's grid."""

INSIDE = 15
"""Values tried between two of them, where the target begins to be reached."""


@dataclass(frozen=True)
class PairChange:
    """Two changes made together.

    Attributes
    ----------
    levers : tuple of two Lever
        What is changed.
    present, values : tuple of two float
        Where they stand, and where they go, rounded to what can be set.
    fractions : tuple of two float
        How much of its allowed range each uses.
    fraction : float
        The two combined, root of the sum of squares.
    outcome : Outcome
        The run with both.
    speed_gained : float, m/s
        Top speed with both less top speed now.
    price : float
        Of both; NaN unless both have one.
    """

    levers: tuple[Lever, Lever]
    present: tuple[float, float]
    values: tuple[float, float]
    fractions: tuple[float, float]
    fraction: float
    outcome: Outcome
    speed_gained: float
    price: float

    @property
    def price_per_speed(self) -> float:
        """Price for each metre per second gained; NaN where there is no price or no gain."""
        return self.price / self.speed_gained if self.speed_gained > 0 else float("nan")


def best_pairs(
    result: TargetResult,
    most: int = 5,
    *,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    **options: Any,
) -> tuple[PairChange, ...]:
    """The pairs of changes that reach the target with the least combined share of what is allowed.

    Parameters
    ----------
    result : TargetResult
        What single changes do.
    most : int
        How many pairs to return at most.
    progress : callable, optional
        Called with (builds done, builds in all).
    cancelled : callable, optional
        Asked between chunks; true ends the search with the pairs found so far.
    **options
        Of `physics.studies.sweep.sweep`, such as `executor`.

    Returns
    -------
    tuple of PairChange
        Best first; empty where the target is reached already or no pair reaches it. Where both changes of a pair
        have prices, cheaper pairs do not come first: sort by `price` for that.
    """
    if result.reached:
        return ()
    reaches = [_Reach(change) for change in result.changes if _helps(change)]
    reaches.sort(key=lambda reach: -reach.gain_per_fraction)
    pairs = [
        _Pair(one, other)
        for one, other in itertools.combinations(reaches[:MOST_LEVERS], 2)
        if len(one.values) and len(other.values) and not _same_part(one, other)
    ]
    if not pairs:
        return ()
    progress = progress or (lambda done, total: None)
    builds = sum(pair.count for pair in pairs)
    total = builds + len(pairs) * (INSIDE + 2)
    options = options | {"cancelled": cancelled or (lambda: False)}
    tried = trials(
        result.build,
        [pair.grid(result) for pair in pairs],
        result.goal,
        progress=lambda done, _: progress(done, total),
        **options,
    )
    start = 0
    for pair in pairs:
        pair.choose(tried, start, result.goal.speed)
        start += pair.count
    pairs = [pair for pair in pairs if np.isfinite(pair.fraction)]
    finer = [pair for pair in pairs if np.isfinite(pair.between).all()]
    if finer:
        tried = trials(result.build, [pair.finer(result) for pair in finer], result.goal, **options)
        for index, pair in enumerate(finer):
            pair.narrow(tried.good[index * INSIDE : (index + 1) * INSIDE])
    progress(total - 2 * len(pairs), total)
    pair_changes = _verified(result, pairs)
    progress(total, total)
    return tuple(sorted(pair_changes, key=lambda pair: pair.fraction)[:most])


def _helps(change: Change) -> bool:
    return change.outcome is not None and change.speed_gained > SAME_SPEED and change.fraction > 0


_PARTS = (
    {"front_teeth", "rear_teeth", "rolling_radius"},
    {"pack_capacity", "pack_rating", "pack_resistance", "cells_in_series"},
)


def _same_part(one: _Reach, other: _Reach) -> bool:
    """Whether two levers do the same thing, or change the same fields: pairing them says nothing new."""
    keys = {one.change.lever.key, other.change.lever.key}
    return any(keys <= part for part in _PARTS)


class _Reach:
    """What a lever may do in a pair: values short of what it would need alone."""

    def __init__(self, change: Change) -> None:
        self.change = change
        present, end = change.present, change.exact
        alone = change.status == REACHES
        if change.lever.whole:
            way = 1 if end > present else -1
            values = np.arange(present + way, end + (0 if alone else way), way)
            self.values = (
                values[np.unique(np.linspace(0, len(values) - 1, STEPS).round().astype(int))]
                if len(values)
                else values
            )
        else:
            parts = np.arange(1, STEPS + 1) / (STEPS + 1 if alone else STEPS)
            self.values = present + (end - present) * parts
        self.gain_per_fraction = change.speed_gained / change.fraction


class _Pair:
    """Two levers, their grid, and the best place found in it."""

    def __init__(self, one: _Reach, other: _Reach) -> None:
        # the second lever is the one that is narrowed down, so let it be continuous where one of them is
        if other.change.lever.whole and not one.change.lever.whole:
            one, other = other, one
        self.one, self.other = one, other
        self.count = len(one.values) * len(other.values)
        self.fraction = np.inf
        self.values = self.between = (np.nan, np.nan)

    def changes(self, result: TargetResult, ones: ArrayLike, others: ArrayLike) -> dict[str, Floats]:
        first = self.one.change.lever.changes(result.build, ones)
        second = self.other.change.lever.changes(result.build, others)
        both = first | second
        for path in first.keys() & second.keys():  # mass moves with both: add what each adds
            now = result.build.bike.bike_mass
            both[path] = np.maximum(first[path] + second[path] - now, 5.0)
        return both

    def grid(self, result: TargetResult) -> dict[str, Floats]:
        ones, others = np.meshgrid(self.one.values, self.other.values, indexing="ij")
        return self.changes(result, ones.ravel(), others.ravel())

    def choose(self, tried: Trials, start: int, speed: float) -> None:
        shape = (len(self.one.values), len(self.other.values))
        good = tried.good[start : start + self.count].reshape(shape)
        free = tried.free_speed[start : start + self.count].reshape(shape)
        one, other = self.one.change, self.other.change
        for row in np.flatnonzero(good.any(axis=1)):
            index = int(good[row].argmax())
            here = float(self.other.values[index])
            before = float(self.other.values[index - 1]) if index else other.present
            estimate = here
            if not other.lever.whole and index and free[row, index] > free[row, index - 1]:
                missing = (speed - free[row, index - 1]) / (free[row, index] - free[row, index - 1])
                estimate = before + float(np.clip(missing, 0.0, 1.0)) * (here - before)
            value = float(self.one.values[row])
            fraction = float(
                np.hypot(one.lever.fraction(one.present, value), other.lever.fraction(other.present, estimate))
            )
            if fraction < self.fraction:
                self.fraction, self.values = fraction, (value, here)
                self.between = (np.nan, np.nan) if other.lever.whole else (before, here)

    def points(self) -> Floats:
        before, after = self.between
        return before + (after - before) * np.arange(1, INSIDE + 1) / (INSIDE + 1)

    def finer(self, result: TargetResult) -> dict[str, Floats]:
        points = self.points()
        return self.changes(result, np.full(INSIDE, self.values[0]), points)

    def narrow(self, good: NDArray[np.bool_]) -> None:
        if good.any():
            self.values = (self.values[0], float(self.points()[good.argmax()]))


def _verified(result: TargetResult, pairs: list[_Pair]) -> list[PairChange]:
    """Both values rounded to what can be set, where that still reaches the target; run once more."""
    if not pairs:
        return []
    candidates: list[tuple[_Pair, tuple[float, float]]] = []
    for pair in pairs:
        one, other = pair.one.change, pair.other.change
        rounded = (
            one.lever.rounded(one.present, pair.values[0]),
            other.lever.rounded(other.present, pair.values[1]),
        )
        candidates += [(pair, values) for values in dict.fromkeys((rounded, pair.values))]
    changes = [pair.changes(result, [values[0]], [values[1]]) for pair, values in candidates]
    tried = outcomes(result.build, changes, result.goal)
    answers: dict[int, PairChange] = {}
    for row, (pair, values) in enumerate(candidates):
        outcome = tried[row]
        if id(pair) in answers or not outcome.good:
            continue
        one, other = pair.one.change, pair.other.change
        fractions = (
            float(one.lever.fraction(one.present, values[0])),
            float(other.lever.fraction(other.present, values[1])),
        )
        answers[id(pair)] = PairChange(
            levers=(one.lever, other.lever),
            present=(one.present, other.present),
            values=values,
            fractions=fractions,
            fraction=float(np.hypot(*fractions)),
            outcome=outcome,
            speed_gained=outcome.top_speed - result.present.top_speed,
            price=one.price + other.price,
        )
    return list(answers.values())
