"""A bike's balance from the weight on each wheel; its drag area is `physics.components.road_load.posture`'s."""

from __future__ import annotations

import numpy as np

from physics.arrays import Floats, Numbers


def balance_point(front_load: Numbers, rear_load: Numbers, wheelbase: Numbers) -> Floats:
    """Distance of the centre of gravity forward of the rear axle, m: wheelbase x front / (front + rear).

    Parameters
    ----------
    front_load, rear_load : float or array
        On each wheel with the bike level, in kg or N alike; together above 0.
    wheelbase : float or array, m
        Axle to axle.

    Notes
    -----
    Moments about the rear axle; V. Cossalter, Motorcycle Dynamics, chapter 3, from memory for the chapter. Weigh
    one wheel at a time with the other on a block of the scale's height, upright, the rider on or off as the value
    is to be used.

    Examples
    --------
    >>> round(float(balance_point(58.0, 60.0, 1.4)), 3)
    0.688
    """
    return np.multiply(wheelbase, front_load) / np.add(front_load, rear_load)
