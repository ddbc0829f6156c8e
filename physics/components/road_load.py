"""Road load: drag, rolling resistance, slope, and the mass that has to be speeded up.

Forward is positive, and so is every resistance that acts on a bike moving forward.
Nothing is checked or copied, so that a time loop may call these: numbers and arrays that broadcast.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from physics.arrays import Floats, Number, Numbers
from physics.components.air import STANDARD_GRAVITY


@dataclass(frozen=True)
class Posture:
    """How a rider sits.

    Attributes
    ----------
    label : str
        Name to show.
    drag_area : float
        Drag coefficient times frontal area of bike and rider, m2.
    rider_height_above_seat : float
        The rider's own centre of gravity above the seat, m.
    rider_shift_forward : float
        How far forward of the upright position that centre of gravity lies, m.
    """

    label: str
    drag_area: float
    rider_height_above_seat: float
    rider_shift_forward: float


# Drag areas are starting points inside published ranges: 0.30 to 0.50 m2 for motorcycles, J. Katz, Automotive
# Aerodynamics, page 302; 0.18 to 0.7 m2 from racing to touring machines, V. Cossalter, Motorcycle Dynamics, as
# quoted in a multibody program's manual. The value of each posture, and the positions of the rider: common
# practice, no source.
POSTURES = {
    "upright": Posture("upright", 0.60, 0.25, 0.00),
    "crouched": Posture("crouched", 0.48, 0.20, 0.06),
    "tucked": Posture("tucked", 0.36, 0.14, 0.12),
}


def posture(name: str) -> Posture:
    """One of the seat positions.

    Parameters
    ----------
    name : str
        "upright", "crouched" or "tucked".

    Returns
    -------
    Posture
        Drag area and the position of the rider's centre of gravity.

    Raises
    ------
    ValueError
        If the name is none of these.

    Notes
    -----
    J. Katz, Automotive Aerodynamics, page 302, for the range 0.30 to 0.50 m2; the upright value lies above it, as
    an unfaired bike with a tall rider does (common practice, no source).

    Examples
    --------
    >>> posture("tucked").drag_area
    0.36
    """
    if name not in POSTURES:
        raise ValueError(f"Unknown posture {name!r}. Accepted: {', '.join(POSTURES)}.")
    return POSTURES[name]


def combined_centre_of_gravity(
    bike_mass: Number,
    bike_to_rear_axle: Number,
    bike_height: Number,
    rider_mass: Number,
    rider_to_rear_axle: Number,
    rider_height: Number,
) -> tuple[Number, Number]:
    """Centre of gravity of bike and rider together: the mean of the two, weighted by mass.

    Parameters
    ----------
    bike_mass : float or array
        Bike without rider, kg.
    bike_to_rear_axle : float or array
        The bike's centre of gravity forward of the rear axle, m.
    bike_height : float or array
        The bike's centre of gravity above the ground, m.
    rider_mass : float or array
        Rider with gear, kg.
    rider_to_rear_axle : float or array
        The rider's centre of gravity forward of the rear axle, m.
    rider_height : float or array
        The rider's centre of gravity above the ground, m.

    Returns
    -------
    tuple of (float or array, float or array)
        Distance forward of the rear axle and height above the ground, m.

    Notes
    -----
    Definition of the centre of mass; V. Cossalter, Motorcycle Dynamics, chapter 3; from memory for the chapter.

    Examples
    --------
    >>> along, height = combined_centre_of_gravity(130.0, 0.68, 0.50, 80.0, 0.50, 1.10)
    >>> round(along, 3), round(height, 3)
    (0.611, 0.729)
    """
    total = bike_mass + rider_mass
    along = (bike_mass * bike_to_rear_axle + rider_mass * rider_to_rear_axle) / total
    height = (bike_mass * bike_height + rider_mass * rider_height) / total
    return along, height


def drag_factor(air_density: Numbers, drag_area: Numbers) -> Floats:
    """Drag over the square of air speed: 1/2 rho CdA.

    Parameters
    ----------
    air_density : float or array
        Density, kg/m3.
    drag_area : float or array
        Drag coefficient times frontal area, m2.

    Returns
    -------
    float or array
        Factor, kg/m.

    Examples
    --------
    >>> float(drag_factor(1.25, 0.8))
    0.5
    """
    return 0.5 * np.multiply(air_density, drag_area)


def drag_force(factor: Numbers, air_speed: Numbers) -> tuple[Floats, Floats]:
    """Aerodynamic drag, 1/2 rho CdA u |u|, and how it changes with speed.

    Parameters
    ----------
    factor : float or array
        `drag_factor`, kg/m.
    air_speed : float or array
        Speed through the air, m/s: road speed plus headwind; negative where a tailwind is faster than the bike.

    Returns
    -------
    tuple of (float or array, float or array)
        Force, N, positive against forward motion, and its change with speed, N s/m.

    Notes
    -----
    NPTEL, Electric Vehicles, lecture on vehicle dynamics; J. Larminie and J. Lowry, Electric Vehicle Technology
    Explained, equation (7.2), from memory for the number. Side wind is left out.

    Examples
    --------
    >>> force, _ = drag_force(drag_factor(1.25, 0.9), (120 + 10) / 3.6)
    >>> round(float(force), 1)
    733.5
    """
    half_rate = factor * np.abs(air_speed)
    return half_rate * air_speed, 2.0 * half_rate


def slope_force(mass: Numbers, slope: Numbers) -> Floats:
    """Weight along the road: m g sin(slope).

    Parameters
    ----------
    mass : float or array
        Bike and rider, kg.
    slope : float or array
        Angle of the road, rad; uphill positive.

    Returns
    -------
    float or array
        Force, N; positive uphill.

    Notes
    -----
    NPTEL, Fundamentals of Electric Vehicles, lecture on vehicle dynamics.

    Examples
    --------
    >>> round(float(slope_force(200.0, 0.13963)), 1)
    273.0
    """
    return mass * STANDARD_GRAVITY * np.sin(slope)


def normal_load(mass: Numbers, slope: Numbers) -> Floats:
    """Weight at right angles to the road: m g cos(slope).

    Parameters
    ----------
    mass : float or array
        Bike and rider, kg.
    slope : float or array
        Angle of the road, rad.

    Returns
    -------
    float or array
        Force, N.

    Examples
    --------
    >>> round(float(normal_load(100.0, 0.0)), 3)
    980.665
    """
    return mass * STANDARD_GRAVITY * np.cos(slope)


def rolling_force(constant: Numbers, speed_squared: Numbers, speed: Numbers) -> tuple[Floats, Floats]:
    """Rolling resistance, m g cos(slope) (c0 + c2 v^2), and how it changes with speed.

    Parameters
    ----------
    constant : float or array
        Normal load times c0, the coefficient at walking pace, N. c0 is about 0.012 to 0.02 for motorcycle tyres on
        a good road: common practice, no source.
    speed_squared : float or array
        Normal load times c2, N s2/m2. c2 is about 4e-7 to 8e-6 s2/m2: common practice, no source.
    speed : float or array
        Road speed forward, m/s.

    Returns
    -------
    tuple of (float or array, float or array)
        Force, N, against forward motion, and its change with speed, N s/m.

    Notes
    -----
    NPTEL, Fundamentals of Electric Vehicles, for the first part; a part with speed squared: T. D. Gillespie,
    Fundamentals of Vehicle Dynamics, chapter 4, from memory. Written for a bike moving forward or standing.

    Examples
    --------
    >>> force, _ = rolling_force(0.015 * normal_load(200.0, 0.0), 0.0, 10.0)
    >>> round(float(force), 1)
    29.4
    """
    half_rate = np.multiply(speed_squared, speed)
    return constant + half_rate * speed, 2.0 * half_rate


def equivalent_mass(
    mass: Numbers, wheel_inertia: Numbers, wheel_radius: Numbers, rotor_inertia: Numbers, gear_ratio: Numbers
) -> Floats:
    """Mass that has to be speeded up, spinning parts included: m + (J_wheels + J_rotor G^2) / r^2.

    Parameters
    ----------
    mass : float or array
        Bike and rider, kg.
    wheel_inertia : float or array
        Both wheels together, with tyres, discs and sprocket, kg m2.
    wheel_radius : float or array
        Rolling radius, m.
    rotor_inertia : float or array
        Motor rotor and everything that turns with it, kg m2.
    gear_ratio : float or array
        Turns of the motor for one turn of the wheel.

    Returns
    -------
    float or array
        Mass, kg; at least `mass`.

    Notes
    -----
    J. Larminie and J. Lowry, Electric Vehicle Technology Explained, equation (7.8), from memory for the number.
    Both wheels count with the rear radius, and the chain itself is left out.

    Examples
    --------
    >>> round(float(equivalent_mass(200.0, 0.9, 0.3, 0.012, 5.0)), 2)
    213.33
    """
    spinning = wheel_inertia + rotor_inertia * np.square(gear_ratio)
    return mass + spinning / np.square(wheel_radius)
