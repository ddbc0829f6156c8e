"""Charge headroom of a build: today's answer, its curves, and what rides it off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.components.pack import rest_voltage
from physics.studies.headroom import TOO_COLD, ChargeEvent, HeadroomResult, headroom, ride_off

COLDEST, HOTTEST = 258.15, 323.15


@dataclass(frozen=True)
class HeadroomAnswer:
    """Today's answer, and its curves.

    Attributes
    ----------
    today : HeadroomResult
        For the build's regen current and pack temperature.
    rest_voltage_now, pack_temperature : float, V and K
        How the pack stands today.
    current, volts_by_current : array, A and V
        Volts below full against regen current, at today's temperature; NaN where no charge is low enough.
    temperature, volts_by_temperature : array, K and V
        Against temperature, at the build's regen current; NaN where no regen is allowed.
    floor, ceiling : float, K
        Between what pack temperatures charging is allowed.
    """

    today: HeadroomResult
    rest_voltage_now: float
    pack_temperature: float
    current: Floats
    volts_by_current: Floats
    temperature: Floats
    volts_by_temperature: Floats
    floor: float
    ceiling: float


def headroom_answer(build: Build, event_duration: float, batch: Batch | None = None) -> HeadroomAnswer:
    """Charge headroom today, against regen current and against temperature, in one call.

    Parameters
    ----------
    build : Build
        Its regen current and its conditions are today's.
    event_duration : float, s
        How long one event pushes current back.
    batch : Batch, optional
        The build as a batch, where there is one already.

    Returns
    -------
    HeadroomAnswer
    """
    pack, batch = build.pack, batch or Batch.of(build)
    temperature = float(batch["conditions.pack_temperature"][0])
    regen = build.controller.regen_current
    currents = np.linspace(0.0, max(100.0, np.ceil(regen / 25.0) * 50.0), 61)
    temperatures = np.linspace(COLDEST, HOTTEST, 66)
    asked_currents = np.r_[regen, currents, np.full(temperatures.size, regen)]
    asked_temperatures = np.r_[temperature, np.full(currents.size, temperature), temperatures]
    result = needed(build, asked_currents, asked_temperatures, event_duration, batch)
    volts = np.where(result.status > 0, result.volts_below_full, np.nan)
    warm_enough = temperatures[result.binding[1 + currents.size :] != TOO_COLD]
    return HeadroomAnswer(
        today=result.at(0),
        rest_voltage_now=float(rest_voltage(pack.chemistry, pack.cells_in_series, build.conditions.charge)),
        pack_temperature=temperature,
        current=currents,
        volts_by_current=volts[1 : 1 + currents.size],
        temperature=temperatures,
        volts_by_temperature=volts[1 + currents.size :],
        floor=float(warm_enough[0]) if warm_enough.size else HOTTEST,
        ceiling=pack.protection.charge_temperature_maximum,
    )


def charge_event(
    build: Build, current: ArrayLike, temperature: ArrayLike, duration: ArrayLike, batch: Batch | None = None
) -> ChargeEvent:
    """Currents pushed back into a build's pack at some temperatures.

    Parameters
    ----------
    build : Build
        Its pack.
    current, temperature, duration : float or array, A, K and s
        Broadcast together.
    batch : Batch, optional
        The build as a batch, where there is one already.

    Returns
    -------
    ChargeEvent
    """
    pack, own = build.pack, batch or Batch.of(build)
    return ChargeEvent(
        pack.chemistry,
        pack.cells_in_series,
        pack.capacity_ah,
        float(own.small_current_resistance()[0]),
        np.asarray(current, dtype=float),
        np.asarray(temperature, dtype=float),
        np.asarray(duration, dtype=float),
        charge_spread=pack.charge_spread,
        resistance_spread=pack.resistance_spread,
        conduction_growth=float(own.conduction_growth()[0]),
    )


def needed(
    build: Build, current: ArrayLike, temperature: ArrayLike, duration: ArrayLike, batch: Batch | None = None
) -> HeadroomResult:
    """Charge headroom that currents need at some temperatures, under a build's own protection.

    Parameters
    ----------
    build, current, temperature, duration, batch
        As for `charge_event`.

    Returns
    -------
    HeadroomResult
    """
    rules = build.pack.protection
    return headroom(
        charge_event(build, current, temperature, duration, batch),
        overvoltage_threshold=rules.cell_overvoltage,
        charge_temperature_floor=rules.charge_temperature_minimum,
        charge_temperature_ceiling=rules.charge_temperature_maximum,
        charge_now=build.conditions.charge,
    )


def ride_off_distance(answer: HeadroomAnswer, per_metre: float, speed: float) -> tuple[float, float]:
    """Distance, m, and time, s, that ride off what is too much now; NaN where the build does not move.

    Parameters
    ----------
    answer : HeadroomAnswer
        Today's.
    per_metre : float, J/m
        Energy from the cells at that speed.
    speed : float, m/s
        Held steadily.
    """
    if not per_metre > 0 or speed < 0.5:
        return float("nan"), float("nan")
    distance, time = ride_off(float(answer.today.energy_to_ride_off), per_metre, speed)
    return float(distance), float(time)
