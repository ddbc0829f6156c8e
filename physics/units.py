"""Units at the border: rider units to SI and back, through one fixed table.

Everything inside the package is SI. A number a rider types carries a unit chosen from the fixed labels below,
never a typed unit: a unit parser reads "Nm" as a yarn count, "mb" as a millibarn and "C" as a coulomb.
Each label has a dimension, a factor and an offset, so that

    SI value = (value + offset) * factor

The table is plain numbers, so converting is fast and needs no import. `registry_factor` works each row out again
from the pint registry, and the tests hold the two equal. This is the only file that imports pint.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from physics.arrays import Number


class Unit(NamedTuple):
    """One row of the table: SI value = (value + offset) * factor."""

    dimension: str
    factor: float
    offset: float
    registry_name: str


_POUND = 0.45359237  # kg, exact: NIST SP 811 (2008), appendix B.8
STANDARD_GRAVITY = 9.80665  # m/s2, exact: NIST SP 811 (2008), appendix B.8
_FOOT = 0.3048  # m, exact: NIST SP 811 (2008), appendix B.8
_INCH = 0.0254  # m, exact: NIST SP 811 (2008), appendix B.8
_MILE = 1609.344  # m, exact: NIST SP 811 (2008), appendix B.8
_POUND_FORCE = _POUND * STANDARD_GRAVITY
# Conventional inch of mercury: density 13595.1 kg/m3 under standard gravity, NIST SP 811 (2008), appendix B.8.
_INCH_OF_MERCURY = _INCH * 13595.1 * STANDARD_GRAVITY

# label: dimension, factor, offset, name in the pint registry
_ROWS: dict[str, tuple[str, float, float, str]] = {
    "m/s": ("speed", 1.0, 0.0, "meter/second"),
    "km/h": ("speed", 1.0 / 3.6, 0.0, "kilometer/hour"),
    "mph": ("speed", _MILE / 3600.0, 0.0, "mile/hour"),
    "m/s2": ("acceleration", 1.0, 0.0, "meter/second**2"),
    "g": ("acceleration", STANDARD_GRAVITY, 0.0, "standard_gravity"),
    "m": ("length", 1.0, 0.0, "meter"),
    "mm": ("length", 1e-3, 0.0, "millimeter"),
    "cm": ("length", 1e-2, 0.0, "centimeter"),
    "km": ("length", 1e3, 0.0, "kilometer"),
    "in": ("length", _INCH, 0.0, "inch"),
    "ft": ("length", _FOOT, 0.0, "foot"),
    "mile": ("length", _MILE, 0.0, "mile"),
    "m2": ("area", 1.0, 0.0, "meter**2"),
    "ft2": ("area", _FOOT**2, 0.0, "foot**2"),
    "mm2": ("area", 1e-6, 0.0, "millimeter**2"),
    "kg": ("mass", 1.0, 0.0, "kilogram"),
    "lb": ("mass", _POUND, 0.0, "pound"),
    "kg/m3": ("density", 1.0, 0.0, "kilogram/meter**3"),
    "lb/ft3": ("density", _POUND / _FOOT**3, 0.0, "pound/foot**3"),
    "kg m2": ("moment of inertia", 1.0, 0.0, "kilogram*meter**2"),
    "lb ft2": ("moment of inertia", _POUND * _FOOT**2, 0.0, "pound*foot**2"),
    "s": ("time", 1.0, 0.0, "second"),
    "ms": ("time", 1e-3, 0.0, "millisecond"),
    "min": ("time", 60.0, 0.0, "minute"),
    "h": ("time", 3600.0, 0.0, "hour"),
    "K": ("temperature", 1.0, 0.0, "kelvin"),
    "degC": ("temperature", 1.0, 273.15, "degree_Celsius"),
    "degF": ("temperature", 5.0 / 9.0, 459.67, "degree_Fahrenheit"),
    "K difference": ("temperature difference", 1.0, 0.0, "kelvin"),
    "degC difference": ("temperature difference", 1.0, 0.0, "delta_degree_Celsius"),
    "degF difference": ("temperature difference", 5.0 / 9.0, 0.0, "delta_degree_Fahrenheit"),
    "N": ("force", 1.0, 0.0, "newton"),
    "lbf": ("force", _POUND_FORCE, 0.0, "pound_force"),
    "N m": ("torque", 1.0, 0.0, "newton*meter"),
    "lbf ft": ("torque", _POUND_FORCE * _FOOT, 0.0, "pound_force*foot"),
    "lbf in": ("torque", _POUND_FORCE * _INCH, 0.0, "pound_force*inch"),
    "Pa": ("pressure", 1.0, 0.0, "pascal"),
    "hPa": ("pressure", 100.0, 0.0, "hectopascal"),
    "kPa": ("pressure", 1e3, 0.0, "kilopascal"),
    "bar": ("pressure", 1e5, 0.0, "bar"),
    "psi": ("pressure", _POUND_FORCE / _INCH**2, 0.0, "pound_force_per_square_inch"),
    "inHg": ("pressure", _INCH_OF_MERCURY, 0.0, "inch_Hg"),
    "W": ("power", 1.0, 0.0, "watt"),
    "kW": ("power", 1e3, 0.0, "kilowatt"),
    "hp": ("power", 550.0 * _FOOT * _POUND_FORCE, 0.0, "horsepower"),
    "J": ("energy", 1.0, 0.0, "joule"),
    "kJ": ("energy", 1e3, 0.0, "kilojoule"),
    "Wh": ("energy", 3600.0, 0.0, "watt_hour"),
    "kWh": ("energy", 3.6e6, 0.0, "kilowatt_hour"),
    "J/m": ("energy per distance", 1.0, 0.0, "joule/meter"),
    "Wh/km": ("energy per distance", 3.6, 0.0, "watt_hour/kilometer"),
    "Wh/mile": ("energy per distance", 3600.0 / _MILE, 0.0, "watt_hour/mile"),
    "V": ("voltage", 1.0, 0.0, "volt"),
    "mV": ("voltage", 1e-3, 0.0, "millivolt"),
    "A": ("current", 1.0, 0.0, "ampere"),
    "A s": ("electric charge", 1.0, 0.0, "ampere*second"),
    "Ah": ("electric charge", 3600.0, 0.0, "ampere_hour"),
    "ohm": ("resistance", 1.0, 0.0, "ohm"),
    "mohm": ("resistance", 1e-3, 0.0, "milliohm"),
    "H": ("inductance", 1.0, 0.0, "henry"),
    "uH": ("inductance", 1e-6, 0.0, "microhenry"),
    "Wb": ("flux linkage", 1.0, 0.0, "weber"),
    "mWb": ("flux linkage", 1e-3, 0.0, "milliweber"),
    "N m/A": ("torque constant", 1.0, 0.0, "newton*meter/ampere"),
    "Hz": ("frequency", 1.0, 0.0, "hertz"),
    "rad/s": ("angular speed", 1.0, 0.0, "radian/second"),
    "rpm": ("angular speed", 2.0 * math.pi / 60.0, 0.0, "revolution/minute"),
    "rad/s/V": ("speed constant", 1.0, 0.0, "radian/second/volt"),
    "rpm/V": ("speed constant", 2.0 * math.pi / 60.0, 0.0, "revolution/minute/volt"),
    "rad": ("angle", 1.0, 0.0, "radian"),
    "deg": ("angle", math.pi / 180.0, 0.0, "degree"),
    "J/K": ("heat capacity", 1.0, 0.0, "joule/kelvin"),
    "W/K": ("heat conductance", 1.0, 0.0, "watt/kelvin"),
    "%/K": ("temperature coefficient", 0.01, 0.0, "percent/kelvin"),
    "1": ("fraction", 1.0, 0.0, "dimensionless"),
    "%": ("fraction", 0.01, 0.0, "percent"),
}

UNITS: dict[str, Unit] = {label: Unit(*row) for label, row in _ROWS.items()}


def unit(label: str) -> Unit:
    """Look up one row of the table.

    Parameters
    ----------
    label : str
        One of the labels of `UNITS`, exactly as written there.

    Returns
    -------
    Unit
        Dimension, factor, offset and registry name.

    Raises
    ------
    ValueError
        If the label is not in the table; the message lists those that are.

    Examples
    --------
    >>> unit("mph").dimension
    'speed'
    """
    try:
        return UNITS[label]
    except (KeyError, TypeError):
        accepted = ", ".join(UNITS)
        raise ValueError(f"Unknown unit {label!r}. Accepted units: {accepted}.") from None


def to_si(value: Number, unit_label: str) -> Number:
    """Convert a number in a rider's unit to SI: (value + offset) * factor.

    Parameters
    ----------
    value : float or array
        The number in `unit_label`.
    unit_label : str
        One of the labels of `UNITS`.

    Returns
    -------
    float or array
        The same quantity in SI, of the same shape.

    Raises
    ------
    ValueError
        If the unit is not in the table.

    Notes
    -----
    Factors: B. N. Taylor and A. Thompson, Guide for the Use of the International System of Units, NIST SP 811
    (2008), appendix B.8.

    Examples
    --------
    >>> round(to_si(115.0, "km/h"), 4)
    31.9444
    >>> round(to_si(43.0, "degF"), 3)
    279.261
    """
    row = unit(unit_label)
    return (_number(value) + row.offset) * row.factor


def from_si(value: Number, unit_label: str) -> Number:
    """Convert an SI number to a rider's unit: value / factor - offset.

    Parameters
    ----------
    value : float or array
        The number in SI.
    unit_label : str
        One of the labels of `UNITS`.

    Returns
    -------
    float or array
        The same quantity in `unit_label`, of the same shape.

    Raises
    ------
    ValueError
        If the unit is not in the table.

    Examples
    --------
    >>> round(from_si(31.9444, "mph"), 3)
    71.458
    """
    row = unit(unit_label)
    return _number(value) / row.factor - row.offset


def convert(value: Number, from_unit: str, to_unit: str) -> Number:
    """Convert a number from one unit of the table to another of the same dimension.

    Parameters
    ----------
    value : float or array
        The number in `from_unit`.
    from_unit : str
        The unit the number is in.
    to_unit : str
        The unit wanted.

    Returns
    -------
    float or array
        The same quantity in `to_unit`.

    Raises
    ------
    ValueError
        If a unit is not in the table, or if the two measure different things.

    Examples
    --------
    >>> round(convert(50.0, "mph", "km/h"), 3)
    80.467
    """
    if unit(from_unit).dimension != unit(to_unit).dimension:
        raise ValueError(
            f"Cannot convert {from_unit!r}, which measures {unit(from_unit).dimension}, "
            f"to {to_unit!r}, which measures {unit(to_unit).dimension}."
        )
    return from_si(to_si(value, from_unit), to_unit)


def peak_from_rms(rms: Number) -> Number:
    """Peak of a sine from its root-mean-square value: peak = sqrt(2) * rms.

    Parameters
    ----------
    rms : float or array
        Root-mean-square value, any unit.

    Returns
    -------
    float or array
        Peak value in the same unit.

    Examples
    --------
    >>> round(peak_from_rms(100.0), 3)
    141.421
    """
    return _number(rms) * math.sqrt(2.0)


def rms_from_peak(peak: Number) -> Number:
    """Root-mean-square value of a sine from its peak: rms = peak / sqrt(2).

    Parameters
    ----------
    peak : float or array
        Peak value, any unit.

    Returns
    -------
    float or array
        Root-mean-square value in the same unit.

    Examples
    --------
    >>> round(rms_from_peak(300.0), 3)
    212.132
    """
    return _number(peak) / math.sqrt(2.0)


def registry_factor(label: str) -> tuple[float, float, str]:
    """Factor and offset of one label, worked out afresh by the pint registry.

    Parameters
    ----------
    label : str
        One of the labels of `UNITS`.

    Returns
    -------
    tuple of (float, float, str)
        Factor, offset and the registry's own dimension; the first two equal those of the table.

    Examples
    --------
    >>> round(registry_factor("mph")[0], 5)
    0.44704
    """
    name = unit(label).registry_name
    registry = _registry()
    zero = registry.Quantity(0.0, name).to_base_units()
    one = registry.Quantity(1.0, name).to_base_units()
    si = zero.units
    # The kilogram, metre, second system with kelvin and radian is the registry's base system.
    factor = float(one.magnitude - zero.magnitude)
    return factor, float(zero.magnitude) / factor, str(si.dimensionality)


@lru_cache(maxsize=1)
def _registry() -> Any:
    """The one pint registry, made on first use: importing it costs far more than any conversion."""
    import pint

    return pint.UnitRegistry()


def _number(value: Number) -> Number:
    """Leave a plain number alone, make an array one of floats, refuse text and None, which numpy would guess at."""
    if isinstance(value, int | float):
        return value
    array = np.asarray(value)
    if array.dtype.kind not in "iufb":
        raise ValueError(f"{value!r} is not a number or an array of numbers.")
    return array.astype(float)[()]
