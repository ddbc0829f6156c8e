"""The voltage window: what a bike does from each resting voltage, and the lowest that still reaches the target."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats, Numbers
from physics.build import Build
from physics.build.batch import Batch
from physics.components import pack
from physics.limits import LIMITS
from physics.simulation.result import RunResult
from physics.simulation.run import run

REACHED_FROM, ALWAYS_REACHED, NEVER_REACHED = 0, 1, 2
"""Status of a voltage window."""


@dataclass(frozen=True, eq=False)
class VoltageWindow:
    """Top speed and time to the target against resting voltage; arrays of shape (k,), emptiest first.

    Attributes
    ----------
    charge, rest_voltage : array, and V
        At the start.
    top_speed : array, m/s
        Highest speed of the run, before any cut-out.
    time_to_target : array, s
        Infinite where the target is not reached.
    holding_limit : array of int
        Index in LIMITS of what holds at the highest speed.
    cut_out_rule : array of int
        Index in RULES, or -1.
    target_speed : float, m/s
        The target.
    lowest_charge, lowest_rest_voltage : float, and V
        The lowest from which the target is reached, and from all above too, up to the highest; infinite where there
        is none.
    highest_charge, highest_rest_voltage : float, and V
        The highest from which it is reached: below full where a fuller pack cuts out first; infinite where there is
        none.
    status : int
        REACHED_FROM, ALWAYS_REACHED or NEVER_REACHED.
    """

    charge: np.ndarray
    rest_voltage: np.ndarray
    top_speed: np.ndarray
    time_to_target: np.ndarray
    holding_limit: np.ndarray
    cut_out_rule: np.ndarray
    target_speed: float
    lowest_charge: float
    lowest_rest_voltage: float
    highest_charge: float
    highest_rest_voltage: float
    status: int

    @property
    def reached(self) -> np.ndarray:
        """Whether the target is reached, shape (k,)."""
        return np.isfinite(self.time_to_target)

    @property
    def message(self) -> str:
        """The answer in a sentence."""
        if self.status == NEVER_REACHED:
            return f"The target is not reached from any charge: {LIMITS[self.holding_limit[-1]]} holds it back."
        if self.status == ALWAYS_REACHED:
            return f"The target is reached from every charge, down to {self.rest_voltage[0]:.1f} V at rest."
        if self.highest_charge < self.charge[-1]:
            ends = f"{self.lowest_rest_voltage:.1f} to {self.highest_rest_voltage:.1f} V"
            return f"The target is reached from {ends} at rest: fuller, the pack cuts out first."
        return f"The target is reached from {self.lowest_rest_voltage:.1f} V at rest and above."


def voltage_window(
    build: Build,
    target_speed: float,
    duration: float = 40.0,
    charges: ArrayLike | None = None,
    steps: int | None = None,
    likely: tuple[Floats, Floats] | None = None,
) -> VoltageWindow:
    """What the bike does from each resting voltage, and the lowest from which it still reaches the target.

    Parameters
    ----------
    build : Build
        The bike; its charge is replaced.
    target_speed : float, m/s
        To be reached within the duration.
    duration : float, s
        Of each run, above 0.
    charges : sequence of float, optional
        Charges to look at, 0 to 1; by default 40 from 2 % to full, and the build's own.
    steps : int, optional
        Time steps of each run.
    likely : tuple of two arrays of shape (k,), - and m/s, optional
        Rising charges, and about how fast the bike gets from them, where that is known: then the first batch mostly
        has all that the second would find.

    Returns
    -------
    VoltageWindow
        Its ends are found by a second batch between the charges that differ, to 1/20 of that gap.

    Raises
    ------
    ValueError
        When the target or the duration are not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> voltage_window(example_build(), 10.0).status == ALWAYS_REACHED
    True
    """
    if not 0 < target_speed <= 200:
        raise ValueError(f"target_speed: got {target_speed!r} m/s; accepts a number above 0, at most 200 m/s.")
    if charges is None:
        charges = np.r_[np.linspace(0.02, 1.0, 40), build.conditions.charge]
    axis = np.unique(np.asarray(charges, dtype=float))
    foreseen = np.zeros(len(axis), dtype=bool) if likely is None else np.interp(axis, *likely) >= target_speed
    tried = np.unique(np.concatenate([axis, *(inner for _, inner in _gaps(axis, foreseen))]))
    made = _from_charges(build, tried, duration, steps)

    def reached_from(inner: Floats) -> NDArray[np.bool_]:
        if np.isin(inner, tried).all():
            return made.reaches(target_speed)[np.searchsorted(tried, inner)]
        return _from_charges(build, inner, duration, steps).reaches(target_speed)

    result = made.take(np.searchsorted(tried, axis))
    times = result.time_to(target_speed)
    there = np.isfinite(times)
    status = ALWAYS_REACHED if there.all() else REACHED_FROM if there.any() else NEVER_REACHED
    lowest = highest = np.inf
    if status != NEVER_REACHED:
        lowest, highest = _ends(axis, there, reached_from)

    def at_rest(charge: Numbers) -> Floats:
        return pack.rest_voltage(build.pack.chemistry, build.pack.cells_in_series, charge)

    return VoltageWindow(
        charge=axis,
        rest_voltage=at_rest(axis),
        top_speed=result.top_speed,
        time_to_target=np.where(there, times, np.inf),
        holding_limit=result.holding_limit,
        cut_out_rule=result.cut_out_rule,
        target_speed=float(target_speed),
        lowest_charge=lowest,
        lowest_rest_voltage=np.inf if status == NEVER_REACHED else float(at_rest(lowest)),
        highest_charge=highest,
        highest_rest_voltage=np.inf if status == NEVER_REACHED else float(at_rest(highest)),
        status=status,
    )


def _gaps(axis: Floats, there: NDArray[np.bool_]) -> list[tuple[float, Floats]]:
    """Ends of the topmost row of charges from which the target is reached, each with its gap in 20 parts."""
    if not there.any():
        return []
    top = int(np.flatnonzero(there)[-1])
    bottom = int(np.flatnonzero(~there[:top]).max(initial=-1)) + 1
    beside = np.clip([bottom - 1, top + 1], 0, len(axis) - 1)
    return [(end, np.linspace(out, end, 21)) for out, end in zip(axis[beside], axis[[bottom, top]], strict=True)]


def _ends(
    axis: Floats, there: NDArray[np.bool_], reached_from: Callable[[Floats], NDArray[np.bool_]]
) -> tuple[float, float]:
    """Ends of the topmost row of charges from which the target is reached, narrowed down to 1/20 of a gap."""
    ends = []
    for end, inner in _gaps(axis, there):
        if inner[0] != end:
            end = inner[min(np.flatnonzero(~reached_from(inner)).max(initial=0) + 1, 20)]
        ends.append(float(end))
    return ends[0], ends[1]


def _from_charges(build: Build, axis: Floats, duration: float, steps: int | None) -> RunResult:
    return run(Batch.vary(build, {"conditions.charge": axis}), duration, 0.0, steps)
