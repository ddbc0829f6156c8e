"""The way home: down to what rest voltage a distance at a steady speed is still safe from a cut-out, and the range.

For each charge the steady speed takes a current from the pack (`physics.scenarios.cruise`), and stops take the
energy of speed again. Charge is counted backwards from the lowest from which the weakest cell still bears it:
with all its resistance built up, and once more as much power for ten seconds, as a hill or pulling away asks for.
The answer is the worst of the cases in which things are as much worse than entered as they may well be.

Left out: what the pack warms up by on the way, which only helps, corners, and whatever a rider wastes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.components import pack
from physics.scenarios.cruise import cruise
from physics.simulation.plant import PackModel
from physics.studies.uncertainty.tolerance import Tolerance, default_tolerances
from physics.studies.uncertainty.worse import WorseCase, worse_cases

PEAK = 2.0
"""Power for ten seconds over that of the steady speed which must still be there at the end; common practice, no
source."""
STOP_EVERY = 250.0
"""Distance between two stops where a way is stop-and-go, m; common practice, no source."""
PULLING_AWAY = 0.7
"""Energy of speed over what pulling away takes from the cells for it; common practice, no source."""
HELD = 0.98
"""Share of the wanted speed that counts as held."""

_CHARGES = np.linspace(0.0, 1.0, 51)
_LEAST_SPEED = 0.6
_PEAK_TIME = 10.0  # s


@dataclass(frozen=True)
class Way:
    """The way home.

    Attributes
    ----------
    distance, speed : float, m and m/s
        Above 0, and above `_LEAST_SPEED`, 0.6.
    slope : float, rad
        On the whole; uphill positive.
    headwind : float, m/s
        Against the bike positive.
    stop_share : float
        Of the way that is stop-and-go, 0 to 1.

    Raises
    ------
    ValueError
        For a value outside those ranges.
    """

    distance: float
    speed: float
    slope: float = 0.0
    headwind: float = 0.0
    stop_share: float = 0.0

    def __post_init__(self) -> None:
        if not (self.distance > 0 and self.speed > _LEAST_SPEED and 0 <= self.stop_share <= 1):
            raise ValueError(
                f"A way of {self.distance!r} m at {self.speed!r} m/s, {self.stop_share!r} of it stop-and-go: "
                f"accepts a distance above 0, a speed above {_LEAST_SPEED:g} m/s and a share from 0 to 1."
            )


@dataclass(frozen=True, eq=False)
class WayHome:
    """What is needed to get home, and how far the charge now goes.

    Attributes
    ----------
    charge, rest_voltage : float, and V
        The lowest, as read, at which to turn back; infinite where the way is too far from any charge.
    reserve_charge, reserve_voltage : float, and V
        Down to which the pack may be ridden, as read, in the case that decides; infinite where it never may.
    case : WorseCase
        That decides.
    range_now, range_entered : float, m
        How far the charge of the conditions goes, at worst and as entered.
    power, current : float, W and A
        Mean, taken from the cells at the charge of the conditions, as entered; NaN where the speed is not held.
    energy_per_metre : float, J/m
        The same over the distance, stops included.
    charges, rest_voltages, ranges, ranges_entered : array, shape (k,), -, V, m, m
        How far each charge goes.
    """

    charge: float
    rest_voltage: float
    reserve_charge: float
    reserve_voltage: float
    case: WorseCase
    range_now: float
    range_entered: float
    power: float
    current: float
    energy_per_metre: float
    charges: Floats
    rest_voltages: Floats
    ranges: Floats
    ranges_entered: Floats

    @property
    def reachable(self) -> bool:
        """Whether there is a charge from which the way is safe."""
        return math.isfinite(self.charge)

    @property
    def message(self) -> str:
        """The answer in a sentence."""
        if not self.reachable:
            return "The way home is too far, or too fast, for any charge."
        volts = math.ceil(10.0 * self.rest_voltage - 1e-6) / 10.0
        return f"Turn back at {volts:.1f} V at rest; now it goes {self.range_now / 1000:.1f} km."


def way_home(build: Build, way: Way, tolerances: Sequence[Tolerance] | None = None) -> WayHome:
    """Down to what rest voltage the way home is safe from a cut-out, on the safe side.

    Parameters
    ----------
    build : Build
        The bike, its pack and its conditions; slope and wind are the way's.
    way : Way
        Home.
    tolerances : sequence of Tolerance, optional
        How well the unknowns are known; None is `default_tolerances`.

    Returns
    -------
    WayHome

    Examples
    --------
    >>> from physics.build import example_build
    >>> answer = way_home(example_build(), Way(5000.0, 11.0))
    >>> 0.05 < answer.charge < 0.35, answer.range_now < answer.range_entered
    (True, True)
    """
    known = default_tolerances(build) if tolerances is None else tuple(tolerances)
    cases = worse_cases(known, both_ends=False)
    changes = {"conditions.slope": way.slope, "conditions.headwind": way.headwind}
    entered = Batch.of(build).change(changes | {"conditions.charge": 0.5})
    batch = Batch.join([case.applied(entered) for case in cases])
    missing = 0.5 - batch["conditions.charge"]  # charge that is read and not there
    current, per_metre, safe = _riding(batch, way)
    ranges = np.array([_ranges(*row) for row in zip(current, safe, strict=True)]) * way.speed
    ranges *= (batch["pack.capacity_ah"] * pack.SECONDS_PER_HOUR)[:, None]
    as_read = _CHARGES + missing[:, None]
    enough = [_first(row, axis, way.distance) for row, axis in zip(ranges, as_read, strict=True)]
    least = [_first(row, axis, 0.0) for row, axis in zip(ranges, as_read, strict=True)]
    worst = int(np.argmax(enough))
    charge = enough[worst] if enough[worst] <= 1.0 else math.inf
    reserve = max(least) if max(least) <= 1.0 else math.inf
    at_read = np.array(
        [np.interp(_CHARGES, axis, row.clip(0.0), left=0.0) for row, axis in zip(ranges, as_read, strict=True)]
    )
    now = build.conditions.charge

    def volts(at: float) -> float:
        if not math.isfinite(at):
            return at
        return float(pack.rest_voltage(build.pack.chemistry, build.pack.cells_in_series, at))

    flowing = float(np.interp(now, _CHARGES, current[0]))
    return WayHome(
        charge=charge,
        rest_voltage=volts(charge),
        reserve_charge=reserve,
        reserve_voltage=volts(reserve),
        case=cases[worst],
        range_now=float(np.interp(now, _CHARGES, at_read.min(axis=0))),
        range_entered=float(np.interp(now, _CHARGES, at_read[0])),
        power=flowing * volts(now),
        current=flowing,
        energy_per_metre=float(np.interp(now, _CHARGES, per_metre[0])),
        charges=_CHARGES,
        rest_voltages=pack.rest_voltage(build.pack.chemistry, build.pack.cells_in_series, _CHARGES),
        ranges=at_read.min(axis=0),
        ranges_entered=at_read[0],
    )


def _riding(batch: Batch, way: Way) -> tuple[Floats, Floats, np.ndarray]:
    """Mean current, A, energy for each metre, J/m, and whether it is safe; each of shape (cases, charges)."""
    shape = (len(batch), _CHARGES.size)
    rows = np.repeat(np.arange(len(batch)), _CHARGES.size)
    charge = np.tile(_CHARGES, len(batch))
    each = batch.take(rows).change({"conditions.charge": charge})
    steady, held = cruise(each, way.speed)
    pull = 0.5 * each.stance().equivalent_mass * way.speed**2 / PULLING_AWAY
    per_metre = steady + way.stop_share * pull / STOP_EVERY
    rest = pack.rest_voltage(each.chemistry, each["pack.cells_in_series"], charge)
    current = per_metre * way.speed / rest
    safe = (held >= HELD * way.speed) & _bears(each, charge, steady * way.speed, rest)
    return current.reshape(shape), per_metre.reshape(shape), safe.reshape(shape)


def _bears(each: Batch, charge: Floats, power: Floats, rest: Floats) -> np.ndarray:
    """Whether the weakest cell and the protection's other rules bear a power, W, and for ten seconds PEAK times
    it."""
    rules = "pack.protection."
    model, weak = PackModel(each), charge - each["pack.charge_spread"]
    temperature = each["conditions.pack_temperature"]
    _, weakest, factor, transfer = model.evaluate(charge, temperature)
    settled = factor * (model.ohmic + model.pairs.sum(axis=0))
    built = -np.expm1(-_PEAK_TIME / model.pair_times)
    short = factor * (model.ohmic + (model.pairs * built).sum(axis=0))
    steady = power / rest
    loss = settled + transfer.voltage(steady) / np.where(steady > 0, steady, 1.0) + each["pack.lead_resistance"]
    peak = pack.current_for_power(rest, loss, np.minimum(PEAK * power * (1.0 - steady * loss / rest), 1e9))
    drop = steady * settled + (peak - steady) * short + transfer.voltage(peak)
    voltage = weakest - drop * model.weak_share
    swung = 1.0 + each["controller.overshoot"]
    return (
        (weak >= 0.0)
        & (voltage >= each[rules + "cell_undervoltage"])
        & (steady * swung <= each[rules + "continuous_current"])
        & (peak * swung <= np.minimum(each[rules + "peak_current"], each[rules + "fast_current"]))
        & (temperature >= each[rules + "discharge_temperature_minimum"])
        & (temperature <= each[rules + "discharge_temperature_maximum"])
    )


def _ranges(current: Floats, safe: np.ndarray) -> Floats:
    """Time at these currents down to the lowest charge above which all is safe, over the capacity, 1/A; shape (k,).

    -1 where it is not safe.
    """
    unsafe = np.flatnonzero(~safe)
    first = int(unsafe[-1]) + 1 if unsafe.size else 0
    ranges = np.full(current.size, -1.0)
    if first == current.size:
        return ranges
    per_charge = 1.0 / np.maximum(current[first:], 1e-6)
    steps = 0.5 * (per_charge[1:] + per_charge[:-1]) * np.diff(_CHARGES[first:])
    ranges[first:] = np.r_[0.0, np.cumsum(steps)]
    return ranges


def _first(ranges: Floats, axis: Floats, distance: float) -> float:
    """The lowest charge on an axis from which a distance is in range; infinite where there is none."""
    good = np.flatnonzero(ranges >= 0.0)
    if not good.size or ranges[-1] < distance:
        return math.inf
    return float(np.interp(distance, ranges[good], axis[good]))
