"""Load transfer: the load on each wheel, when the front lifts, when the rear slips.

One moment balance about the rear contact gives everything. All moments of the forces from outside turn into angular
momentum: that of the mass, m a at the height h, and that of what spins, wheels and rotor, J a, so that

    N_f w = m g b cos(s) - h (m g sin(s) + m a) - D h_d - J a,       J = I_wheels / r + I_rotor G / r

with N_f the load on the front wheel, w the wheelbase, b the distance of the centre of gravity forward of the rear
axle, D drag at the height h_d, r the rolling radius and G motor turns for one turn of the wheel. Acceleration
follows from the drive force F = (shaft torque) G / r less losses, which also spins wheels and rotor up,

    m_e a = F - D - R - m g sin(s),                                  m_e = m + I_wheels / r^2 + I_rotor (G / r)^2

with R rolling resistance. What spins up wheels and rotor is no force at the contact: the tyre pushes with F less
(I_rotor (G / r)^2 + I_rear / r^2) a. Each limit is linear in drag and rolling resistance, so that a time loop works
out trigonometry once. Numbers and arrays broadcast.

As the load on the front goes, the fork extends by the sag it stands at, and bike and rider turn about the rear axle
by the angle sag / w: the centre of gravity rises by b sag / w and moves back by (h - r) sag / w. The fork is taken
to extend in proportion to the load it loses.

Assumed: the motor turns the same way as the wheels, as with a chain (one that turns the other way lifts the front
a little later); half of the wheels' inertia is the front wheel's; the rear suspension stays as it stands. Left out:
the moment of rolling resistance about the contacts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from physics.arrays import Floats, Numbers
from physics.components.air import STANDARD_GRAVITY
from physics.components.road_load import equivalent_mass, normal_load, slope_force


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
    wheel_inertia : float or array
        Of both wheels together, kg m2.
    rolling_radius : float or array
        Of the rear tyre, m; taken for both wheels.
    rotor_inertia : float or array
        About the motor's shaft, kg m2.
    motor_turns : float or array
        For one turn of the wheel.
    fork_sag : float or array
        How far the fork stands in, m, along which it extends as the front wheel lifts.
    """

    mass: Numbers
    wheelbase: Numbers
    centre_of_gravity_to_rear_axle: Numbers
    centre_of_gravity_height: Numbers
    drag_height: Numbers
    slope: Numbers = 0.0
    wheel_inertia: Numbers = 0.0
    rolling_radius: Numbers = 0.3
    rotor_inertia: Numbers = 0.0
    motor_turns: Numbers = 1.0
    fork_sag: Numbers = 0.0

    def __post_init__(self) -> None:
        if not np.all(np.greater(self.centre_of_gravity_height, 0.0)):
            raise ValueError("The height of the centre of gravity must be above 0 m.")

    @property
    def equivalent_mass(self) -> Floats:
        """Mass that has to be speeded up, wheels and rotor included, kg: m_e."""
        return equivalent_mass(
            self.mass, self.wheel_inertia, self.rolling_radius, self.rotor_inertia, self.motor_turns
        )

    @property
    def spin(self) -> Floats:
        """Angular momentum of wheels and rotor for each m/s of road speed, kg m: J."""
        return (self.wheel_inertia + np.multiply(self.rotor_inertia, self.motor_turns)) / self.rolling_radius

    @property
    def spun_by_drive(self) -> Floats:
        """Part of the equivalent mass that the drive spins up without a force at the rear contact, kg."""
        turned = 0.5 * np.asarray(self.wheel_inertia) + self.rotor_inertia * np.square(self.motor_turns)
        return turned / np.square(self.rolling_radius)

    def tilted(self, fraction: Numbers) -> tuple[Floats, Floats]:
        """Centre of gravity before the rear axle and its height, m, with a fraction of the standing front load."""
        along, height = self.centre_of_gravity_to_rear_axle, self.centre_of_gravity_height
        angle = np.multiply(self.fork_sag, np.subtract(1.0, fraction)) / self.wheelbase
        return along - np.subtract(height, self.rolling_radius) * angle, height + np.multiply(along, angle)


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
    chapter), with drag at its own height, and with wheels and rotor as spinning bodies. The fork extends in
    proportion to the load that is gone, which keeps the load linear in the moments.

    Examples
    --------
    >>> round(float(front_wheel_load(Stance(200.0, 1.4, 0.7, 0.7, 0.7), 0.0)), 2)
    980.66
    """
    along, height, base = stance.centre_of_gravity_to_rear_axle, stance.centre_of_gravity_height, stance.wheelbase
    weight, back = normal_load(stance.mass, stance.slope), slope_force(stance.mass, stance.slope)
    gain = (np.subtract(drive_force, drag_force) - rolling_force - back) / stance.equivalent_mass
    pushed = back + stance.mass * gain
    moment = weight * along - height * pushed - np.multiply(drag_force, stance.drag_height) - stance.spin * gain
    per_angle = weight * np.subtract(height, stance.rolling_radius) + np.multiply(along, pushed)
    lost = per_angle * stance.fork_sag / base  # moment lost where the fork is topped out
    standing = np.multiply(stance.mass, STANDARD_GRAVITY) * along
    return (moment - lost) / (1.0 - lost / standing) / base


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
        Drive force, N. Without anything that spins, drag, slope and sag, lift comes at an acceleration of g b / h.

    Notes
    -----
    The balance at the top of the file with N_f = fraction m g b / w, solved for a; then F = m_e a + D + R +
    m g sin(s).

    Examples
    --------
    >>> lift = front_load_limit(Stance(200.0, 1.4, 0.7, 0.7, 0.84))
    >>> round(float(lift.at(0.0)), 2), round(float(lift.at(100.0)), 2)
    (1961.33, 1941.33)
    """
    along, height = stance.tilted(fraction)
    weight, back = normal_load(stance.mass, stance.slope), slope_force(stance.mass, stance.slope)
    kept = np.multiply(stance.mass, STANDARD_GRAVITY) * fraction * stance.centre_of_gravity_to_rear_axle
    per_moment = stance.equivalent_mass / (stance.mass * height + stance.spin)
    constant = back + per_moment * (weight * along - kept - height * back)
    return DriveLimit(constant, 1.0 - per_moment * stance.drag_height, np.ones_like(constant))


def rear_slip_limit(stance: Stance, grip: Numbers) -> DriveLimit:
    """Drive force at which the rear tyre slips, with the load that driving itself moves onto it.

    Parameters
    ----------
    stance : Stance
        Mass and geometry, with the fork as it stands: what its extending moves to the rear is left out.
    grip : float or array
        Largest force at the contact over load at the rear tyre, 1.

    Returns
    -------
    DriveLimit
        Drive force, N. Where each newton of drive presses the rear tyre down by more than it needs (without
        anything that spins: grip h >= w), it never slips with the front on the ground: the constant is infinite.

    Notes
    -----
    From F - (what spins) a = grip (m g cos(s) - N_f). It holds while the front is on the ground: past the drive
    that lifts it, `lifted_slip_limit` holds.

    Examples
    --------
    >>> round(float(rear_slip_limit(Stance(200.0, 1.4, 0.7, 0.7, 0.7), 0.8).at(0.0)), 2)
    1307.55
    """
    base, inertia, height = stance.wheelbase, stance.equivalent_mass, stance.centre_of_gravity_height
    weight, back = normal_load(stance.mass, stance.slope), slope_force(stance.mass, stance.slope)
    spun, lever = stance.spun_by_drive / inertia, (stance.mass * height + stance.spin) / inertia
    margin = np.multiply(base, 1.0 - spun) - np.multiply(grip, lever)
    slips = margin > 0.0
    some = np.where(slips, grip, 0.0)
    per_margin = 1.0 / np.where(slips, margin, 1.0)
    rear = weight * np.subtract(base, stance.centre_of_gravity_to_rear_axle) + back * (height - lever)
    spared = np.where(slips, spun * base, 0.0)  # moment arm of the force that spins instead of pushing
    constant = np.where(slips, per_margin * (some * rear - spared * back), np.inf)[()]
    per_drag = per_margin * (some * np.subtract(stance.drag_height, lever) - spared)
    return DriveLimit(constant, per_drag, -per_margin * (some * lever + spared))


def lifted_slip_limit(stance: Stance, grip: Numbers) -> DriveLimit:
    """Drive force at which the rear tyre slips with the front wheel in the air, when it carries all the weight.

    Parameters
    ----------
    stance : Stance
        Mass and what spins.
    grip : float or array
        Largest force at the contact over load at the rear tyre, 1.

    Returns
    -------
    DriveLimit
        Drive force, N, from F - (what spins) a = grip m g cos(s).

    Examples
    --------
    >>> round(float(lifted_slip_limit(Stance(200.0, 1.4, 0.7, 0.7, 0.7), 0.8).at(0.0)), 2)
    1569.06
    """
    spun = stance.spun_by_drive / stance.equivalent_mass
    weight, back = normal_load(stance.mass, stance.slope), slope_force(stance.mass, stance.slope)
    per_force = -spun / (1.0 - spun)
    return DriveLimit(np.multiply(grip, weight) / (1.0 - spun) + per_force * back, per_force, per_force)
