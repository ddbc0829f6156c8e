"""Energy in the pack, and typical mass, heat capacity and heat path when the rider knows only cells and amp-hours.

Typical values are starting points: weigh, measure or fit to replace them.
"""

import numpy as np

from physics.components import cell

SECONDS_PER_HOUR = 3600.0
PACK_DENSITY = 2000.0  # kg/m3 of a closed pack, from memory
# Still air, W/(m2 K): the value in the set of Chen et al., J. Electrochem. Soc. 167 (2020) 080534.
SURFACE_HEAT_TRANSFER = 10.0
CELL_MASS_SHARE = 0.75  # cells over whole pack by mass, common practice, no source


def energy_content(chemistry_key, cells_in_series, capacity_ah, charge=1.0, lowest_charge=0.0):
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


def _voltage_integral(rows, charge):
    """Integral of the straight-line open-circuit voltage from charge 0, V."""
    table = cell.chemistry_tables().open_circuit_voltage
    steps = table.shape[1] - 1
    position = np.minimum(np.maximum(charge, 0.0), 1.0) * steps
    node = np.fmax(np.fmin(position, steps - 1), 0).astype(np.intp)
    part, start, end = position - node, table[rows, node], table[rows, node + 1]
    before = table.cumsum(axis=1)[rows, node] - 0.5 * (table[rows, 0] + start)  # trapezoids up to the node
    return (before + part * (start + 0.5 * part * (end - start))) / steps


def typical_cell_mass(cells_in_series, capacity_ah, chemistry_key="nmc"):
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


def typical_heat_capacity(cells_in_series, capacity_ah, chemistry_key="nmc"):
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


def typical_thermal_conductance(cells_in_series, capacity_ah, chemistry_key="nmc"):
    """Heat path from the cells to the air, W/K: still air over the surface of a cube of the pack's volume.

    Parameters
    ----------
    cells_in_series : int or array
        At least 1.
    capacity_ah : float or array, Ah
        Of the pack.
    chemistry_key : str, int, or array of either
        Chemistry key or row. Pack density and cell share of its mass: from memory. Wind may double the value;
        insulation may halve it.

    Examples
    --------
    >>> round(float(typical_thermal_conductance(20, 40.0)), 1)
    2.7
    """
    mass = typical_cell_mass(cells_in_series, capacity_ah, chemistry_key) / CELL_MASS_SHARE
    return SURFACE_HEAT_TRANSFER * 6.0 * np.power(mass / PACK_DENSITY, 2.0 / 3.0)
