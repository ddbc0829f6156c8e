"""Resistance of a cell against current, temperature, charge and direction, and what is typical of it.

Sag has three kinds of parts: conduction, linear in current; diffusion, resistor-capacitor pairs; and charge
transfer, which grows less than linearly (Butler and Volmer's law for equal transfer coefficients, one electrode):

(1) sag = f_c (R_o g I + U_pairs + n v asinh(R_ct g^2 I / (n v))),  v = 2 R_g T / F = 51 mV at 25 degrees C,

n cells in series, f_c the factor of charge, g that of temperature. Charge transfer has twice the activation energy
of conduction and diffusion, hence g^2: common practice (about 20 and 40 kJ/mol), no source.

Convention: `resistance` is the 10-second direct-current resistance at 25 degrees C and half charge: (rest voltage
at the charge reached - loaded voltage) / current, 10 s into a discharge from rest, at the current it was measured
with. The resistance at small current is higher. Ageing is a factor of its own.

Accuracy: of eight published cells, each with its own resistance at the one-hour current and its growth to 0 degrees
C, at 0.5C to 2C and 0 to 45 degrees C, the sag of (1) is off by at most, at 1 to 10, 20 to 60 and 120 to 300 s:
Chen 18, 21, 21 %; O'Regan 21, 46, 58 %; Mohtat 10, 17, 37 %; Kim 7, 3, 30 %; Prada 8, 13, 58 %; Marquis 18, 34,
59 %; Ramadass 12, 11, 26 %; Ecker 12, 15, 34 %. One shape for a chemistry does not meet all cells of it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats, Numbers
from physics.components import cell
from physics.components.cell import ChemistryKeys, chemistry_rows, interpolate_rows

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018
REFERENCE_TEMPERATURE = 298.15  # K, 25 degrees C
COLD_TEMPERATURE = 273.15  # K, 0 degrees C: where the growth of resistance in the cold is stated
COLD_STEP = 1.0 / COLD_TEMPERATURE - 1.0 / REFERENCE_TEMPERATURE  # 1/K
LOWEST_TEMPERATURE = 243.15  # K, -30 degrees C: the resistance factor is held below
HIGHEST_TEMPERATURE = 333.15  # K, 60 degrees C: and above
CLOSEST_TEMPERATURES = 5.0  # K
FARADAY_CONSTANT = 96485.33212  # C/mol, CODATA 2018
TRANSFER_VOLTAGE = 2.0 * GAS_CONSTANT / FARADAY_CONSTANT  # V/K, of one cell: v of (1) over temperature
PULL_RATE = 4.0
"""Current over capacity, 1/h, at which a resistance counts as measured if nobody says: that of a pull. A choice on
the safe side: the same number measured at less current means less sag. It is also the most at which published cells
were compared; beyond, charge transfer goes on straight."""
_TURNS = 8


def small_current_resistance(resistance: Numbers, transfer_fraction: Numbers, cell_current: Numbers) -> Floats:
    """Ten-second resistance at small current of what shows a resistance at some current; 25 degrees C, half charge.

    Parameters
    ----------
    resistance : float or array, ohm
        As measured.
    transfer_fraction : float or array
        Fraction of charge transfer at small current, 0 to 1.
    cell_current : float or array, A
        Current of the measurement over the cells in series, 0 or above: equation (1) in terms of one volt a cell.

    Returns
    -------
    float or array, ohm
        At least `resistance`.

    Examples
    --------
    >>> round(float(small_current_resistance(0.050, 0.5, 100.0 / 24)), 4)
    0.06
    """
    target = np.asarray(resistance * cell_current / (TRANSFER_VOLTAGE * REFERENCE_TEMPERATURE), dtype=float)
    found = target
    for _ in range(_TURNS):  # Newton's on a concave function, from below: every turn but the first errs high
        inner = transfer_fraction * found
        slope = 1.0 - transfer_fraction + transfer_fraction / np.sqrt(1.0 + inner * inner)
        found = found + (target - found + inner - np.arcsinh(inner)) / slope
    return resistance * np.where(target > 0, found / np.where(target > 0, target, 1.0), 1.0)


def conduction_growth(
    cold_growth: Numbers, resistance: Numbers, transfer_fraction: Numbers, cell_current: Numbers
) -> Floats:
    """Factor g of (1) at 0 degrees C, of what shows a growth of its whole resistance at some current.

    Parameters
    ----------
    cold_growth : float or array
        Ten-second resistance at 0 degrees C over that at 25 degrees C, at the current.
    resistance : float or array, ohm
        At that current and 25 degrees C.
    transfer_fraction, cell_current : float or array
        See `small_current_resistance`.

    Returns
    -------
    float or array
        Charge transfer grows by its square.

    Examples
    --------
    >>> round(float(conduction_growth(2.0, 0.050, 0.5, 100.0 / 24)), 3)
    2.133
    """
    small = small_current_resistance(resistance, transfer_fraction, cell_current)
    volt = TRANSFER_VOLTAGE * COLD_TEMPERATURE
    linear = (1.0 - transfer_fraction) * small * cell_current / volt
    inner = np.maximum(transfer_fraction * small * cell_current / volt, 1e-12)
    target = cold_growth * resistance * cell_current / volt
    small_currents = target < 1e-6
    target = np.where(small_currents, 1.0, target)
    growth = np.asarray(cold_growth * np.ones(np.shape(target)), dtype=float)
    for _ in range(_TURNS):  # Newton's in logarithms, where the function is nearly straight
        x = inner * growth * growth
        value = linear * growth + np.arcsinh(x)
        slope = linear * growth + 2.0 * x / np.sqrt(1.0 + x * x)
        growth = growth * np.exp(np.clip(value * np.log(target / value) / slope, -1.0, 1.0))
    fraction = np.maximum(transfer_fraction, 1e-12)  # without current: (1 - f) g + f g^2 = growth
    still = 2.0 * cold_growth / (1.0 - fraction + np.sqrt((1.0 - fraction) ** 2 + 4.0 * fraction * cold_growth))
    return np.where(small_currents, still, growth)


def resistance_temperature_factor(temperature: Numbers, cold_growth: Numbers) -> Floats:
    """Resistance over that at 25 degrees C: Arrhenius, exp(E / R (1/T - 1/298.15)), through 1 and the cold growth.

    Parameters
    ----------
    temperature : float or array, K
        Cell temperature. Valid -30 to 60 degrees C; held at the end values outside.
    cold_growth : float or array
        The factor at 0 degrees C, above 0.

    Returns
    -------
    float or array

    Examples
    --------
    >>> round(float(resistance_temperature_factor(263.15, 1.92)), 2)
    2.58
    """
    held = np.minimum(np.maximum(temperature, LOWEST_TEMPERATURE), HIGHEST_TEMPERATURE)
    return np.exp(np.log(cold_growth) * (1.0 / held - 1.0 / REFERENCE_TEMPERATURE) / COLD_STEP)


def cold_growth(
    resistance: ArrayLike, temperature: ArrayLike, other_resistance: ArrayLike, other_temperature: ArrayLike
) -> Floats:
    """Resistance at 0 degrees C over that at 25 degrees C, from resistances at two temperatures: Arrhenius.

    Parameters
    ----------
    resistance, other_resistance : float or array, ohm
        Both above 0 and of one kind: same pack, charge, current and time into it.
    temperature, other_temperature : float or array, K
        Of the cells, -30 to 60 degrees C, at least 5 K apart: closer, an error of a few percent in a resistance
        decides the answer.

    Returns
    -------
    float or array

    Raises
    ------
    ValueError
        When one of them is not accepted.

    Examples
    --------
    >>> round(float(cold_growth(0.050, 298.15, 0.080, 278.15)), 2)
    1.82
    """
    for value in (resistance, other_resistance):
        if not np.all(np.asarray(value) > 0):
            raise ValueError(f"resistance: got {np.min(value):g} ohm; accepts numbers above 0 ohm.")
    for value in (temperature, other_temperature):
        if not np.all((np.asarray(value) >= LOWEST_TEMPERATURE) & (np.asarray(value) <= HIGHEST_TEMPERATURE)):
            raise ValueError(f"temperature: got {value} K; accepts 243.15 to 333.15 K, -30 to 60 degrees C.")
    if np.any(np.abs(np.subtract(temperature, other_temperature)) < CLOSEST_TEMPERATURES):
        raise ValueError(f"Temperatures closer than {CLOSEST_TEMPERATURES:g} K tell nothing of the cold.")
    apart = 1.0 / np.asarray(other_temperature, dtype=float) - 1.0 / np.asarray(temperature, dtype=float)
    return np.power(np.divide(other_resistance, resistance), COLD_STEP / apart)


def resistance_charge_factor(chemistry_key: ChemistryKeys, charge: Numbers, direction: str = "discharge") -> Floats:
    """Resistance over that of a discharge at half charge, 25 degrees C: derived table.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry.
    charge : float or array
        Charge, 0 to 1; clamped.
    direction : str
        "discharge" or "charge".

    Returns
    -------
    float or array

    Raises
    ------
    ValueError
        For any other direction.

    Examples
    --------
    >>> float(resistance_charge_factor("nmc", 0.5))
    1.0
    """
    if direction not in ("discharge", "charge"):
        raise ValueError(f"Unknown direction {direction!r}: accepted are discharge, charge.")
    table = getattr(cell.chemistry_tables(), f"{direction}_resistance_factor")
    return interpolate_rows(table, chemistry_rows(chemistry_key), charge)


def typical_cell_resistance(chemistry_key: ChemistryKeys, capacity_ah: ArrayLike) -> Floats:
    """Typical 10 s resistance, ohm, of one cell (or parallel group) of that capacity: product / capacity.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry.
    capacity_ah : float or array, Ah
        Capacity, above 0. Resistance halves when capacity doubles.

    Returns
    -------
    float or array, ohm
        At 25 degrees C and half charge, new. Cells of one chemistry differ by a factor of three: measure.

    Examples
    --------
    >>> float(typical_cell_resistance("nmc", 20.0))
    0.004
    """
    product = cell.chemistry_tables().resistance_capacity_product[chemistry_rows(chemistry_key)]
    return product / np.asarray(capacity_ah, dtype=float)[()]
