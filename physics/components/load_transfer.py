"""Load transfer: the load on each wheel, when the front lifts, when the rear slips.

One moment balance about the rear contact gives everything. Along the road m a = F - D - R - m g sin(s), so the
acceleration and the slope force drop out and the load on the front wheel is

    N_f = (m g b cos(s) - F h + R h - D (h_d - h)) / w

with F the drive force at the rear contact, D drag acting at height h_d, R rolling resistance, b the distance of the
centre of gravity forward of the rear axle, h its height, and w the wheelbase. Each limit is therefore a straight
line in drag, F_max = a + b D: the `..._coefficients` functions return (a, b), R being part of a, so that a time
loop works out trigonometry once. Scalars and arrays broadcast.

Left out: the pitch reaction of speeding up wheels and rotor (it lifts the front a little earlier when they turn
forward), suspension movement, and the moment of rolling resistance about the contacts.
"""

from __future__ import annotations

import numpy as np

from physics.components.air import STANDARD_GRAVITY


def front_wheel_load(
    mass,
    wheelbase,
    centre_of_gravity_to_rear_axle,
    centre_of_gravity_height,
    drive_force,
    drag_force,
    drag_height,
    slope,
    rolling_resistance=0.0,
):
    """Load on the front wheel while driving.

    Parameters
    ----------
    mass : float or array
        Bike and rider, kg.
    wheelbase : float or array
        Distance between the axles, m.
    centre_of_gravity_to_rear_axle : float or array
        Centre of gravity forward of the rear axle, m.
    centre_of_gravity_height : float or array
        Height of the centre of gravity, m.
    drive_force : float or array
        Drive force at the rear contact, N.
    drag_force : float or array
        Aerodynamic drag, N.
    drag_height : float or array
        Height at which drag acts, m.
    slope : float or array
        Angle of the road, rad; uphill positive.
    rolling_resistance : float or array
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
    >>> round(float(front_wheel_load(200.0, 1.4, 0.7, 0.7, 0.0, 0.0, 0.7, 0.0)), 2)
    980.66
    """
    weight = _weight(mass, slope)
    moment = (
        weight * centre_of_gravity_to_rear_axle
        - (np.asarray(drive_force) - rolling_resistance) * centre_of_gravity_height
        - np.asarray(drag_force) * (np.asarray(drag_height) - centre_of_gravity_height)
    )
    return moment / wheelbase


def front_load_force_coefficients(
    mass,
    centre_of_gravity_to_rear_axle,
    centre_of_gravity_height,
    drag_height,
    slope,
    fraction,
    rolling_resistance=0.0,
):
    """The line (a, b) of drive force a + b * drag at which the front carries a share of its standing load.

    Parameters
    ----------
    mass : float or array
        Bike and rider, kg.
    centre_of_gravity_to_rear_axle : float or array
        Centre of gravity forward of the rear axle, m.
    centre_of_gravity_height : float or array
        Height of the centre of gravity, m; above 0.
    drag_height : float or array
        Height at which drag acts, m.
    slope : float or array
        Angle of the road, rad; uphill positive.
    fraction : float or array
        Share of the front's load when standing on level ground: 0 is lifted, 1 is no transfer.
    rolling_resistance : float or array
        Rolling resistance, N. It only adds to a, so a loop may leave it out here and add it later.

    Returns
    -------
    tuple of (float or array, float or array)
        a in N, and b without unit.

    Raises
    ------
    ValueError
        If the height of the centre of gravity is not above 0.

    Notes
    -----
    From N_f = fraction * m g b / w: F = m g b (cos(s) - fraction) / h + R + D (1 - h_d / h).

    Examples
    --------
    >>> a, b = front_load_force_coefficients(200.0, 0.7, 0.7, 0.7, 0.0, 0.5)
    >>> round(float(a), 2), float(b)
    (980.66, 0.0)
    """
    height = np.asarray(centre_of_gravity_height, dtype=float)
    if not np.all(height > 0.0):
        raise ValueError("The height of the centre of gravity must be above 0 m.")
    reserve = np.asarray(mass) * STANDARD_GRAVITY * (np.cos(slope) - np.asarray(fraction))
    constant = reserve * centre_of_gravity_to_rear_axle / height + rolling_resistance
    return constant, 1.0 - np.asarray(drag_height) / height


def front_load_force(
    mass,
    centre_of_gravity_to_rear_axle,
    centre_of_gravity_height,
    drag_force,
    drag_height,
    slope,
    fraction,
    rolling_resistance=0.0,
):
    """Drive force at which the front wheel carries a share of its standing load.

    Parameters
    ----------
    mass : float or array
        Bike and rider, kg.
    centre_of_gravity_to_rear_axle : float or array
        Centre of gravity forward of the rear axle, m.
    centre_of_gravity_height : float or array
        Height of the centre of gravity, m; above 0.
    drag_force : float or array
        Aerodynamic drag, N.
    drag_height : float or array
        Height at which drag acts, m.
    slope : float or array
        Angle of the road, rad; uphill positive.
    fraction : float or array
        Share of the front's load when standing on level ground: 0 is lifted, 1 is no transfer.
    rolling_resistance : float or array
        Rolling resistance, N.

    Returns
    -------
    float or array
        Drive force at the rear contact, N.

    Raises
    ------
    ValueError
        If the height of the centre of gravity is not above 0.

    Notes
    -----
    The line of `front_load_force_coefficients`.

    Examples
    --------
    >>> round(float(front_load_force(200.0, 0.7, 0.7, 0.0, 0.7, 0.0, 0.25)), 1)
    1471.0
    """
    constant, per_drag = front_load_force_coefficients(
        mass,
        centre_of_gravity_to_rear_axle,
        centre_of_gravity_height,
        drag_height,
        slope,
        fraction,
        rolling_resistance,
    )
    return constant + per_drag * np.asarray(drag_force)


def wheelie_force_coefficients(
    mass, centre_of_gravity_to_rear_axle, centre_of_gravity_height, drag_height, slope, rolling_resistance=0.0
):
    """The line (a, b) of drive force a + b * drag at which the front wheel leaves the ground.

    Parameters
    ----------
    mass : float or array
        Bike and rider, kg.
    centre_of_gravity_to_rear_axle : float or array
        Centre of gravity forward of the rear axle, m.
    centre_of_gravity_height : float or array
        Height of the centre of gravity, m; above 0.
    drag_height : float or array
        Height at which drag acts, m.
    slope : float or array
        Angle of the road, rad; uphill positive.
    rolling_resistance : float or array
        Rolling resistance, N. It only adds to a, so a loop may leave it out here and add it later.

    Returns
    -------
    tuple of (float or array, float or array)
        a in N, and b without unit.

    Raises
    ------
    ValueError
        If the height of the centre of gravity is not above 0.

    Notes
    -----
    From N_f = 0: F = m g b cos(s) / h + R + D (1 - h_d / h).

    Examples
    --------
    >>> a, b = wheelie_force_coefficients(200.0, 0.7, 0.7, 0.84, 0.0)
    >>> round(float(a), 2), round(float(b), 2)
    (1961.33, -0.2)
    """
    return front_load_force_coefficients(
        mass, centre_of_gravity_to_rear_axle, centre_of_gravity_height, drag_height, slope, 0.0, rolling_resistance
    )


def wheelie_drive_force(
    mass,
    centre_of_gravity_to_rear_axle,
    centre_of_gravity_height,
    drag_force,
    drag_height,
    slope,
    rolling_resistance=0.0,
):
    """Drive force at the rear contact at which the front wheel leaves the ground.

    Parameters
    ----------
    mass : float or array
        Bike and rider, kg.
    centre_of_gravity_to_rear_axle : float or array
        Centre of gravity forward of the rear axle, m.
    centre_of_gravity_height : float or array
        Height of the centre of gravity, m; above 0.
    drag_force : float or array
        Aerodynamic drag, N.
    drag_height : float or array
        Height at which drag acts, m.
    slope : float or array
        Angle of the road, rad; uphill positive.
    rolling_resistance : float or array
        Rolling resistance, N.

    Returns
    -------
    float or array
        Drive force, N. Without drag and on level ground the bike then gains speed at g b / h.

    Raises
    ------
    ValueError
        If the height of the centre of gravity is not above 0.

    Notes
    -----
    The line of `wheelie_force_coefficients`. The pitch reaction of wheels and rotor is left out.

    Examples
    --------
    >>> round(float(wheelie_drive_force(200.0, 0.7, 0.7, 0.0, 0.7, 0.0)), 2)
    1961.33
    """
    constant, per_drag = wheelie_force_coefficients(
        mass, centre_of_gravity_to_rear_axle, centre_of_gravity_height, drag_height, slope, rolling_resistance
    )
    return constant + per_drag * np.asarray(drag_force)


def rear_slip_force_coefficients(
    mass,
    wheelbase,
    centre_of_gravity_to_rear_axle,
    centre_of_gravity_height,
    drag_height,
    slope,
    grip,
    rolling_resistance=0.0,
):
    """The line (a, b) of drive force a + b * drag at which the rear tyre slips.

    Parameters
    ----------
    mass : float or array
        Bike and rider, kg.
    wheelbase : float or array
        Distance between the axles, m.
    centre_of_gravity_to_rear_axle : float or array
        Centre of gravity forward of the rear axle, m.
    centre_of_gravity_height : float or array
        Height of the centre of gravity, m.
    drag_height : float or array
        Height at which drag acts, m.
    slope : float or array
        Angle of the road, rad; uphill positive.
    grip : float or array
        Largest drive force over load at the rear tyre, 1.
    rolling_resistance : float or array
        Rolling resistance, N. It lowers a by grip h R / (w - grip h), well under a percent.

    Returns
    -------
    tuple of (float or array, float or array)
        a in N, and b without unit. Where grip * h >= w, each newton of drive presses the rear tyre down by more
        than it needs, it never slips with the front on the ground, and the line is (inf, 0).

    Notes
    -----
    From F = grip (m g cos(s) - N_f). It holds while the front is on the ground: past the wheelie line the front
    limit comes first, so take the lower of the two.

    Examples
    --------
    >>> a, b = rear_slip_force_coefficients(200.0, 1.4, 0.7, 0.7, 0.7, 0.0, 0.8)
    >>> round(float(a), 2), float(b)
    (1307.55, 0.0)
    """
    height, grip = np.asarray(centre_of_gravity_height, dtype=float), np.asarray(grip, dtype=float)
    margin = np.asarray(wheelbase) - grip * height
    standing = _weight(mass, slope) * (np.asarray(wheelbase) - centre_of_gravity_to_rear_axle)
    slips = margin > 0.0
    margin = np.where(slips, margin, 1.0)
    constant = np.where(slips, grip * (standing - np.asarray(rolling_resistance) * height) / margin, np.inf)
    per_drag = np.where(slips, grip * (np.asarray(drag_height) - height) / margin, 0.0)
    return constant[()], per_drag[()]


def rear_slip_force(
    mass,
    wheelbase,
    centre_of_gravity_to_rear_axle,
    centre_of_gravity_height,
    drag_force,
    drag_height,
    slope,
    grip,
    rolling_resistance=0.0,
):
    """Largest drive force the rear tyre carries, with the load that driving itself moves onto it.

    Parameters
    ----------
    mass : float or array
        Bike and rider, kg.
    wheelbase : float or array
        Distance between the axles, m.
    centre_of_gravity_to_rear_axle : float or array
        Centre of gravity forward of the rear axle, m.
    centre_of_gravity_height : float or array
        Height of the centre of gravity, m.
    drag_force : float or array
        Aerodynamic drag, N.
    drag_height : float or array
        Height at which drag acts, m.
    slope : float or array
        Angle of the road, rad; uphill positive.
    grip : float or array
        Largest drive force over load at the rear tyre, 1.
    rolling_resistance : float or array
        Rolling resistance, N.

    Returns
    -------
    float or array
        Drive force, N; infinite where the front lifts before the rear can slip at any force.

    Notes
    -----
    The line of `rear_slip_force_coefficients`.

    Examples
    --------
    >>> round(float(rear_slip_force(200.0, 1.4, 0.7, 0.7, 0.0, 0.7, 0.0, 0.8)), 2)
    1307.55
    """
    constant, per_drag = rear_slip_force_coefficients(
        mass,
        wheelbase,
        centre_of_gravity_to_rear_axle,
        centre_of_gravity_height,
        drag_height,
        slope,
        grip,
        rolling_resistance,
    )
    return constant + per_drag * np.asarray(drag_force)


def _weight(mass, slope):
    """Weight at right angles to the road, N."""
    return np.asarray(mass) * STANDARD_GRAVITY * np.cos(slope)
