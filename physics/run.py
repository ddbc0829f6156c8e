"""Stepping a batch of builds through time: one simulated pull for each.

How one step is made stands in physics/stepping.py, how the protection opens inside it in physics/guarded.py.
"""

import math

import numpy as np

from physics.batch import Batch
from physics.guarded import CHANNELS, GuardedPlant
from physics.limits import RULES
from physics.result import RunResult

_STEPS_PER_ROOT_SECOND = 36
_CROWDING = 1.6
"""Exponent of the time grid: instants crowd at the launch, where things change fastest."""


def time_grid(duration: float, steps: int | None = None) -> np.ndarray:
    """Instants of a run: crowded at the launch, wide near the end.

    Parameters
    ----------
    duration : float, s
        Length of the run.
    steps : int, optional
        How many steps; by default about 36 times the root of the duration.

    Returns
    -------
    array, shape (steps + 1,), s
        From zero to the duration.

    Examples
    --------
    >>> time_grid(20.0, 4).round(2)
    array([ 0.  ,  2.18,  6.6 , 12.62, 20.  ])
    """
    if steps is None:
        steps = max(40, math.ceil(_STEPS_PER_ROOT_SECOND * math.sqrt(duration)))
    return duration * (np.arange(steps + 1) / steps) ** _CROWDING


def run(builds, duration: float = 30.0, initial_speed=0.0, steps: int | None = None) -> RunResult:
    """Simulate one pull of each build from the start of its conditions.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        What is ridden.
    duration : float, s
        Length of the run, above zero and at most 3600.
    initial_speed : float or array, shape (n,), m/s
        Speed at the start, zero or above.
    steps : int, optional
        How many time steps; by default enough for the accuracy below.

    Returns
    -------
    RunResult
        Times to a speed within 0.5 % or 10 ms, top speed within 0.1 %, lowest voltage within 0.2 %, moment of a
        cut-out within 20 ms of the exact solution of the same equations.

    Raises
    ------
    ValueError
        When the duration or the initial speed is not accepted.

    Examples
    --------
    >>> from physics.build import Bike, Build, Controller, Driveline, Motor, Pack
    >>> build = Build(
    ...     Pack(24, 26.0), Motor(60.0), Controller(200.0, 400.0), Driveline(12, 56), Bike(120.0, 75.0)
    ... )
    >>> bool(run(build, duration=10.0).top_speed[0] > 15)
    True
    """
    if not 0 < duration <= 3600:
        raise ValueError(f"duration: got {duration!r} s; accepts a number above 0, at most 3600 s.")
    batch = Batch.of(builds)
    speed = np.array(np.broadcast_to(np.asarray(initial_speed, dtype=float), (len(batch),)))
    if not ((speed >= 0) & (speed <= 200)).all():
        raise ValueError(f"initial_speed: got {initial_speed!r} m/s; accepts numbers from 0 to 200 m/s.")
    return _Recorder(batch, time_grid(duration, steps), speed).result()


_TEMPERATURES = ("pack_temperature", "winding_temperature", "case_temperature", "controller_temperature")


class _Recorder:
    """One run: the loop over instants, and what is kept of them."""

    def __init__(self, batch, times, speed):
        count = len(batch)
        self.times = times
        self.guarded = GuardedPlant.of(batch, speed)
        self.machine = self.guarded.plant.machine
        self.openings: list = []
        self.kept = np.empty((len(CHANNELS) + len(_TEMPERATURES), len(times) + 2, count))
        self.kept_limit = np.empty((len(times) + 2, count), dtype=np.int8)
        self.kept_clocks = np.empty((len(times) + 2, len(RULES), count))

    def result(self) -> RunResult:
        now, signals = self.guarded.look(0.0)
        self._keep(0, now)
        for place in range(1, len(self.times)):
            time = self.times[place - 1]
            now, signals, openings = self.guarded.advance(now, signals, time, self.times[place] - time)
            self.openings += [(place, opening) for opening in openings]
            self._keep(place, now)
        return self._finish()

    def _keep(self, place, now):
        for row, name in enumerate(CHANNELS):
            self.kept[row, place] = now[name]
        self.kept[len(CHANNELS) :, place] = now["temperatures"]
        self.kept_limit[place] = now["limit"]
        self.kept_clocks[place] = self.guarded.clocks

    def _finish(self) -> RunResult:
        """Place the two extra instants of each cut-out and hand everything over as (n, t)."""
        last = self.times[-1]
        times = np.repeat(np.append(self.times, [last, last])[:, None], self.machine.count, axis=1)
        kept, kept_limit, kept_clocks = self.kept, self.kept_limit, self.kept_clocks
        nothing = np.full(self.machine.count, np.nan)
        cut_out = {name: nothing.copy() for name in ("time", "current", "voltage", "cell_voltage")}
        rules = np.full(self.machine.count, -1)
        if not self.openings:
            kept, kept_limit, kept_clocks, times = kept[:, :-2], kept_limit[:-2], kept_clocks[:-2], times[:-2]
        else:
            kept[:, -2:] = kept[:, -3:-2]
            kept_limit[-2:] = kept_limit[-3]
            kept_clocks[-2:] = kept_clocks[-3]
        for place, opening in self.openings:
            builds = opening.builds
            for values in (kept.transpose(1, 2, 0), kept_limit, kept_clocks.transpose(0, 2, 1), times):
                values[place + 2 :, builds] = values[place:-2, builds]
                values[place + 1, builds] = values[place + 2, builds]
            times[place : place + 2, builds] = opening.time
            kept[: len(CHANNELS), place, builds] = [opening.moment[name] for name in CHANNELS]
            kept[len(CHANNELS) :, place, builds] = opening.moment["temperatures"]
            kept[0, place + 1, builds] = opening.moment["speed"]
            kept_limit[place, builds] = opening.moment["limit"]
            kept_clocks[place, :, builds] = opening.clocks.T
            rules[builds] = opening.rule
            cut_out["time"][builds] = opening.time
            cut_out["current"][builds] = opening.moment["line_current"]
            cut_out["voltage"][builds] = opening.moment["pack_voltage"]
            cut_out["cell_voltage"][builds] = opening.moment["weakest_cell_voltage"]
        return RunResult(
            time=times.T,
            **{name: kept[row].T for row, name in enumerate(CHANNELS + _TEMPERATURES)},
            limit=kept_limit.T,
            clocks=kept_clocks.transpose(2, 0, 1),
            **{"cut_out_" + name: values for name, values in cut_out.items()},
            cut_out_rule=rules,
            minimum_voltage=self.guarded.state.lowest_voltage,
            machine=self.machine,
        )
