"""Narrowing down where a change begins to reach the target: one lever, one side, from batch to batch."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.build import Build
from physics.studies.target.levers import Lever
from physics.studies.target.outcome import Trials

POINTS = 12
"""Values tried first on each side of the present one; of teeth and cells every one is tried."""

INSIDE = 15
"""Values tried between two neighbours in each further batch."""


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
    """

    def __init__(self, lever: Lever, build: Build, way: int) -> None:
        self.lever, self.build = lever, build
        self.present = lever.present(build)
        end = lever.high if way > 0 else lever.low
        if lever.whole:
            self.values = np.arange(self.present + way, end + way / 2, way)
        else:
            grid = np.linspace(self.present, end, POINTS + 1)  # ends exactly at the end of the range
            self.values = grid[1:] if (end - self.present) * way > 0 else np.zeros(0)
        self.brackets: list[Bracket] = []
        self.good_value: float | None = None

    def changes(self, values: ArrayLike) -> dict:
        """What to run for some values.

        Parameters
        ----------
        values : array
            What the lever is set to.

        Returns
        -------
        dict of str to array
        """
        return self.lever.changes(self.build, values)

    def take(self, tried: Trials, start: int, present: Trials) -> None:
        """Read off where the answer turns; the first value that is good ends the side.

        Parameters
        ----------
        tried : Trials
            Runs of the side's values among others.
        start : int
            Where they begin.
        present : Trials
            The build's own run.
        """
        chosen = slice(start, start + len(self.values))
        values = np.r_[self.present, self.values]
        fast_enough = np.r_[present.fast_enough, tried.fast_enough[chosen]]
        intact = np.r_[present.intact, tried.intact[chosen]]
        self.free_speed = np.r_[present.free_speed, tried.free_speed[chosen]]
        self.intact, self.fast_enough, self.done = intact, fast_enough, bool(tried.done[chosen].all())
        good = fast_enough & intact
        for index in range(1, len(values)):
            before, here = index - 1, index
            if good[here] and not good[before]:
                self.good_value = float(values[here])
            if not self.lever.whole:
                kind = _turning(fast_enough[[before, here]], intact[[before, here]])
                if kind:
                    self.brackets.append(Bracket(self, kind, values[before], values[here]))
            if good[here]:
                break

    def nearest(self) -> float | None:
        """The good value nearest to the present one, or None."""
        good = [bracket.good for bracket in self.brackets if bracket.good is not None]
        good += [] if self.good_value is None else [self.good_value]
        return min(good, key=lambda value: abs(value - self.present)) if good else None


def _turning(fast_enough: NDArray[np.bool_], intact: NDArray[np.bool_]) -> str:
    """What becomes true between two neighbours, if that may be where the answer turns."""
    good = fast_enough & intact
    if good[0]:
        return ""
    if good[1]:
        return "good"
    if fast_enough[1] and not fast_enough[0] and intact[0]:
        return "fast_enough"
    if intact[1] and not intact[0] and fast_enough[0]:
        return "intact"
    return ""


class Bracket:
    """Two neighbouring values between which something becomes true, narrowed from batch to batch.

    Parameters
    ----------
    side : Side
        Whose values they are.
    kind : str
        What becomes true: "good", "fast_enough" or "intact".
    before, after : float
        The values.
    """

    def __init__(self, side: Side, kind: str, before: float, after: float) -> None:
        self.side, self.kind, self.before, self.after = side, kind, float(before), float(after)
        self.good: float | None = None

    def points(self) -> np.ndarray:
        """The values to try next."""
        return self.before + (self.after - self.before) * np.arange(1, INSIDE + 1) / (INSIDE + 1)

    def changes(self) -> dict:
        """What to run for them."""
        return self.side.changes(self.points())

    def narrow(self, tried: Trials, start: int) -> None:
        """Keep the part in which it becomes true.

        Parameters
        ----------
        tried : Trials
            Runs of `points` among others.
        start : int
            Where they begin.
        """
        chosen = slice(start, start + INSIDE)
        values, good = self.points(), tried.good[chosen]
        if good.any():
            self.good = float(values[good.argmax()])
        truth = getattr(tried, self.kind)[chosen]
        first = int(truth.argmax()) if truth.any() else INSIDE
        ends = np.r_[self.before, values, self.after]
        self.before, self.after = float(ends[first]), float(ends[first + 1])
