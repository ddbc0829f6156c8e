"""Narrowing down where a change begins to reach the target: one lever, one side, from batch to batch.

Two numbers of a run change smoothly with a lever as long as nothing opens: by how much it is faster than the
target, and what it leaves of the protection's allowance. A value is good where neither is negative, so the ends of
what is good are roots of the two. Even values come first: a window wider than their spacing holds one. Then, from
batch to batch, values near the roots, and wherever the bend of the two lets both rise above zero between two values
that are not good.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.build import Build
from physics.studies.target.levers import Lever
from physics.studies.target.outcome import Trials

POINTS = 24
"""Values tried first on each side of the present one; of teeth and cells every one is tried."""

ROUNDS = 5
"""Batches in which they are narrowed down."""

NARROW = 1e-6
"""Fraction of a side's range that is not divided any further."""

NARROW_BEND = 1 / 400
"""The same where only a bend between two values gives hope."""

LEAST_GAIN = 0.03
"""Speeds closer than this, m/s, count as the same when the most that a lever can do is looked for."""

NEAR_ROOT = np.array([-1 / 8, -1 / 64, 1 / 64, 1 / 8])
"""Values tried round where a root is expected, in widths of its interval."""

_DEEP, _JUST_OPEN = 3.0, 1e-6
"""An allowance that is used up lacks between these two: a slow timer may end a little before the one that opens."""

_BEND = 0.5
"""How far a number may rise above both ends of an interval, in second differences: an eighth for a parabola."""


class Side:
    """One lever on one side of its present value: the values tried, and what came of them.

    Parameters
    ----------
    lever : Lever
        What is changed.
    build : Build
        As it is now.
    way : int
        1 above the present value, -1 below.

    Attributes
    ----------
    at : array, shape (k,)
        What was tried, as a fraction of the side's range from the present value on, rising.
    speed, allowance : array, shape (k,)
        Speed to spare, m/s, and allowance to spare, there, if nothing opened.
    intact : array of bool, shape (k,)
        Where the protection stays closed.
    done : bool
        Whether all that was asked for was run.
    """

    def __init__(self, lever: Lever, build: Build, way: int) -> None:
        self.lever, self.build = lever, build
        self.present = lever.present(build)
        self.end = lever.high if way > 0 else lever.low
        self.room = (self.end - self.present) * way
        self.at = self.speed = self.allowance = np.zeros(0)
        self.intact = np.zeros(0, dtype=bool)
        self.done, self._next = True, np.zeros(0)
        if self.room > 0:
            count = round(self.room) if lever.whole else POINTS
            self._next = np.arange(1, count + 1) / count

    @property
    def values(self) -> Floats:
        """What is to be tried next; empty where all is known."""
        return self.value(self._next)

    def value(self, at: ArrayLike) -> Floats:
        """Settings of the lever at fractions of the side's range: 1 is exactly its end."""
        at = np.asarray(at, dtype=float)
        values = np.where(at < 1, self.present + (self.end - self.present) * at, self.end)
        return values.round() if self.lever.whole else values

    def changes(self) -> dict:
        """What to run for `values`."""
        return self.lever.changes(self.build, self.values)

    def take(self, tried: Trials, start: int) -> None:
        """What came of `values`, and of the present value in the first place.

        Parameters
        ----------
        tried : Trials
            Runs of `values` among others, the build's own first.
        start : int
            Where they begin.
        """
        chosen = np.arange(start, start + len(self._next))
        at = self._next
        if not len(self.at):
            chosen, at = np.r_[0, chosen], np.r_[0.0, at]
        self.done = self.done and bool(tried.done[chosen].all())
        at = np.r_[self.at, at[tried.done[chosen]]]
        chosen = chosen[tried.done[chosen]]
        order = np.argsort(at)
        self.at = at[order]
        self.speed = np.r_[self.speed, tried.free_speed[chosen] - tried.goal.speed][order]
        intact, used = tried.intact[chosen], tried.used[chosen]
        spare = np.where(intact, np.maximum(1 - used, 0.0), np.clip(1 - used, -_DEEP, -_JUST_OPEN))
        self.allowance = np.r_[self.allowance, spare][order]
        self.intact = np.r_[self.intact, intact][order]
        self._next = np.zeros(0)
        if self.done and not self.lever.whole and len(self.at) > 2:
            self._next = self._refined()

    @property
    def good(self) -> NDArray[np.bool_]:
        """Where the target is reached and the protection stays closed."""
        return (self.speed >= 0) & self.intact

    def nearest(self) -> float | None:
        """The good value nearest to the present one, or None."""
        return float(self.value(self.at[self.good.argmax()])) if self.good.any() else None

    def secure(self) -> float | None:
        """The nearest value from which on all that were tried are good, or None."""
        bad = np.flatnonzero(~self.good)
        first = int(bad[-1]) + 1 if bad.size else 0
        return float(self.value(self.at[first])) if first < len(self.at) else None

    def _refined(self) -> Floats:
        """What to try next."""
        good = self.good
        chosen: list[float] = []
        first = int(good.argmax()) if good.any() else len(good)
        bends = _bend(self.at, self.speed), _bend(self.at, self.allowance)
        for left in range(min(first, len(good) - 1)):
            right = left + 1
            width = self.at[right] - self.at[left]
            if width <= NARROW:
                continue
            if right == first:
                roots = [root for root in self._roots(left, right) if root is not None]
                chosen += list(max(roots) + width * NEAR_ROOT) if roots else []
                chosen.append(self.at[left] + width / 2)
            elif self._may_hold(left, right, bends):
                chosen += self._inside(left, right, width)
        if first == len(good):
            chosen += self._round_the_best()
        inside = np.unique(chosen)
        inside = inside[(inside > 0) & (inside < 1)]
        return np.setdiff1d(inside, self.at)

    def _roots(self, left: int, right: int) -> list[float | None]:
        """Where speed and allowance to spare cross zero between two values, by straight lines; None where not."""
        roots = []
        for numbers in (self.speed, self.allowance):
            before, after = numbers[left], numbers[right]
            crosses = (before < 0) != (after < 0)
            share = before / (before - after) if crosses else 0.0
            roots.append(float(self.at[left] + share * (self.at[right] - self.at[left])) if crosses else None)
        return roots

    def _may_hold(self, left: int, right: int, bends: tuple[Floats, Floats]) -> bool:
        """Whether something good may lie between two neighbours that are not."""
        width = self.at[right] - self.at[left]
        for numbers, bend in zip((self.speed, self.allowance), bends, strict=True):
            if max(numbers[left], numbers[right]) + max(bend[left], bend[right]) * width**2 < 0:
                return False
        return width > NARROW_BEND or None not in self._roots(left, right)

    def _inside(self, left: int, right: int, width: float) -> list[float]:
        """Values between two neighbours: near both roots and between them, else three even ones."""
        speed, allowance = self._roots(left, right)
        if speed is None or allowance is None:
            return [self.at[left] + width * part for part in (0.25, 0.5, 0.75)]
        near = width / 64
        return [(speed + allowance) / 2, *(root + side for root in (speed, allowance) for side in (-near, near))]

    def _round_the_best(self) -> list[float]:
        """Values near the fastest that stays closed: its peak, or where the protection begins to open."""
        if not self.intact.any():
            return []
        best = int(np.where(self.intact, self.speed, -np.inf).argmax())
        beside = [index for index in (best - 1, best + 1) if 0 <= index < len(self.at)]
        chosen = []
        for index in beside:
            width = abs(self.at[index] - self.at[best])
            left, right = sorted((best, index))
            if not self.intact[index] and self.speed[index] > self.speed[best] + LEAST_GAIN and width > NARROW:
                root = self._roots(left, right)[1]
                chosen += [] if root is None else list(root + width * NEAR_ROOT)
        if len(beside) == 2 and not chosen:
            bend = _bend(self.at, self.speed)[best]
            if bend * (self.at[best + 1] - self.at[best - 1]) ** 2 / 8 > LEAST_GAIN:
                chosen += [(self.at[best] + self.at[index]) / 2 for index in beside]
        return chosen


def sides_of(build: Build, levers: Sequence[Lever]) -> list[Side]:
    """Both sides of every lever, as far as there is room on them.

    Parameters
    ----------
    build : Build
        As it is now.
    levers : sequence of Lever
        What is changed.

    Returns
    -------
    list of Side
    """
    sides = [Side(lever, build, way) for lever in levers for way in (-1, 1)]
    return [side for side in sides if len(side.values)]


def narrow_down(
    sides: Sequence[Side], tried: Callable[[list[dict]], Trials], progress: Callable[[int], None] | None = None
) -> bool:
    """Run sides from batch to batch until it is known where each begins to be good.

    Parameters
    ----------
    sides : sequence of Side
        Changed in place.
    tried : callable
        Runs a list of changes, the build's own first.
    progress : callable, optional
        Called with the number of batches done.

    Returns
    -------
    bool
        Whether all that was asked for was run.
    """
    done = True
    for stage in range(ROUNDS + 1):
        asked = [side for side in sides if len(side.values)]
        if asked and done:
            found = tried([{}, *(side.changes() for side in asked)])
            done, start = bool(found.done.all()), 1
            for side in asked:
                count = len(side.values)
                side.take(found, start)
                start += count
        if progress is not None:
            progress(stage + 1)
    return done


def _bend(at: Floats, numbers: Floats) -> Floats:
    """How far numbers may rise between neighbours a width apart, over that width squared; 0 where they bend up."""
    step = np.diff(at)
    slope = np.diff(numbers) / step
    curve = np.maximum(-2 * np.diff(slope) / (step[1:] + step[:-1]), 0.0)
    return _BEND * np.r_[curve[:1], curve, curve[-1:]]
