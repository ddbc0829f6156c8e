"""Charge headroom: how far below full the pack must rest before regenerative braking or wheelie control.

Charging current I raises each cell by I x R over its rest voltage, and the charge an event returns raises that rest
voltage too. The fullest, most resistive cell must stay below its maximum and below the protection's over-voltage
threshold less a margin. Below the chemistry's charge-temperature floor the answer is "no regen".

Cautions: over-charging or charging a cold lithium pack can plate metal, age it and start a fire. The makers'
instructions for cells, pack and protection go first; never raise or defeat a protection to gain regen.
"""

from dataclasses import dataclass, fields

import numpy as np
from scipy.optimize import elementwise

from physics.components import cell, pack

CELL_MAXIMUM, OVERVOLTAGE, NOTHING = "cell maximum", "protection over-voltage", "nothing"
TOO_COLD, TOO_HOT = "charge temperature floor", "charge temperature ceiling"

MARGIN = 0.02  # V a cell, common practice, no source
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

    status: np.ndarray
    highest_charge: np.ndarray
    charge_below_full: np.ndarray
    highest_rest_voltage: np.ndarray
    volts_below_full: np.ndarray
    energy_to_ride_off: np.ndarray
    peak_cell_voltage: np.ndarray
    binding: np.ndarray
    caution: np.ndarray

    @property
    def allowed(self):
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

    def at(self, place) -> "HeadroomResult":
        """One of several cases, by its place (int or tuple of int): a HeadroomResult of plain scalars."""
        return HeadroomResult(*(getattr(self, field.name)[place].item() for field in fields(self)))


def charge_voltage_rise(chemistry_key, resistance, current, temperature, charge, duration=10.0, growth=1.0):
    """Rise of the pack's voltage over rest while charging, V: |I| x R(temperature, charge, charging, time).

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    resistance : float or array, ohm
        Of the pack: 10 s, 25 degrees C, half charge, discharging.
    current : float or array, A
        Charging current, by size; its sign is not read.
    temperature : float or array, K
        Of the pack. The resistance is held outside -30 to 60 degrees C.
    charge : float or array
        Charge, 0 to 1; clamped.
    duration : float or array, s
        How long the current has flowed, at least 0.
    growth : float or array
        Resistance now over resistance when new.

    Notes
    -----
    The charging table is at half the one-hour current. Larger currents meet less resistance, so this errs high.

    Examples
    --------
    >>> round(float(charge_voltage_rise("nmc", 0.05, 40.0, 298.15, 0.9)), 2)
    2.49
    """
    now = pack.resistance_now(resistance, chemistry_key, temperature, charge, "charge", growth)
    return np.abs(current) * pack.pulse_resistance(now, chemistry_key, duration)


def fullest_cell_voltage(
    chemistry_key, cells_in_series, capacity_ah, resistance, regen_current, temperature, charge,
    event_duration=10.0, event_energy=None, charge_spread=0.02, resistance_spread=0.10, growth=1.0,
):  # fmt: skip
    """Voltage of the fullest cell, taken as the most resistive too, at the end of a charging event, V.

    Rest voltage at (charge + spread + returned charge) + rise / series x (1 + spread); above full the rest voltage
    goes on along its last slope.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    cells_in_series : int or array
        At least 1.
    capacity_ah : float or array, Ah
        Of the pack, above 0.
    resistance : float or array, ohm
        Of the pack: 10 s, 25 degrees C, half charge, discharging.
    regen_current : float or array, A
        Line current pushed back, by size.
    temperature : float or array, K
        Of the pack.
    charge : float or array
        Charge of the pack when the event starts, 0 to 1.
    event_duration : float or array, s
        How long the current flows.
    event_energy : float or array, J, optional
        Energy returned; its charge is energy / rest voltage, a little high. None: current x duration.
    charge_spread : float or array
        By how much the fullest cell's charge is above the pack's.
    resistance_spread : float or array
        By which fraction its resistance is higher.
    growth : float or array
        Resistance now over resistance when new.

    Examples
    --------
    >>> round(float(fullest_cell_voltage("nmc", 20, 40.0, 0.05, 40.0, 298.15, 0.8)), 3)
    4.197
    """
    rows = cell.chemistry_rows(chemistry_key)
    if event_energy is None:
        returned = np.abs(regen_current) * np.asarray(event_duration) / 3600.0 / capacity_ah
    else:
        returned = event_energy / pack.rest_voltage(rows, cells_in_series, charge) / 3600.0 / capacity_ah
    end = charge + np.asarray(charge_spread) + returned
    table = cell.chemistry_tables().open_circuit_voltage
    slope = (table[:, -1] - table[:, -2])[rows] * (table.shape[1] - 1)
    rest = cell.open_circuit_voltage(rows, end) + slope * np.maximum(end - 1.0, 0.0)
    rise = charge_voltage_rise(rows, resistance, regen_current, temperature, end, event_duration, growth)
    return rest + rise * (1.0 + np.asarray(resistance_spread)) / cells_in_series


def headroom(
    chemistry_key, cells_in_series, capacity_ah, resistance, regen_current, temperature, *,
    event_duration=10.0, event_energy=None, charge_spread=0.02, resistance_spread=0.10, growth=1.0,
    cell_voltage_limit=None, overvoltage_threshold=np.inf, margin=MARGIN,
    charge_temperature_floor=None, charge_temperature_ceiling=np.inf, charge_now=1.0,
):  # fmt: skip
    """Highest charge from which a charging event keeps the fullest cell below every limit.

    All inputs broadcast: a column of temperatures against a row of currents is a map in one call.

    Parameters
    ----------
    chemistry_key, cells_in_series, capacity_ah, resistance, regen_current, temperature
        As in `fullest_cell_voltage`; capacity 0.1 to 2000 Ah, temperature 200 to 400 K.
    event_duration, event_energy, charge_spread, resistance_spread, growth
        As in `fullest_cell_voltage`.
    cell_voltage_limit : float or array, V, optional
        Cell maximum; None is the chemistry's.
    overvoltage_threshold : float or array, V
        Cell voltage at which the protection opens; inf where there is none.
    margin : float or array, V
        How far below that threshold the cell must stay. Default: common practice, no source.
    charge_temperature_floor : float or array, K, optional
        No charging below; None is the chemistry's, and a lower one is raised to it.
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
        When an input is missing (NaN), or a count, capacity or resistance is not above 0.

    Notes
    -----
    The answer is the highest charge at and below which the event stays within the limit, down to events that end at
    charge 0.10. Against the charge at the event's end all is a straight line between the tables' rows, so the
    crossing is exact. Memory: about 4 kB a case.

    Examples
    --------
    >>> result = headroom("nmc", 20, 40.0, 0.05, 40.0, 298.15)
    >>> result.binding, round(float(result.volts_below_full), 1)
    ('cell maximum', 3.1)
    """
    rows = cell.chemistry_rows(chemistry_key)
    tables = cell.chemistry_tables()
    maximum = tables.voltage_maximum[rows] if cell_voltage_limit is None else cell_voltage_limit
    floor = tables.charge_temperature_floor[rows]
    if charge_temperature_floor is not None:
        floor = np.maximum(floor, charge_temperature_floor)
    energy = np.nan if event_energy is None else event_energy
    given = np.broadcast_arrays(
        rows, cells_in_series, capacity_ah, resistance, regen_current, temperature, event_duration, energy,
        charge_spread, resistance_spread, growth, maximum, overvoltage_threshold, margin, floor,
        charge_temperature_ceiling, charge_now,
    )  # fmt: skip
    shape = given[0].shape
    rows, series, capacity, resistance, current, temperature, duration, energy, *rest = (a.ravel() for a in given)
    charge_spread, resistance_spread, growth, maximum, threshold, margin, floor, ceiling, charge_now = rest
    _check(series, capacity, resistance, current, temperature, duration, maximum, threshold, charge_spread)
    opening = threshold - margin
    limit = np.minimum(maximum, opening)

    highest = _highest_charge(
        rows, series, capacity, resistance, current, temperature, duration, energy, charge_spread,
        resistance_spread, growth, limit,
    )  # fmt: skip
    cold, hot, never = temperature < floor, temperature > ceiling, highest < 0.0
    caution = ~cold & (temperature < tables.charge_temperature_full[rows])
    status = np.select([cold, hot, never, caution, highest >= 1.0], [-1, -2, -3, 3, 2], 1)
    highest = np.where(status > 0, highest, 0.0)
    binding = np.select(
        [cold, hot, highest >= 1.0, opening < maximum], [TOO_COLD, TOO_HOT, NOTHING, OVERVOLTAGE], CELL_MAXIMUM
    )
    rest_voltage = pack.rest_voltage(rows, series, highest)
    below = series * tables.voltage_maximum[rows] - rest_voltage
    ride_off_energy = pack.energy_content(rows, series, capacity, np.maximum(charge_now, highest), highest)
    peak = fullest_cell_voltage(
        rows, series, capacity, resistance, current, temperature, highest, duration,
        None if event_energy is None else energy, charge_spread, resistance_spread, growth,
    )  # fmt: skip
    found = (status, highest, 1.0 - highest, rest_voltage, below, ride_off_energy, peak, binding, caution)
    result = HeadroomResult(*(values.reshape(shape) for values in found))
    return result if shape else result.at(())


def _highest_charge(
    rows, series, capacity, resistance, current, temperature, duration, energy, charge_spread, resistance_spread,
    growth, limit,
):  # fmt: skip
    """Highest starting charge at and below which the event stays within the limit; -1 where there is none.

    Flat arrays of one length; `energy` NaN for current x duration.
    """
    tables = cell.chemistry_tables()
    step = tables.charge[1]
    ends = tables.charge[_LOWEST:, None]
    rise = charge_voltage_rise(rows, resistance, current, temperature, ends, duration, growth)
    voltage = tables.open_circuit_voltage[rows, _LOWEST:].T + rise * (1.0 + resistance_spread) / series
    passes = voltage > limit
    place = np.where(passes.any(axis=0), np.argmax(passes, axis=0), len(ends))  # first row past the limit
    cases = np.arange(rows.size)
    before = voltage[np.maximum(place - 1, 0), cases]
    beyond = voltage[-1] + tables.open_circuit_voltage[rows, -1] - tables.open_circuit_voltage[rows, -2]
    after = np.where(place < len(ends), voltage[np.minimum(place, len(ends) - 1), cases], beyond)
    with np.errstate(divide="ignore", invalid="ignore"):
        end = ends[0, 0] + step * (place - 1 + (limit - before) / (after - before))
    start = end - charge_spread - np.abs(current) * duration / 3600.0 / capacity
    for _ in range(0 if np.isnan(energy).all() else 40):  # falls to its fixed point: a lower start, a lower voltage
        returned = energy / pack.rest_voltage(rows, series, start) / 3600.0 / capacity
        start = np.where(np.isnan(energy), start, end - charge_spread - returned)
    return np.where((place == 0) | (start < 0.0), -1.0, np.minimum(start, 1.0))


def _check(series, capacity, resistance, current, temperature, duration, maximum, threshold, charge_spread):
    named = {
        "cells in series": series, "capacity": capacity, "resistance": resistance, "regen current": current,
        "temperature": temperature, "event duration": duration, "cell voltage limit": maximum,
        "over-voltage threshold": threshold, "charge spread": charge_spread,
    }  # fmt: skip
    for name, values in named.items():
        if np.isnan(values).any():
            raise ValueError(f"Headroom needs a number for the {name}; one is missing.")
    for name in ("cells in series", "capacity", "resistance", "temperature"):
        if not (named[name] > 0).all():
            raise ValueError(f"Headroom needs the {name} above 0; got {named[name].min()}.")


def largest_regen_current(
    chemistry_key, cells_in_series, capacity_ah, resistance, temperature, charge, *,
    event_duration=10.0, charge_spread=0.02, resistance_spread=0.10, growth=1.0,
    cell_voltage_limit=None, overvoltage_threshold=np.inf, margin=MARGIN, largest=500.0,
):  # fmt: skip
    """Largest line current that may be pushed back from this charge, A: the same question turned round.

    Parameters
    ----------
    chemistry_key, cells_in_series, capacity_ah, resistance, temperature, charge
        As in `fullest_cell_voltage`.
    event_duration, charge_spread, resistance_spread, growth
        As in `fullest_cell_voltage`; the charge returned is current x duration.
    cell_voltage_limit, overvoltage_threshold, margin
        As in `headroom`.
    largest : float, A
        The answer is never above this.

    Returns
    -------
    float or array, A
        0 below the chemistry's charge-temperature floor, and where the fullest cell already rests at the limit.

    Examples
    --------
    >>> round(float(largest_regen_current("nmc", 20, 40.0, 0.05, 298.15, 0.9)))
    27
    """
    rows = cell.chemistry_rows(chemistry_key)
    tables = cell.chemistry_tables()
    maximum = tables.voltage_maximum[rows] if cell_voltage_limit is None else cell_voltage_limit
    limit = np.minimum(maximum, overvoltage_threshold - np.asarray(margin))
    given = np.broadcast_arrays(
        rows, cells_in_series, capacity_ah, resistance, temperature, charge, event_duration, charge_spread,
        resistance_spread, growth, limit,
    )  # fmt: skip
    shape = given[0].shape
    rows, series, capacity, resistance, temperature, charge, *others, limit = (a.ravel() for a in given)

    def spare(current, case):
        i = case.astype(int)
        duration, spread, more, aged = (a[i] for a in others)
        highest = _highest_charge(
            rows[i], series[i], capacity[i], resistance[i], current, temperature[i], duration,
            np.full(i.shape, np.nan), spread, more, aged, limit[i],
        )  # fmt: skip
        return highest - charge[i]

    cases = np.arange(rows.size)
    none = (temperature < tables.charge_temperature_floor[rows]) | (spare(np.zeros(rows.size), cases) < 0.0)
    every = ~none & (spare(np.full(rows.size, largest), cases) >= 0.0)
    found = np.where(every, largest, 0.0)
    some = cases[~none & ~every]
    if some.size:
        root = elementwise.find_root(spare, (0.0, largest), args=(some,), tolerances={"xatol": 1e-9})
        found[some] = np.where(root.f_x >= 0.0, root.x, root.bracket[0])  # the side that fits
    return found.reshape(shape)[()]


def ride_off(energy, consumption_per_metre, speed):
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
