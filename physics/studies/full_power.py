"""How long full power lasts: which part gets too hot first, or what ends it before.

Hot parts burn skin and a hot winding loses its insulation: leave every foldback and temperature rule in place, and
keep to the makers' limits.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build import NO_RULES
from physics.build.batch import Batch, Builds
from physics.limits import RULES
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.simulation.thermal import HEATED_PARTS

HEAT_LIMITS, CUT_OUT_FIRST, EMPTY_FIRST, LASTS = 1, 2, 3, 0
"""Status of a full-power run: a part gets too hot; the protection cuts out first; empty first; it lasts."""

_EMPTY = 0.002


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
    time : array, shape (n,), s
        Until the first part reaches its threshold; infinite where none does while charge lasts.
    first_part : array of int, shape (n,)
        Index in HEATED_PARTS of the part that gets there first; where none does, the one that came nearest.
    times : array, shape (n, 4), s
        When each part reaches its threshold; infinite where it does not.
    fraction : array, shape (n, 4)
        Largest share of each part's way from its start to its threshold that was used.
    highest : array, shape (n, 4), K
        Highest temperature of each part within the run.
    thresholds : array, shape (n, 4), K
        See `thresholds`.
    empty_time, cut_out_time : array, shape (n,), s
        When the pack is empty, and when its protection opens; infinite where it does not happen.
    cut_out_rule : array of int, shape (n,)
        Index in RULES, or -1.
    run : RunResult
        The run without cut-outs, for its temperatures against time.
    """

    time: np.ndarray
    first_part: np.ndarray
    times: np.ndarray
    fraction: np.ndarray
    highest: np.ndarray
    thresholds: np.ndarray
    empty_time: np.ndarray
    cut_out_time: np.ndarray
    cut_out_rule: np.ndarray
    run: RunResult

    @cached_property
    def status(self) -> np.ndarray:
        """HEAT_LIMITS, CUT_OUT_FIRST, EMPTY_FIRST or LASTS, shape (n,)."""
        ends = np.array([self.time, self.cut_out_time, self.empty_time])
        first = np.array([HEAT_LIMITS, CUT_OUT_FIRST, EMPTY_FIRST])[ends.argmin(axis=0)]
        return np.where(np.isfinite(ends).any(axis=0), first, LASTS)

    @cached_property
    def message(self) -> tuple[str, ...]:
        """One sentence for each build."""
        sentences = []
        for index, status in enumerate(self.status):
            part = HEATED_PARTS[self.first_part[index]]
            sentences.append(
                {
                    HEAT_LIMITS: f"Full power lasts {self.time[index]:.0f} s: then the {part} is too hot.",
                    CUT_OUT_FIRST: f"The {RULES[self.cut_out_rule[index]]} rule trips after "
                    f"{self.cut_out_time[index]:.0f} s, before any part is too hot.",
                    EMPTY_FIRST: f"The pack is empty after {self.empty_time[index]:.0f} s, before any part is "
                    f"too hot.",
                    LASTS: f"No part gets too hot; the {part} comes nearest.",
                }[int(status)]
            )
        return tuple(sentences)


def full_power(
    builds: Builds, duration: float = 600.0, initial_speed: ArrayLike = 0.0, steps: int | None = None
) -> FullPower:
    """Hold the throttle where it is and see which part gets hot first.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        The builds, in their conditions.
    duration : float, s
        How long to look, above 0 and at most 3600.
    initial_speed : float or array, shape (n,), m/s
        Speed at the start.
    steps : int, optional
        Time steps of the run.

    Returns
    -------
    FullPower
        From two runs in one batch: one with the protection as it is, and one calculated past it, so that heat is
        known even where the protection cuts out first.

    Raises
    ------
    ValueError
        When duration or speed are not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> HEATED_PARTS[full_power(example_build(), 400.0).first_part[0]]
    'pack'
    """
    batch = Batch.of(builds)
    count = len(batch)
    limits = thresholds(batch).T
    result = run(
        Batch.join([batch.change(NO_RULES), batch]),
        duration,
        np.tile(np.broadcast_to(np.asarray(initial_speed, dtype=float), (count,)), 2),
        steps,
    )
    free, protected = result.take(slice(0, count)), result.take(slice(count, None))
    channels = np.stack([getattr(free, f"{part}_temperature") for part in HEATED_PARTS], axis=1)
    alive = free.charge > _EMPTY
    empty = np.where(alive.all(axis=1), np.inf, free.time[(~alive).argmax(axis=1)])
    held = np.where(alive[:, None, :], channels, channels[:, :, :1])
    highest = held.max(axis=2)
    times = np.stack([_first_time(free.time, held[:, row], limits[:, row]) for row in range(4)], axis=1)
    room = np.maximum(limits - channels[:, :, 0], 1e-6)
    fraction = (highest - channels[:, :, 0]) / room
    earliest = times.min(axis=1)
    return FullPower(
        time=earliest,
        first_part=np.where(np.isfinite(earliest), times.argmin(axis=1), fraction.argmax(axis=1)),
        times=times,
        fraction=fraction,
        highest=highest,
        thresholds=limits,
        empty_time=empty,
        cut_out_time=np.where(np.isfinite(protected.cut_out_time), protected.cut_out_time, np.inf),
        cut_out_rule=protected.cut_out_rule,
        run=free,
    )


def _first_time(time: Floats, values: Floats, level: Floats) -> Floats:
    """When rows of values first reach their level, linear between instants; infinite where they do not."""
    above = values >= level[:, None]
    rows, index = np.arange(len(values)), above.argmax(axis=1)
    before = np.maximum(index - 1, 0)
    rise = values[rows, index] - values[rows, before]
    fraction = np.where(rise > 0, (level - values[rows, before]) / np.where(rise > 0, rise, 1.0), 0.0)
    reached = time[before] + np.clip(fraction, 0, 1) * (time[index] - time[before])
    return np.where(above.any(axis=1), reached, np.inf)
