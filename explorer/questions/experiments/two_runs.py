"""The two runs of an experiment, before and after one change, and what of them is compared. No Streamlit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from explorer.derivations.derivation import Instant, fastest
from explorer.format import UnitFormatter
from explorer.page import words as page_words
from explorer.questions.experiments.results import Braking
from physics.build import Build
from physics.limits import LIMITS
from physics.simulation.result import RunResult

FloatArray = NDArray[np.float64]
ALIKE_SPEED, ALIKE_TIME = 0.005, 0.01
"""Fractions below which two speeds, or two times, count as the same."""


@dataclass(frozen=True)
class TwoRuns:
    """Two runs of an experiment: row 0 before the change, row 1 after it.

    Attributes
    ----------
    builds : tuple of two Build
        Before and after.
    runs : RunResult
        Two rows, in that order.
    names : tuple of two str
        What the two are called on the chart.
    fmt : UnitFormatter
        The rider's units.
    events : tuple of two Braking, or None
        Braking before and after, where that is compared instead.
    """

    builds: tuple[Build, Build]
    runs: RunResult
    names: tuple[str, str]
    fmt: UnitFormatter
    events: tuple[Braking, Braking] | None = None

    @cached_property
    def top(self) -> FloatArray:
        """Highest speed of both runs, m/s."""
        return self.runs.top_speed

    @cached_property
    def settled(self) -> bool:
        """Whether both speeds are settled at the end."""
        return bool(self.runs.settled.all())

    @cached_property
    def low_speed(self) -> float:
        """A round speed that both runs pass on their way, m/s: about half the slower one's highest; or 0."""
        shown = float(self.fmt.number("speed", self.top.min())) / 2
        return float(self.fmt.si("speed", 5.0 * np.floor(shown / 5.0)))

    @cached_property
    def low_time(self) -> FloatArray:
        """Time to that speed of both runs, s."""
        return self.runs.time_to(self.low_speed)

    @cached_property
    def deepest_sag(self) -> FloatArray:
        """V, both runs."""
        return self.runs.sag.max(axis=1)

    def cut(self, row: int) -> bool:
        """Whether the pack cuts out in a run."""
        return bool(np.isfinite(self.runs.cut_out_time[row]))

    def fastest(self, row: int) -> Instant:
        """The instant just before a run is fastest."""
        return fastest(self.builds[row], self.runs, row)

    def top_limit(self, row: int) -> str:
        """The limit that holds where a run is fastest."""
        return page_words.limit_at_the_top(self.runs.one(row))

    def low_limit(self, row: int) -> str:
        """The limit that holds longest up to the low speed."""
        return page_words.limit_on_the_way(self.runs.one(row), self.low_time[row])

    def time_under(self, row: int, *limits: str) -> float:
        """How long any of these limits holds in a run, s."""
        run = self.runs.one(row)
        held = np.isin(run.limit[0, :-1], [LIMITS.index(limit) for limit in limits])
        return float(np.diff(run.time)[held].sum())

    def held_by(self, limit: str, row: int) -> str:
        """A limit in words, with the setting of one of the builds."""
        return page_words.held_by(limit, self.builds[row].controller, self.fmt)

    @cached_property
    def lost(self) -> float:
        """Fraction of the first run's highest speed that is gone in the second; below zero where it gains."""
        return float(1 - self.top[1] / self.top[0]) if self.top[0] > 0.1 else 0.0

    @cached_property
    def top_change(self) -> int:
        """1 faster, -1 slower, 0 about as fast."""
        return change(self.top, ALIKE_SPEED)

    @cached_property
    def launch_change(self) -> int:
        """1 sooner at the low speed, -1 later, 0 about as soon."""
        return -change(self.low_time, ALIKE_TIME) if self.low_speed > 0 else 0


def change(values: Iterable[float], alike: float) -> int:
    """1 more, -1 less, 0 alike within a fraction of the larger.

    Examples
    --------
    >>> change((100.0, 100.2), 0.005), change((100.0, 98.0), 0.005), change((1.0, 2.0), 0.1)
    (0, -1, 1)
    """
    before, after = values
    difference = after - before
    if abs(difference) <= alike * max(abs(before), abs(after), 1e-9):
        return 0
    return 1 if difference > 0 else -1
