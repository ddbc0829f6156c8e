"""Events of charging in a row, the fullest cell's voltage through them, and what a long descent returns.

The pairs of the cell keep their state from one event to the next, and resistance follows the charge of every
instant. The pack's own heat is left out: it would only lower the resistance.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats, Numbers
from physics.build.batch import Batch
from physics.components import air, cell, cell_resistance, charging, pack, road_load
from physics.components.cell_resistance import (
    HIGHEST_TEMPERATURE,
    LOWEST_TEMPERATURE,
    PULL_RATE,
    TRANSFER_VOLTAGE,
)
from physics.simulation.charge_transfer import Transfer

_SHARED = ("chemistry", "events")
_STEPS = 32


@dataclass(frozen=True, eq=False)
class ChargeEvent:
    """Current pushed back into a pack at rest, once or several times, and the pack that takes it.

    All fields but `events` broadcast. Raises `ValueError` when one is missing (NaN), when a count, capacity,
    resistance, temperature or duration is not above 0, or a pause is below 0.

    Attributes
    ----------
    chemistry : str, int, or array of either
        Chemistry key or row.
    cells_in_series : int or array
        At least 1.
    capacity_ah : float or array, Ah
        Of the pack, 0.1 to 2000.
    resistance : float or array, ohm
        Of the pack: 10 s, 25 degrees C, half charge, discharging, at small current.
    current : float or array, A
        Line current pushed back, by size; its sign is not read.
    temperature : float or array, K
        Of the pack, 200 to 400. The resistance is held outside -30 to 60 degrees C.
    duration, pause : float or array, s
        How long the current flows each time, and how long it rests between.
    charge_spread : float or array
        By how much the fullest cell's charge is above what is taken for the pack's.
    resistance_spread : float or array
        By which fraction its resistance is higher.
    growth : float or array
        Resistance now over resistance when new.
    cold_growth : float or array
        That resistance at 0 degrees C over that at 25.
    overshoot : float or array
        By which fraction the current swings past what is set.
    events : int
        How many times in a row.
    """

    chemistry: Any
    cells_in_series: Numbers
    capacity_ah: Numbers
    resistance: Numbers
    current: Numbers
    temperature: Numbers
    duration: Numbers = 10.0
    pause: Numbers = 10.0
    charge_spread: Numbers = 0.02
    resistance_spread: Numbers = 0.10
    growth: Numbers = 1.0
    cold_growth: Numbers = charging.COLD_GROWTH
    overshoot: Numbers = 0.0
    events: int = 1

    def __post_init__(self) -> None:
        for name in (field.name for field in fields(self) if field.name not in _SHARED):
            values, words = getattr(self, name), name.removesuffix("_ah").replace("_", " ")
            if np.isnan(values).any():
                raise ValueError(f"Headroom needs a number for the {words}; one is missing.")
            least = name in ("cells_in_series", "capacity_ah", "resistance", "temperature", "duration")
            if least and not np.all(values > 0):
                raise ValueError(f"Headroom needs the {words} above 0; got {np.min(values)}.")
        if np.any(np.less(self.pause, 0)) or self.events < 1:
            raise ValueError(f"Headroom needs one event or more and no pause below 0 s; got {self.events} events.")

    def broadcast(self, *others: Numbers) -> tuple[ChargeEvent, list[Floats]]:
        """The event with fields of one shape, its chemistry as rows; and the others brought to that shape."""
        own = {field.name: getattr(self, field.name) for field in fields(self) if field.name != "events"}
        own["chemistry"] = cell.chemistry_rows(self.chemistry)
        arrays = np.broadcast_arrays(*own.values(), *others)
        return self.changed(dict(zip(own, arrays, strict=False))), list(arrays[len(own) :])

    def changed(self, changes: dict[str, Any]) -> ChargeEvent:
        """The event with other values in some fields."""
        return replace(self, **changes)

    def returned_charge(self) -> Floats:
        """Charge, 0 to 1, that one event returns."""
        flowing = np.abs(self.current) * (1.0 + self.overshoot) * self.duration
        return np.asarray(flowing / pack.SECONDS_PER_HOUR / self.capacity_ah)

    def rises(self) -> Floats:
        """Rise of the most resistive cell's voltage at a charge factor of 1, V, shape (1 + pairs, ...).

        At once, over conduction and charge transfer, and settled over each pair. In the cold every part grows as
        the whole resistance does at small current; charge transfer grows less than linearly with current.
        """
        ohmic, transfer, *pairs = pack.resistance_parts(self.resistance * self.growth, self.chemistry)
        warm = charging.safe_temperature_factor(self.temperature, self.cold_growth)
        held = np.clip(self.temperature, LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE)
        current = np.abs(self.current) * (1.0 + self.overshoot)
        scale = TRANSFER_VOLTAGE * held * self.cells_in_series
        over = Transfer(transfer * warm, scale, PULL_RATE * np.asarray(self.capacity_ah)).voltage(current)
        worst = (1.0 + self.resistance_spread) / self.cells_in_series
        return np.array([ohmic * warm * current + over, *(pair * warm * current for pair in pairs)]) * worst

    def steps(self) -> ChargeSteps:
        """All that stepping through the events needs; of an event whose fields have one shape."""
        times = np.reshape(cell.PAIR_TIMES, (-1, *(1,) * np.ndim(self.chemistry)))
        return ChargeSteps(
            np.asarray(self.chemistry),
            np.asarray(self.charge_spread, dtype=float),
            self.returned_charge(),
            self.rises(),
            np.divide(self.duration, times),
            np.divide(self.pause, times),
            self.events,
        )


@dataclass(frozen=True, eq=False)
class ChargeSteps:
    """Events in dimensionless numbers, ready to be stepped through; arrays of one shape (...).

    Attributes
    ----------
    chemistry : array of int
        Rows.
    spread, returned : array
        By how much the fullest cell is ahead in charge, and what one event adds.
    rises : array, shape (1 + pairs, ...), V
        See `ChargeEvent.rises`.
    duration, pause : array, shape (pairs, ...)
        Over each pair's time constant.
    events : int
        How many times in a row.
    """

    chemistry: NDArray[np.intp]
    spread: Floats
    returned: Floats
    rises: Floats
    duration: Floats
    pause: Floats
    events: int

    def taken(self, index: NDArray[np.intp]) -> ChargeSteps:
        """Some of the cases, by their places in one axis."""
        return ChargeSteps(
            self.chemistry[index],
            self.spread[index],
            self.returned[index],
            self.rises[:, index],
            self.duration[:, index],
            self.pause[:, index],
            self.events,
        )

    def longest_rise(self) -> Floats:
        """Rise at the end of the last event, were the charge factor 1 throughout, V."""
        again = self.duration + self.pause
        over = np.where(again > 0, np.expm1(-again), -1.0)  # of no length there is nothing to hold
        held = -np.expm1(-self.duration) * np.expm1(-again * self.events) / over
        return self.rises[0] + (self.rises[1:] * held).sum(axis=0)

    def voltages(self, charge: Floats, steps: int | None = None) -> Floats:
        """Voltage of the fullest cell, V; see `fullest_cell_voltages`."""
        steps = steps or 4 * -(-_STEPS // (4 * self.events))
        passed = np.linspace(0.0, 1.0, steps + 1).reshape(-1, *(1,) * charge.ndim)
        number = np.arange(self.events).reshape(-1, 1, *(1,) * charge.ndim)
        own = charge + self.spread + (number + passed) * self.returned
        factor = cell_resistance.resistance_charge_factor(self.chemistry, own, "charge")
        settled, short = self.rises[1:, None], self.duration[:, None] / steps
        gone, risen = np.exp(-short), -np.expm1(-short)
        late = 1.0 - np.where(short > 0, risen / np.where(short > 0, short, 1.0), 1.0)  # of a change along a line
        early, late = settled * (risen - late), settled * late
        from_empty = np.zeros((steps + 1, len(short), *factor[:, 0].shape))  # volts of pairs, each event for itself
        for step in range(steps):
            then = np.multiply(from_empty[step], gone, out=from_empty[step + 1])
            then += factor[:, step] * early
            then += factor[:, step + 1] * late
        kept, rested = np.exp(-self.duration), np.exp(-self.pause)
        begun = np.zeros((self.events, *kept.shape))  # volts that an event finds
        for last in range(self.events - 1):
            begun[last + 1] = (begun[last] * kept + from_empty[-1, :, last]) * rested
        fading = np.exp(-passed * self.duration[:, None])
        volts = rest_beyond_full(self.chemistry, own) + self.rises[0] * factor
        volts += from_empty.sum(axis=1).swapaxes(0, 1)
        volts += np.einsum("ep...,ps...->es...", begun, fading)
        return volts


def fullest_cell_voltages(event: ChargeEvent, charge: Numbers, steps: int | None = None) -> Floats:
    """Voltage of the fullest cell, taken as the most resistive too, through all events, V.

    Parameters
    ----------
    event : ChargeEvent
        Pack, current, and how often.
    charge : float or array
        Charge of the pack when the first event starts, 0 to 1.
    steps : int, optional
        Of one event; None is 32 steps over all of them, four at least.

    Returns
    -------
    array, shape (events, steps + 1, ...)
        At even instants of each event, its start and its end among them.

    Notes
    -----
    Above full the rest voltage goes on along its last slope. The pairs' voltages are exact for a resistance that
    changes along straight lines between the instants. The table of charging resistance is of half the one-hour
    current, over that of discharging at the one-hour current, where charge transfer meets less: this errs high.

    Examples
    --------
    >>> through = fullest_cell_voltages(ChargeEvent("nmc", 20, 40.0, 0.05, 40.0, 298.15, events=3), 0.8)
    >>> through.shape, through[:, -1].round(3)
    ((3, 13), array([4.187, 4.198, 4.205]))
    """
    event, (charge,) = event.broadcast(charge)
    return event.steps().voltages(charge, steps)


def rest_beyond_full(chemistry: Any, charge: Numbers) -> Floats:
    """Rest voltage of a cell, V; above full it goes on along its last slope.

    Parameters
    ----------
    chemistry : str, int, or array of either
        Chemistry key or row.
    charge : float or array
        From 0 up.
    """
    rows, table = cell.chemistry_rows(chemistry), cell.chemistry_tables().open_circuit_voltage
    slope = (table[:, -1] - table[:, -2])[rows] * (table.shape[1] - 1)
    return cell.open_circuit_voltage(rows, charge) + slope * np.maximum(np.asarray(charge) - 1.0, 0.0)


def descent_power(builds: Batch, slope: Numbers, speed: Numbers) -> Floats:
    """Power that braking at a steady speed on a long descent pushes back into the pack, W.

    What the slope gives beyond drag and rolling resistance, times the driveline's efficiency; motor and controller
    are taken to lose nothing, so this errs high. The wind is that of the conditions.

    Parameters
    ----------
    builds : Batch
        The bikes and their day.
    slope : float or array, shape (n,), rad
        Downhill positive.
    speed : float or array, shape (n,), m/s
        Held by the brake.

    Returns
    -------
    array, shape (n,), W
        0 where the slope does not drive the bike that fast.

    Examples
    --------
    >>> from physics.build import example_build
    >>> descent_power(Batch.of(example_build()), 0.08, 11.0).round(-1)
    array([880.])
    """
    mass = builds["bike.bike_mass"] + builds["bike.rider_mass"]
    density = air.air_density(
        builds["conditions.air_temperature"], builds["conditions.air_pressure"], builds["conditions.humidity"]
    )
    drag, _ = road_load.drag_force(
        road_load.drag_factor(density, builds["bike.drag_area"]), speed + builds["conditions.headwind"]
    )
    load = road_load.normal_load(mass, slope)
    rolling, _ = road_load.rolling_force(
        load * builds["bike.rolling_coefficient"], load * builds["bike.rolling_coefficient_speed_squared"], speed
    )
    force = road_load.slope_force(mass, slope) - drag - rolling
    return np.maximum(force, 0.0) * speed * builds["driveline.efficiency"]
