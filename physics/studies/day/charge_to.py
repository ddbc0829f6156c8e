"""To what voltage to charge, and for how long: the reading at which to stop, and what the pack then settles to.

A pack reads more on the charger than it rests at, by the current through its resistance. Where the wanted voltage
is the most it may rest at, the reading to stop at is that of a pack with as little resistance as it may have: any
more, and it rests lower still. Where it is the least, it is that of one with as much as it may have. The fullest,
most resistive cell stays below its maximum and below the protection's over-voltage rule: the charger's own
voltage is lowered until it does.

Cautions: the charger, pack and cell makers' instructions go first. A charger is one made for the pack, and charging
is watched. Never charge a pack that is cold, hot, wet, swollen or damaged.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from physics.build import Build
from physics.build.batch import NUMBER_PATHS, Batch
from physics.components import cell, charging, pack
from physics.scenarios.charger import ChargeCurve, Charger, charge_up
from physics.studies.headroom import MARGIN
from physics.studies.uncertainty.tolerance import Tolerance, default_tolerances
from physics.typical.pack import resistance_from_rating

CHARGE, THERE_ALREADY, ENDS_FIRST, TOO_COLD, TOO_HOT = 0, 1, 2, -1, -2
"""Charge as told; the pack rests high enough now; the wanted voltage is not reached; no charging at all."""
CHARGER, RATING, COLD_CURRENT = "charger", "charging current of the cells", "reduced charging current in the cold"

_LOWERED = np.arange(0.0, 0.41, 0.01)  # V a cell, by which a charger's voltage may have to be lowered
_ENTERED, _LITTLE, _MUCH = 0, 1, 2
_LITTLE_CURRENT = 0.01  # A


@dataclass(frozen=True)
class ChargePlan:
    """What is charged with, and where.

    Attributes
    ----------
    current : float, A
        Of the charger, into the pack; above 0.
    temperature : float, K
        Of the pack while it charges.
    power : float, W
        The most that reaches the pack; inf where nothing but the charger limits it.
    voltage : float, V, optional
        Of the charger's constant-voltage phase; None is the pack's highest rest voltage.
    at_most : bool
        Whether the wanted charge is the most the pack may have afterwards; else it is the least.
    """

    current: float
    temperature: float
    power: float = np.inf
    voltage: float | None = None
    at_most: bool = True


@dataclass(frozen=True, eq=False)
class ChargeToAnswer:
    """How to charge, on the safe side.

    Attributes
    ----------
    status : int
        CHARGE, THERE_ALREADY, ENDS_FIRST, TOO_COLD or TOO_HOT.
    current, current_limit : float, A, and str
        What to charge with, and what that is: CHARGER, RATING or COLD_CURRENT.
    charger_voltage : float, V
        The highest that the charger may hold for the fullest cell's sake.
    voltage_lowered : bool
        Whether that is lower than the plan's.
    stop_voltage, stop_current : float, V and A
        Stop at this reading; where it is the charger's own voltage, once the current has fallen to this.
    by_current : bool
        Whether it is the current that tells.
    wanted_charge, wanted_voltage : float, and V
        Asked for, at rest.
    curve : ChargeCurve
        As entered, of one row, up to where it ends.
    start_voltage, rest_voltage : float, V
        What the pack rests at now, and what it settles to, as entered.
    floor, ceiling : float, K
        Between what entered pack temperatures charging is allowed.
    """

    status: int
    current: float
    current_limit: str
    charger_voltage: float
    voltage_lowered: bool
    stop_voltage: float
    stop_current: float
    by_current: bool
    wanted_charge: float
    wanted_voltage: float
    curve: ChargeCurve
    start_voltage: float
    rest_voltage: float
    floor: float
    ceiling: float

    @property
    def time(self) -> float:
        """How long it takes, s."""
        return float(self.curve.time[0, -1])

    @property
    def charge_added(self) -> float:
        """Charge put in, 0 to 1."""
        return float(self.curve.charge[0, -1] - self.curve.charge[0, 0])

    @property
    def message(self) -> str:
        """The answer in a sentence."""
        if self.status == TOO_COLD:
            return f"Do not charge: the cells may be charged only from {self.floor - 273.15:.0f} °C."
        if self.status == TOO_HOT:
            return f"Do not charge: the cells may be charged only up to {self.ceiling - 273.15:.0f} °C."
        if self.status == THERE_ALREADY:
            return f"Nothing to charge: the pack rests at {self.start_voltage:.1f} V."
        stop = math.floor(10.0 * self.stop_voltage) / 10.0
        return f"Charge to {stop:.1f} V on the charger: it rests at {self.rest_voltage:.1f} V."


def charge_to(
    build: Build, wanted_charge: float, plan: ChargePlan, tolerances: Sequence[Tolerance] | None = None
) -> ChargeToAnswer:
    """How to charge a pack from its charge now to another, and when to stop.

    Parameters
    ----------
    build : Build
        Whose pack; it starts from the charge of the conditions.
    wanted_charge : float
        0 to 1.
    plan : ChargePlan
        The charger, the pack's temperature, and which side of the wanted charge is the safe one.
    tolerances : sequence of Tolerance, optional
        How well the unknowns are known; None is `default_tolerances`.

    Returns
    -------
    ChargeToAnswer

    Raises
    ------
    ValueError
        When the wanted charge is not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"conditions.charge": 0.4, "pack.resistance": 0.05})
    >>> charge_to(build, 0.8, ChargePlan(8.0, 293.15)).message
    'Charge to 97.6 V on the charger: it rests at 97.0 V.'
    """
    if not 0 <= wanted_charge <= 1:
        raise ValueError(f"wanted_charge: got {wanted_charge!r}; accepts a number from 0 to 1.")
    known = default_tolerances(build) if tolerances is None else tuple(tolerances)
    cases = _cases(build, plan.temperature, known)
    colder, hotter = (float(cases["conditions.pack_temperature"][row]) for row in (_MUCH, _LITTLE))
    kind, rules = cell.chemistry(build.pack.chemistry), build.pack.protection
    floor = max(rules.charge_temperature_minimum, kind.charge_temperature_floor)
    rating, capacity = float(cases["pack.charge_current"][0]), build.pack.capacity_ah
    most = float(charging.allowed_current(rating, capacity, colder, kind.charge_temperature_full))
    current = min(plan.current, most)
    limit = CHARGER if plan.current <= most else RATING if most == rating else COLD_CURRENT
    series = build.pack.cells_in_series
    held = plan.voltage or series * kind.voltage_maximum
    tried = np.maximum(held - series * _LOWERED, 1.0)
    charger = Charger(current, np.tile(tried, 3), plan.power)
    curves, good = _tried(build, cases, charger, wanted_charge, plan.at_most)
    place = int(good.argmax()) if good.any() else tried.size - 1
    voltage, entered = float(tried[place]), curves.one(_ENTERED * tried.size + place)
    tells = _LITTLE if plan.at_most else _MUCH
    rest = [
        float(pack.rest_voltage(kind.key, series, charge)) for charge in (build.conditions.charge, wanted_charge)
    ]
    reached = float(entered.charge[0, -1]) >= wanted_charge - 1e-9
    status = CHARGE if reached else ENDS_FIRST
    if wanted_charge <= build.conditions.charge:
        status = THERE_ALREADY
    status = TOO_COLD if colder < floor else TOO_HOT if hotter > rules.charge_temperature_maximum else status
    told = tells * tried.size + place
    stop = float(curves.voltage[told, -1])
    return ChargeToAnswer(
        status=status,
        current=current,
        current_limit=limit,
        charger_voltage=voltage,
        voltage_lowered=voltage < held - 1e-9,
        stop_voltage=stop,
        stop_current=float(curves.current[told, -1]),
        by_current=stop > voltage - 1e-3 * series,
        wanted_charge=float(wanted_charge),
        wanted_voltage=rest[1],
        curve=entered,
        start_voltage=rest[0],
        rest_voltage=float(entered.rest_voltage[0, -1]),
        floor=floor + plan.temperature - colder,
        ceiling=rules.charge_temperature_maximum - (hotter - plan.temperature),
    )


def _cases(build: Build, temperature: float, known: Sequence[Tolerance]) -> Batch:
    """The pack as entered; with as little resistance as it may have, warm; and with as much, cold; both uneven.

    A resistance that was not measured is taken at the ends of what is usual; one whose current is not known, as
    measured at little current for the least.
    """
    half = {item.path: item for item in known}

    def away(path: str, present: float) -> float:
        item = half.get(path)
        return 0.0 if item is None else item.half_width * (abs(present) if item.relative else 1.0)

    one, given = Batch.of(build), build.pack
    typical, growth = float(one["pack.resistance"][0]), float(one["pack.cold_growth"][0])
    kind, at = cell.chemistry(given.chemistry), float(one["pack.resistance_current"][0])
    if given.resistance is None:  # what is usual is of pulses at about the one-hour current
        rules = given.protection
        usual = resistance_from_rating(
            given.chemistry, given.cells_in_series, given.capacity_ah, rules.continuous_current, rules.peak_current
        )
        low, high, at_low, at_high = float(usual.low), float(usual.high), given.capacity_ah, given.capacity_ah
    else:
        off = away("pack.resistance", typical)
        low, high = max(typical - off, NUMBER_PATHS["pack.resistance"].low), typical + off
        at_high = at
        at_low = _LITTLE_CURRENT if given.resistance_current is None else at
    if given.cold_growth is None:
        cold = [growth, kind.cold_growth_low, kind.cold_growth_high]
    else:
        off = away("pack.cold_growth", growth)
        cold = [growth, max(growth - off, 1.0), growth + off]
    spread = given.charge_spread + away("pack.charge_spread", given.charge_spread)
    warm = away("conditions.pack_temperature", temperature)
    return one.take([0, 0, 0]).change(
        {
            "pack.resistance": [typical, low, high],
            "pack.resistance_current": [at, at_low, at_high],
            "pack.cold_growth": cold,
            "pack.charge_spread": [given.charge_spread, spread, spread],
            "conditions.pack_temperature": [temperature, temperature + warm, temperature - warm],
        }
    )


def _tried(
    build: Build, cases: Batch, charger: Charger, wanted: float, at_most: bool
) -> tuple[ChargeCurve, NDArray[np.bool_]]:
    """All cases with k voltages of the charger, 3 k curves; with which, shape (k,), the fullest cell is safe.

    It stays below its limit until told to stop. Where the wanted charge is the least, a pack with little resistance
    goes on beyond it, up to the same reading.
    """
    limit = min(
        cell.chemistry(build.pack.chemistry).voltage_maximum, build.pack.protection.cell_overvoltage - MARGIN
    )
    rows = np.repeat([_ENTERED, _LITTLE, _MUCH], np.size(charger.voltage) // 3)
    curves = charge_up(cases.take(rows), charger, np.where(at_most | (rows != _LITTLE), wanted, 1.0))
    told = np.tile(curves.voltage[rows == _MUCH, -1:], (3, 1)) + 1e-9
    good = (curves.voltage > told) | (curves.fullest_cell_voltage <= limit + 1e-9) | (rows == _ENTERED)[:, None]
    return curves, np.asarray(good.reshape(3, -1, good.shape[1]).all(axis=(0, 2)))
