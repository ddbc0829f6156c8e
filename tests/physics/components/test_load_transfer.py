"""Load transfer: hand-worked loads, a second moment balance, and the limits of both wheels."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from physics.components.load_transfer import Stance, front_load_limit, front_wheel_load, rear_slip_limit

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


@given(stance=STANCES, **RESISTANCES, drive=st.floats(-1500.0, 4000.0))
def test_moments_about_the_centre_of_gravity(stance, drag, rolling, drive):
    """exact solution: the same balance about another point: no net moment about the centre of gravity.

    The loads sum to the weight across the road; drive less rolling acts at the ground, drag at its own height.
    """
    along, height = stance.centre_of_gravity_to_rear_axle, stance.centre_of_gravity_height
    front = front_wheel_load(stance, drive, drag, rolling)
    rear = stance.mass * GRAVITY * np.cos(stance.slope) - front
    nose_up = front * (stance.wheelbase - along) - rear * along
    nose_up += (drive - rolling) * height + drag * (stance.drag_height - height)
    assert nose_up == pytest.approx(0.0, abs=1e-8 * stance.mass * GRAVITY)


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
    """property: at the slip force, drive over rear load is the grip; a tall short bike never gets there."""
    slip = rear_slip_limit(stance, grip).at(drag, rolling)
    if grip * stance.centre_of_gravity_height >= stance.wheelbase:
        assert slip == np.inf
        return
    rear = stance.mass * GRAVITY * np.cos(stance.slope) - front_wheel_load(stance, slip, drag, rolling)
    assert slip == pytest.approx(grip * rear, rel=1e-9)


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
