"""How many links a chain needs, and where a chain of so many links puts the axle.

A length "in links" counts pitches, so a closed chain has a whole, normally even, number of them.
"""

from __future__ import annotations

import numpy as np

from physics.components.chain import pitch_diameter, teeth_checked


def chain_length(pitch, front_teeth, rear_teeth, centre_distance):
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
    centre_distance = _centre_distance(pitch, front_teeth, rear_teeth, centre_distance)
    half_difference = 0.5 * (pitch_diameter(pitch, rear_teeth) - pitch_diameter(pitch, front_teeth))
    angle = np.arcsin(half_difference / centre_distance)
    front_teeth, rear_teeth = np.asarray(front_teeth, dtype=float), np.asarray(rear_teeth, dtype=float)
    straight = 2.0 * centre_distance / np.asarray(pitch) * np.cos(angle)
    return straight + 0.5 * (rear_teeth + front_teeth) + (rear_teeth - front_teeth) * angle / np.pi


def chain_length_handbook(pitch, front_teeth, rear_teeth, centre_distance):
    """Chain length in links by the handbook form: 2 C/p + (N + n) / 2 + ((N - n) / (2 pi))^2 p / C.

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
        Length in links, not rounded. On a motorcycle it is within 0.1 link of `chain_length`.

    Raises
    ------
    ValueError
        If a sprocket has fewer than five teeth, or the sprockets would overlap.

    Notes
    -----
    ANSI/ASME B29.1 and Machinery's Handbook, chain length.

    Examples
    --------
    >>> round(float(chain_length_handbook(0.0127, 20, 63, 36 * 0.0127)), 1)
    114.8
    """
    pitches = _centre_distance(pitch, front_teeth, rear_teeth, centre_distance) / np.asarray(pitch)
    front_teeth, rear_teeth = np.asarray(front_teeth, dtype=float), np.asarray(rear_teeth, dtype=float)
    step = (rear_teeth - front_teeth) / (2.0 * np.pi)
    return 2.0 * pitches + 0.5 * (rear_teeth + front_teeth) + step**2 / pitches


def centre_distance(pitch, front_teeth, rear_teeth, links):
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
    front_teeth = teeth_checked("front sprocket", front_teeth)
    rear_teeth = teeth_checked("rear sprocket", rear_teeth)
    links = np.asarray(links, dtype=float)
    spare = links - 0.5 * (front_teeth + rear_teeth)
    root = spare**2 - 8.0 * ((rear_teeth - front_teeth) / (2.0 * np.pi)) ** 2
    front, rear = pitch_diameter(pitch, front_teeth), pitch_diameter(pitch, rear_teeth)
    touching = 0.5 * (front + rear)
    too_short = (spare <= 0.0) | (root <= 0.0)
    with np.errstate(invalid="ignore"):
        distance = np.where(too_short, touching, 0.25 * pitch * (spare + np.sqrt(np.abs(root))))
    half_difference = 0.5 * (rear - front)
    for _ in range(6):  # converges quadratically; six steps take the handbook's error to rounding
        sine = np.clip(half_difference / distance, -0.999, 0.999)
        cosine = np.sqrt(1.0 - sine**2)
        length = 2.0 * distance / pitch * cosine + 0.5 * (front_teeth + rear_teeth)
        length = length + (rear_teeth - front_teeth) * np.arcsin(sine) / np.pi
        distance = distance + (links - length) * pitch / (2.0 * cosine)
    if np.any(too_short | ~(distance >= touching)):
        raise ValueError("The chain is too short to go round both sprockets without them touching.")
    return distance[()]


def even_links(links):
    """The next even whole number of links at or above a length, as a chain joined without a cranked link needs.

    Parameters
    ----------
    links : float or array
        Length in links, not rounded.

    Returns
    -------
    float or array
        Even number of links.

    Examples
    --------
    >>> float(even_links(114.8))
    116.0
    """
    return 2.0 * np.ceil(np.asarray(links, dtype=float) / 2.0 - 1e-9)


def _centre_distance(pitch, front_teeth, rear_teeth, distance):
    """Centre distance as floats, refusing sprockets that overlap."""
    distance = np.asarray(distance, dtype=float)
    touching = 0.5 * (pitch_diameter(pitch, front_teeth) + pitch_diameter(pitch, rear_teeth))
    if not np.all(distance >= touching):
        raise ValueError(
            f"The shafts are too close: these sprockets touch at {np.max(touching) * 1000:.0f} mm between centres."
        )
    return distance
