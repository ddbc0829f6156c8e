"""Load transfer: the load on each wheel, when the front lifts, when the rear slips.

One moment balance about the rear contact gives everything. Along the road m a = F - D - R - m g sin(s), so the
acceleration and the slope force drop out and the load on the front wheel is

    N_f = (m g b cos(s) - F h + R h - D (h_d - h)) / w

with F the drive force at the rear contact, D drag acting at height h_d, R rolling resistance, b the distance of the
centre of gravity forward of the rear axle, h its height, and w the wheelbase. Each limit is therefore linear in
drag and rolling resistance, so that a time loop works out trigonometry once. Numbers and arrays broadcast.

Left out: the pitch reaction of speeding up wheels and rotor (it lifts the front a little earlier when they turn
forward), suspension movement, and the moment of rolling resistance about the contacts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from physics.arrays import Floats, Numbers
from physics.components.air import STANDARD_GRAVITY
from physics.components.road_load import normal_load


@dataclass(frozen=True)
class Stance:
    """How bike and rider stand on their wheels.

    Attributes
    ----------
    mass : float or array
        Bike and rider, kg.
    wheelbase : float or array
        Distance between the axles, m.
    centre_of_gravity_to_rear_axle : float or array
        Centre of gravity forward of the rear axle, m.
    centre_of_gravity_height : float or array
        Height of the centre of gravity, m; above 0, or a `ValueError` is raised.
    drag_height : float or array
        Height at which drag acts, m.
    slope : float or array
        Angle of the road, rad; uphill positive.
    """

    mass: Numbers
    wheelbase: Numbers
    centre_of_gravity_to_rear_axle: Numbers
    centre_of_gravity_height: Numbers
    drag_height: Numbers
    slope: Numbers = 0.0

    def __post_init__(self) -> None:
        if not np.all(np.greater(self.centre_of_gravity_height, 0.0)):
            raise ValueError("The height of the centre of gravity must be above 0 m.")


class DriveLimit(NamedTuple):
    """A limit on drive force, linear in drag and rolling resistance.

    Attributes
    ----------
    constant : float or array
        Without either, N.
    per_drag, per_rolling : float or array
        Force gained for each newton of them, 1.
    """

    constant: Floats
    per_drag: Floats
    per_rolling: Floats

    def at(self, drag_force: Numbers, rolling_force: Numbers = 0.0) -> Floats:
        """The limit at some drag and rolling resistance, N."""
        return self.constant + self.per_drag * drag_force + self.per_rolling * rolling_force


def front_wheel_load(
    stance: Stance, drive_force: Numbers, drag_force: Numbers = 0.0, rolling_force: Numbers = 0.0
) -> Floats:
    """Load on the front wheel while driving.

    Parameters
    ----------
    stance : Stance
        Mass and geometry.
    drive_force : float or array
        Drive force at the rear contact, N.
    drag_force : float or array
        Aerodynamic drag, N.
    rolling_force : float or array
        Rolling resistance, N.

    Returns
    -------
    float or array
        Load, N; negative means the front has left the ground.

    Notes
    -----
    Moment balance at the top of the file; V. Cossalter, Motorcycle Dynamics, chapter 3 (from memory for the
    chapter), with drag at its own height.

    Examples
    --------
    >>> round(float(front_wheel_load(Stance(200.0, 1.4, 0.7, 0.7, 0.7), 0.0)), 2)
    980.66
    """
    height = stance.centre_of_gravity_height
    moment = (
        normal_load(stance.mass, stance.slope) * stance.centre_of_gravity_to_rear_axle
        - np.subtract(drive_force, rolling_force) * height
        - np.multiply(drag_force, np.subtract(stance.drag_height, height))
    )
    return moment / stance.wheelbase


def front_load_limit(stance: Stance, fraction: Numbers = 0.0) -> DriveLimit:
    """Drive force at which the front wheel lifts, or carries a fraction of its standing load.

    Parameters
    ----------
    stance : Stance
        Mass and geometry.
    fraction : float or array
        Of the front's load when standing on level ground: 0 is lifted, 1 is no transfer.

    Returns
    -------
    DriveLimit
        Force at the rear contact, N. Without drag, on level ground, lift comes at an acceleration of g b / h.

    Notes
    -----
    From N_f = fraction * m g b / w: F = m g b (cos(s) - fraction) / h + R + D (1 - h_d / h).

    Examples
    --------
    >>> lift = front_load_limit(Stance(200.0, 1.4, 0.7, 0.7, 0.84))
    >>> round(float(lift.at(0.0)), 2), round(float(lift.at(100.0)), 2)
    (1961.33, 1941.33)
    """
    height = stance.centre_of_gravity_height
    reserve = stance.mass * STANDARD_GRAVITY * np.subtract(np.cos(stance.slope), fraction)
    constant = reserve * stance.centre_of_gravity_to_rear_axle / height
    return DriveLimit(constant, 1.0 - np.divide(stance.drag_height, height), np.ones_like(constant))


def rear_slip_limit(stance: Stance, grip: Numbers) -> DriveLimit:
    """Drive force at which the rear tyre slips, with the load that driving itself moves onto it.

    Parameters
    ----------
    stance : Stance
        Mass and geometry.
    grip : float or array
        Largest drive force over load at the rear tyre, 1.

    Returns
    -------
    DriveLimit
        Force at the rear contact, N. Where grip * h >= w, each newton of drive presses the rear tyre down by more
        than it needs, it never slips with the front on the ground, and the constant is infinite.

    Notes
    -----
    From F = grip (m g cos(s) - N_f). It holds while the front is on the ground: past the drive that lifts it the
    front limit comes first, so take the lower of the two.

    Examples
    --------
    >>> round(float(rear_slip_limit(Stance(200.0, 1.4, 0.7, 0.7, 0.7), 0.8).at(0.0)), 2)
    1307.55
    """
    height = stance.centre_of_gravity_height
    margin = stance.wheelbase - np.multiply(grip, height)
    slips = margin > 0.0
    per_margin = np.where(slips, grip, 0.0) / np.where(slips, margin, 1.0)
    rear_load = normal_load(stance.mass, stance.slope) * np.subtract(
        stance.wheelbase, stance.centre_of_gravity_to_rear_axle
    )
    constant = np.where(slips, per_margin * rear_load, np.inf)[()]
    return DriveLimit(constant, per_margin * np.subtract(stance.drag_height, height), -per_margin * height)
