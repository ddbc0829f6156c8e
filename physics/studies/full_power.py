"""Heat in four lumped parts (pack, winding, case, controller): exact steps, and how long full power lasts.

Each part is one heat capacity with one path of heat: pack, case and controller to the air, the winding to the case.
Two bodies on one path are the usual reduced network of a motor (winding and case); see A. Boglietti and others,
Evolution and modern approaches for thermal analysis of electrical machines, IEEE Trans. Industrial Electronics 56
(2009) 871-882, from memory. Hot parts burn skin and a hot winding loses its insulation: leave every foldback and
temperature rule in place, and keep to the makers' limits.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from physics.build.batch import NUMBER_PATHS, Batch
from physics.limits import RULES
from physics.simulation.plant import held
from physics.simulation.result import RunResult
from physics.simulation.run import run

PARTS = ("pack", "winding", "case", "controller")
"""The parts, in the row order of every array of temperatures here."""

NO_RULES = {
    "pack.protection.continuous_current": np.inf,
    "pack.protection.peak_current": np.inf,
    "pack.protection.fast_current": np.inf,
    "pack.protection.cell_undervoltage": 0.0,
    "pack.protection.discharge_temperature_minimum": 200.0,
    "pack.protection.discharge_temperature_maximum": 450.0,
}
"""A calculation without a cut-out, to see what lies beyond it. Never a setting for a pack."""

HEAT_LIMITS, CUT_OUT_FIRST, EMPTY_FIRST, LASTS = 1, 2, 3, 0
"""Status of a full-power run: a part gets too hot; the protection cuts out first; empty first; it lasts."""

_EMPTY = 0.002


def changed(batch: Batch, changes: dict) -> Batch:
    """A batch with other values in some number fields.

    Parameters
    ----------
    batch : Batch
        The builds.
    changes : dict of str to float or array, shape (n,)
        Field path to new values; they are not checked again.

    Returns
    -------
    Batch
        As many builds as before.

    Examples
    --------
    >>> from physics.build import example_build
    >>> changed(Batch.of(example_build()), {"conditions.charge": 0.5})["conditions.charge"]
    array([0.5])
    """
    columns = {path: batch[path] for path in NUMBER_PATHS}
    for path, values in changes.items():
        columns[path] = np.array(np.broadcast_to(np.asarray(values, dtype=float), (len(batch),)))
    return Batch(columns, batch.chemistry, batch.hold_front_down, batch.torque_tables)


def start_temperatures(batch: Batch) -> np.ndarray:
    """Temperatures of all parts at the start of the conditions.

    Parameters
    ----------
    batch : Batch
        The builds.

    Returns
    -------
    array, shape (4, n), K
        Rows as in PARTS.
    """
    motor = batch["conditions.motor_temperature"]
    return np.array(
        [batch["conditions.pack_temperature"], motor, motor, batch["conditions.controller_temperature"]]
    )


def lumped_step(builds, temperatures, power, duration) -> np.ndarray:
    """Temperatures after a time of constant heat: the exact solution, of any length.

    One body, C dT/dt = P - G (T - air):  T = T_air + P/G + (T_0 - T_air - P/G) exp(-G t / C).
    Winding and case together are a linear pair of such equations, solved by its two eigenvalues.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        Their heat capacities and paths.
    temperatures : array, shape (4, n), K
        At the start; rows as in PARTS.
    power : float or array, shape (4, n), W
        Heat in each part, held.
    duration : float or array, shape (n,), s
        Zero or above.

    Returns
    -------
    array, shape (4, n), K
        At the end.

    Examples
    --------
    >>> from physics.build import example_build
    >>> lumped_step(example_build(), np.full((4, 1), 293.15), 0.0, 600.0).round(2).T
    array([[293.15, 293.15, 293.15, 293.15]])
    """
    b = Batch.of(builds)
    air = b["conditions.air_temperature"]
    power = np.broadcast_to(np.asarray(power, dtype=float), np.shape(temperatures))
    above = np.asarray(temperatures, dtype=float) - air
    ended = np.empty_like(above)
    single = [
        (0, b["pack.heat_capacity"], b["pack.thermal_conductance"]),
        (3, b["controller.heat_capacity"], b["controller.thermal_conductance"]),
    ]
    for row, capacity, conductance in single:
        rate = -conductance / capacity
        ended[row] = above[row] * np.exp(rate * duration) + power[row] / capacity * held(rate, duration)
    ended[1:3] = _motor_step(b, above[1:3], power[1:3], duration)
    return ended + air


def _motor_step(b, above, power, duration):
    """Winding and case: exp(M t) by the eigenvalues of M (both real, one may be zero where no heat leaves)."""
    winding = b["motor.winding_to_case"] / b["motor.winding_heat_capacity"]
    case = b["motor.winding_to_case"] / b["motor.case_heat_capacity"]
    air = b["motor.case_to_air"] / b["motor.case_heat_capacity"]
    total = winding + case + air
    apart = np.sqrt((winding - case - air) ** 2 + 4 * winding * case)
    fast = -(total + apart) / 2
    slow = winding * air / fast  # the product of the eigenvalues; no digits lost
    source = power / np.array([b["motor.winding_heat_capacity"], b["motor.case_heat_capacity"]])

    def times_matrix(vector, eigenvalue):
        return np.array(
            [
                (-winding - eigenvalue) * vector[0] + winding * vector[1],
                case * vector[0] + (-case - air - eigenvalue) * vector[1],
            ]
        )

    ended = 0.0
    for eigenvalue, other, sign in ((slow, fast, 1.0), (fast, slow, -1.0)):
        part = times_matrix(above, other) * np.exp(eigenvalue * duration)
        part = part + times_matrix(source, other) * held(eigenvalue, duration)
        ended = ended + sign * part / (slow - fast)
    return ended


def thresholds(builds) -> np.ndarray:
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
        Place in PARTS of the part that gets there first; where none does, the one that came nearest.
    times : array, shape (n, 4), s
        When each part reaches its threshold; infinite where it does not.
    share : array, shape (n, 4)
        Largest share of each part's way from its start to its threshold that was used.
    highest : array, shape (n, 4), K
        Highest temperature of each part within the run.
    thresholds : array, shape (n, 4), K
        See `thresholds`.
    empty_time, cut_out_time : array, shape (n,), s
        When the pack is empty, and when its protection opens; infinite where it does not happen.
    cut_out_rule : array of int, shape (n,)
        Place in RULES, or -1.
    run : RunResult
        The run without cut-outs, for its temperatures against time.
    """

    time: np.ndarray
    first_part: np.ndarray
    times: np.ndarray
    share: np.ndarray
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
        said = []
        for place, status in enumerate(self.status):
            part = PARTS[self.first_part[place]]
            said.append(
                {
                    HEAT_LIMITS: f"Full power lasts {self.time[place]:.0f} s: then the {part} is too hot.",
                    CUT_OUT_FIRST: f"The {RULES[self.cut_out_rule[place]]} rule cuts out after "
                    f"{self.cut_out_time[place]:.0f} s, before any part is too hot.",
                    EMPTY_FIRST: f"The pack is empty after {self.empty_time[place]:.0f} s, before any part is "
                    f"too hot.",
                    LASTS: f"No part gets too hot; the {part} comes nearest.",
                }[int(status)]
            )
        return tuple(said)


def full_power(builds, duration: float = 600.0, initial_speed=0.0, steps: int | None = None) -> FullPower:
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
    >>> PARTS[full_power(example_build(), 400.0).first_part[0]]
    'pack'
    """
    batch = Batch.of(builds)
    count = len(batch)
    limits = thresholds(batch).T
    made = run(
        Batch.join([changed(batch, NO_RULES), batch]),
        duration,
        np.tile(np.broadcast_to(np.asarray(initial_speed, dtype=float), (count,)), 2),
        steps,
    )
    free, kept = made.take(slice(0, count)), made.take(slice(count, None))
    channels = np.stack([getattr(free, f"{part}_temperature") for part in PARTS], axis=1)
    alive = free.charge > _EMPTY
    empty = np.where(alive.all(axis=1), np.inf, free.time[np.arange(count), (~alive).argmax(axis=1)])
    held = np.where(alive[:, None, :], channels, channels[:, :, :1])
    highest = held.max(axis=2)
    times = np.stack([_first_time(free.time, held[:, row], limits[:, row]) for row in range(4)], axis=1)
    room = np.maximum(limits - channels[:, :, 0], 1e-6)
    share = (highest - channels[:, :, 0]) / room
    earliest = times.min(axis=1)
    return FullPower(
        time=earliest,
        first_part=np.where(np.isfinite(earliest), times.argmin(axis=1), share.argmax(axis=1)),
        times=times,
        share=share,
        highest=highest,
        thresholds=limits,
        empty_time=empty,
        cut_out_time=np.where(np.isfinite(kept.cut_out_time), kept.cut_out_time, np.inf),
        cut_out_rule=kept.cut_out_rule,
        run=free,
    )


def _first_time(time, values, level):
    """When rows of values first reach their level, linear between instants; infinite where they do not."""
    above = values >= level[:, None]
    rows, place = np.arange(len(values)), above.argmax(axis=1)
    before = np.maximum(place - 1, 0)
    rise = values[rows, place] - values[rows, before]
    share = np.where(rise > 0, (level - values[rows, before]) / np.where(rise > 0, rise, 1.0), 0.0)
    found = time[rows, before] + np.clip(share, 0, 1) * (time[rows, place] - time[rows, before])
    return np.where(above.any(axis=1), found, np.inf)
