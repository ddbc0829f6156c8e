"""A pack's resistance from its rating, from its cells or from two readings; its mass.

All are 10-second values at 25 degrees C and half charge, as `physics.components.pack` takes them. Its heat
capacity, heat path and thresholds stand in physics/components. Above 60 V DC a pack can kill: readings under load
belong to a display or to trained hands.
"""

from __future__ import annotations

import numpy as np

from physics.arrays import Floats, Numbers
from physics.components import cell
from physics.components.cell import ChemistryKeys
from physics.components.cell_resistance import resistance_charge_factor, resistance_temperature_factor
from physics.components.pack import CELL_MASS_FRACTION, pulse_resistance, typical_cell_mass
from physics.typical.spread import Typical, around

PRODUCT_AT_ONE_HOUR, RATE_EXPONENT = 0.1202, -0.463
"""Resistance x capacity of a cell, ohm Ah, that may be emptied in an hour for ever, and how it goes with the rate:
a straight line in logarithms through four cells of 1 to 7 times that current, cell table of the
battery dimensioning sheet of the foxBMS project, Fraunhofer IISB (public page); a test fits it again."""

MASS_EXPONENT = 0.26
"""How a cell's mass for each ampere-hour goes with that rate: the two round cells of the same table."""

ONE_HOUR_CURRENTS, PEAK_OF_RATED = 5.0, 1.25
"""A pack's continuous current over that which empties it in an hour, and its peak current over the continuous one,
where neither is known: common practice, no source. Packs on offer lie between half and twice of the first."""

CONNECTIONS = 1.1
"""Pack over its cells, for welds, bars and plugs: common practice, no source."""

PEAK_OVER_CONTINUOUS = 2.0
"""Current that cells give for some ten seconds over that for ever: common practice, no source."""

IMPEDANCE_FACTOR = 1.5
"""Ten-second resistance over impedance at 1 kHz, which data sheets often print: common practice, no source."""

SLOWEST_RATE, FASTEST_RATE = 0.5, 20.0
"""Rates, per hour, outside of which the rule is held: the published cells lie between 1 and 7."""


def current_rating(
    capacity_ah: Numbers, continuous_current: Numbers = np.inf, peak_current: Numbers = np.inf
) -> tuple[Floats, Floats]:
    """Continuous and peak current of a pack, A: as given, or by the other one, or by its capacity.

    Parameters
    ----------
    capacity_ah : float or array, Ah
        Of the pack.
    continuous_current, peak_current : float or array, A
        Infinite where it is not known.

    Returns
    -------
    tuple of float or array, A
        By `ONE_HOUR_CURRENTS` and `PEAK_OF_RATED`.

    Examples
    --------
    >>> [float(current) for current in current_rating(20.0)]
    [100.0, 125.0]
    >>> [float(current) for current in current_rating(20.0, peak_current=250.0)]
    [200.0, 250.0]
    """
    by_peak = np.divide(peak_current, PEAK_OF_RATED)
    alone = np.where(np.isfinite(by_peak), by_peak, np.multiply(ONE_HOUR_CURRENTS, capacity_ah))
    continuous = np.where(np.isfinite(continuous_current), continuous_current, alone)
    return continuous, np.where(np.isfinite(peak_current), peak_current, PEAK_OF_RATED * continuous)


def resistance_from_rating(
    chemistry_key: ChemistryKeys,
    cells_in_series: Numbers,
    capacity_ah: Numbers,
    continuous_current: Numbers = np.inf,
    peak_current: Numbers = np.inf,
) -> Typical:
    """Resistance of a pack, ohm, known by its cells, amp-hours and current rating.

    Cells made for more current have less resistance at the same capacity; without a rating the chemistry's own
    middle and ends hold.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    cells_in_series : int or array
        At least 1.
    capacity_ah : float or array, Ah
        Of the pack.
    continuous_current, peak_current : float or array, A
        What the pack's maker allows for ever and for some seconds; infinite where it is not known. The higher
        demand on the cells counts: the continuous current, or the peak over `PEAK_OVER_CONTINUOUS`.

    Returns
    -------
    Typical
        Ends at 0.6 and 1.6 of the middle: a seller may rate cells high, a protection may be rated below its cells.

    Examples
    --------
    >>> [round(1000 * float(value)) for value in resistance_from_rating("nmc", 20, 20.0, 200.0, 250.0)]
    [27, 46, 73]
    >>> [round(1000 * float(value)) for value in resistance_from_rating("nmc", 20, 20.0)]
    [42, 80, 141]
    """
    rows, tables = cell.chemistry_rows(chemistry_key), cell.chemistry_tables()
    groups = np.divide(cells_in_series, capacity_ah)
    usual = tables.resistance_capacity_product
    peak = np.divide(peak_current, PEAK_OVER_CONTINUOUS)
    demand = np.maximum(_or_zero(continuous_current), _or_zero(peak))
    rate = np.clip(np.divide(demand, capacity_ah), SLOWEST_RATE, FASTEST_RATE)
    kind = usual[rows] / usual[cell.chemistry_rows("nmc")]
    rated = around(CONNECTIONS * PRODUCT_AT_ONE_HOUR * kind * np.power(rate, RATE_EXPONENT), 0.6, 1.6)
    unrated = tables.resistance_capacity_product_low, usual, tables.resistance_capacity_product_high
    values = (np.where(demand > 0, one, other[rows]) for one, other in zip(rated, unrated, strict=True))
    return Typical(*(groups * value for value in values))


def resistance_from_cells(
    cell_resistance: Numbers, cells_in_series: Numbers, cells_in_parallel: Numbers, *, at_1_khz: bool = False
) -> Typical:
    """Resistance of a pack, ohm, from one cell's: in series over in parallel, with the connections.

    Parameters
    ----------
    cell_resistance : float or array, ohm
        From its data sheet.
    cells_in_series, cells_in_parallel : int or array
        At least 1 each.
    at_1_khz : bool
        Whether the sheet means the impedance at 1 kHz and not a direct current's resistance.

    Returns
    -------
    Typical
        The lower end is that of the bare cells; the upper end, twice the connections: common practice, no source.

    Examples
    --------
    >>> round(1000 * float(resistance_from_cells(0.018, 20, 8).middle), 1)  # milliohm
    49.5
    """
    bare = np.multiply(cell_resistance, cells_in_series) / cells_in_parallel
    bare = bare * (IMPEDANCE_FACTOR if at_1_khz else 1.0)
    return Typical(bare, bare * CONNECTIONS, bare * (2 * CONNECTIONS - 1))


def resistance_from_readings(
    voltage: tuple[Numbers, Numbers],
    current: tuple[Numbers, Numbers],
    held: Numbers = 10.0,
    *,
    chemistry_key: ChemistryKeys = "nmc",
    temperature: Numbers = 298.15,
    charge: Numbers = 0.5,
) -> Floats:
    """Resistance of a pack, ohm, from its voltage under two currents: -dV / dI, brought to the reference.

    Parameters
    ----------
    voltage : pair of float or array, V
        Of the pack, one after the other.
    current : pair of float or array, A
        Drawn meanwhile, discharge positive; two different ones.
    held : float or array, s
        How long the second was held before it was read; see `physics.components.pack.pulse_resistance`.
    chemistry_key : str, int, or array of either
        Chemistry key or row.
    temperature : float or array, K
        Of the cells; in the cold the resistance grows as is typical of the chemistry.
    charge : float or array
        Charge, 0 to 1.

    Returns
    -------
    float or array, ohm
        At 10 s, 25 degrees C and half charge. NaN where the currents are alike or more current gave more voltage.

    Examples
    --------
    >>> round(float(resistance_from_readings((80.0, 71.0), (0.0, 200.0))), 6)
    0.045
    """
    drop, rise = np.subtract(*voltage), np.subtract(current[1], current[0])
    usable = (rise != 0) & (drop * rise > 0)
    seen = np.where(usable, drop / np.where(usable, rise, 1.0), np.nan)
    rows = cell.chemistry_rows(chemistry_key)
    colder = resistance_temperature_factor(temperature, cell.chemistry_tables().cold_growth[rows])
    of_one = colder * resistance_charge_factor(rows, charge)
    return seen / (of_one * pulse_resistance(1.0, chemistry_key, held))


def pack_mass(cells_in_series: Numbers, capacity_ah: Numbers, chemistry_key: ChemistryKeys = "nmc") -> Typical:
    """Mass of a whole pack, kg: that of its cells, from their energy, with case, protection and wiring.

    Parameters
    ----------
    cells_in_series : int or array
        At least 1.
    capacity_ah : float or array, Ah
        Of the pack.
    chemistry_key : str, int, or array of either
        Chemistry key or row.

    Returns
    -------
    Typical
        Ends at 0.75 and 1.4 of the middle, cells made for range and for power: common practice, no source.

    Examples
    --------
    >>> round(float(pack_mass(20, 40.0).middle), 1)
    18.9
    """
    return around(typical_cell_mass(cells_in_series, capacity_ah, chemistry_key) / CELL_MASS_FRACTION, 0.75, 1.4)


def _or_zero(current: Numbers) -> Floats:
    return np.where(np.isfinite(current), current, 0.0)
