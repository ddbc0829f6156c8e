"""One pull: flat out for a time, or flat out to a target speed and then held there.

A held speed is a run of its own: the bike is given so much inertia that its speed stays, and just the throttle that
the road asks for.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from physics.arrays import Floats
from physics.build.batch import Batch, Builds
from physics.components import road_load
from physics.components.controller import foldback
from physics.limits import RULES
from physics.scenarios.state import BikeState, highest_until, run_from, state_at
from physics.simulation.machine import Machine
from physics.simulation.result import RunResult

_UNMOVED = 1e12
"""Wheel inertia, kg m2, at which a held speed stays where it is."""

_HELD_STEPS_PER_ROOT_SECOND = 8


@dataclass(frozen=True)
class Pull:
    """One pull from a standstill at the build's throttle.

    Attributes
    ----------
    duration : float, s
        Flat out for so long; with a target speed, the longest it may take to get there. 0.1 to 600.
    target_speed : float, m/s, optional
        Flat out up to here, 0.5 to 200.
    hold : float, s
        How long the target speed is then held, 0 to 600.

    Raises
    ------
    ValueError
        For a value outside those ranges.
    """

    duration: float = 20.0
    target_speed: float | None = None
    hold: float = 0.0

    def __post_init__(self) -> None:
        rows = [("duration", self.duration, 0.1, 600.0, "s"), ("hold", self.hold, 0.0, 600.0, "s")]
        if self.target_speed is not None:
            rows.append(("target_speed", self.target_speed, 0.5, 200.0, "m/s"))
        for name, value, low, high, unit in rows:
            if not low <= value <= high:  # catches NaN as well
                raise ValueError(f"Pull {name}: got {value!r}; accepts a number from {low:g} to {high:g} {unit}.")


@dataclass(frozen=True, eq=False)
class PullResult:
    """One pull of each build; arrays of shape (n,) unless noted.

    Attributes
    ----------
    run : RunResult
        Flat out. It may go on past the moment at which the target is reached.
    held : RunResult or None
        The target speed held, from its own time 0 on; rows of builds that did not reach it do not count.
    flat_out_end : array, s
        When flat out is over.
    end : array, s
        When the pull is over.
    reached : array of bool
        Whether the target was reached, before any cut-out; False where there is none.
    used : array, shape (n, len(RULES))
        The most of each rule's allowance used up to the end: 0 none, 1 a cut-out.
    after : BikeState
        What it leaves behind.
    """

    run: RunResult
    held: RunResult | None
    flat_out_end: np.ndarray
    end: np.ndarray
    reached: np.ndarray
    used: np.ndarray
    after: BikeState

    @property
    def worst(self) -> np.ndarray:
        """The largest share of any rule's allowance used, shape (n,)."""
        return self.used.max(axis=1)

    @property
    def rule(self) -> np.ndarray:
        """Index in RULES of the rule that comes nearest to opening, shape (n,)."""
        return self.used.argmax(axis=1)

    @cached_property
    def time_to_target(self) -> np.ndarray:
        """When the target is reached, s; infinite where it is not."""
        return np.where(self.reached, self.flat_out_end, np.inf)

    @cached_property
    def top_speed(self) -> np.ndarray:
        """Highest speed up to the end of flat out, m/s."""
        highest = highest_until(self.run.time, self.run.speed, self.flat_out_end)
        return np.where(self.reached, highest, self.run.top_speed)

    @cached_property
    def minimum_cell_voltage(self) -> np.ndarray:
        """Lowest loaded voltage of the weakest cell within the pull, V."""
        lowest = -highest_until(self.run.time, -self.run.weakest_cell_voltage, self.flat_out_end)
        lowest = np.where(self.reached, lowest, self.run.minimum_cell_voltage)
        if self.held is None:
            return lowest
        return np.where(self.reached, np.minimum(lowest, self.held.minimum_cell_voltage), lowest)


def make_pull(builds: Builds, pull: Pull, state: BikeState | None = None, steps: int | None = None) -> PullResult:
    """Run one pull of each build.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        What is ridden.
    pull : Pull
        The same for all.
    state : BikeState, optional
        What it starts from; by default the start of the conditions.
    steps : int, optional
        Time steps of flat out; fewer are faster.

    Returns
    -------
    PullResult
        One row for each build.

    Examples
    --------
    >>> from physics.build import example_build
    >>> made = make_pull(example_build(), Pull(30.0, target_speed=20.0, hold=5.0))
    >>> round(float(made.end[0] - made.run.time_to(20.0)[0]), 6)
    5.0
    """
    batch = Batch.of(builds)
    start = BikeState.rested(batch) if state is None else state
    run = run_from(batch, start, pull.duration, np.zeros(len(batch)), steps)
    flat_out_end = np.full(len(batch), float(pull.duration))
    reached = np.zeros(len(batch), dtype=bool)
    if pull.target_speed is not None:
        times = run.time_to(pull.target_speed)
        reached = np.isfinite(times)
        flat_out_end = np.where(reached, times, flat_out_end)
    after = state_at(run, flat_out_end)
    used = np.where(reached[:, None], _used(run, flat_out_end), run.allowance_used)
    held, end = None, flat_out_end
    if pull.target_speed is not None and reached.any() and pull.hold > 0:
        held = run_from(
            _holding(batch, pull.target_speed, after),
            after,
            pull.hold,
            np.full(len(batch), pull.target_speed),
            max(12, round(_HELD_STEPS_PER_ROOT_SECOND * pull.hold**0.5)),
        )
        end = flat_out_end + np.where(reached, pull.hold, 0.0)
        whole = np.full(len(batch), float(pull.hold))
        used = np.where(reached[:, None], np.maximum(used, held.allowance_used), used)
        after = state_at(held, whole).where(reached, after)
    return PullResult(run, held, flat_out_end, end, reached, used, after)


def _holding(batch: Batch, target_speed: float, state: BikeState) -> Batch:
    """The builds with the throttle that holds a speed, and with so much inertia that it stays."""
    m = Machine(batch)
    speed = np.full(len(batch), target_speed)
    drag, _ = road_load.drag_force(m.drag_factor, speed + m.headwind)
    rolling, _ = road_load.rolling_force(m.rolling_constant, m.rolling_squared, speed)
    road = drag + rolling + m.slope_force
    motor_speed = speed * m.speed_ratio
    wanted = m.current_for(np.maximum(road, 0.0), speed, state.temperatures[2])
    most = m.phase_limit.copy()
    for index, rows in enumerate(batch.torque_tables):
        if rows:
            most[index] = np.interp(motor_speed[index], *np.array(rows, dtype=float).T)
    winding, controller = state.temperatures[1], state.temperatures[3]
    folded = np.minimum(foldback(winding, *m.winding_foldback), foldback(controller, *m.controller_foldback))
    most = most * folded
    fraction = np.where(most > 0, np.clip(wanted / np.where(most > 0, most, 1.0), 0.0, 1.0), 0.0)
    return batch.change(
        {
            "bike.wheel_inertia": _UNMOVED,
            "controller.throttle": fraction,
            "controller.throttle_ramp_time": 0.0,
            "controller.speed_cap": np.inf,
        },
    )


def _used(run: RunResult, end: Floats) -> Floats:
    rows = [highest_until(run.time, run.trip_timers[..., row], end) for row in range(len(RULES))]
    return np.clip(np.stack(rows, axis=1), 0.0, 1.0)
