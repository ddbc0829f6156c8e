"""Resistance of a cell against temperature, charge and direction, and what is typical of it.

Convention: `resistance` is the 10-second direct-current resistance at 25 degrees C and half charge: (rest voltage
at the charge reached - loaded voltage) / current, 10 s into a discharge from rest. Ageing is a factor of its own.
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
