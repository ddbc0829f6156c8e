"""How long full power lasts: which part gets too hot first, or what ends it before.

Hot parts burn skin and a hot winding loses its insulation: leave every foldback and temperature rule in place, and
keep to the makers' limits.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from physics import limits
from physics.arrays import Floats
from physics.build import NO_RULES, Build
from physics.build.batch import Batch, Builds
from physics.limits import RULES
from physics.scenarios.state import run_from, state_at, together
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.simulation.thermal import HEATED_PARTS

HEAT_LIMITS, CUT_OUT_FIRST, EMPTY_FIRST, LASTS = 1, 2, 3, 0
"""Status of a full-power run: a part gets too hot; the protection cuts out first; empty first; it lasts."""

_EMPTY = 0.002
_LAUNCH = 30.0
"""So long, s, a run from a standstill changes fast."""
_STEPS = 20
"""Instants of the rest of it. All its own steps are kept, and of those none is long."""


def thresholds(builds: Builds) -> np.ndarray:
    """The temperature at which each part begins to take power away.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        The builds.

    Returns
    -------
    array, shape (4, n), K
        The pack's hottest discharge temperature, the winding's and the controller's start of foldback; infinite for
        the case, which has none of its own.
    """
    b = Batch.of(builds)
    return np.array(
        [
            b["pack.protection.discharge_temperature_maximum"],
            b["motor.winding_foldback_start"],
            np.full(len(b), np.inf),
            b["controller.foldback_start_temperature"],
        ]
    )


@dataclass(frozen=True, eq=False)
class FullPower:
    """How long full power lasts, by heat.

    Attributes
    ----------
    time : float, s
        Until the first part reaches its threshold; infinite where none does while charge lasts.
    first_part : int
        Index in HEATED_PARTS of the part that gets there first; where none does, the one that came nearest.
    times : array, shape (4,), s
        When each part reaches its threshold; infinite where it does not.
    fraction : array, shape (4,)
        Largest share of each part's way from its start to its threshold that was used.
    highest, thresholds : array, shape (4,), K
        Highest temperature of each part; see `thresholds`.
    empty_time, cut_out_time : float, s
        When the pack is empty, and when its protection opens; infinite where it does not happen.
    cut_out_rule : int
        Index in RULES, or -1.
    instants : array, shape (t,), s
        From the start to the end of what was looked at, or until the pack is empty.
    temperatures : array, shape (4, t), K
        Of the parts at these instants, if the protection never cut out.
    """

    time: float
    first_part: int
    times: Floats
    fraction: Floats
    highest: Floats
    thresholds: Floats
    empty_time: float
    cut_out_time: float
    cut_out_rule: int
    instants: Floats
    temperatures: Floats

    @property
    def status(self) -> int:
        """HEAT_LIMITS, CUT_OUT_FIRST, EMPTY_FIRST or LASTS."""
        ends = np.array([self.time, self.cut_out_time, self.empty_time])
        first = (HEAT_LIMITS, CUT_OUT_FIRST, EMPTY_FIRST)[int(ends.argmin())]
        return first if np.isfinite(ends).any() else LASTS

    @property
    def message(self) -> str:
        """The answer in a sentence."""
        part = HEATED_PARTS[self.first_part]
        return {
            HEAT_LIMITS: f"Full power lasts {self.time:.0f} s: then the {part} is too hot.",
            CUT_OUT_FIRST: f"The {RULES[self.cut_out_rule]} rule trips after {self.cut_out_time:.0f} s, before any "
            f"part is too hot.",
            EMPTY_FIRST: f"The pack is empty after {self.empty_time:.0f} s, before any part is too hot.",
            LASTS: f"No part gets too hot; the {part} comes nearest.",
        }[self.status]


def full_power(build: Build, duration: float = 600.0, begun: RunResult | None = None) -> FullPower:
    """Hold the throttle where it is and see which part gets hot first.

    Parameters
    ----------
    build : Build
        In its conditions, from a standstill.
    duration : float, s
        How long to look, above 0 and at most 3600.
    begun : RunResult, optional
        How that begins, where it is known: a run of the build, with all its own steps (`RunResult.one`). It changes
        how soon the answer is there, and the answer by no more than a run may be off.

    Returns
    -------
    FullPower
        From the run with the protection as it is, and one that goes past its cut-out, so that heat is known even
        where that comes first.

    Raises
    ------
    ValueError
        When the duration is not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> HEATED_PARTS[full_power(example_build(), 400.0).first_part]
    'pack'
    """
    if not 0 < duration <= 3600:
        raise ValueError(f"duration: got {duration!r} s; accepts a number above 0, at most 3600 s.")
    batch = Batch.of(build)
    if begun is None:
        begun = run(batch, min(duration, _LAUNCH)).one(0)
    opened, last = float(begun.cut_out_time[0]), _last_of_use(begun, duration)
    cut_out_time, cut_out_rule = (opened, int(begun.cut_out_rule[0])) if opened <= duration else (np.inf, -1)
    parts, left = [(begun, slice(last + 1))], duration - float(begun.time[last])
    if left > 0.0:
        sides = Batch.join([batch.change(NO_RULES), batch])
        if last > 0:
            sides = sides.change({"controller.throttle_ramp_time": 0.0})  # the throttle is open
        state = state_at(begun, begun.time[[last]])
        rest = run_from(sides, together([state, state]), left, np.repeat(begun.speed[0, last], 2), _STEPS)
        parts.append((rest.one(0), slice(1, None)))
        if cut_out_rule < 0 and rest.cut_out_rule[1] >= 0:
            cut_out_time, cut_out_rule = duration - left + float(rest.cut_out_time[1]), int(rest.cut_out_rule[1])
    return _judged(batch, parts, (cut_out_time, cut_out_rule), duration - left)


def _last_of_use(begun: RunResult, duration: float) -> int:
    """The last instant of a run from which full power can go on: the throttle open, no cut-out yet; 0 if none."""
    under_power = (begun.limit[0] != limits.CUT_OUT) & (begun.time <= duration)
    last = int(np.count_nonzero(under_power)) - 1
    return last if begun.time[last] >= begun.machine.ramp_end[0] else 0


def _judged(
    batch: Batch, parts: list[tuple[RunResult, slice]], cut_out: tuple[float, int], joint: float
) -> FullPower:
    """What a run in parts, the second from `joint` on, says of heat."""

    def joined(name: str) -> Floats:
        return np.concatenate([getattr(part, name)[0, some] for part, some in parts])

    time = np.concatenate([part.time[some] + place * joint for place, (part, some) in enumerate(parts)])
    empty = _first_time(time, -joined("charge"), -_EMPTY)
    instants = np.append(time[time < empty], min(empty, time[-1]))
    temperatures = np.array([np.interp(instants, time, joined(f"{part}_temperature")) for part in HEATED_PARTS])
    start, highest, limit = temperatures[:, 0], temperatures.max(axis=1), thresholds(batch)[:, 0]
    times = np.array([_first_time(instants, *each) for each in zip(temperatures, limit, strict=True)])
    fraction = (highest - start) / np.maximum(limit - start, 1e-6)
    earliest = float(times.min())
    return FullPower(
        time=earliest,
        first_part=int(times.argmin() if np.isfinite(earliest) else fraction.argmax()),
        times=times,
        fraction=fraction,
        highest=highest,
        thresholds=limit,
        empty_time=empty,
        cut_out_time=cut_out[0],
        cut_out_rule=cut_out[1],
        instants=instants,
        temperatures=temperatures,
    )


def _first_time(time: Floats, values: Floats, level: float) -> float:
    """When values first reach their level, linear between instants; infinite where they do not."""
    above = values >= level
    if not above.any():
        return np.inf
    index = int(above.argmax())
    before = max(index - 1, 0)
    rise = values[index] - values[before]
    fraction = min(max((level - values[before]) / rise, 0.0), 1.0) if rise > 0 else 0.0
    return float(time[before] + fraction * (time[index] - time[before]))
