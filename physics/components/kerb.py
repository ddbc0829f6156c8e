"""A kerb from a standstill: the highest that each wheel climbs, as statics of a wheel at a step.

A wheel of radius r against a step of height k touches its edge at the angle t ahead of its lowest point,
cos t = 1 - k / r. Of bike and rider, mass m, wheelbase w, centre of gravity b ahead of the rear axle, on the level:

    front, pushed by the drive force F:  its edge pushes along the line to its axle, so about the rear contact
        m g b = K (w cos t + r sin t),     F = K sin t = m g b tan t / (w + r tan t)
    rear, turned by the drive torque F r:  nothing else pushes along the road, so its edge carries V upright and
        V (w - r sin t) = m g (w - b),     F r = V r sin t,   and its tyre slips where tan t > grip

A wheel at an obstacle: the textbook problem of statics, J. L. Meriam and L. G. Kraige, Engineering Mechanics:
Statics, chapter 3, from memory for the chapter. Left out: a run-up, tyres and springs that give way, a rider who
shifts or lifts, and what hangs lower than the kerb is high.
"""

from __future__ import annotations

import numpy as np

from physics.arrays import Floats, Numbers
from physics.components.air import STANDARD_GRAVITY
from physics.components.load_transfer import Stance


def front_kerb(stance: Stance, drive_force: Numbers, grip: Numbers) -> Floats:
    """The highest kerb that the front wheel climbs, pushed by the rear.

    Parameters
    ----------
    stance : Stance
        Mass, geometry and wheel radius.
    drive_force : float or array, N
        At the rear contact, 0 or above.
    grip : float or array
        Largest drive force over load at the rear tyre.

    Returns
    -------
    float or array, m
        At most the wheel's radius.

    Examples
    --------
    >>> stance = Stance(200.0, 1.4, 0.7, 0.7, 0.7, rolling_radius=0.3)
    >>> round(float(front_kerb(stance, 800.0, 1.2)), 4)
    0.0867
    """
    base, along, radius = stance.wheelbase, stance.centre_of_gravity_to_rear_axle, stance.rolling_radius
    weight = np.multiply(stance.mass, STANDARD_GRAVITY)
    drive = _tangent(drive_force * base, weight * along - np.multiply(drive_force, radius))
    slips = _tangent(np.multiply(grip, np.subtract(base, along)), along - np.multiply(grip, radius))
    return radius * (1.0 - np.cos(np.minimum(drive, slips)))


def rear_kerb(stance: Stance, drive_force: Numbers, grip: Numbers) -> Floats:
    """The highest kerb that the driven rear wheel climbs, the front already up.

    Parameters
    ----------
    stance : Stance
        Mass, geometry and wheel radius; the front's being higher is left out.
    drive_force : float or array, N
        Torque at the rear wheel over its radius, 0 or above.
    grip : float or array
        Largest force over load at the rear tyre.

    Returns
    -------
    float or array, m
        At most the wheel's radius.

    Examples
    --------
    >>> stance = Stance(200.0, 1.4, 0.7, 0.7, 0.7, rolling_radius=0.3)
    >>> round(float(rear_kerb(stance, 800.0, 1.2)), 4)
    0.0841
    """
    base, radius = stance.wheelbase, stance.rolling_radius
    moment = np.multiply(stance.mass, STANDARD_GRAVITY) * np.subtract(base, stance.centre_of_gravity_to_rear_axle)
    sine = np.multiply(drive_force, base) / (moment + np.multiply(drive_force, radius))
    angle = np.minimum(np.arcsin(np.clip(sine, 0.0, 1.0)), np.arctan(grip))
    return radius * (1.0 - np.cos(angle))


def _tangent(over: Numbers, under: Numbers) -> Floats:
    """The angle with this tangent; a right angle where the denominator is no more than nothing."""
    return np.where(np.less_equal(under, 0.0), np.pi / 2, np.arctan2(np.maximum(over, 0.0), np.maximum(under, 0.0)))
