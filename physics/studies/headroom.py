"""Charge headroom: how far below full the pack must rest before regenerative braking or wheelie control.

Charging current I raises each cell by I x R over its rest voltage, and the charge an event returns raises that rest
voltage too. The fullest, most resistive cell must stay below its maximum and below the protection's over-voltage
threshold less a margin, at every instant of every event. Below the chemistry's charge-temperature floor the answer
is "no regen", and no current is answered for that the cells may not be charged with.

Cautions: over-charging or charging a cold lithium pack can plate metal, age it and start a fire. The makers'
instructions for cells, pack and protection go first; never raise or defeat a protection to gain regen.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats, Numbers
from physics.components import cell, pack
from physics.scenarios.charging import ChargeEvent, ChargeSteps

CELL_MAXIMUM, OVERVOLTAGE, NOTHING = "cell maximum", "protection over-voltage", "nothing"
TOO_COLD, TOO_HOT = "charge temperature floor", "charge temperature ceiling"

MARGIN = 0.02  # V a cell, common practice, no source
_LOWEST = 10  # the table row of charge 0.10: events that start with a nearly empty cell are not judged
_ROUNDS = 16
_NEAR = 1e-7  # of charge, below the crossing
_CLOSE = 1e-10  # V from the limit: near enough to end the search


@dataclass(frozen=True, eq=False)
class HeadroomResult:
    """The highest charge from which regen may start, and what it means in volts and energy.

    Every field has the shape of the inputs broadcast together; single values are plain scalars.

    Attributes
    ----------
    status : int
        1 allowed; 2 allowed even from full; 3 allowed with a smaller current than was asked for, for which all
        else holds; -1 too cold; -2 too hot; -3 no charge is low enough for this current.
    current : float, A
        What is set: as asked for, or the most the cells may be charged with.
    highest_charge : float
        Highest charge at which the events may start; 0 where there is none.
    charge_below_full : float
        1 - highest charge.
    highest_rest_voltage : float, V
        Pack rest voltage at that charge.
    volts_below_full : float, V
        Rest voltage at full charge less the highest rest voltage.
    energy_below_full : float, J
        Energy between the highest charge and full, at rest voltage.
    energy_to_ride_off : float, J
        Energy between the charge now and the highest charge; 0 when already below.
    peak_cell_voltage : float, V
        Highest voltage of the fullest cell through events that start at the highest charge.
    binding : str
        Which limit decides: "cell maximum", "protection over-voltage", "charge temperature floor",
        "charge temperature ceiling", or "nothing".
    caution : bool
        True between the chemistry's floor and the temperature of full charging current (0 and 10 degrees C).
    """

    status: NDArray[np.int_]
    current: Floats
    highest_charge: Floats
    charge_below_full: Floats
    highest_rest_voltage: Floats
    volts_below_full: Floats
    energy_below_full: Floats
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
        """The answer in a sentence or two; for arrays, how many of the cases allow regen."""
        if np.ndim(self.status):
            return f"{np.count_nonzero(self.allowed)} of {self.status.size} cases allow regen at some charge."
        if self.status == -1:
            return "No regen: the pack is colder than its cells may be charged. Warm it up first."
        if self.status == -2:
            return "No regen: the pack is hotter than its protection lets it charge. Let it cool down first."
        if self.status == -3:
            text = "No regen at this current: even a nearly empty pack would pass the limit."
            return f"{text} Lower the regen current."
        text = ""
        if self.status == 3:
            text = f"Lower the regen current to {self.current:.1f} A: the cells may be charged with no more. "
        if self.binding == NOTHING:
            return text + "Regen may start from a full pack."
        text += f"Rest at {self.highest_rest_voltage:.1f} V or lower, {self.volts_below_full:.1f} V below full, "
        return text + f"before regen: the {self.binding} decides."

    def at(self, index: int | tuple[int, ...]) -> HeadroomResult:
        """One of several cases, by its index: a HeadroomResult of plain scalars."""
        return HeadroomResult(*(getattr(self, field.name)[index].item() for field in fields(self)))


def headroom(
    event: ChargeEvent,
    *,
    cell_voltage_limit: Numbers | None = None,
    overvoltage_threshold: Numbers = np.inf,
    margin: Numbers = MARGIN,
    charge_temperature_floor: Numbers = 0.0,
    charge_temperature_ceiling: Numbers = np.inf,
    charge_current: Numbers = np.inf,
    charge_now: Numbers = 1.0,
) -> HeadroomResult:
    """Highest charge from which charging events keep the fullest cell below every limit.

    All inputs broadcast: a column of temperatures against a row of currents is a map in one call.

    Parameters
    ----------
    event : ChargeEvent
        Pack, current, and how often in a row.
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
    charge_current : float or array, A
        The most the cells may be charged with; a larger current, its overshoot included, is lowered to it.
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
    The answer is the highest charge at and below which the events stay within the limit, down to a fullest cell
    at charge 0.10; it lies at most 2e-7 of charge below the crossing. Memory: about 4 kB a case.

    Examples
    --------
    >>> result = headroom(ChargeEvent("nmc", 20, 40.0, 0.05, 40.0, 298.15))
    >>> result.binding, round(float(result.volts_below_full), 1)
    ('cell maximum', 2.8)
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
        charge_current,
        charge_now,
    )
    maximum, threshold, margin, floor, ceiling, most, charge_now = others
    most = most / (1.0 + event.overshoot)
    reduced = np.abs(event.current) > most
    event = replace(event, current=np.minimum(np.abs(event.current), most))
    rows = event.chemistry
    if cell_voltage_limit is None:
        maximum = tables.voltage_maximum[rows]
    floor = np.maximum(floor, tables.charge_temperature_floor[rows])
    opening = threshold - margin

    cold, hot = event.temperature < floor, event.temperature > ceiling
    highest = _highest_charge(event, np.minimum(maximum, opening), ~(cold | hot))
    never = highest < 0.0
    status = np.select([cold, hot, never, reduced, highest >= 1.0], [-1, -2, -3, 3, 2], 1)
    highest = np.where(status > 0, highest, 0.0)
    binding = np.select(
        [cold, hot, highest >= 1.0, opening < maximum], [TOO_COLD, TOO_HOT, NOTHING, OVERVOLTAGE], CELL_MAXIMUM
    )
    series, capacity = event.cells_in_series, event.capacity_ah
    rest_voltage = pack.rest_voltage(rows, series, highest)
    starts = np.stack([np.ones_like(highest), np.maximum(charge_now, highest)])
    below_full, to_ride_off = pack.energy_content(rows, series, capacity, starts, highest)
    result = HeadroomResult(
        status=status,
        current=np.asarray(event.current),
        highest_charge=highest,
        charge_below_full=1.0 - highest,
        highest_rest_voltage=rest_voltage,
        volts_below_full=series * tables.voltage_maximum[rows] - rest_voltage,
        energy_below_full=below_full,
        energy_to_ride_off=to_ride_off,
        peak_cell_voltage=event.steps().voltages(highest).max(axis=(0, 1)),
        binding=binding,
        caution=~cold & (event.temperature < tables.charge_temperature_full[rows]),
    )
    return result if np.ndim(status) else result.at(())


def _highest_charge(event: ChargeEvent, limit: Floats, asked: NDArray[np.bool_]) -> Floats:
    """Highest starting charge at and below which the events stay within the limit; -1 where there is none.

    The event's fields, the limit and what is asked for, -1 elsewhere, have one shape. Below a first charge no event
    can pass, by a bound; the crossing above it is bracketed in steps of 0.02 of charge and closed in on.
    """
    shape, limit = np.shape(limit), np.ravel(limit)
    own = [field.name for field in fields(event) if field.name != "events"]
    stepped = event.changed({name: np.ravel(getattr(event, name)) for name in own}).steps()
    low = np.where(np.ravel(asked), _surely_safe(stepped, limit), -1.0)
    high, under, over = np.ones_like(low), np.full_like(low, -1.0), np.full_like(low, -1.0)
    left = np.flatnonzero((low >= 0.0) & (low < 1.0))
    while left.size:
        steps = np.minimum(low[left] + 0.02 * np.arange(4)[:, None], 1.0)
        above = _above(stepped.taken(np.tile(left, 4)), steps.ravel(), np.tile(limit[left], 4)).reshape(steps.shape)
        passes = above[1:] > 0.0
        first, any_passes, column = np.argmax(passes, axis=0), passes.any(axis=0), np.arange(left.size)
        last = np.where(any_passes, first, 3)
        low[left], under[left] = steps[last, column], above[last, column]
        done, at = left[any_passes], (first[any_passes] + 1, column[any_passes])
        high[done], over[done] = steps[at], above[at]
        left = left[~any_passes & (low[left] < 1.0)]
    chosen = np.flatnonzero(over > 0.0)
    if chosen.size:
        low[chosen] = _closed_in(
            stepped.taken(chosen), limit[chosen], low[chosen], high[chosen], under[chosen], over[chosen]
        )
    return low.reshape(shape)


def _above(stepped: ChargeSteps, charge: Floats, limit: Floats) -> Floats:
    """By how much the highest voltage of all events is above the limit, V."""
    return stepped.voltages(charge).max(axis=(0, 1)) - limit


def _closed_in(
    stepped: ChargeSteps, limit: Floats, low: Floats, high: Floats, under: Floats, over: Floats
) -> Floats:
    """A charge just below the crossing between two: regula falsi, the end that stays weighed after N. Anderson and
    A. Bjorck, A new high order method of regula falsi type, BIT 13 (1973) 253-264.
    """
    side, last, rounds = np.zeros(low.shape, dtype=int), False, 0
    while rounds <= _ROUNDS:
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(over > under, -under / (over - under), 0.0)
            at = low + (high - low) * np.clip(share, 0.0, 1.0)
            at = np.maximum(at - _NEAR, low) if last else at
            above = _above(stepped, at, limit)
            fine = above <= 0.0
            weight = 1.0 - above / np.where(fine, under, over)
        weight = np.where(weight > 0.0, weight, 0.5)
        low, high = np.where(fine, at, low), np.where(fine, high, at)
        over, under = (
            np.where(fine, np.where(side == 1, weight, 1.0) * over, above),
            np.where(fine, above, np.where(side == -1, weight, 1.0) * under),
        )
        side = np.where(fine, 1, -1)
        if last:
            break
        rounds += 1
        last = rounds == _ROUNDS or bool(np.abs(above).max() < _CLOSE)
    return low


def _surely_safe(stepped: ChargeSteps, limit: Floats) -> Floats:
    """A starting charge at and below which no event can pass the limit; -1 where there is none.

    No instant's voltage is above rest voltage at the end of the last event + the rise of all events with the
    largest charging factor on the way. Taken at table rows, each for the stretch below it too; where that
    says nothing of the lowest start, the start itself is tried.
    """
    tables, rows = cell.chemistry_tables(), stepped.chemistry
    step, width = tables.charge[1], stepped.returned * stepped.events
    lowest = np.maximum(_LOWEST * step - stepped.spread, 0.0)
    ends = np.arange(_LOWEST + 1, tables.charge.size)[:, None]
    from_row = np.maximum(ends - 1 - np.ceil(width / step).astype(int), 0)
    level = np.log2(ends - from_row + 1).astype(int)
    runs = _largest_runs(tables.charge_resistance_factor)
    factor = np.maximum(runs[level, rows, from_row], runs[level, rows, ends - 2**level + 1])
    bound = tables.open_circuit_voltage[rows, ends] + stepped.longest_rise() * factor
    reached = ends * step > lowest + stepped.spread + width - 1e-9  # one that ends on a row needs its word
    passes = (bound > limit) & reached
    first = np.where(passes.any(axis=0), np.argmax(passes, axis=0), len(ends))
    start = step * (_LOWEST + first) - stepped.spread - width
    unsure = start < lowest
    start = np.clip(start, lowest, 1.0)
    if unsure.any():
        tried = _above(stepped.taken(np.flatnonzero(unsure)), start[unsure], limit[unsure])
        start[unsure] = np.where(tried > 0.0, -1.0, start[unsure])
    return start


def _largest_runs(table: Floats) -> Floats:
    """Largest of 1, 2, 4 ... columns of a table from each column on, shape (lengths, rows, columns)."""
    runs = [table]
    while 2 ** len(runs) <= table.shape[1]:
        before, half = runs[-1], 2 ** (len(runs) - 1)
        shifted = np.concatenate([before[:, half:], np.repeat(before[:, -1:], half, axis=1)], axis=1)
        runs.append(np.maximum(before, shifted))
    return np.stack(runs)


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
