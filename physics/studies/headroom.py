"""Charge headroom: how far below full the pack must rest before regenerative braking or wheelie control.

Charging current I raises each cell by I x R over its rest voltage, and the charge an event returns raises that rest
voltage too. The fullest, most resistive cell must stay below its maximum and below the protection's over-voltage
threshold less a margin. Below the chemistry's charge-temperature floor the answer is "no regen".

Cautions: over-charging or charging a cold lithium pack can plate metal, age it and start a fire. The makers'
instructions for cells, pack and protection go first; never raise or defeat a protection to gain regen.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats, Numbers
from physics.components import cell, pack

CELL_MAXIMUM, OVERVOLTAGE, NOTHING = "cell maximum", "protection over-voltage", "nothing"
TOO_COLD, TOO_HOT = "charge temperature floor", "charge temperature ceiling"

MARGIN = 0.02  # V a cell, common practice, no source
_FIXED_POINT_ROUNDS = 40
_LOWEST = 10  # the table row of charge 0.10: an event that ends in a nearly empty cell is not judged


@dataclass(frozen=True, eq=False)
class HeadroomResult:
    """The highest charge from which regen may start, and what it means in volts and energy.

    Every field has the shape of the inputs broadcast together; single values are plain scalars.

    Attributes
    ----------
    status : int
        1 allowed; 2 allowed even from full; 3 allowed, but so cold that the charging current must be reduced;
        -1 too cold; -2 too hot; -3 no charge is low enough for this current.
    highest_charge : float
        Highest charge at which the event may start; 0 where there is none.
    charge_below_full : float
        1 - highest charge.
    highest_rest_voltage : float, V
        Pack rest voltage at that charge.
    volts_below_full : float, V
        Rest voltage at full charge less the highest rest voltage.
    energy_to_ride_off : float, J
        Energy between the charge now and the highest charge, at rest voltage; 0 when already below.
    peak_cell_voltage : float, V
        Voltage of the fullest cell at the end of an event from the highest charge.
    binding : str
        Which limit decides: "cell maximum", "protection over-voltage", "charge temperature floor",
        "charge temperature ceiling", or "nothing".
    caution : bool
        True between the chemistry's floor and the temperature of full charging current (0 and 5 degrees C).
    """

    status: NDArray[np.int_]
    highest_charge: Floats
    charge_below_full: Floats
    highest_rest_voltage: Floats
    volts_below_full: Floats
    energy_to_ride_off: Floats
    peak_cell_voltage: Floats
    binding: NDArray[np.str_]
    caution: NDArray[np.bool_]

    @property
    def allowed(self) -> NDArray[np.bool_]:
        """True where regen is allowed at some charge."""
        return self.status > 0

    @property
    def message(self) -> str:
        """The answer in a sentence; for arrays, how many of the cases allow regen."""
        if np.ndim(self.status):
            return f"{np.count_nonzero(self.allowed)} of {self.status.size} cases allow regen at some charge."
        if self.status == -1:
            return "No regen: the pack is colder than its cells may be charged. Warm it up first."
        if self.status == -2:
            return "No regen: the pack is hotter than its protection lets it charge. Let it cool down first."
        if self.status == -3:
            text = "No regen at this current: even a nearly empty pack would pass the limit."
            return f"{text} Lower the regen current."
        if self.binding == NOTHING:
            text = "Regen may start from a full pack."
        else:
            text = f"Rest at {self.highest_rest_voltage:.1f} V or lower, {self.volts_below_full:.1f} V below full, "
            text += f"before regen: the {self.binding} decides."
        if self.status == 3:
            text += " So cold, the cells take only a reduced charging current: see the maker's figure."
        return text

    def at(self, index: int | tuple[int, ...]) -> HeadroomResult:
        """One of several cases, by its index: a HeadroomResult of plain scalars."""
        return HeadroomResult(*(getattr(self, field.name)[index].item() for field in fields(self)))


@dataclass(frozen=True, eq=False)
class ChargeEvent:
    """Current pushed back into a pack at rest, and the pack that takes it. All fields broadcast.

    Raises `ValueError` when one is missing (NaN), or a count, capacity, resistance or temperature is not above 0.

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
    duration : float or array, s
        How long the current flows.
    energy : float or array, J
        Energy returned; its charge is energy / rest voltage, a little high. NaN: current x duration.
    charge_spread : float or array
        By how much the fullest cell's charge is above the pack's.
    resistance_spread : float or array
        By which fraction its resistance is higher.
    growth : float or array
        Resistance now over resistance when new.
    conduction_growth : float or array
        What the cold does; see `physics.components.cell_resistance`. The default is nmc's typical one.
    """

    chemistry: Any
    cells_in_series: Numbers
    capacity_ah: Numbers
    resistance: Numbers
    current: Numbers
    temperature: Numbers
    duration: Numbers = 10.0
    energy: Numbers = np.nan
    charge_spread: Numbers = 0.02
    resistance_spread: Numbers = 0.10
    growth: Numbers = 1.0
    conduction_growth: Numbers = 1.6

    def __post_init__(self) -> None:
        for name in (field.name for field in fields(self) if field.name not in ("chemistry", "energy")):
            values, words = getattr(self, name), name.removesuffix("_ah").replace("_", " ")
            if np.isnan(values).any():
                raise ValueError(f"Headroom needs a number for the {words}; one is missing.")
            if name in ("cells_in_series", "capacity_ah", "resistance", "temperature") and not np.all(values > 0):
                raise ValueError(f"Headroom needs the {words} above 0; got {np.min(values)}.")

    def broadcast(self, *others: Numbers) -> tuple[ChargeEvent, list[Floats]]:
        """The event with fields of one shape, its chemistry as rows; and the others brought to that shape."""
        own = {field.name: getattr(self, field.name) for field in fields(self)}
        own["chemistry"] = cell.chemistry_rows(self.chemistry)
        arrays = np.broadcast_arrays(*own.values(), *others)
        return replace(self, **dict(zip(own, arrays, strict=False))), list(arrays[len(own) :])

    def returned_charge(self, charge: Numbers) -> Floats:
        """Charge, 0 to 1, that the event returns when it starts from some charge."""
        by_current = np.abs(self.current) * self.duration
        by_energy = self.energy / pack.rest_voltage(self.chemistry, self.cells_in_series, charge)
        return np.where(np.isnan(self.energy), by_current, by_energy) / pack.SECONDS_PER_HOUR / self.capacity_ah

    def cell_rise(self, charge: Numbers) -> Floats:
        """Rise of the most resistive cell's voltage over rest when the event ends at some charge, V.

        The charging table is at half the one-hour current. Larger currents meet less resistance, so this errs high.
        """
        now = pack.resistance_now(
            self.resistance,
            self.chemistry,
            self.temperature,
            charge,
            "charge",
            self.growth,
            self.conduction_growth,
        )
        rise = np.abs(self.current) * pack.pulse_resistance(now, self.chemistry, self.duration)
        return rise * (1.0 + self.resistance_spread) / self.cells_in_series


def fullest_cell_voltage(event: ChargeEvent, charge: Numbers) -> Floats:
    """Voltage of the fullest cell, taken as the most resistive too, at the end of a charging event, V.

    Rest voltage at (charge + spread + returned charge) + rise / series x (1 + spread); above full the rest voltage
    goes on along its last slope.

    Parameters
    ----------
    event : ChargeEvent
        Pack and current.
    charge : float or array
        Charge of the pack when the event starts, 0 to 1.

    Examples
    --------
    >>> round(float(fullest_cell_voltage(ChargeEvent("nmc", 20, 40.0, 0.05, 40.0, 298.15), 0.8)), 3)
    4.197
    """
    rows = cell.chemistry_rows(event.chemistry)
    end = charge + event.charge_spread + event.returned_charge(charge)
    table = cell.chemistry_tables().open_circuit_voltage
    slope = (table[:, -1] - table[:, -2])[rows] * (table.shape[1] - 1)
    rest = cell.open_circuit_voltage(rows, end) + slope * np.maximum(end - 1.0, 0.0)
    return rest + event.cell_rise(end)


def headroom(
    event: ChargeEvent,
    *,
    cell_voltage_limit: Numbers | None = None,
    overvoltage_threshold: Numbers = np.inf,
    margin: Numbers = MARGIN,
    charge_temperature_floor: Numbers = 0.0,
    charge_temperature_ceiling: Numbers = np.inf,
    charge_now: Numbers = 1.0,
) -> HeadroomResult:
    """Highest charge from which a charging event keeps the fullest cell below every limit.

    All inputs broadcast: a column of temperatures against a row of currents is a map in one call.

    Parameters
    ----------
    event : ChargeEvent
        Pack and current.
    cell_voltage_limit : float or array, V, optional
        Cell maximum; None is the chemistry's.
    overvoltage_threshold : float or array, V
        Cell voltage at which the protection opens; inf where there is none.
    margin : float or array, V
        How far below that threshold the cell must stay. Default: common practice, no source.
    charge_temperature_floor : float or array, K
        No charging below; it is raised to the chemistry's own.
    charge_temperature_ceiling : float or array, K
        No charging above: the protection's own limit.
    charge_now : float or array
        Charge from which the energy to ride off is counted.

    Returns
    -------
    HeadroomResult

    Raises
    ------
    ValueError
        When a voltage limit is missing (NaN).

    Notes
    -----
    The answer is the highest charge at and below which the event stays within the limit, down to events that end at
    charge 0.10. Against the charge at the event's end all is a straight line between the tables' rows, so the
    crossing is exact. Memory: about 4 kB a case.

    Examples
    --------
    >>> result = headroom(ChargeEvent("nmc", 20, 40.0, 0.05, 40.0, 298.15))
    >>> result.binding, round(float(result.volts_below_full), 1)
    ('cell maximum', 3.1)
    """
    tables = cell.chemistry_tables()
    maximum = np.nan if cell_voltage_limit is None else cell_voltage_limit
    if np.isnan(overvoltage_threshold).any() or (cell_voltage_limit is not None and np.isnan(maximum).any()):
        raise ValueError("Headroom needs a number for each voltage limit; one is missing.")
    event, others = event.broadcast(
        maximum,
        overvoltage_threshold,
        margin,
        charge_temperature_floor,
        charge_temperature_ceiling,
        charge_now,
    )
    maximum, threshold, margin, floor, ceiling, charge_now = others
    rows = event.chemistry
    if cell_voltage_limit is None:
        maximum = tables.voltage_maximum[rows]
    floor = np.maximum(floor, tables.charge_temperature_floor[rows])
    opening = threshold - margin

    highest = _highest_charge(event, np.minimum(maximum, opening))
    cold, hot, never = event.temperature < floor, event.temperature > ceiling, highest < 0.0
    caution = ~cold & (event.temperature < tables.charge_temperature_full[rows])
    status = np.select([cold, hot, never, caution, highest >= 1.0], [-1, -2, -3, 3, 2], 1)
    highest = np.where(status > 0, highest, 0.0)
    binding = np.select(
        [cold, hot, highest >= 1.0, opening < maximum], [TOO_COLD, TOO_HOT, NOTHING, OVERVOLTAGE], CELL_MAXIMUM
    )
    series = event.cells_in_series
    rest_voltage = pack.rest_voltage(rows, series, highest)
    energy = pack.energy_content(rows, series, event.capacity_ah, np.maximum(charge_now, highest), highest)
    result = HeadroomResult(
        status=status,
        highest_charge=highest,
        charge_below_full=1.0 - highest,
        highest_rest_voltage=rest_voltage,
        volts_below_full=series * tables.voltage_maximum[rows] - rest_voltage,
        energy_to_ride_off=energy,
        peak_cell_voltage=fullest_cell_voltage(event, highest),
        binding=binding,
        caution=caution,
    )
    return result if np.ndim(status) else result.at(())


def _highest_charge(event: ChargeEvent, limit: Floats) -> Floats:
    """Highest starting charge at and below which the event stays within the limit; -1 where there is none.

    The event's fields and the limit have one shape.
    """
    tables, rows = cell.chemistry_tables(), event.chemistry
    step = tables.charge[1]
    ends = tables.charge[_LOWEST:].reshape(-1, *(1,) * limit.ndim)
    rest = np.moveaxis(tables.open_circuit_voltage[rows, _LOWEST:], -1, 0)
    voltage = rest + event.cell_rise(ends)
    passes = voltage > limit
    first = np.where(passes.any(axis=0), np.argmax(passes, axis=0), len(ends))  # first row past the limit

    def at(index: NDArray[np.intp]) -> Floats:
        return np.take_along_axis(voltage, np.clip(index, 0, len(ends) - 1)[None], axis=0)[0]

    beyond = voltage[-1] + rest[-1] - rest[-2]
    before, after = at(first - 1), np.where(first < len(ends), at(first), beyond)
    with np.errstate(divide="ignore", invalid="ignore"):
        end = ends.flat[0] + step * (first - 1 + (limit - before) / (after - before))
    start = np.ones_like(end)
    # an energy's charge depends on the start: it falls to its fixed point, a lower start having a lower voltage
    for _ in range(1 if np.isnan(event.energy).all() else _FIXED_POINT_ROUNDS):
        start = end - event.charge_spread - event.returned_charge(start)
    return np.where((first == 0) | (start < 0.0), -1.0, np.minimum(start, 1.0))


def ride_off(energy: Numbers, consumption_per_metre: Numbers, speed: Numbers) -> tuple[Numbers, Numbers]:
    """Distance, m, and time, s, that use up an energy at steady speed.

    Parameters
    ----------
    energy : float or array, J
        To ride off, at the pack's rest voltage.
    consumption_per_metre : float or array, J/m
        Drawn from the cells at that speed, above 0.
    speed : float or array, m/s
        Above 0.

    Examples
    --------
    >>> ride_off(180e3, 120.0, 15.0)
    (1500.0, 100.0)
    """
    distance = energy / consumption_per_metre
    return distance, distance / speed
