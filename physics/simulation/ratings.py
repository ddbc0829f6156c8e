"""What a run's line current asks of the pack's ratings, whether or not the protection would open.

A rating is what the maker of the pack allows; the protection may be set wider, or weigh current in its own way.
The continuous current may be passed for the peak time in all, the peak current never. The controller's overshoot
counts.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build.batch import Batch, Builds
from physics.simulation.result import CHANNELS, RunResult

_SAME = 1e-6
"""Relative difference by which a current that is held at a rating may pass it: rounding."""
_NEVER = 1e9
"""A, stands for a rating that is off."""


@dataclass(frozen=True, eq=False)
class RatingUse:
    """Runs against the ratings of their packs. Arrays of shape (n,).

    Attributes
    ----------
    current : array, A
        Highest line current with the controller's overshoot.
    time_above : array, s
        How long the current with its overshoot was above the continuous rating, in all.
    continuous_current, peak_current, peak_time : array, A, A and s
        The ratings; infinite where they are off.
    """

    current: np.ndarray
    time_above: np.ndarray
    continuous_current: np.ndarray
    peak_current: np.ndarray
    peak_time: np.ndarray

    @property
    def passes_continuous(self) -> np.ndarray:
        """Whether the continuous current is passed for longer than the peak time."""
        return self.time_above > self.peak_time

    @property
    def passes_peak(self) -> np.ndarray:
        """Whether the peak current is passed at all."""
        return self.current > self.peak_current * (1 + _SAME)

    def then(self, later: "RatingUse", where: np.ndarray) -> "RatingUse":
        """With what came later in some of the runs, an array of truths of shape (n,)."""
        current = np.where(where, np.maximum(self.current, later.current), self.current)
        time_above = np.where(where, self.time_above + later.time_above, self.time_above)
        return replace(self, current=current, time_above=time_above)

    @property
    def message(self) -> tuple[str, ...]:
        """One sentence for each run."""
        return tuple(self._sentence(place) for place in range(len(self.current)))

    def _sentence(self, place: int) -> str:
        current = f"{self.current[place]:.0f} A, overshoot counted,"
        if self.passes_peak[place]:
            return f"{current} pass the peak current of {self.peak_current[place]:g} A."
        if self.passes_continuous[place]:
            return (
                f"{current} pass the continuous current of {self.continuous_current[place]:g} A for "
                f"{self.time_above[place]:.1f} s; {self.peak_time[place]:g} s are allowed."
            )
        return "Inside the pack's current ratings."


def rating_use(builds: Builds, result: RunResult, until: ArrayLike = np.inf) -> RatingUse:
    """Hold runs against the current ratings of their packs.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        Those that ran.
    result : RunResult
        Their runs.
    until : float or array, shape (n,), s
        What comes later does not count.

    Returns
    -------
    RatingUse
        Moments at which a current passes the rating are found by straight lines between the run's own steps.

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.simulation.run import run
    >>> rated = example_build().change({"pack.protection.peak_current": 100.0})
    >>> rating_use(rated, run(rated, 5.0)).message
    ('206 A, overshoot counted, pass the peak current of 100 A.',)
    """
    batch = Batch.of(builds)
    continuous = batch["pack.protection.continuous_current"]
    peak = batch["pack.protection.peak_current"]
    gain = 1 + batch["controller.overshoot"]
    row, time, current = _all_steps(result)
    current = current * gain[row]
    until = np.broadcast_to(np.asarray(until, dtype=float), (len(batch),))
    same = row[1:] == row[:-1]
    row, start = row[1:][same], time[:-1][same]
    length = np.clip(np.minimum(time[1:][same], until[row]) - start, 0.0, None)
    whole = np.where(time[1:] > time[:-1], time[1:] - time[:-1], 1.0)[same]
    rated = np.minimum(continuous, _NEVER)[row] * (1 + _SAME)
    before, after = current[:-1][same] - rated, current[1:][same] - rated
    highest = np.maximum(current[:-1], current[1:])[same]
    above = np.zeros(len(batch))
    np.add.at(above, row, _time_above(before, after, whole, length))
    most = np.zeros(len(batch))
    counts = length > 0
    np.maximum.at(most, row[counts], highest[counts])
    return RatingUse(most, above, continuous, peak, batch["pack.protection.peak_time"])


def _all_steps(result: RunResult) -> tuple[np.ndarray, Floats, Floats]:
    """Build, time and line current of every step of every run, run after run."""
    count, instants = result.speed.shape
    place = 1 + CHANNELS.index("line_current")
    row = np.repeat(np.arange(count), instants)
    time, current = np.tile(result.time, count), result.line_current.ravel()
    own = np.repeat(np.arange(count), [len(rows) for rows in result.between])
    if len(own):
        rows = np.concatenate(result.between)
        row = np.concatenate([row, own])
        time, current = np.concatenate([time, rows[:, 0]]), np.concatenate([current, rows[:, place]])
        order = np.lexsort((time, row))
        row, time, current = row[order], time[order], current[order]
    return row, time, current


def _time_above(before: Floats, after: Floats, whole: Floats, length: Floats) -> Floats:
    """For how long a straight line from `before` to `after` within `whole` is above zero in its first `length`."""
    starts, ends = before > 0, after > 0
    fall = np.where(starts == ends, 1.0, before - after)
    crossing = np.where(starts == ends, 0.0, before / fall) * whole
    falling = np.where(starts, np.minimum(crossing, length), 0.0)
    return np.where(ends, np.maximum(length - crossing, 0.0), falling)
