"""Load transfer: hand-worked loads, a second moment balance, and the limits of both wheels."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from physics.components.load_transfer import (
    Stance,
    front_load_limit,
    front_wheel_load,
    lifted_slip_limit,
    rear_slip_limit,
)

GRAVITY = 9.80665
STANCES = st.builds(
    lambda balance, wheelbase, **others: Stance(
        wheelbase=wheelbase, centre_of_gravity_to_rear_axle=balance * wheelbase, **others
    ),
    mass=st.floats(80.0, 350.0),
    wheelbase=st.floats(1.1, 1.6),
    balance=st.floats(0.35, 0.65),
    centre_of_gravity_height=st.floats(0.4, 0.9),
    drag_height=st.floats(0.5, 1.2),
    slope=st.floats(-0.2, 0.2),
    wheel_inertia=st.floats(0.0, 2.0),
    rolling_radius=st.floats(0.2, 0.35),
    rotor_inertia=st.floats(0.0, 0.05),
    motor_turns=st.floats(1.0, 12.0),
    fork_sag=st.floats(0.0, 0.1),
)
RESISTANCES = {"drag": st.floats(0.0, 600.0), "rolling": st.floats(0.0, 60.0)}


def test_wheelie_limit_without_drag():
    """exact solution: on level ground without drag the front lifts at an acceleration of g b / h."""
    force = front_load_limit(Stance(210.0, 1.4, 0.65, 0.70, 0.9)).at(0.0)
    assert force / 210.0 == pytest.approx(GRAVITY * 0.65 / 0.70, rel=1e-14)


def test_loads_of_a_standing_bike():
    """hand-worked: 200 kg with the centre of gravity halfway: 200 x 9.80665 / 2 = 980.665 N on each wheel."""
    assert front_wheel_load(Stance(200.0, 1.4, 0.7, 0.6, 0.8), 0.0) == pytest.approx(980.665, abs=1e-9)


def test_load_moved_by_driving():
    """hand-worked: 1400 N drive, h = 0.6, w = 1.4: 600 N leaves the front; 700 N drag 0.2 m above h takes 100 N."""
    stance = Stance(200.0, 1.4, 0.7, 0.6, 0.8)
    standing = front_wheel_load(stance, 0.0)
    assert standing - front_wheel_load(stance, 1400.0) == pytest.approx(600.0)
    assert standing - front_wheel_load(stance, 0.0, 700.0) == pytest.approx(100.0)


def test_slip_by_hand():
    """hand-worked: b = w/2, h = w/2, grip 0.8: F = 0.8 (W/2 + F/2), so F = 0.4 W / 0.6 = 2/3 W."""
    force = rear_slip_limit(Stance(200.0, 1.4, 0.7, 0.7, 0.7), 0.8).at(0.0)
    assert force == pytest.approx(200.0 * GRAVITY * 2.0 / 3.0, rel=1e-14)


def test_spinning_up_wheels_and_rotor_by_hand():
    """hand-worked: 200 kg, b = 0.6777, h = 0.7473, r = 0.29 m; wheels 0.9 kg m2, rotor 0.012 kg m2 at 14 : 3.

    J = (0.9 + 0.012 x 14 / 3) / 0.29 = 3.297 kg m, m_e = 200 + (0.9 + 0.012 x 196 / 9) / 0.0841 = 213.81 kg. With
    7.5 N of drag at 0.75 m: a = (200 g 0.6777 - 7.5 x 0.75) / (149.46 + 3.297) = 8.6645 m/s2. To take the whole
    drive for force at the contact, m g b / h = 1778.7 N, would give some 4 % less: 8.28 m/s2.
    """
    stance = Stance(200.0, 1.4, 0.6777, 0.7473, 0.75, 0.0, 0.9, 0.29, 0.012, 14 / 3)
    drive = front_load_limit(stance).at(7.5)
    assert stance.spin == pytest.approx(3.297, abs=5e-4)
    assert stance.equivalent_mass == pytest.approx(213.81, abs=5e-3)
    assert (drive - 7.5) / stance.equivalent_mass == pytest.approx(8.6645, abs=5e-4)


def test_a_fork_that_tops_out_by_hand():
    """hand-worked: 35 mm over 1.40 m turn the bike by 0.025 about an axle at 0.30 m: b = 0.65 - 0.40 x 0.025 =
    0.64 m, h = 0.70 + 0.65 x 0.025 = 0.71625 m, and the front lifts at g b / h; light, at half the load, at half
    the angle.
    """
    stance = Stance(210.0, 1.4, 0.65, 0.70, 0.9, rolling_radius=0.30, fork_sag=0.035)
    assert front_load_limit(stance).at(0.0) / 210.0 == pytest.approx(GRAVITY * 0.64 / 0.71625, rel=1e-12)
    light = GRAVITY * (0.645 - 0.5 * 0.65) / 0.708125
    assert front_load_limit(stance, 0.5).at(0.0) / 210.0 == pytest.approx(light, rel=1e-12)


@given(stance=STANCES, **RESISTANCES)
def test_what_spins_and_what_extends_lifts_the_front_sooner(stance, drag, rolling):
    """property: at no greater acceleration than the same bike without sag, than one with a weightless rotor."""
    gains = []
    for changes in ({}, {"fork_sag": 0.0}, {"fork_sag": 0.0, "rotor_inertia": 0.0}):
        one = replace(stance, **changes)
        net = front_load_limit(one).at(drag, rolling) - drag - rolling
        gains.append(net / one.equivalent_mass - one.mass * GRAVITY * np.sin(one.slope) / one.equivalent_mass)
    assume(gains[2] > 0)
    assert gains[0] <= gains[1] + 1e-9
    assert gains[1] <= gains[2] + 1e-9


@given(stance=STANCES, **RESISTANCES, drive=st.floats(-1500.0, 4000.0))
def test_moments_about_the_centre_of_gravity(stance, drag, rolling, drive):
    """exact solution: the same balance about another point: the net moment about the centre of gravity is what
    spins up wheels and rotor, J a.

    The loads sum to the weight across the road; at the ground both tyres together push with what moves the mass,
    m a + D + m g sin(s); drag acts at its own height.
    """
    stance = replace(stance, fork_sag=0.0)
    along, height = stance.centre_of_gravity_to_rear_axle, stance.centre_of_gravity_height
    front = front_wheel_load(stance, drive, drag, rolling)
    rear = stance.mass * GRAVITY * np.cos(stance.slope) - front
    back = stance.mass * GRAVITY * np.sin(stance.slope)
    turning = stance.wheel_inertia + stance.rotor_inertia * stance.motor_turns**2
    gain = (drive - drag - rolling - back) / (stance.mass + turning / stance.rolling_radius**2)
    nose_up = front * (stance.wheelbase - along) - rear * along
    nose_up += (stance.mass * gain + drag + back) * height + drag * (stance.drag_height - height)
    momentum = (stance.wheel_inertia + stance.rotor_inertia * stance.motor_turns) / stance.rolling_radius
    assert nose_up == pytest.approx(-momentum * gain, abs=1e-8 * stance.mass * GRAVITY)


@given(stance=STANCES, **RESISTANCES, fraction=st.floats(0.0, 1.0))
def test_limits_are_where_the_load_says(stance, drag, rolling, fraction):
    """property: at the force that lifts the front carries nothing, at the other what was asked."""
    weight = stance.mass * GRAVITY
    lift = front_load_limit(stance).at(drag, rolling)
    assert front_wheel_load(stance, lift, drag, rolling) == pytest.approx(0.0, abs=1e-9 * weight)
    light = front_load_limit(stance, fraction).at(drag, rolling)
    front = front_wheel_load(stance, light, drag, rolling)
    standing = weight * stance.centre_of_gravity_to_rear_axle / stance.wheelbase
    assert front == pytest.approx(fraction * standing, abs=1e-9 * weight)
    assert light <= lift + 1e-9 * weight


@given(stance=STANCES, **RESISTANCES, grip=st.floats(0.1, 1.2))
def test_slip_force_is_grip_times_load(stance, drag, rolling, grip):
    """property: at the slip force, what pushes over rear load is the grip; a tall short bike never gets there.

    What pushes is the drive less what the rotor and half of both wheels take to spin up.
    """
    stance = replace(stance, fork_sag=0.0)
    slip = rear_slip_limit(stance, grip).at(drag, rolling)
    back = stance.mass * GRAVITY * np.sin(stance.slope)
    turning = 0.5 * stance.wheel_inertia + stance.rotor_inertia * stance.motor_turns**2
    spun = turning / stance.rolling_radius**2 / stance.equivalent_mass
    weight = stance.mass * GRAVITY * np.cos(stance.slope)
    if not np.isfinite(slip):
        for drive in (0.0, 1e4, 1e5):  # each newton of drive brings more grip than it takes
            rear = weight - front_wheel_load(stance, drive, drag, rolling)
            more = weight - front_wheel_load(stance, drive + 1.0, drag, rolling)
            assert grip * (more - rear) >= (1.0 - spun) - 1e-9
        return
    rear = weight - front_wheel_load(stance, slip, drag, rolling)
    pushing = slip - spun * (slip - drag - rolling - back)
    assert pushing == pytest.approx(grip * rear, rel=1e-7, abs=1e-6)
    lifted = lifted_slip_limit(stance, grip).at(drag, rolling)
    assert lifted - spun * (lifted - drag - rolling - back) == pytest.approx(grip * weight, rel=1e-9)


def test_a_rear_tyre_that_never_slips():
    """property: of two wheelbases the short one never slips, nor does infinite grip; drag changes nothing."""
    limit = rear_slip_limit(Stance(200.0, np.array([1.4, 0.8, 1.4]), 0.4, 0.8, 0.8), np.array([1.1, 1.1, np.inf]))
    assert np.isfinite(limit.constant).tolist() == [True, False, False]
    assert limit.per_drag[1:].tolist() == limit.per_rolling[1:].tolist() == [0.0, 0.0]


def test_broadcasting_over_builds():
    """property: a column of builds against a row of drags gives a table, and one cell is the scalar result."""
    mass = np.array([[150.0], [200.0], [250.0]])
    drag = np.array([0.0, 100.0, 300.0, 500.0])
    table = front_wheel_load(Stance(mass, 1.4, 0.7, 0.65, 0.8, 0.02), 800.0, drag)
    assert table.shape == (3, 4)
    assert table[2, 1] == pytest.approx(front_wheel_load(Stance(250.0, 1.4, 0.7, 0.65, 0.8, 0.02), 800.0, 100.0))


def test_height_must_be_above_ground():
    """property: a centre of gravity on the ground has no wheelie limit, and is refused."""
    with pytest.raises(ValueError, match="above 0 m"):
        Stance(200.0, 1.4, 0.7, 0.0, 0.8)
