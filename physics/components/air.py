"""Air: its density from temperature, pressure or altitude, and humidity.

Two sources. Density of moist air is the CIPM-2007 equation: A. Picard, R. S. Davis, M. Glaser and K. Fujii,
"Revised formula for the density of moist air (CIPM-2007)", Metrologia 45 (2008) 149-155. Pressure and temperature
against altitude are the lowest layer of ISO 2533:1975, which up to 32 km is the U.S. Standard Atmosphere, 1976.
Coefficients are checked against published densities by the tests; equation and table numbers are from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.units import STANDARD_GRAVITY

# CIPM-2007, appendix A: molar gas constant (CODATA 2006), molar mass of dry air at 400 ppm CO2, and of water.
MOLAR_GAS_CONSTANT = 8.314472  # J/(mol K)
MOLAR_MASS_DRY_AIR = 28.96546e-3  # kg/mol, equation (3) at a CO2 mole fraction of 0.0004
MOLAR_MASS_WATER = 18.01528e-3  # kg/mol

# ISO 2533:1975, table 1; U.S. Standard Atmosphere, 1976, tables 2 and 4.
SEA_LEVEL_TEMPERATURE = 288.15  # K
SEA_LEVEL_PRESSURE = 101325.0  # Pa
LAPSE_RATE = 0.0065  # K/m, per metre of geopotential altitude
STANDARD_EARTH_RADIUS = 6356766.0  # m
STANDARD_GAS_CONSTANT = 287.05287  # J/(kg K), dry air
LOWEST_ALTITUDE = -2000.0  # m, where the standard's tables begin
HIGHEST_ALTITUDE = 11000.0  # m, the top of the lowest layer

_CELSIUS_ZERO = 273.15


def geopotential_altitude(altitude: ArrayLike) -> Floats:
    """Geopotential altitude: H = r z / (r + z), in which gravity counts as constant.

    Parameters
    ----------
    altitude : float or array
        Geometric altitude above sea level, m.

    Returns
    -------
    float or array
        Geopotential altitude, m.

    Notes
    -----
    ISO 2533:1975, section 2.3; U.S. Standard Atmosphere, 1976, equation (18).

    Examples
    --------
    >>> round(float(geopotential_altitude(4000.0)), 1)
    3997.5
    """
    metres = np.asarray(altitude, dtype=float)
    return STANDARD_EARTH_RADIUS * metres / (STANDARD_EARTH_RADIUS + metres)


def standard_temperature(altitude: ArrayLike) -> Floats:
    """Temperature of the standard atmosphere: T = T0 - L H.

    Parameters
    ----------
    altitude : float or array
        Geometric altitude, m, from -2000 to 11000.

    Returns
    -------
    float or array
        Temperature, K.

    Raises
    ------
    ValueError
        If an altitude lies outside the lowest layer.

    Notes
    -----
    U.S. Standard Atmosphere, 1976, equation (23).

    Examples
    --------
    >>> round(float(standard_temperature(1000.0)), 3)
    281.651
    """
    _check("altitude", altitude, LOWEST_ALTITUDE, HIGHEST_ALTITUDE, "m")
    return SEA_LEVEL_TEMPERATURE - LAPSE_RATE * geopotential_altitude(altitude)


def standard_pressure(altitude: ArrayLike, sea_level_pressure: ArrayLike = SEA_LEVEL_PRESSURE) -> Floats:
    """Pressure of the standard atmosphere: p = p0 (T / T0) ** (g / (R L)).

    Parameters
    ----------
    altitude : float or array
        Geometric altitude, m, from -2000 to 11000.
    sea_level_pressure : float or array
        Pressure reduced to sea level, Pa. A weather service's sea-level pressure gives the pressure at the
        altitude of the day to within what the day's own temperature profile changes (about 0.5 % up to 1000 m).

    Returns
    -------
    float or array
        Pressure at that altitude, Pa.

    Raises
    ------
    ValueError
        If an altitude lies outside the lowest layer, or if the sea-level pressure is not a pressure.

    Notes
    -----
    U.S. Standard Atmosphere, 1976, equation (33a).

    Examples
    --------
    >>> round(float(standard_pressure(1000.0)))
    89876
    """
    _check("sea-level pressure", sea_level_pressure, 80000.0, 115000.0, "Pa")
    ratio = standard_temperature(altitude) / SEA_LEVEL_TEMPERATURE
    return np.asarray(sea_level_pressure) * ratio ** (STANDARD_GRAVITY / (STANDARD_GAS_CONSTANT * LAPSE_RATE))


def saturation_vapour_pressure(temperature: ArrayLike) -> Floats:
    """Vapour pressure of water at saturation: exp(A T2 + B T + C + D / T) pascal.

    Parameters
    ----------
    temperature : float or array
        Temperature, K, from 233.15 to 333.15. Below freezing it is that over supercooled water, as weather
        stations report relative humidity.

    Returns
    -------
    float or array
        Vapour pressure, Pa.

    Raises
    ------
    ValueError
        If a temperature lies outside the range.

    Notes
    -----
    CIPM-2007, equation (A1.1). From 0 to 60 degrees C it is within 0.01 % of the IAPWS-95 equation of state for
    water (worked out with the CoolProp library). Below freezing so little vapour is left that an error of 4 % in
    its pressure would change the density of air by less than 0.01 %.

    Examples
    --------
    >>> round(float(saturation_vapour_pressure(293.15)), 1)
    2339.2
    """
    _check("temperature", temperature, 233.15, 333.15, "K")
    kelvin = np.asarray(temperature, dtype=float)
    return np.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)


def vapour_mole_fraction(temperature: ArrayLike, pressure: ArrayLike, relative_humidity: ArrayLike) -> Floats:
    """Mole fraction of water vapour in moist air: x = h f p_sv / p.

    Parameters
    ----------
    temperature : float or array
        Temperature, K, from 233.15 to 333.15.
    pressure : float or array
        Pressure, Pa, from 20000 to 115000.
    relative_humidity : float or array
        Relative humidity, 0 to 1.

    Returns
    -------
    float or array
        Mole fraction, 0 to 1.

    Raises
    ------
    ValueError
        If an input lies outside its range.

    Notes
    -----
    CIPM-2007, equations (A1.2) and (A1.3), with the enhancement factor f = alpha + beta p + gamma t2.

    Examples
    --------
    >>> round(float(vapour_mole_fraction(293.15, 101325.0, 0.5)), 5)
    0.01159
    """
    _check("relative humidity", relative_humidity, 0.0, 1.0, "as a fraction")
    _check("pressure", pressure, 20000.0, 115000.0, "Pa")
    saturation = saturation_vapour_pressure(temperature)
    celsius = np.asarray(temperature, dtype=float) - _CELSIUS_ZERO
    pascal = np.asarray(pressure, dtype=float)
    enhancement = 1.00062 + 3.14e-8 * pascal + 5.6e-7 * celsius**2
    return np.asarray(relative_humidity) * enhancement * saturation / pascal


def air_density(temperature: ArrayLike, pressure: ArrayLike, relative_humidity: ArrayLike = 0.0) -> Floats:
    """Density of moist air, by the CIPM-2007 equation.

    rho = p M_a / (Z R T) * (1 - x (1 - M_v / M_a)), with x the mole fraction of vapour and Z the compressibility.

    Parameters
    ----------
    temperature : float or array
        Air temperature, K, from 233.15 to 333.15.
    pressure : float or array
        Pressure where the bike is (not reduced to sea level), Pa, from 20000 to 115000.
    relative_humidity : float or array
        Relative humidity, 0 to 1.

    Returns
    -------
    float or array
        Density, kg/m3, for air with 400 ppm of carbon dioxide.

    Raises
    ------
    ValueError
        If an input lies outside its range.

    Notes
    -----
    CIPM-2007, equations (1) and (A1.4). Its own range is 600 to 1100 hPa and 15 to 27 degrees C, where its relative
    uncertainty is 22e-6; from 0 to 60 degrees C and 600 to 1100 hPa it stays within 0.06 % of the real-gas humid
    air of the CoolProp library (dry air: from -40), far better than a weather station knows the day.

    Examples
    --------
    >>> round(float(air_density(293.15, 101325.0, 0.5)), 4)
    1.1993
    """
    vapour = vapour_mole_fraction(temperature, pressure, relative_humidity)
    kelvin = np.asarray(temperature, dtype=float)
    celsius = kelvin - _CELSIUS_ZERO
    ratio = np.asarray(pressure, dtype=float) / kelvin
    compressibility = (
        1.0
        - ratio
        * (
            1.58123e-6
            - 2.9331e-8 * celsius
            + 1.1043e-10 * celsius**2
            + (5.707e-6 - 2.051e-8 * celsius) * vapour
            + (1.9898e-4 - 2.376e-6 * celsius) * vapour**2
        )
        + ratio**2 * (1.83e-11 - 0.765e-8 * vapour**2)
    )
    dry = ratio * MOLAR_MASS_DRY_AIR / (compressibility * MOLAR_GAS_CONSTANT)
    return dry * (1.0 - vapour * (1.0 - MOLAR_MASS_WATER / MOLAR_MASS_DRY_AIR))


def _check(name: str, value: ArrayLike, lowest: float, highest: float, unit: str) -> None:
    """Refuse a value outside its range, or not finite, saying which."""
    array = np.atleast_1d(np.asarray(value, dtype=float))
    slack = 1e-9 * highest  # so that -40 degrees C passes whichever way it was rounded
    inside = (array >= lowest - slack) & (array <= highest + slack)
    if not inside.all():
        bad = array[~inside].flat[0]
        raise ValueError(f"{name} is {bad:g}; accepted is {lowest:g} to {highest:g} {unit}.")
