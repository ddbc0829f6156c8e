"""The battery pack: cells in series and parallel, rest voltage, sag, the weakest cell, heat and typical values.

Discharge current is positive. `resistance` of a pack is its 10-second value at 25 degrees C and half charge (see
`physics.components.cell`); `resistance_now` brings it to the temperature, charge and direction of the moment.
Packs above 60 V DC can kill and lithium packs can burn: the maker's instructions and licensed practice go first.
"""

import numpy as np

from physics.components import cell
from physics.components.pack_typical import (
    energy_content,
    typical_cell_mass,
    typical_heat_capacity,
    typical_thermal_conductance,
)

__all__ = [
    "charge_from_rest_voltage",
    "current_for_power",
    "energy_content",
    "joule_heat",
    "pack_capacity",
    "pack_resistance",
    "pair_step",
    "peak_power",
    "pulse_resistance",
    "resistance_now",
    "resistance_parts",
    "rest_voltage",
    "sag",
    "terminal_voltage",
    "typical_cell_mass",
    "typical_heat_capacity",
    "typical_thermal_conductance",
    "weakest_cell_voltage",
]


def pack_capacity(cell_capacity_ah, cells_in_parallel):
    """Pack capacity, Ah: cell capacity x cells in parallel.

    Parameters
    ----------
    cell_capacity_ah : float or array, Ah
        Of one cell.
    cells_in_parallel : int or array
        At least 1.

    Examples
    --------
    >>> pack_capacity(5.0, 4)
    20.0
    """
    return cell_capacity_ah * cells_in_parallel


def pack_resistance(cell_resistance, cells_in_series, cells_in_parallel=1, wiring_resistance=0.0):
    """Pack resistance, ohm: cell resistance x series / parallel, and the wiring.

    Parameters
    ----------
    cell_resistance : float or array, ohm
        Of one cell, 10 s, 25 degrees C, half charge.
    cells_in_series, cells_in_parallel : int or array
        At least 1.
    wiring_resistance : float or array, ohm
        Links, cables, connectors and fuse.

    Examples
    --------
    >>> round(pack_resistance(0.016, 20, 8), 4)
    0.04
    """
    return cell_resistance * cells_in_series / cells_in_parallel + wiring_resistance


def rest_voltage(chemistry_key, cells_in_series, charge):
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


def charge_from_rest_voltage(chemistry_key, cells_in_series, voltage):
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


def resistance_now(resistance, chemistry_key, temperature, charge, direction="discharge", growth=1.0):
    """Ten-second resistance at this temperature, charge and direction, ohm.

    resistance x growth x Arrhenius factor x charge factor.

    Parameters
    ----------
    resistance : float or array, ohm
        Ten-second value at 25 degrees C and half charge.
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

    Examples
    --------
    >>> round(float(resistance_now(0.05, "nmc", 273.15, 0.5)), 4)
    0.0961
    """
    rows = cell.chemistry_rows(chemistry_key)
    energy = cell.chemistry_tables().activation_energy[rows]
    factor = cell.resistance_temperature_factor(temperature, energy)
    return resistance * growth * factor * cell.resistance_charge_factor(rows, charge, direction)


def sag(resistance, current):
    """Sag, V: rest voltage minus loaded voltage, current x resistance; negative while charging.

    Parameters
    ----------
    resistance : float or array, ohm
        Of the moment.
    current : float or array, A
        Discharge positive.

    Examples
    --------
    >>> sag(0.05, 200.0)
    10.0
    """
    return current * resistance


def terminal_voltage(rest_voltage, resistance, current):
    """Loaded voltage, V: rest voltage - current x resistance.

    Parameters
    ----------
    rest_voltage : float or array, V
        Settled, without load.
    resistance : float or array, ohm
        Of the moment.
    current : float or array, A
        Discharge positive.

    Examples
    --------
    >>> terminal_voltage(84.0, 0.05, 200.0)
    74.0
    """
    return rest_voltage - current * resistance


def resistance_parts(resistance, chemistry_key):
    """Split a 10 s resistance: (ohmic, pair 1, pair 2), ohm, the pairs at their settled value.

    ohmic + pair 1 (1 - exp(-10/t1)) + pair 2 (1 - exp(-10/t2)) = resistance, exactly.

    Parameters
    ----------
    resistance : float or array, ohm
        Ten-second resistance, of the moment or at reference.
    chemistry_key : str, int, or array of either
        Chemistry key or row; it sets the shares and the time constants.

    Returns
    -------
    tuple of float or array, ohm
        Ohmic part, pair 1, pair 2.

    Examples
    --------
    >>> [round(float(part), 4) for part in resistance_parts(1.0, "nmc")]
    [0.853, 0.1765, 0.4272]
    """
    tables, rows = cell.chemistry_tables(), cell.chemistry_rows(chemistry_key)
    shares = (tables.ohmic_share, tables.pair_1_share, tables.pair_2_share)
    return tuple(share[rows] * resistance for share in shares)


def pulse_resistance(resistance, chemistry_key, time):
    """Resistance seen `time` seconds into a constant current from rest, ohm.

    R0 + R1 (1 - exp(-t/t1)) + R2 (1 - exp(-t/t2)); equals `resistance` at 10 s.

    Parameters
    ----------
    resistance : float or array, ohm
        Ten-second resistance.
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    time : float or array, s
        At least 0. Fitted over 0 to 180 s; a later value tends to the settled one.

    Examples
    --------
    >>> round(float(pulse_resistance(0.05, "nmc", 10.0)), 6)
    0.05
    """
    tables, rows = cell.chemistry_tables(), cell.chemistry_rows(chemistry_key)
    ohmic, pair_1, pair_2 = resistance_parts(resistance, rows)
    risen_1 = -np.expm1(-np.asarray(time) / tables.pair_1_time[rows])
    risen_2 = -np.expm1(-np.asarray(time) / tables.pair_2_time[rows])
    return ohmic + pair_1 * risen_1 + pair_2 * risen_2


def pair_step(pair_voltage, current, pair_resistance, time_constant, duration):
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


def weakest_cell_voltage(
    chemistry_key, cells_in_series, charge, resistance, current, charge_spread=0.02, resistance_spread=0.10
):
    """Loaded voltage of the cell that cuts out first, V.

    Open-circuit voltage at (charge - charge spread) - current x resistance / series x (1 + resistance spread).

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    cells_in_series : int or array
        At least 1.
    charge : float or array
        Charge of the pack, 0 to 1.
    resistance : float or array, ohm
        Of the pack, of the moment.
    current : float or array, A
        Discharge positive.
    charge_spread : float or array
        By how much the weakest cell's charge is lower. Default: common practice, no source.
    resistance_spread : float or array
        By which fraction its resistance is higher. Default: common practice, no source.

    Examples
    --------
    >>> round(float(weakest_cell_voltage("nmc", 20, 0.5, 0.05, 200.0)), 3)
    3.182
    """
    rest = cell.open_circuit_voltage(chemistry_key, charge - charge_spread)
    return rest - current * resistance * (1.0 + resistance_spread) / cells_in_series


def joule_heat(current, resistance):
    """Heat made in the pack, W: current squared x resistance.

    Parameters
    ----------
    current : float or array, A
        Either sign.
    resistance : float or array, ohm
        Of the moment. Reversible (entropic) heat is left out: within a run of minutes it is a small part.

    Examples
    --------
    >>> joule_heat(200.0, 0.05)
    2000.0
    """
    return current * current * resistance


def peak_power(rest_voltage, resistance, voltage_floor=0.0):
    """Largest power the pack gives without its loaded voltage falling below a floor, W: closed form.

    V (V0 - V) / R at V = the larger of the floor and V0 / 2; zero when the pack rests below the floor.

    Parameters
    ----------
    rest_voltage : float or array, V
        V0, settled and without load.
    resistance : float or array, ohm
        Above 0; for a burst of some seconds, `pulse_resistance` at its end.
    voltage_floor : float or array, V
        Lowest loaded voltage allowed.

    Examples
    --------
    >>> round(float(peak_power(80.0, 0.1, 60.0)), 3)
    12000.0
    """
    loaded = np.maximum(voltage_floor, 0.5 * np.asarray(rest_voltage))
    return loaded * np.maximum(rest_voltage - loaded, 0.0) / resistance


def current_for_power(rest_voltage, resistance, power):
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
