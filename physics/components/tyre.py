"""Tyres: size codes, free diameter, rolling radius, and the speed a tyre is marked for.

A size code gives the section width, the section height as a fraction of that width, and the rim code. The free
diameter is D = d + 2 H, with d the nominal rim diameter: UN Regulation No. 75, paragraph 6.1.2 and annex 5.
The regulation lets a tyre's own diameter differ from that by some percent, so a diameter measured on the bike is
always better than one from a code; a bare "580 mm" is accepted for that. Paragraph numbers are from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats, Numbers

_INCH = 0.0254  # m

# Nominal rim diameter d in millimetres against the rim code, as tabled beside UN Regulation No. 75, annex 5, and in
# Regulation No. 30, paragraph 2; from memory. Each is 25.4 x code rounded to a whole millimetre.
NOMINAL_RIM_DIAMETER = {
    8: 0.203,
    9: 0.229,
    10: 0.254,
    11: 0.279,
    12: 0.305,
    13: 0.330,
    14: 0.356,
    15: 0.381,
    16: 0.406,
    17: 0.432,
    18: 0.457,
    19: 0.483,
    20: 0.508,
    21: 0.533,
    23: 0.584,
}

# Inch widths that stand for a low section, about 0.9 of the width high; every other inch width without an aspect
# ratio is as high as it is wide. The rule is on a tyre maker's public page about sidewall markings; the list is
# from memory.
LOW_SECTION_INCH_WIDTHS = (3.10, 3.60, 4.10, 4.60, 5.10, 6.10)
LOW_SECTION_ASPECT = 0.90

# Rolling radius over free radius. For car radials the rolling circumference is 3.05 D, which makes it 0.971:
# European Tyre and Rim Technical Organisation, Standards Manual, passenger car section; from memory. Motorcycle
# tyres carry less load on a rounder section and roll a little longer: 0.97 to 0.985 is common practice, no source.
DEFAULT_ROLLING_FACTOR = 0.975

# Speed symbols in km/h: ISO 4223-1 and UN Regulation No. 75, paragraph 2.29, as reproduced by tyre dealers' tables.
SPEED_SYMBOLS_KM_H = {
    "B": 50.0,
    "C": 60.0,
    "D": 65.0,
    "E": 70.0,
    "F": 80.0,
    "G": 90.0,
    "J": 100.0,
    "K": 110.0,
    "L": 120.0,
    "M": 130.0,
    "N": 140.0,
    "P": 150.0,
    "Q": 160.0,
    "R": 170.0,
    "S": 180.0,
    "T": 190.0,
    "U": 200.0,
    "H": 210.0,
    "V": 240.0,
    "W": 270.0,
    "Y": 300.0,
}

# Load in kg that a tyre with each load index from 30 on carries: UN Regulation No. 75, annex 4, as reproduced in
# public tables of motor cycle tyre codes.
_FIRST_LOAD_INDEX = 30
_LOAD_CAPACITIES = (
    106, 109, 112, 115, 118, 121, 125, 128, 132, 136,
    140, 145, 150, 155, 160, 165, 170, 175, 180, 185,
    190, 195, 200, 206, 212, 218, 224, 230, 236, 243,
    250, 257, 265, 272, 280, 290, 300, 307, 315, 325,
    335, 345, 355, 365, 375, 387, 400, 412, 425, 437,
    450, 462, 475, 487, 500, 515, 530, 545, 560, 580,
)  # fmt: skip

ACCEPTED_CODES = (
    'a metric code such as "110/70-17", "120/70R17" or "120/70 ZR 17 M/C 58W", '
    'an inch code such as "2.75-18" or "4.25/85-18", or a measured diameter such as "580 mm"'
)

_SERVICE = r"(?:\s*M/C)?(?:\s*\(?\s*(?P<load>\d{2,3})\s*(?P<speed>[A-HJ-NP-Y])\s*\)?)?(?:\s*M/C)?(?:\s*T[LT])?"
_METRIC = re.compile(
    r"(?P<width>\d{2,3})\s*/\s*(?P<aspect>\d{2,3})\s*(?:-|[A-Z]?-?[RB]|Z)?\s*-?\s*(?P<rim>\d{1,2})" + _SERVICE
)
_INCH_CODE = re.compile(
    r"(?P<width>\d{1,2}(?:\.\d{1,2})?)\s*(?:/\s*(?P<aspect>\d{2,3}))?\s*[-X]\s*(?P<rim>\d{1,2})" + _SERVICE
)
_DIAMETER = re.compile(r"(?P<diameter>\d{3,4}(?:\.\d+)?)\s*MM")


@dataclass(frozen=True)
class TyreSize:
    """One tyre size, in SI.

    Attributes
    ----------
    section_width : float
        Nominal section width, m; nan for a bare diameter.
    aspect_ratio : float
        Section height over section width; nan for a bare diameter.
    rim_diameter : float
        Nominal rim diameter, m; nan for a bare diameter.
    free_diameter : float
        Outside diameter of the inflated tyre without load, m.
    code : str
        The code as it was given, tidied.
    speed_symbol : str
        The speed symbol in the code, or an empty string.
    load_index : int or None
        The load index in the code.
    """

    section_width: float
    aspect_ratio: float
    rim_diameter: float
    free_diameter: float
    code: str
    speed_symbol: str = ""
    load_index: int | None = None

    @property
    def free_radius(self) -> float:
        """Half the free diameter, m."""
        return 0.5 * self.free_diameter


def parse_tyre(code: str) -> TyreSize:
    """Read a tyre size code, or a bare measured diameter.

    Parameters
    ----------
    code : str
        A metric code ("110/70-17", "120/70 ZR 17", with or without "M/C", load and speed symbols), an inch code
        ("2.75-18", "4.25/85-18"), or a diameter ("580 mm"). Rim codes 8 to 21, and 23.

    Returns
    -------
    TyreSize
        The size in SI, with the free diameter D = d + 2 H.

    Raises
    ------
    ValueError
        If the code is none of these, or its numbers are outside what is made; the message says what was given and
        what is accepted.

    Notes
    -----
    UN Regulation No. 75, paragraph 6.1.2 and annex 5 (see the top of the file). An inch code without an aspect
    ratio is as high as wide, or 0.9 of that for the low-section widths; a real tyre may be 2 % off that.

    Examples
    --------
    >>> round(parse_tyre("110/70-17 54H").free_diameter, 3)
    0.586
    >>> round(parse_tyre("580 mm").free_radius, 3)
    0.29
    """
    tidy = " ".join(str(code).upper().replace(",", ".").split())
    if match := _DIAMETER.fullmatch(tidy):
        diameter = float(match["diameter"]) / 1000.0
        _within(code, "diameter in mm", diameter * 1000.0, 200.0, 900.0)
        nan = float("nan")
        return TyreSize(nan, nan, nan, diameter, f"{float(match['diameter']):g} mm")
    if match := _METRIC.fullmatch(tidy):
        width, aspect = float(match["width"]) / 1000.0, float(match["aspect"]) / 100.0
        _within(code, "section width in mm", width * 1000.0, 50.0, 330.0)
    elif match := _INCH_CODE.fullmatch(tidy):
        inches = float(match["width"])
        _within(code, "section width in inches", inches, 1.5, 7.0)
        width = inches * _INCH
        low = LOW_SECTION_ASPECT if inches in LOW_SECTION_INCH_WIDTHS else 1.0
        aspect = float(match["aspect"]) / 100.0 if match["aspect"] else low
    else:
        raise ValueError(f"Cannot read tyre size {code!r}. Accepted is {ACCEPTED_CODES}.")
    _within(code, "aspect ratio in percent", aspect * 100.0, 30.0, 110.0)
    rim = nominal_rim_diameter(int(match["rim"]))
    load_index = int(match["load"]) if match["load"] else None
    return TyreSize(width, aspect, rim, rim + 2.0 * width * aspect, tidy, match["speed"] or "", load_index)


def load_capacity(load_index: int | None) -> float:
    """The mass that a tyre with a load index carries: UN Regulation No. 75, annex 4.

    Parameters
    ----------
    load_index : int or None
        The number before the speed symbol on the sidewall.

    Returns
    -------
    float
        kg; infinite where there is no index or it is outside the table, 30 to 89.

    Examples
    --------
    >>> load_capacity(54)
    212.0
    """
    place = -1 if load_index is None else load_index - _FIRST_LOAD_INDEX
    return float(_LOAD_CAPACITIES[place]) if 0 <= place < len(_LOAD_CAPACITIES) else float("inf")


def nominal_rim_diameter(rim_code: int) -> float:
    """Nominal rim diameter of a rim code, from the table beside UN Regulation No. 75, annex 5.

    Parameters
    ----------
    rim_code : int
        The rim code printed on the tyre, in inches by name: 8 to 21, or 23.

    Returns
    -------
    float
        Nominal rim diameter, m.

    Raises
    ------
    ValueError
        If the code is not in the table.

    Examples
    --------
    >>> nominal_rim_diameter(17)
    0.432
    """
    if rim_code not in NOMINAL_RIM_DIAMETER:
        accepted = ", ".join(str(known) for known in NOMINAL_RIM_DIAMETER)
        raise ValueError(f"Rim code {rim_code} is not known. Accepted rim codes: {accepted}.")
    return NOMINAL_RIM_DIAMETER[rim_code]


def free_radius(code: str) -> float:
    """Radius of a tyre without load, straight from its size code.

    Parameters
    ----------
    code : str
        Anything `parse_tyre` accepts.

    Returns
    -------
    float
        Half the free diameter, m.

    Raises
    ------
    ValueError
        If the code cannot be read.

    Examples
    --------
    >>> round(free_radius("90/90-12"), 4)
    0.2335
    """
    return parse_tyre(code).free_radius


def rolling_radius(free_radius: ArrayLike, factor: ArrayLike = DEFAULT_ROLLING_FACTOR) -> Floats:
    """Effective rolling radius, from the free radius and one factor: r = factor * free radius.

    Parameters
    ----------
    free_radius : float or array
        Radius of the tyre without load, m.
    factor : float or array
        Rolling radius over free radius, above 0.9 and at most 1.02 (a bias tyre grows with speed).

    Returns
    -------
    float or array
        Effective rolling radius, m: distance travelled per radian of wheel rotation.

    Raises
    ------
    ValueError
        If the radius is not positive, or the factor is outside its range.

    Notes
    -----
    The passenger-car convention is a rolling circumference of 3.05 D, a factor of 0.971 (European Tyre and Rim
    Technical Organisation, Standards Manual; from memory). The default, 0.975, is common practice, no source.
    A roll-out measured with the rider aboard is better than either.

    Examples
    --------
    >>> round(float(rolling_radius(0.300)), 4)
    0.2925
    """
    free_radius, factor = np.asarray(free_radius, dtype=float), np.asarray(factor, dtype=float)
    if not np.all(free_radius > 0.0):
        raise ValueError("The free radius of a tyre must be above 0 m.")
    if not np.all((factor > 0.9) & (factor <= 1.02)):
        raise ValueError("The rolling factor of a tyre must be above 0.9 and at most 1.02.")
    return free_radius * factor


def drive_slip(force: Numbers, load: Numbers, stiffness: Numbers) -> Floats:
    """Slip under drive: how much faster the tyre turns than it rolls, as a fraction.

    Parameters
    ----------
    force : float or array, N
        Drive force at the road; below zero the tyre turns slower.
    load : float or array, N
        On the tyre.
    stiffness : float or array
        Force over load, over slip; infinite where it does not slip.

    Returns
    -------
    float or array
        force / (load stiffness): a straight line, which holds for a small part of the grip.

    Notes
    -----
    H. B. Pacejka, Tire and Vehicle Dynamics, chapter 1, for the slope of the longitudinal force at no slip; V.
    Cossalter, Motorcycle Dynamics, chapter 2, for some 12 to 30 of motorcycle tyres. Both from memory.

    Examples
    --------
    >>> float(drive_slip(600.0, 1200.0, 20.0))
    0.025
    """
    return np.divide(force, np.multiply(load, stiffness))


def _within(code: str, name: str, value: float, lowest: float, highest: float) -> None:
    """Refuse a number in a code that no such tyre is made in."""
    if not lowest <= value <= highest:
        raise ValueError(
            f"Tyre size {code!r} has a {name} of {value:g}; accepted is {lowest:g} to {highest:g}. "
            f"Accepted codes: {ACCEPTED_CODES}."
        )
