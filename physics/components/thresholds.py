"""Cell voltages at which a pack's protection typically opens, by chemistry, where its maker's are not known."""

from __future__ import annotations

import functools
from typing import NamedTuple

from physics.components.cell import chemistry
from physics.components.tables import read_table


class Thresholds(NamedTuple):
    """What a protection watches in each cell.

    Attributes
    ----------
    cell_undervoltage, cell_overvoltage : float, V
        Below the first it opens on discharge, above the second on charge.
    """

    cell_undervoltage: float
    cell_overvoltage: float


@functools.cache
def typical_thresholds(key: str) -> Thresholds:
    """Typical thresholds of one chemistry: data/protection_thresholds.csv, with the sources in its header.

    Parameters
    ----------
    key : str
        One of `cell.CHEMISTRY_KEYS`.

    Returns
    -------
    Thresholds
        Under-voltage the middle, over-voltage the lowest of what protection circuits are offered with.

    Raises
    ------
    ValueError
        When there is no such chemistry.

    Examples
    --------
    >>> typical_thresholds("lfp")
    Thresholds(cell_undervoltage=2.3, cell_overvoltage=3.65)
    """
    table = read_table("protection_thresholds.csv")
    row = table["key"].index(chemistry(key).key)
    return Thresholds(*(float(table[name][row]) for name in Thresholds._fields))
