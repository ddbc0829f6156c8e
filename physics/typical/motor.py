"""A motor's constants from what a rider knows: a speed at a voltage, a pull, its mass or its power.

Machines of one kind and geometrically alike, of length l and with N turns, have (their size over that of another)

(1) R ~ N^2 / l    (2) L ~ N^2 l    (3) flux ~ N l^2    (4) m ~ l^3    (5) J ~ l^5    (6) heat path to air ~ l^2

M. Budinger, Preliminary design and sizing of actuation systems, thesis, University of Toulouse, 2014, chapter 1,
after M. Jufer, Electromecanique, 1995; (1), (4), (5), (6) as printed in the course of the same author on
mechatronic sizing (class 3, scaling laws), (2) and (3) from the same likeness. Hence at a given size R and L go
with 1 / Kv^2, and with size the motor constant, torque over the root of the copper's loss, with m^(5/6): torque ~
l^3.5 and R / K^2 ~ torque^(-5/3.5) in M. Budinger, A. Reysset, A. Ochotorena, S. Delbecq, Scaling laws and
similarity models for the preliminary design of multirotor drones, Aerospace Science and Technology 98 (2020)
105658. That R goes with 1 / Kv^2 is also what many small machines show: O. Gur and A. Rosen, Optimization of
propulsion systems for electric UAVs, AIAA 2008-5916 (regression, as carried by public design codes).

Their values at 10 kg are the middle of what motors of small electric motorcycles show, closed inner rotors with
the housing's mass: common practice, no source. The light open machine of Budinger et al. (0.575 kg) is as large at
10 kg as the upper end of `motor_constant` here.
"""

from __future__ import annotations

import numpy as np

from physics.arrays import Floats, Numbers
from physics.components.motor import flux_linkage_per_pole_pair, torque_constant
from physics.typical.spread import Typical, around

REFERENCE_MASS = 10.0
"""kg, that of the machine from which all others are scaled."""

POLE_PAIRS = 5
"""Of an inner rotor for a small motorcycle, 4 or 5; hub motors have 16 to 30: common practice, no source."""

PEAK_POWER_PER_MASS = 1300.0
"""W/kg for 18 s, target of 2015 for a traction motor of 55 kW: US DRIVE, Electrical and Electronics Technical Team
Roadmap, 2013, from memory; a published car's motor of 2011 has 80 kW and 58 kg, 1380 W/kg (public page)."""

RATED_OVER_PEAK = 30.0 / 55.0
"""Continuous over 18 s power in the same targets."""

SPECIFIC_HEATS = {"copper": 385.0, "iron": 449.0, "aluminium": 897.0}
"""J/(kg K) at 25 degrees C: CRC Handbook of Chemistry and Physics, section 4, specific heats of the elements."""

MASS_SHARES = {"copper": 0.2, "iron": 0.6, "aluminium": 0.2}
"""Of a motor with its housing: common practice, no source."""

_MOTOR_CONSTANT = 1.3  # N m / sqrt(W) at the reference mass
_ELECTRICAL_TIME = 9e-3  # s, L / R there
_ROTOR_INERTIA = 0.010  # kg m2 there
_HYSTERESIS, _EDDY = 0.3, 4e-4  # N m and N m s there: 0.52 N m at 5300 rpm, 0.052 N m/kg as in Budinger et al.
_WINDING_TO_CASE, _CASE_TO_AIR = 23.0, 7.0  # W/K there, on a bike that moves
_RADIAN_PER_SECOND = 60.0 / (2.0 * np.pi)  # in rpm


def kv_from_speed(speed: Numbers, voltage: Numbers, modulation: Numbers = 1.0) -> Floats:
    """Speed constant, rpm/V, from the unloaded motor's speed at full throttle without field weakening.

    Parameters
    ----------
    speed : float or array, rad/s
        Of the motor, with nothing to drive.
    voltage : float or array, V
        Of the pack meanwhile.
    modulation : float or array
        Phase voltage peak over bus voltage / sqrt(3).

    Notes
    -----
    The inverse of `physics.components.motor.no_load_speed`. What turns the bearings is left out: the motor stays 1
    or 2 % below, common practice, no source.

    Examples
    --------
    >>> round(float(kv_from_speed(6000 * 2 * np.pi / 60, 80.0)), 2)
    75.0
    """
    return np.multiply(speed, _RADIAN_PER_SECOND) / np.multiply(voltage, modulation)


def kv_from_stand(
    road_speed: Numbers, voltage: Numbers, gear_ratio: Numbers, rolling_radius: Numbers, modulation: Numbers = 1.0
) -> Floats:
    """Speed constant, rpm/V, from the speed shown with the rear wheel off the ground at full throttle.

    Parameters
    ----------
    road_speed : float or array, m/s
        As shown by a speedometer that counts the turns of motor or rear wheel.
    voltage : float or array, V
        Of the pack meanwhile.
    gear_ratio : float or array
        Turns of the motor for one of the wheel.
    rolling_radius : float or array, m
        That for which the speedometer is set; where it is wrong, so is Kv.
    modulation : float or array
        Phase voltage peak over bus voltage / sqrt(3).

    Examples
    --------
    >>> round(float(kv_from_stand(31.4159, 75.0, 5.0, 0.25)), 1)
    80.0
    """
    return kv_from_speed(np.multiply(road_speed, gear_ratio) / rolling_radius, voltage, modulation)


def kv_from_pull(
    force: Numbers, phase_current: Numbers, gear_ratio: Numbers, rolling_radius: Numbers, efficiency: Numbers = 0.96
) -> Floats:
    """Speed constant, rpm/V, from the drive force at a known phase current.

    Parameters
    ----------
    force : float or array, N
        At the road: mass times acceleration, with what drag and rolling take.
    phase_current : float or array, A
        Peak.
    gear_ratio : float or array
        Turns of the motor for one of the wheel.
    rolling_radius : float or array, m
        Of the rear wheel.
    efficiency : float or array
        Of the driveline.

    Notes
    -----
    Torque per ampere is (sqrt(3)/2) 60 / (2 pi Kv), see `physics.components.motor.torque_constant`.

    Examples
    --------
    >>> round(float(kv_from_pull(827.0 * 0.96, 200.0, 5.0, 0.1)), 1)
    100.0
    """
    per_ampere = np.multiply(force, rolling_radius) / (np.multiply(gear_ratio, efficiency) * phase_current)
    return torque_constant(1.0) / per_ampere


def mass_from_power(peak_power: Numbers) -> Typical:
    """Mass of a motor, kg, from its power for some seconds: `PEAK_POWER_PER_MASS`.

    Parameters
    ----------
    peak_power : float or array, W
        At the shaft; of a motor that is known by its continuous power, that over `RATED_OVER_PEAK`.

    Examples
    --------
    >>> round(float(mass_from_power(13000.0).middle), 1)
    10.0
    """
    return around(np.divide(peak_power, PEAK_POWER_PER_MASS), 0.5, 1.5)


def mass_from_rated_power(rated_power: Numbers) -> Typical:
    """Mass of a motor, kg, from its continuous power.

    Parameters
    ----------
    rated_power : float or array, W
        At the shaft.

    Examples
    --------
    >>> round(float(mass_from_rated_power(6000.0).middle), 2)
    8.46
    """
    return mass_from_power(np.divide(rated_power, RATED_OVER_PEAK))


def motor_constant(mass: Numbers) -> Typical:
    """Motor constant, N m/W^0.5: torque over the root of the copper's loss, with mass^(5/6).

    Parameters
    ----------
    mass : float or array, kg
        Of the motor.

    Returns
    -------
    Typical
        At 20 degrees C.

    Examples
    --------
    >>> [round(float(value), 2) for value in motor_constant(10.0)]
    [0.91, 1.3, 1.89]
    """
    return around(_MOTOR_CONSTANT * _scaled(mass, 5.0 / 6.0), 0.7, 1.45)


def phase_resistance(kv_rpm_per_volt: Numbers, mass: Numbers) -> Typical:
    """Resistance of one phase, line to neutral, ohm: (3/2) (p flux)^2 / motor constant^2.

    Parameters
    ----------
    kv_rpm_per_volt : float or array, rpm/V
        Speed constant, line-to-line peak.
    mass : float or array, kg
        Of the motor.

    Returns
    -------
    Typical
        At 20 degrees C.

    Notes
    -----
    Torque (3/2) p flux i over the root of the copper's loss (3/2) R i^2, solved for R.

    Examples
    --------
    >>> round(1000 * float(phase_resistance(62.0, 10.0).middle), 1)  # milliohm
    7.0
    """
    voltage_constant, constant = flux_linkage_per_pole_pair(kv_rpm_per_volt), motor_constant(mass)
    squared = 1.5 * np.square(voltage_constant)
    return Typical(*(squared / np.square(value) for value in reversed(constant)))


def phase_inductance(kv_rpm_per_volt: Numbers, mass: Numbers) -> Typical:
    """Inductance of one phase, line to neutral, H: with 1 / Kv^2, its time L / R with mass^(2/3).

    Parameters
    ----------
    kv_rpm_per_volt : float or array, rpm/V
        Speed constant, line-to-line peak.
    mass : float or array, kg
        Of the motor.

    Returns
    -------
    Typical
        Wide: pole pairs and the shape of the teeth matter as much as size.

    Examples
    --------
    >>> round(1e6 * float(phase_inductance(62.0, 10.0).middle))  # microhenry
    63
    """
    resistance = phase_resistance(kv_rpm_per_volt, mass).middle
    return around(resistance * _ELECTRICAL_TIME * _scaled(mass, 2.0 / 3.0), 0.5, 2.0)


def iron_loss(mass: Numbers) -> tuple[Floats, Floats]:
    """Drag torque of iron and bearings: its constant part and its part with speed, both with mass.

    Parameters
    ----------
    mass : float or array, kg
        Of the motor.

    Returns
    -------
    tuple of float or array, N m and N m s
        `iron_loss_torque` and `iron_loss_damping` of a build.

    Notes
    -----
    Friction ~ torque^(3/3.5) ~ mass, with 0.03 N m for 0.575 kg at nominal speed: Budinger et al. (2020). How it
    divides into the two parts: common practice, no source.

    Examples
    --------
    >>> [round(float(part), 5) for part in iron_loss(5.0)]
    [0.15, 0.0002]
    """
    share = _scaled(mass, 1.0)
    return _HYSTERESIS * share, _EDDY * share


def rotor_inertia(mass: Numbers) -> Typical:
    """Inertia of the rotor, kg m2: with mass^(5/3), equations (4) and (5).

    Parameters
    ----------
    mass : float or array, kg
        Of the motor.

    Returns
    -------
    Typical
        About the motor's shaft.

    Examples
    --------
    >>> round(float(rotor_inertia(10.0).middle), 3)
    0.01
    """
    return around(_ROTOR_INERTIA * _scaled(mass, 5.0 / 3.0), 0.4, 2.5)


def heat_capacities(mass: Numbers) -> tuple[Floats, Floats]:
    """Heat capacity of winding and of all else: the materials' specific heats by their shares of the mass.

    Parameters
    ----------
    mass : float or array, kg
        Of the motor.

    Returns
    -------
    tuple of float or array, J/K
        Winding, case.

    Examples
    --------
    >>> [round(float(part)) for part in heat_capacities(10.0)]
    [770, 4488]
    """
    parts = {name: share * SPECIFIC_HEATS[name] for name, share in MASS_SHARES.items()}
    winding = parts.pop("copper")
    return np.multiply(mass, winding), np.multiply(mass, sum(parts.values()))


def heat_paths(mass: Numbers) -> tuple[Floats, Floats]:
    """Paths of heat from winding to case, with mass^(1/3), and from case to air, with mass^(2/3).

    Parameters
    ----------
    mass : float or array, kg
        Of the motor.

    Returns
    -------
    tuple of float or array, W/K
        Winding to case, case to air on a bike that moves; standing it is a third or less of that. Values: common
        practice, no source; a liquid-cooled motor has several times as much.

    Examples
    --------
    >>> [round(float(part), 1) for part in heat_paths(10.0)]
    [23.0, 7.0]
    """
    return _WINDING_TO_CASE * _scaled(mass, 1.0 / 3.0), _CASE_TO_AIR * _scaled(mass, 2.0 / 3.0)


def _scaled(mass: Numbers, power: float) -> Floats:
    return np.power(np.divide(mass, REFERENCE_MASS), power)
