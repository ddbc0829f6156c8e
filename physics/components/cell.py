"""Cell chemistries: their tables and constants, and rest voltage against charge.

Every table is in `physics/components/data/` with its source in its header. All share one uniform charge axis of 101
points, so that a batch of builds of mixed chemistries is one indexed read (`chemistry_tables`, `interpolate_rows`).

A chemistry is given by its key ("nmc"), by its row in `CHEMISTRY_KEYS`, or by an array of either.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass, fields
from types import SimpleNamespace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats, Numbers
from physics.components.tables import read_table

CHEMISTRY_KEYS = ("nmc", "nca", "lfp", "lipo_hv")
"""Keys of the chemistries, in the row order of every stacked table."""

ChemistryKeys = str | int | Sequence[str] | NDArray[Any]
"""A chemistry's key or row, or several of either."""

REFERENCE_TIME = 10.0  # s
PAIR_TIMES = (3.0, 25.0, 180.0)
"""Time constants of the resistor-capacitor pairs, s, of every chemistry: spread evenly over 1 s to 5 min."""

_NAMES = {
    "nmc": "nickel manganese cobalt (NMC)",
    "nca": "nickel cobalt aluminium (NCA)",
    "lfp": "iron phosphate (LFP)",
    "lipo_hv": "high-voltage lithium polymer, 4.35 V",
}


@dataclass(frozen=True, eq=False)
class Chemistry:
    """One cell chemistry; sources in the headers of physics/components/data/.

    Attributes
    ----------
    key, name : str
        Key in `CHEMISTRY_KEYS` and the name in words.
    charge : array, shape (101,)
        Uniform charge axis, 0 to 1.
    open_circuit_voltage : array, shape (101,), V
        Rest voltage of one cell at 25 degrees C.
    discharge_resistance_factor, charge_resistance_factor : array, shape (101,)
        Ten-second resistance over that of a discharge at half charge.
    voltage_minimum, voltage_maximum : float, V
        Rest voltage at charge 0 and 1.
    cold_growth : float
        Typical 10 s resistance at 0 degrees C over that at 25 degrees C; `_low` and `_high` are the ends of what
        published cells show.
    resistance_capacity_product : float, ohm Ah
        Typical 10 s resistance times capacity; `_low` and `_high` are the ends of what is usual.
    ohmic_fraction, transfer_fraction, pair_1_fraction, pair_2_fraction, pair_3_fraction : float
        Of conduction, of charge transfer and, settled, of each resistor-capacitor pair, over the 10 s resistance at
        small current; their sum at 10 s is exactly 1.
    specific_heat : float, J/(kg K)
        Of the cells.
    specific_energy : float, Wh/kg
        Typical, of the cells alone.
    charge_temperature_floor, charge_temperature_full : float, K
        No charging below the first, reduced charging current below the second.
    """

    key: str
    name: str
    charge: Floats
    open_circuit_voltage: Floats
    discharge_resistance_factor: Floats
    charge_resistance_factor: Floats
    voltage_minimum: float
    voltage_maximum: float
    cold_growth: float
    cold_growth_low: float
    cold_growth_high: float
    resistance_capacity_product: float
    resistance_capacity_product_low: float
    resistance_capacity_product_high: float
    ohmic_fraction: float
    transfer_fraction: float
    pair_1_fraction: float
    pair_2_fraction: float
    pair_3_fraction: float
    specific_heat: float
    specific_energy: float
    charge_temperature_floor: float
    charge_temperature_full: float


def _frozen(values: ArrayLike) -> Floats:
    array = np.array(values, dtype=float)
    array.setflags(write=False)
    return array


@functools.cache
def _chemistries() -> dict[str, Chemistry]:
    curves, factors = read_table("open_circuit_voltage.csv"), read_table("cell_resistance_factor.csv")
    constants = read_table("cell_constants.csv")
    chemistries = {}
    for row, key in enumerate(constants.pop("key")):
        numbers = {name: float(column[row]) for name, column in constants.items()}
        pairs = np.array([numbers[f"pair_{number}_fraction"] for number in (1, 2, 3)])
        at_reference = float(-pairs @ np.expm1(-REFERENCE_TIME / np.array(PAIR_TIMES)))
        numbers["ohmic_fraction"] = 1.0 - numbers["transfer_fraction"] - at_reference
        chemistries[key] = Chemistry(
            key=key,
            name=_NAMES[key],
            charge=_frozen(curves["charge"]),
            open_circuit_voltage=_frozen(curves[key]),
            discharge_resistance_factor=_frozen(factors[f"{key}_discharge"]),
            charge_resistance_factor=_frozen(factors[f"{key}_charge"]),
            **numbers,
        )
    return chemistries


def chemistry(key: str) -> Chemistry:
    """The chemistry of that key.

    Parameters
    ----------
    key : str
        One of `CHEMISTRY_KEYS`.

    Returns
    -------
    Chemistry
        Its names, limits and constants.

    Raises
    ------
    ValueError
        When there is no such key; the message lists those accepted.

    Examples
    --------
    >>> chemistry("nmc").voltage_maximum
    4.2
    """
    member = _chemistries().get(key) if isinstance(key, str) else None
    if member is None:
        raise ValueError(f"Unknown chemistry {key!r}: accepted are {', '.join(CHEMISTRY_KEYS)}.")
    return member


@functools.cache
def chemistry_tables() -> SimpleNamespace:
    """All chemistries stacked in `CHEMISTRY_KEYS` order, read-only.

    Returns
    -------
    namespace of arrays
        `open_circuit_voltage`, `discharge_resistance_factor`, `charge_resistance_factor`: shape (4, 101);
        `charge`: shape (101,); every number of `Chemistry` under its own name: shape (4,).

    Examples
    --------
    >>> chemistry_tables().open_circuit_voltage.shape
    (4, 101)
    """
    members = [chemistry(key) for key in CHEMISTRY_KEYS]
    names = [field.name for field in fields(Chemistry) if field.name not in ("key", "name", "charge")]
    stacked = {name: _frozen([getattr(member, name) for member in members]) for name in names}
    return SimpleNamespace(charge=members[0].charge, **stacked)


def chemistry_rows(chemistry_key: ChemistryKeys) -> NDArray[np.intp]:
    """Rows in `CHEMISTRY_KEYS` of one chemistry or of an array of them.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Keys, or rows, which come back as they are.

    Returns
    -------
    int or array of int
        Same shape as the input.

    Raises
    ------
    ValueError
        For an unknown key or row.

    Examples
    --------
    >>> chemistry_rows(["lfp", "nmc"])
    array([2, 0])
    """
    if isinstance(chemistry_key, str):
        return np.array(CHEMISTRY_KEYS.index(chemistry(chemistry_key).key))
    given = np.asarray(chemistry_key)
    if given.dtype.kind not in "iu":
        keys = [CHEMISTRY_KEYS.index(chemistry(key).key) for key in given.astype(object).ravel().tolist()]
        return np.array(keys, dtype=int).reshape(given.shape)
    if given.size and (given.min() < 0 or given.max() >= len(CHEMISTRY_KEYS)):
        raise ValueError(f"Unknown chemistry row {given}: accepted are 0 to {len(CHEMISTRY_KEYS) - 1}.")
    return given


def interpolate_rows(table: Floats, row_index: int | NDArray[np.intp], x: Numbers) -> Floats:
    """Linear interpolation in rows of a table on a uniform axis from 0 to 1.

    Parameters
    ----------
    table : array, shape (rows, points)
        Values at x = 0 ... 1, evenly spaced.
    row_index : int or array of int
        Row to read, broadcast against `x`.
    x : float or array
        Place on the axis, clamped to 0 ... 1; NaN gives NaN.

    Returns
    -------
    float or array
        Shape of `row_index` and `x` broadcast together.

    Examples
    --------
    >>> float(interpolate_rows(np.array([[0.0, 1.0], [5.0, 7.0]]), 1, 0.25))
    5.5
    """
    points = table.shape[1]
    position = np.minimum(np.maximum(x, 0.0), 1.0) * (points - 1)
    index = np.fmax(np.fmin(position, points - 2), 0).astype(np.intp)
    start = np.multiply(row_index, points) + index
    values = table.ravel()
    low = values[start]
    return low + (values[start + 1] - low) * (position - index)


def open_circuit_voltage(chemistry_key: ChemistryKeys, charge: Numbers) -> Floats:
    """Rest voltage of one cell at 25 degrees C, V: the published table, straight lines between its points.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry.
    charge : float or array
        Charge, 0 to 1; clamped to that range, where the rest voltage is the minimum or maximum.

    Returns
    -------
    float or array, V

    Notes
    -----
    Straight lines between points are within 2.1 mV of the published curves from charge 0.05 to 0.97 and 50 mV
    below; above 0.97 lfp alone is up to 24 mV high, which errs to the safe side for charging.

    Examples
    --------
    >>> round(float(open_circuit_voltage("nmc", 0.5)), 3)
    3.751
    """
    return interpolate_rows(chemistry_tables().open_circuit_voltage, chemistry_rows(chemistry_key), charge)


def charge_from_open_circuit_voltage(chemistry_key: ChemistryKeys, voltage: ArrayLike) -> Floats:
    """Charge of one cell from its rest voltage: the exact inverse of `open_circuit_voltage`.

    Parameters
    ----------
    chemistry_key : str, int, or array of either
        Chemistry.
    voltage : float or array, V
        Rest voltage, settled and without load; beyond the table's ends clamped to charge 0 or 1; NaN gives NaN.

    Returns
    -------
    float or array
        Charge, 0 to 1.

    Notes
    -----
    On the flat part of an lfp cell (about 3.20 to 3.31 V) a few millivolts are tens of percent of charge: the
    answer is then no better than the voltmeter.

    Examples
    --------
    >>> round(float(charge_from_open_circuit_voltage("nmc", 3.7509)), 4)
    0.5
    """
    rows, voltage = np.broadcast_arrays(chemistry_rows(chemistry_key), np.asarray(voltage, dtype=float))
    tables = chemistry_tables()
    charge = np.empty(voltage.shape)
    for row in np.unique(rows):  # at most one round for each chemistry
        chosen = rows == row
        charge[chosen] = np.interp(voltage[chosen], tables.open_circuit_voltage[row], tables.charge)
    return charge[()]
