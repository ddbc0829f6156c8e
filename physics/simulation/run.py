"""Stepping a batch of builds through time: one simulated pull for each.

How one step is made stands in physics/simulation/plant.py, how builds walk in physics/simulation/integrator.py.
"""

import math

import numpy as np

from physics.build.batch import Batch
from physics.limits import RULES
from physics.simulation.integrator import CHANNELS, Walk
from physics.simulation.result import RunResult
from physics.simulation.snapshot import PLACES, POWERS

_STEPS_PER_ROOT_SECOND, _FEWEST_STEPS = 6, 24
_CROWDED_ENOUGH = 0.87
"""Share of builds still under way below which those that are there are left out of the steps."""
_CROWDING = 2.0
"""Exponent of the time grid: instants crowd at the launch, where things change fastest."""


def time_grid(duration: float, steps: int | None = None) -> np.ndarray:
    """Instants of a run: crowded at the launch, wide near the end.

    Parameters
    ----------
    duration : float, s
        Length of the run.
    steps : int, optional
        How many steps; by default about six times the root of the duration.

    Returns
    -------
    array, shape (steps + 1,), s
        From zero to the duration.

    Examples
    --------
    >>> time_grid(20.0, 4).round(2)
    array([ 0.  ,  1.25,  5.  , 11.25, 20.  ])
    """
    if steps is None:
        steps = max(_FEWEST_STEPS, math.ceil(_STEPS_PER_ROOT_SECOND * math.sqrt(duration)))
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
    >>> from physics.build import example_build
    >>> bool(run(example_build(), duration=10.0).top_speed[0] > 15)
    True
    """
    if not 0 < duration <= 3600:
        raise ValueError(f"duration: got {duration!r} s; accepts a number above 0, at most 3600 s.")
    batch = Batch.of(builds)
    speed = np.array(np.broadcast_to(np.asarray(initial_speed, dtype=float), (len(batch),)))
    if not ((speed >= 0) & (speed <= 200)).all():
        raise ValueError(f"initial_speed: got {initial_speed!r} m/s; accepts numbers from 0 to 200 m/s.")
    return record(Walk.of(batch, speed), duration, steps)


def record(walk: Walk, duration: float, steps: int | None = None) -> RunResult:
    """Let builds walk from the state they are in, and keep what they do.

    Parameters
    ----------
    walk : Walk
        At its start. `run` sets out from the conditions of a build; what goes on from an earlier run, such as the
        next pull of several, sets charge, temperatures, pair voltages and clocks first.
    duration : float, s
        Length of the run.
    steps : int, optional
        How many instants are kept.

    Returns
    -------
    RunResult
        One row for each build.
    """
    return _Recorder(walk, time_grid(duration, steps)).result()


_TEMPERATURES = ("pack_temperature", "winding_temperature", "case_temperature", "controller_temperature")
_KEPT = np.array([PLACES[name] for name in (*CHANNELS, *_TEMPERATURES, "limit_since", "limit")])
_SPEED = CHANNELS.index("speed")
_AFTER_THE_END = 1e9
"""No step of a build that has arrived is cut short by an instant."""


class _Recorder:
    """One run: the loop over instants, and what is kept of them: channels, temperatures, limit, clocks."""

    def __init__(self, walk, times):
        count = len(walk.builds)
        self.times = times
        self.walk = walk
        self.machine = self.walk.plant.machine
        self.openings: list = []
        self.energies = np.zeros((len(POWERS), count))
        self.lowest = np.zeros((2, count))
        self.kept = np.empty((count, len(times) + 2, len(_KEPT) + len(RULES)))
        self.kept_times = np.tile(np.append(times, [times[-1]] * 2), (count, 1))
        self.moved = np.zeros(count, dtype=int)  # place of the instant moved last

    def result(self) -> RunResult:
        """Walk to the last instant; builds that are there drop out and the others go on."""
        walk, last = self.walk, len(self.times) - 1
        instants = np.append(self.times, _AFTER_THE_END)
        place = np.zeros(len(walk.builds), dtype=int)
        self._keep(walk, place, slice(None))
        place += 1
        while True:
            arrived, changed, opening = walk.advance(instants[place])
            if opening is not None:
                self._keep_opening(place[np.searchsorted(walk.builds, opening.builds)], opening)
            changed &= ~arrived & (place <= last)
            if np.count_nonzero(changed):
                arrived[self._move_instant(walk, place, changed.nonzero()[0])] = True
            some = arrived.nonzero()[0]
            if not some.size:
                continue
            self._keep(walk, place, some)
            place[some] += 1
            there = some[place[some] == last + 1]
            if there.size:
                self.energies[:, walk.builds[there]] = walk.energies[:, there]
                self.lowest[:, walk.builds[there]] = walk.lowest[:, there]
                under_way = (place <= last).nonzero()[0]
                if not under_way.size:
                    return self._finish()
                if under_way.size < _CROWDED_ENOUGH * place.size:
                    walk, place = walk.take(under_way), place[under_way]
            place = np.minimum(place, last + 1)

    def _move_instant(self, walk, place, some):
        """Move an instant to where another limit took over: the last one, or, for the builds returned, the next."""
        builds, next_one = walk.builds[some], place[some]
        before = (next_one > 1) & (self.moved[builds] != next_one - 1)
        self._keep(walk, place - 1, some[before])
        self.moved[builds] = next_one - before
        return some[~before & (next_one < len(self.times) - 1)]

    def _keep_opening(self, place, opening):
        """Keep the openings of builds that have not yet arrived at the last instant."""
        counts = place < len(self.times)
        if counts.any():
            self.openings.append((place[counts], opening.take(counts)))

    def _keep(self, walk, place, chosen):
        builds, place = walk.builds[chosen], place[chosen]
        self.kept[builds, place, : len(_KEPT)] = walk.now.rows[_KEPT][:, chosen].T
        self.kept[builds, place, len(_KEPT) :] = walk.clocks[:, chosen].T
        self.kept_times[builds, place] = walk.time[chosen]

    def _finish(self) -> RunResult:
        """Place the two extra instants of each cut-out and hand everything over as (n, t)."""
        count, kept, times = self.machine.count, self.kept, self.kept_times
        cut_out = {name: np.full(count, np.nan) for name in ("time", "current", "voltage", "cell_voltage")}
        rules = np.full(count, -1)
        if not self.openings:
            kept, times = kept[:, :-2], times[:, :-2]
        else:
            kept[:, -2:] = kept[:, -3:-2]
        for places, opening in self.openings:
            at_opening = np.concatenate([opening.moment.rows[_KEPT], opening.clocks]).T
            for row, (build, at) in enumerate(zip(opening.builds, places, strict=True)):
                kept[build, at + 2 :] = kept[build, at:-2].copy()
                times[build, at + 2 :] = times[build, at:-2].copy()
                kept[build, at], kept[build, at + 1] = at_opening[row], kept[build, at + 2]
                kept[build, at + 1, _SPEED] = at_opening[row, _SPEED]
                times[build, at : at + 2] = opening.time[row]
            rules[opening.builds] = opening.rule
            cut_out["time"][opening.builds] = opening.time
            for name, found in (("current", "line_current"), ("voltage", "pack_voltage"),
                                ("cell_voltage", "weakest_cell_voltage")):  # fmt: skip
                cut_out[name][opening.builds] = opening.moment[found]
        rows = kept[..., : len(_KEPT)].transpose(2, 0, 1)
        return RunResult(
            time=times,
            **dict(zip((*CHANNELS, *_TEMPERATURES, "limit_since"), rows[:-1], strict=True)),
            limit=rows[-1].astype(np.int8),
            clocks=kept[..., len(_KEPT) :],
            **{"cut_out_" + name: values for name, values in cut_out.items()},
            cut_out_rule=rules,
            minimum_voltage=self.lowest[0],
            minimum_cell_voltage=self.lowest[1],
            energies=self.energies.T,
            machine=self.machine,
        )
