"""The battery pack: rest voltage, resistance, power, energy, and typical values of what the rider does not know.

Discharge current is positive. `resistance` of a pack is its 10-second value at 25 degrees C and half charge (see
`physics.components.cell_resistance`); `resistance_now` brings it to today's temperature, charge and direction.
Packs above 60 V DC can kill and lithium packs can burn: the maker's instructions and licensed practice go first.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats, Numbers
from physics.components import cell, cell_resistance
from physics.components.cell import ChemistryKeys

SECONDS_PER_HOUR = 3600.0
PACK_DENSITY = 2000.0  # kg/m3 of a closed pack, from memory
# Still air, W/(m2 K): the value in the set of Chen et al., J. Electrochem. Soc. 167 (2020) 080534.
SURFACE_HEAT_TRANSFER = 10.0
CELL_MASS_FRACTION = 0.75  # cells over whole pack by mass, common practice, no source


def rest_voltage(chemistry_key: ChemistryKeys, cells_in_series: Numbers, charge: Numbers) -> Floats:
    """Rest voltage of the pack, V: cells in series x open-circuit voltage.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    cells_in_series : int or array
        At least 1.
    charge : float or array
        Charge, 0 to 1; clamped.

    Examples
    --------
    >>> round(float(rest_voltage("nmc", 20, 1.0)), 3)
    84.0
    """
    return cells_in_series * cell.open_circuit_voltage(chemistry_key, charge)


def charge_from_rest_voltage(chemistry_key: ChemistryKeys, cells_in_series: Numbers, voltage: Numbers) -> Floats:
    """Charge from the pack's rest voltage: inverse of `rest_voltage`, clamped to 0 and 1.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    cells_in_series : int or array
        At least 1.
    voltage : float or array, V
        Pack voltage, settled and without load.

    Returns
    -------
    float or array
        Charge, 0 to 1.

    Examples
    --------
    >>> float(charge_from_rest_voltage("nmc", 20, 84.0))
    1.0
    """
    return cell.charge_from_open_circuit_voltage(chemistry_key, voltage / np.asarray(cells_in_series))


def resistance_now(
    resistance: Numbers,
    chemistry_key: ChemistryKeys,
    temperature: Numbers,
    charge: Numbers,
    direction: str = "discharge",
    growth: Numbers = 1.0,
    conduction_growth: Numbers = 1.0,
) -> Floats:
    """Ten-second resistance at small current and this temperature, charge and direction, ohm.

    Equation (1) of `cell_resistance` without current: at more current the sag is less than this times current.

    Parameters
    ----------
    resistance : float or array, ohm
        Ten-second value at small current, 25 degrees C and half charge.
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    temperature : float or array, K
        Cell temperature; the factor is held outside -30 to 60 degrees C.
    charge : float or array
        Charge, 0 to 1; clamped.
    direction : str
        "discharge" or "charge".
    growth : float or array
        Resistance now over resistance when new (ageing).
    conduction_growth : float or array
        See `cell_resistance.conduction_growth`.

    Examples
    --------
    >>> round(float(resistance_now(0.05, "nmc", 273.15, 0.5, conduction_growth=1.5)), 4)
    0.0963
    """
    rows = cell.chemistry_rows(chemistry_key)
    factor = small_current_growth(
        rows, cell_resistance.resistance_temperature_factor(temperature, conduction_growth)
    )
    return resistance * growth * factor * cell_resistance.resistance_charge_factor(rows, charge, direction)


def small_current_growth(chemistry_key: ChemistryKeys, conduction_growth: Numbers) -> Floats:
    """What makes conduction and diffusion grow so much makes the whole resistance at small current grow.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    conduction_growth : float or array
        See `cell_resistance.conduction_growth`; charge transfer grows by its square.

    Returns
    -------
    float or array

    Examples
    --------
    >>> round(float(small_current_growth("nmc", 1.5)), 3)
    1.927
    """
    transfer = cell.chemistry_tables().transfer_fraction[cell.chemistry_rows(chemistry_key)]
    return conduction_growth * (1.0 - transfer + transfer * np.asarray(conduction_growth))


def resistance_parts(resistance: Numbers, chemistry_key: ChemistryKeys) -> tuple[Floats, ...]:
    """Split a 10 s resistance at small current: (ohmic, charge transfer, pair 1, pair 2, pair 3), pairs settled.

    ohmic + charge transfer + sum of pair (1 - exp(-10 / its time constant)) = resistance, exactly.

    Parameters
    ----------
    resistance : float or array, ohm
        Ten-second resistance at small current and reference.
    chemistry_key : str, int, or array of either
        Chemistry key or row; it sets the fractions.

    Returns
    -------
    tuple of float or array, ohm
        The time constants of the pairs are `cell.PAIR_TIMES`.

    Examples
    --------
    >>> [round(float(part), 4) for part in resistance_parts(1.0, "nmc")]
    [0.2433, 0.569, 0.061, 0.342, 0.299]
    """
    tables, rows = cell.chemistry_tables(), cell.chemistry_rows(chemistry_key)
    names = ("ohmic", "transfer", "pair_1", "pair_2", "pair_3")
    return tuple(getattr(tables, f"{name}_fraction")[rows] * resistance for name in names)


def pulse_resistance(resistance: Numbers, chemistry_key: ChemistryKeys, time: Numbers) -> Floats:
    """Resistance seen `time` seconds into a small constant current from rest, ohm.

    Parameters
    ----------
    resistance : float or array, ohm
        Ten-second resistance at small current.
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    time : float or array, s
        At least 0. Fitted over 1 to 300 s; a later value tends to the settled one.

    Examples
    --------
    >>> round(float(pulse_resistance(0.05, "nmc", 10.0)), 6)
    0.05
    """
    ohmic, transfer, *pairs = resistance_parts(resistance, chemistry_key)
    time = np.asarray(time)
    return (
        ohmic
        + transfer
        + sum(pair * -np.expm1(-time / constant) for pair, constant in zip(pairs, cell.PAIR_TIMES, strict=True))
    )


def pair_step(
    pair_voltage: Numbers, current: Numbers, pair_resistance: Numbers, time_constant: Numbers, duration: Numbers
) -> Floats:
    """Voltage over a resistor-capacitor pair after `duration` at constant current, V: the exact solution.

    v exp(-t/T) + I R (1 - exp(-t/T)).

    Parameters
    ----------
    pair_voltage : float or array, V
        At the start of the step.
    current : float or array, A
        Held through the step; discharge positive.
    pair_resistance : float or array, ohm
        Of the pair.
    time_constant : float or array, s
        Above 0.
    duration : float or array, s
        At least 0, of any length.

    Examples
    --------
    >>> round(float(pair_step(0.0, 100.0, 0.01, 5.0, 5.0)), 5)
    0.63212
    """
    risen = -np.expm1(-np.asarray(duration) / time_constant)
    return pair_voltage + (current * pair_resistance - pair_voltage) * risen


def pair_heat(
    pair_voltage: Numbers, current: Numbers, pair_resistance: Numbers, time_constant: Numbers, duration: Numbers
) -> Floats:
    """Heat of a resistor-capacitor pair over `duration` at constant current, J: the exact integral of v² / R.

    With s = I R and d = v - s at the start: (s² t + 2 s d T (1 - e) + d² T (1 - e²) / 2) / R, e = exp(-t/T).

    Parameters
    ----------
    pair_voltage, current, pair_resistance, time_constant, duration : float or array
        As in `pair_step`; the resistance above 0.

    Examples
    --------
    >>> round(float(pair_heat(1.0, 0.0, 0.01, 180.0, 1e6)), 6) == 0.5 * 180.0 / 0.01
    True
    """
    settled = np.asarray(current * np.asarray(pair_resistance))
    away, ratio = pair_voltage - settled, np.asarray(duration) / time_constant
    risen, twice = -np.expm1(-ratio), -np.expm1(-2.0 * ratio)
    held = np.square(settled) * duration + 2.0 * settled * away * time_constant * risen
    return (held + 0.5 * np.square(away) * time_constant * twice) / pair_resistance


def current_for_power(rest_voltage: Numbers, resistance: Numbers, power: Numbers) -> Floats:
    """Current at which the pack gives that power, A: the smaller root of P = (V0 - I R) I; NaN beyond its peak.

    Parameters
    ----------
    rest_voltage : float or array, V
        V0, above 0.
    resistance : float or array, ohm
        At least 0.
    power : float or array, W
        At the terminals; negative while charging.

    Examples
    --------
    >>> round(float(current_for_power(80.0, 0.1, 12000.0)), 6)
    200.0
    """
    root = np.square(rest_voltage) - 4.0 * np.asarray(resistance) * power
    with np.errstate(invalid="ignore"):
        return 2.0 * np.asarray(power) / (rest_voltage + np.sqrt(root))


def energy_content(
    chemistry_key: ChemistryKeys,
    cells_in_series: Numbers,
    capacity_ah: Numbers,
    charge: Numbers = 1.0,
    lowest_charge: Numbers = 0.0,
) -> Floats:
    """Energy between two charges at rest voltage, J: integral of rest voltage x capacity, exact for the table.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    cells_in_series : int or array
        At least 1.
    capacity_ah : float or array, Ah
        Of the pack.
    charge, lowest_charge : float or array
        From and to, 0 to 1. Negative when the first is the lower. What reaches the terminals is less, by the heat.

    Examples
    --------
    >>> round(float(energy_content("nmc", 20, 5.0)) / 3600)  # watt-hours
    372
    """
    rows = cell.chemistry_rows(chemistry_key)
    integral = _voltage_integral(rows, charge)
    if np.any(lowest_charge):
        integral = integral - _voltage_integral(rows, lowest_charge)
    return integral * cells_in_series * capacity_ah * SECONDS_PER_HOUR


def _voltage_integral(rows: NDArray[np.intp], charge: Numbers) -> Floats:
    """Integral of the straight-line open-circuit voltage from charge 0, V."""
    table = cell.chemistry_tables().open_circuit_voltage
    steps = table.shape[1] - 1
    position = np.minimum(np.maximum(charge, 0.0), 1.0) * steps
    node = np.fmax(np.fmin(position, steps - 1), 0).astype(np.intp)
    part, start, end = position - node, table[rows, node], table[rows, node + 1]
    before = table.cumsum(axis=1)[rows, node] - 0.5 * (table[rows, 0] + start)  # trapezoids up to the node
    return (before + part * (start + 0.5 * part * (end - start))) / steps


def typical_cell_mass(
    cells_in_series: Numbers, capacity_ah: Numbers, chemistry_key: ChemistryKeys = "nmc"
) -> Floats:
    """Mass of the pack's cells, kg: energy content / typical specific energy of the chemistry.

    Parameters
    ----------
    cells_in_series : int or array
        At least 1.
    capacity_ah : float or array, Ah
        Of the pack.
    chemistry_key : str, int, or array of either
        Chemistry key or row. Specific energies: common practice, no source.

    Examples
    --------
    >>> round(float(typical_cell_mass(20, 40.0)), 1)
    14.2
    """
    tables, rows = cell.chemistry_tables(), cell.chemistry_rows(chemistry_key)
    watt_hours = energy_content(rows, cells_in_series, capacity_ah) / SECONDS_PER_HOUR
    return watt_hours / tables.specific_energy[rows]


def typical_heat_capacity(
    cells_in_series: Numbers, capacity_ah: Numbers, chemistry_key: ChemistryKeys = "nmc"
) -> Floats:
    """Heat capacity of the pack's cells, J/K: cell mass x specific heat.

    Parameters
    ----------
    cells_in_series : int or array
        At least 1.
    capacity_ah : float or array, Ah
        Of the pack.
    chemistry_key : str, int, or array of either
        Chemistry key or row. Specific heats: second-hand, see physics/components/data/cell_constants.csv.

    Examples
    --------
    >>> round(float(typical_heat_capacity(20, 40.0)), -2)
    14700.0
    """
    rows = cell.chemistry_rows(chemistry_key)
    specific_heat = cell.chemistry_tables().specific_heat[rows]
    return typical_cell_mass(cells_in_series, capacity_ah, rows) * specific_heat


def typical_thermal_conductance(
    cells_in_series: Numbers, capacity_ah: Numbers, chemistry_key: ChemistryKeys = "nmc"
) -> Floats:
    """Heat path from the cells to the air, W/K: still air over the surface of a cube of the pack's volume.

    Parameters
    ----------
    cells_in_series : int or array
        At least 1.
    capacity_ah : float or array, Ah
        Of the pack.
    chemistry_key : str, int, or array of either
        Chemistry key or row. Pack density and the cells' fraction of its mass: from memory. Wind may double the
        value; insulation may halve it.

    Examples
    --------
    >>> round(float(typical_thermal_conductance(20, 40.0)), 1)
    2.7
    """
    mass = typical_cell_mass(cells_in_series, capacity_ah, chemistry_key) / CELL_MASS_FRACTION
    return SURFACE_HEAT_TRANSFER * 6.0 * np.power(mass / PACK_DENSITY, 2.0 / 3.0)
