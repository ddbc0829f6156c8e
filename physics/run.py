"""Stepping a batch of builds through time: one simulated pull for each.

How one step is made stands in physics/stepping.py, the protection's clocks in physics/protection.py.
"""

import math

import numpy as np

from physics.batch import Batch
from physics.drive import coasting_acceleration
from physics.limits import RULES
from physics.protection import Protection
from physics.result import RunResult
from physics.stepping import Plant

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


_CHANNELS = (
    "speed",
    "acceleration",
    "pack_voltage",
    "rest_voltage",
    "weakest_cell_voltage",
    "polarisation_voltage",
    "polarisation_heat",
    "ohmic_resistance",
    "line_current",
    "quadrature_current",
    "field_current",
    "charge",
    "drive_force",
)
_TEMPERATURES = ("pack_temperature", "winding_temperature", "case_temperature", "controller_temperature")


class _Recorder:
    """One run: the loop over instants, the protection's openings, and what is kept of them."""

    def __init__(self, batch, times, speed):
        count = len(batch)
        self.times = times
        self.plant, self.protection = Plant(batch), Protection(batch)
        self.machine = self.plant.machine
        self.state = self.plant.start(speed)
        self.clocks = np.zeros((len(RULES), count))
        self.cut_out = {name: np.full(count, np.nan) for name in ("time", "current", "voltage", "cell_voltage")}
        self.cut_out_rule = np.full(count, -1)
        self.extra: list = []
        self.kept = np.empty((len(_CHANNELS) + len(_TEMPERATURES), len(times) + 2, count))
        self.kept_limit = np.empty((len(times) + 2, count), dtype=np.int8)
        self.kept_clocks = np.empty((len(times) + 2, len(self.clocks), count))

    def result(self) -> RunResult:
        now = self.plant.look(self.state, 0.0)
        signals = self._signals(now)
        self._keep(0, now)
        for place in range(1, len(self.times)):
            time, before = self.times[place], now
            duration = time - self.times[place - 1]
            self.state, now = self.plant.advance(self.state, before, self.times[place - 1], duration)
            following = self._signals(now)
            self.clocks, share, rule = self.protection.advance(self.clocks, signals, following, duration)
            opens = (share <= 1) & ~self.state.open
            if opens.any():
                self._cut_out(place, before, now, opens, share, rule, duration)
                now = self.plant.look(self.state, time)
                following = self._signals(now)
            self._keep(place, now)
            signals = following
        return self._finish()

    def _signals(self, now):
        return self.protection.signals(now["line_current"], now["weakest_cell_voltage"], now["temperatures"][0])

    def _cut_out(self, place, before, now, opens, share, rule, duration):
        """Open the pack inside the step just made: keep the moment, and let these builds coast from there."""
        share = np.where(opens, share, 1.0)

        def at_opening(name):
            return before[name] + (now[name] - before[name]) * share

        rest, state = (1 - share) * duration, self.state
        moment = {name: at_opening(name)[opens] for name in _CHANNELS}
        moment["temperatures"] = at_opening("temperatures")[:, opens]
        coasted = np.maximum(at_opening("speed") + rest * coasting_acceleration(self.machine, now["speed"]), 0.0)
        state.speed = np.where(opens, coasted, state.speed)
        state.charge = np.where(opens, at_opening("charge"), state.charge)
        faded = at_opening("pair_voltage") * np.exp(-rest / self.plant.pack.pair_times)
        state.pair_voltage = np.where(opens, faded, state.pair_voltage)
        state.temperatures = np.where(opens, at_opening("temperatures"), state.temperatures)
        state.past_duration = np.where(opens, 0.0, state.past_duration)
        state.open = state.open | opens
        self.cut_out_rule = np.where(opens, rule, self.cut_out_rule)
        self.cut_out["time"][opens] = self.times[place] - rest[opens]
        self.cut_out["current"][opens] = moment["line_current"]
        self.cut_out["voltage"][opens] = moment["pack_voltage"]
        self.cut_out["cell_voltage"][opens] = moment["weakest_cell_voltage"]
        self.clocks[rule[opens], np.flatnonzero(opens)] = 1.0
        self.extra.append((np.flatnonzero(opens), place, moment, now["limit"][opens], self.clocks[:, opens].copy()))

    def _keep(self, place, now):
        for row, name in enumerate(_CHANNELS):
            self.kept[row, place] = now[name]
        self.kept[len(_CHANNELS) :, place] = now["temperatures"]
        self.kept_limit[place] = now["limit"]
        self.kept_clocks[place] = self.clocks

    def _finish(self) -> RunResult:
        """Place the two extra instants of each cut-out and hand everything over as (n, t)."""
        last = self.times[-1]
        times = np.repeat(np.append(self.times, [last, last])[:, None], self.machine.count, axis=1)
        kept, kept_limit, kept_clocks = self.kept, self.kept_limit, self.kept_clocks
        if not self.extra:
            kept, kept_limit, kept_clocks, times = kept[:, :-2], kept_limit[:-2], kept_clocks[:-2], times[:-2]
        else:
            kept[:, -2:] = kept[:, -3:-2]
            kept_limit[-2:] = kept_limit[-3]
            kept_clocks[-2:] = kept_clocks[-3]
        for builds, place, moment, limit, clocks in self.extra:
            for values in (kept.transpose(1, 2, 0), kept_limit, kept_clocks.transpose(0, 2, 1), times):
                values[place + 2 :, builds] = values[place:-2, builds]
                values[place + 1, builds] = values[place + 2, builds]
            times[place : place + 2, builds] = self.cut_out["time"][builds]
            kept[: len(_CHANNELS), place, builds] = [moment[name] for name in _CHANNELS]
            kept[len(_CHANNELS) :, place, builds] = moment["temperatures"]
            kept[0, place + 1, builds] = moment["speed"]
            kept_limit[place, builds] = limit
            kept_clocks[place, :, builds] = clocks.T
        return RunResult(
            time=times.T,
            **{name: kept[row].T for row, name in enumerate(_CHANNELS + _TEMPERATURES)},
            limit=kept_limit.T,
            clocks=kept_clocks.transpose(2, 0, 1),
            **{"cut_out_" + name: values for name, values in self.cut_out.items()},
            cut_out_rule=self.cut_out_rule,
            machine=self.machine,
        )
