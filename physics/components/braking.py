"""The largest braking that tyres and balance allow: which wheel slides first, or that the rear lifts.

The moment balance about the rear contact, as in `load_transfer`, with the brakes' forces F at the contacts, drag
D at its height h_d, and what slows mass and slope down, m a = F + D + m g sin(s):

    N_f w = m g b cos(s) + h F + (h - h_d) D,      N_r = m g cos(s) - N_f

A wheel slides where its share of F is more than grip times its load; the rear lifts where N_r is nothing. Left out:
wheels and rotor, which a brake has to slow down too and which push nothing at the contact; the fork's dive, which
lowers the balance point and helps; and that a front wheel which slides throws the bike down.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats, Numbers
from physics.components.load_transfer import Stance
from physics.components.road_load import normal_load

BOTH, FRONT, REAR = "both", "front", "rear"
BRAKES = (BOTH, FRONT, REAR)
SLIDES, FRONT_SLIDES, REAR_SLIDES, REAR_LIFTS = 0, 1, 2, 3
ENDS = ("both wheels slide", "the front wheel slides", "the rear wheel slides", "the rear wheel lifts")
"""What ends braking, in the order of their numbers."""


class BrakingLimit(NamedTuple):
    """The largest braking force, and what ends it.

    Attributes
    ----------
    force : float or array, N
        Of both contacts together; at least 0.
    end : int or array of int
        Place in ENDS.
    """

    force: Floats
    end: NDArray[np.int_]


def braking_limit(stance: Stance, grip: Numbers, brakes: str = BOTH, drag_force: Numbers = 0.0) -> BrakingLimit:
    """The largest force that brakes can hold a bike back with.

    Parameters
    ----------
    stance : Stance
        Mass, geometry and slope.
    grip : float or array
        Largest force at a contact over the load on it, 1.
    brakes : str
        One of BRAKES; both are taken to share the force as the loads are shared.
    drag_force : float or array, N
        Aerodynamic drag.

    Returns
    -------
    BrakingLimit

    Raises
    ------
    ValueError
        For brakes that are not known.

    Notes
    -----
    V. Cossalter, Motorcycle Dynamics, chapter 3 (from memory for the chapter), with drag and slope.

    Examples
    --------
    >>> limit = braking_limit(Stance(200.0, 1.4, 0.7, 0.7, 0.7), 1.2)
    >>> round(float(limit.force), 1), ENDS[int(limit.end)]
    (1961.3, 'the rear wheel lifts')
    """
    if brakes not in BRAKES:
        raise ValueError(f"Unknown brakes {brakes!r}: accepted are {', '.join(BRAKES)}.")
    along, height, base = stance.centre_of_gravity_to_rear_axle, stance.centre_of_gravity_height, stance.wheelbase
    weight = normal_load(stance.mass, stance.slope)
    turned = np.subtract(height, stance.drag_height) * drag_force
    lifts = (weight * np.subtract(base, along) - turned) / height
    if brakes == BOTH:
        slides, name = np.multiply(grip, weight), SLIDES
    elif brakes == FRONT:
        arm = np.subtract(base, np.multiply(grip, height))
        some = np.multiply(grip, weight * along + turned) / np.where(arm > 0, arm, 1.0)
        slides, name = np.where(arm > 0, some, np.inf), FRONT_SLIDES
    else:
        arm = base + np.multiply(grip, height)
        slides, name = np.multiply(grip, weight * np.subtract(base, along) - turned) / arm, REAR_SLIDES
    force = np.maximum(np.minimum(slides, lifts), 0.0)
    return BrakingLimit(force, np.where(lifts < slides, REAR_LIFTS, name))
