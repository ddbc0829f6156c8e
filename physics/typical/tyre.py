"""The tyre of a rim of which nothing but the size is known.

Designations are those of the ETRTO Standards Manual, motorcycle section, and of the JATMA Year Book, from memory;
which of them small motorcycles wear is common practice, no source. Diameters follow from the designation, see
`physics.components.tyre`.
"""

from __future__ import annotations

import re

import numpy as np

from physics.components.tyre import free_radius
from physics.typical.spread import Typical

SIZES_OF_RIM: dict[int, tuple[str, ...]] = {
    8: ("3.50-8", "3.00-8", "4.00-8"),
    10: ("3.50-10", "3.00-10", "90/90-10", "100/90-10", "2.50-10"),
    11: ("130/60-11", "90/90-11", "100/60-11"),
    12: ("90/90-12", "3.00-12", "80/100-12", "100/90-12", "120/70-12", "130/70-12"),
    13: ("130/60-13", "110/90-13", "130/70-13"),
    14: ("100/90-14", "80/90-14", "90/100-14", "120/70-14"),
    15: ("120/70-15", "120/80-15", "140/70-15"),
    16: ("100/80-16", "2.50-16", "90/100-16", "120/80-16"),
    17: ("110/70-17", "80/90-17", "100/80-17", "120/70-17", "140/70-17", "160/60-17"),
    18: ("100/90-18", "90/90-18", "110/100-18", "4.10-18"),
    19: ("90/90-19", "70/100-19", "90/100-19", "110/90-19"),
    20: ("80/90-20", "90/90-20"),
    21: ("80/100-21", "90/90-21", "80/90-21"),
}
"""Rim code to the sizes that are common on it; the first is the one most often fitted to a small motorcycle."""

_RIM_ALONE = re.compile(r"(?P<rim>\d{1,2})\s*-?\s*(?:\"|”|″|''|in\.?|inch|inches)?", re.IGNORECASE)


def rim_alone(text: str) -> int | None:
    """The rim code in a text that says nothing but a rim's size; None for any other.

    Parameters
    ----------
    text : str
        As riders write it.

    Returns
    -------
    int or None
        One of SIZES_OF_RIM.

    Examples
    --------
    >>> rim_alone("12-inch"), rim_alone('17"'), rim_alone("12 in"), rim_alone("90/90-12"), rim_alone("99 inch")
    (12, 17, 12, None, None)
    """
    match = _RIM_ALONE.fullmatch(text.strip())
    return int(match["rim"]) if match and int(match["rim"]) in SIZES_OF_RIM else None


def typical_size(rim: int) -> str:
    """The size most often fitted to a rim.

    Parameters
    ----------
    rim : int
        One of SIZES_OF_RIM.

    Returns
    -------
    str
        A size code.

    Examples
    --------
    >>> typical_size(12)
    '90/90-12'
    """
    return SIZES_OF_RIM[rim][0]


def radius_of_rim(rim: int) -> Typical:
    """Free radius of a rim's tyre, m: that of the typical size, with the smallest and the largest common on it.

    Parameters
    ----------
    rim : int
        One of SIZES_OF_RIM.

    Returns
    -------
    Typical

    Examples
    --------
    >>> [round(1000 * float(value), 1) for value in radius_of_rim(12)]  # mm
    [228.7, 233.5, 243.5]
    """
    radii = np.array([free_radius(size) for size in SIZES_OF_RIM[rim]])
    return Typical(*(np.asarray(value) for value in (radii.min(), radii[0], radii.max())))
