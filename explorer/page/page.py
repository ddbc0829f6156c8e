"""What a section of the page is given: the build, its run, what it is compared with, and how to write numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property, wraps
from typing import Any

import numpy as np
from numpy.typing import NDArray

from explorer.format import UnitFormatter
from physics.build import Build
from physics.build.batch import Batch
from physics.scenarios.pull import Pull
from physics.scenarios.state import run_from, state_at
from physics.simulation.result import CUT_OUT_STATUS, RunResult
from physics.studies.headroom_curves import HeadroomAnswer

Band = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
"""Time, s, and between what speeds, m/s, a run is likely to be then; each of shape (t,)."""

CHARGES = np.linspace(0.1, 1.0, 25)
"""Charges from which it is known how fast the build gets; a whole batch costs little more than one run. Nobody sets
out on less, where a run takes a third more steps."""
LONGER, LONGER_STEPS = 300.0, 30
"""For how long a run goes on, s, that misses its target while still gaining; and in how many steps of time."""


@dataclass(frozen=True)
class Page:
    """Everything a section may read. All numbers are SI.

    Attributes
    ----------
    build : Build
        The rider's build as it stands, with today's conditions.
    baseline : Build or None
        The build it is compared with, where the rider has set one.
    runs : RunResult
        Row 0 is the build's run; row 1, where there is one, the baseline's.
    target_speed : float, m/s
        The speed the rider wants to reach.
    duration : float, s
        Length of the run.
    headroom_wanted : float, V
        How far below full the rider means to have the pack, resting.
    fmt : UnitFormatter
        Numbers to text in the rider's units.
    inputs : dict
        The inputs as `explorer.inputs.catalogue` holds them, by key, in their home units (rarely needed: prefer
        `build`).
    band : Band or None
        Between what speeds the run is likely to be, where that is worked out.
    tops : array or None, m/s
        How fast the run gets from each of CHARGES, where that is worked out.
    rough : bool
        Whether band and tops are estimates, as they are while a slider is dragged.
    headroom : HeadroomAnswer or None
        Charge headroom today without its curves, where it came with the runs.
    """

    build: Build
    baseline: Build | None
    runs: RunResult
    target_speed: float
    duration: float
    headroom_wanted: float
    fmt: UnitFormatter
    inputs: dict[str, Any] = field(default_factory=dict)
    band: Band | None = None
    tops: NDArray[np.float64] | None = None
    rough: bool = False
    headroom: HeadroomAnswer | None = None
    _known: dict[Callable, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    @cached_property
    def batch(self) -> Batch:
        """The build as a batch of one."""
        return Batch.of(self.build)

    @cached_property
    def run(self) -> RunResult:
        """The build's own run, a result of one row."""
        return self.runs.one(0)

    @cached_property
    def baseline_run(self) -> RunResult | None:
        """The baseline's run, a result of one row, or None."""
        return self.runs.one(1) if len(self.runs) > 1 else None

    @cached_property
    def reached(self) -> float:
        """When the run first reaches the target speed, s; NaN where it does not."""
        return float(self.run.time_to(self.target_speed)[0])

    @property
    def reaches_target(self) -> bool:
        """Whether the run reaches the target speed: under power, before a cut-out, within its length."""
        return bool(self.run.reaches(self.target_speed)[0])

    @cached_property
    def longer_run(self) -> RunResult | None:
        """How the run would go on from its end, where it misses the target while still gaining; else None."""
        run = self.run
        if self.reaches_target or run.settled[0] or run.status[0] == CUT_OUT_STATUS:
            return None
        batch = self.batch.change({"controller.throttle_ramp_time": 0.0})  # the throttle is open
        state = state_at(run, np.array([self.duration]))
        return run_from(batch, state, LONGER, run.speed[:, -1], LONGER_STEPS).one(0)

    @property
    def reached_later(self) -> float:
        """When the run would reach the target if it went on, s; NaN where it does within its length, or never."""
        longer = self.longer_run
        return float("nan") if longer is None else self.duration + float(longer.time_to(self.target_speed)[0])

    @property
    def pull(self) -> Pull:
        """The pull that a line limit must survive: flat out for a time, or to the target speed, held there."""
        hold = self.inputs["pull_hold"]
        return Pull(
            float(self.inputs["pull_time"]), None if hold is None else self.target_speed, float(hold or 0.0)
        )

    @property
    def pull_margin(self) -> float:
        """How much worse than entered things may then be: 1 as wrong as each value may well be."""
        return self.inputs["limit_margin"] / 100.0


def once(work: Callable[[Page], Any]) -> Callable[[Page], Any]:
    """Make a function of a page work once for each page, however many of its parts ask."""

    @wraps(work)
    def known(page: Page) -> Any:
        if work not in page._known:
            page._known[work] = work(page)
        return page._known[work]

    return known
