"""Chain drive: sizes, pitch diameter, chain speed, how many links it needs, and where those put the axle.

Formulas are those of ISO 606 and ANSI/ASME B29.1, as printed in machinery handbooks. A length "in links" counts
pitches, so a closed chain has a whole, normally even, number of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats

_INCH = 0.0254  # m


@dataclass(frozen=True)
class ChainSize:
    """One motorcycle chain size.

    Attributes
    ----------
    pitch : float
        Distance between pins, m.
    inner_width : float
        Least width between the inner plates, m.
    roller_diameter : float
        Greatest roller diameter, m.
    """

    pitch: float
    inner_width: float
    roller_diameter: float


# The first digit of a size is the pitch in eighths of an inch. Sizes of ISO 10190 and ANSI B29.1; widths and roller
# diameters as in trade tables of motorcycle chain, which differ by up to 0.2 mm between makers.
CHAIN_SIZES = {
    "415": ChainSize(4 * _INCH / 8, 0.00476, 0.00777),
    "420": ChainSize(4 * _INCH / 8, 0.00635, 0.00777),
    "428": ChainSize(4 * _INCH / 8, 0.00775, 0.00851),
    "520": ChainSize(5 * _INCH / 8, 0.00635, 0.01016),
    "525": ChainSize(5 * _INCH / 8, 0.00795, 0.01016),
    "530": ChainSize(5 * _INCH / 8, 0.00953, 0.01016),
    "532": ChainSize(5 * _INCH / 8, 0.00953, 0.01110),
    "630": ChainSize(6 * _INCH / 8, 0.00953, 0.01191),
}


def chain_size(name: str | int) -> ChainSize:
    """Dimensions of a chain size.

    Parameters
    ----------
    name : str or int
        Size number, such as "428" or 520.

    Returns
    -------
    ChainSize
        Pitch, inner width and roller diameter, m.

    Raises
    ------
    ValueError
        If the size is not in the table.

    Examples
    --------
    >>> round(chain_size("520").pitch * 1000, 3)
    15.875
    """
    key = str(name).strip()
    if key not in CHAIN_SIZES:
        raise ValueError(f"Unknown chain size {name!r}. Accepted: {', '.join(CHAIN_SIZES)}.")
    return CHAIN_SIZES[key]


def pitch_diameter(pitch: ArrayLike, teeth: ArrayLike) -> Floats:
    """Diameter of the circle the pins ride on: p / sin(pi / N).

    Parameters
    ----------
    pitch : float or array
        Chain pitch, m.
    teeth : float or array
        Number of teeth, at least 5.

    Returns
    -------
    float or array
        Pitch diameter, m.

    Raises
    ------
    ValueError
        If a sprocket has fewer than five teeth.

    Notes
    -----
    ISO 606, section on chain sprockets; ANSI/ASME B29.1, table of sprocket diameters.

    Examples
    --------
    >>> round(float(pitch_diameter(0.0254, 15)) * 1000, 2)
    122.17
    """
    return np.asarray(pitch) / np.sin(np.pi / _teeth(teeth))


def chain_speed(pitch: ArrayLike, teeth: ArrayLike, sprocket_speed: ArrayLike) -> Floats:
    """Mean speed of the chain: N p w / (2 pi).

    Parameters
    ----------
    pitch : float or array
        Chain pitch, m.
    teeth : float or array
        Teeth of the sprocket, at least 5.
    sprocket_speed : float or array
        Angular speed of that sprocket, rad/s.

    Returns
    -------
    float or array
        Chain speed, m/s.

    Raises
    ------
    ValueError
        If a sprocket has fewer than five teeth.

    Notes
    -----
    One tooth passes one pitch; ANSI/ASME B29.1, chain speed.

    Examples
    --------
    >>> round(float(chain_speed(0.015875, 12, 500.0)), 2)
    15.16
    """
    return np.asarray(pitch) * _teeth(teeth) * np.asarray(sprocket_speed) / (2.0 * np.pi)


def drag_torque(force: ArrayLike, pitch: ArrayLike, teeth: ArrayLike) -> Floats:
    """Torque at a sprocket of the part of the chain's loss that does not depend on its load.

    Parameters
    ----------
    force : float or array
        Chain force lost at any load, N.
    pitch : float or array
        Chain pitch, m.
    teeth : float or array
        Teeth of the sprocket, at least 5.

    Returns
    -------
    float or array
        Torque, N m.

    Raises
    ------
    ValueError
        If a sprocket has fewer than five teeth.

    Notes
    -----
    With a loss that grows with the tension T and one that does not, efficiency is a straight line in 1 / T:
    e = e_0 - force / T, as J. B. Spicer and others measured it, Effects of frictional loss on bicycle chain drive
    efficiency, Journal of Mechanical Design 123 (2001) 598-605, figure of efficiency against reciprocal tension.

    Examples
    --------
    >>> round(float(drag_torque(20.0, 0.0127, 12)), 3)
    0.491
    """
    return 0.5 * np.asarray(force) * pitch_diameter(pitch, teeth)


def chain_length(
    pitch: ArrayLike, front_teeth: ArrayLike, rear_teeth: ArrayLike, centre_distance: ArrayLike
) -> Floats:
    """Chain length in links, exact for two sprockets: straight runs tangent to the pitch circles, and the arcs.

    L = 2 (C / p) cos(a) + (N + n) / 2 + (N - n) a / pi, with sin(a) = (D - d) / (2 C).

    Parameters
    ----------
    pitch : float or array
        Chain pitch, m.
    front_teeth : float or array
        Teeth of one sprocket, at least 5.
    rear_teeth : float or array
        Teeth of the other, at least 5.
    centre_distance : float or array
        Distance between the shafts, m.

    Returns
    -------
    float or array
        Length in links, not rounded.

    Raises
    ------
    ValueError
        If a sprocket has fewer than five teeth, or the sprockets would overlap.

    Notes
    -----
    Geometry of an open band over two pitch circles, the exact form in machinery handbooks.

    Examples
    --------
    >>> round(float(chain_length(0.0127, 20, 63, 36 * 0.0127)), 2)
    114.8
    """
    distance = _centre_distance(pitch, front_teeth, rear_teeth, centre_distance)
    half_difference = 0.5 * (pitch_diameter(pitch, rear_teeth) - pitch_diameter(pitch, front_teeth))
    angle = np.arcsin(half_difference / distance)
    straight = 2.0 * distance / np.asarray(pitch) * np.cos(angle)
    return straight + 0.5 * np.add(rear_teeth, front_teeth) + np.subtract(rear_teeth, front_teeth) * angle / np.pi


def centre_distance(pitch: ArrayLike, front_teeth: ArrayLike, rear_teeth: ArrayLike, links: ArrayLike) -> Floats:
    """Distance between the shafts that a chain of so many links sets, the exact inverse of `chain_length`.

    Parameters
    ----------
    pitch : float or array
        Chain pitch, m.
    front_teeth : float or array
        Teeth of one sprocket, at least 5.
    rear_teeth : float or array
        Teeth of the other, at least 5.
    links : float or array
        Length of the chain in links.

    Returns
    -------
    float or array
        Centre distance, m.

    Raises
    ------
    ValueError
        If a sprocket has fewer than five teeth, or the chain is too short to go round both sprockets.

    Notes
    -----
    Starts from the handbook inverse, C/p = (k + sqrt(k^2 - 8 ((N - n) / (2 pi))^2)) / 4 with k = L - (N + n) / 2,
    ANSI/ASME B29.1, and finishes with Newton steps on the exact form, whose derivative is 2 cos(a) / p.

    Examples
    --------
    >>> round(float(centre_distance(1.0, 20, 63, 114)), 2)
    35.59
    """
    pitch = np.asarray(pitch, dtype=float)
    both, difference = np.add(front_teeth, rear_teeth), np.subtract(rear_teeth, front_teeth)
    links = np.asarray(links, dtype=float)
    spare = links - 0.5 * both
    root = spare**2 - 8.0 * (difference / (2.0 * np.pi)) ** 2
    front, rear = pitch_diameter(pitch, front_teeth), pitch_diameter(pitch, rear_teeth)
    touching = 0.5 * (front + rear)
    too_short = (spare <= 0.0) | (root <= 0.0)
    with np.errstate(invalid="ignore"):
        distance = np.where(too_short, touching, 0.25 * pitch * (spare + np.sqrt(np.abs(root))))
    half_difference = 0.5 * (rear - front)
    for _ in range(6):  # converges quadratically; six steps take the handbook's error to rounding
        sine = np.clip(half_difference / distance, -0.999, 0.999)
        cosine = np.sqrt(1.0 - sine**2)
        length = 2.0 * distance / pitch * cosine + 0.5 * both + difference * np.arcsin(sine) / np.pi
        distance = distance + (links - length) * pitch / (2.0 * cosine)
    if np.any(too_short | ~(distance >= touching)):
        raise ValueError("The chain is too short to go round both sprockets without them touching.")
    return distance[()]


def _teeth(teeth: ArrayLike) -> Floats:
    """Teeth as floats, refusing what is not a sprocket."""
    array = np.asarray(teeth, dtype=float)
    if not np.all(array >= 5.0):
        raise ValueError(f"A sprocket needs at least 5 teeth; got {np.min(array):g}.")
    return array


def _centre_distance(
    pitch: ArrayLike, front_teeth: ArrayLike, rear_teeth: ArrayLike, distance: ArrayLike
) -> Floats:
    """Centre distance as floats, refusing sprockets that overlap."""
    distance = np.asarray(distance, dtype=float)
    touching = 0.5 * (pitch_diameter(pitch, front_teeth) + pitch_diameter(pitch, rear_teeth))
    if not np.all(distance >= touching):
        raise ValueError(
            f"The shafts are too close: these sprockets touch at {np.max(touching) * 1000:.0f} mm between centres."
        )
    return distance
