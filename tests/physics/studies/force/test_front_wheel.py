"""Front wheel and power levels: against published limits, force balances, root finding and runs."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, PowerLevel, Protection
from physics.build.batch import Batch
from physics.components.air import STANDARD_GRAVITY
from physics.components.load_transfer import Stance, front_load_limit, front_wheel_load
from physics.limits import FRONT_WHEEL
from physics.simulation.machine import Machine
from physics.simulation.operating_point import operating_point
from physics.simulation.plant import PackModel
from physics.simulation.run import run
from physics.studies.force import (
    LIFTED,
    LIGHT,
    force_against_throttle,
    front_wheel,
    levels_of,
    phase_limit_that_holds,
)
from physics.studies.power_levels import level_runs

# An invented light 20-cell bike on small wheels, with three power levels as riders set them.
LEVELS = (
    PowerLevel("slow", 200.0, 80.0),
    PowerLevel("lively", 450.0, 170.0),
    PowerLevel("too much for daily use", 700.0, 300.0),
)
BUILD = Build(
    Pack(20, 40.0, resistance=0.03, protection=Protection(continuous_current=300.0, peak_current=500.0)),
    Motor(48.0, phase_resistance=0.005),
    Controller(300.0, 700.0, power_levels=LEVELS, throttle_ramp_time=0.2),
    Driveline(12, 56),
    Bike(
        68.0,
        80.0,
        drag_area=0.5,
        rolling_radius=0.245,
        wheelbase=1.25,
        centre_of_gravity_to_rear_axle=0.58,
        centre_of_gravity_height=0.70,
        grip=math.inf,
    ),
    Conditions(charge=0.9),
)
SPEED = np.linspace(0.0, 30.0, 31)


def at(build, speed, throttle, phase, line):
    """Drive force of one build at one speed and throttle, nothing held down; set up by hand, one element."""
    free = {"bike.hold_front_down": False, "bike.grip": math.inf}
    limits = {"controller.phase_current_limit": phase, "controller.line_current_limit": line}
    loose = build.change(free | limits)
    one, batch = np.ones(1), Batch.of(loose)
    air = build.conditions.air_temperature * one
    pack = PackModel(batch)
    rest, _, factor, transfer = pack.evaluate(build.conditions.charge * one, air)

    def point(current):
        over = rest - transfer.voltage(current * one)
        return operating_point(Machine(batch), speed * one, throttle * one, over, pack.ohmic * factor, air, air)

    return point(brentq(lambda current: point(current).line_current[0] - current, 0.0, 1000.0, xtol=1e-11))


# --- published ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("to_rear", "height", "gravity", "printed", "half_digit"),
    [(0.35, 0.95, 9.8, 3.6, 0.05), (0.73, 0.785, 9.81, 9.12267515924, 1e-9), (0.78, 0.775, 9.8, 9.86, 0.005)],
)
def test_acceleration_that_lifts_the_front(to_rear, height, gravity, printed, half_digit):
    """published: D. C. Giancoli, Physics for Scientists and Engineers, 4th ed., chapter 10, problem 101 (35 cm and
    95 cm; its answer, 3.6 m/s2, from memory); and a textbook exercise as worked in public answers, 146 cm between
    the axles, centre of mass half way at 78.5 cm: 9.12267515924 m/s2, and 156 cm with 77.5 cm: 9.86 m/s2. Each
    takes its own value of gravity, so the acceleration is scaled to it.
    """
    force = front_load_limit(Stance(200.0, 1.5, to_rear, height, height)).at(0.0)
    assert force / 200.0 * gravity / STANDARD_GRAVITY == pytest.approx(printed, abs=half_digit)


def test_wheelie_limit_is_where_the_marked_throttle_puts_the_bike():
    """published: V. Cossalter, Motorcycle Dynamics, chapter 3 (from memory): without drag the front lifts when the
    drive force over weight is b / h, whatever the mass; as there, nothing spins and nothing springs. Here the
    throttle mark is ridden on the operating point."""
    still = BUILD.change({
        "bike.drag_area": 0.0, "bike.rolling_coefficient": 0.0, "bike.rolling_coefficient_speed_squared": 0.0,
        "bike.wheel_inertia": 0.0, "motor.rotor_inertia": 0.0, "bike.fork_sag": 0.0,
    })  # fmt: skip
    found = front_wheel(still, [8.0])
    throttle = found.lift_throttle[2, 0]
    point = at(still, 8.0, throttle, 700.0, 300.0)
    assert point.drive_force[0] / (148.0 * STANDARD_GRAVITY) == pytest.approx(0.58 / 0.70, rel=1e-9)


# --- common practice ------------------------------------------------------------------------------------------


def test_three_levels_feel_slow_lively_and_too_much():
    """common practice, no source: levels of about 200, 450 and 700 phase amps feel slow, lively and too much for
    daily use, and in the strongest the front goes light at about a third of the throttle. Plausibility only: the
    levels are ordered in every way, and the strongest reaches lift well below full throttle."""
    found = front_wheel(BUILD, SPEED)
    light, lift = found.least("light_throttle"), found.least("lift_throttle")
    assert np.isnan(lift[0])
    assert np.nan_to_num(light[0], nan=1.0) > 0.9
    assert light[1] > light[2]
    assert 0.25 < light[2] < 0.45
    assert light[2] < lift[2] < 0.85
    assert (np.diff(found.force_per_throttle[:, :11], axis=0) > 0).all()
    runs = level_runs(BUILD, 40 / 3.6, 60 / 3.6, 30.0)
    assert (np.diff(runs.time_to_low_speed) < 0).all()
    assert (np.diff(runs.time_to_target) < 0).all()
    # 1e-3: the front wheel holds back the two stronger ones alike, and each run keeps instants of its own
    assert (np.diff(runs.highest_acceleration) > -1e-3).all()
    assert (np.diff(runs.allowance_left) <= 1e-9).all()
    assert runs.front_time[0] == 0
    assert runs.front_time[2] > 0


# --- exact ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", [1, 2])
@pytest.mark.parametrize("name", ["light", "lift"])
def test_marks_agree_with_a_root_finder_on_single_operating_points(place, name):
    """exact solution: the throttle at which the load on the front, by moment balance, is the share asked for."""
    found = front_wheel(BUILD, [0.0, 3.0, 9.0])
    level, bike = LEVELS[place], BUILD.bike
    standing = 148.0 * STANDARD_GRAVITY * bike.centre_of_gravity_to_rear_axle / bike.wheelbase
    share = {"light": LIGHT, "lift": LIFTED}[name]

    def load(throttle, speed):
        point = at(BUILD, speed, throttle, level.phase_current_limit, level.line_current_limit)
        stance = Batch.of(BUILD).stance()
        left = front_wheel_load(stance, point.drive_force[0], point.drag_force[0], point.rolling_force[0])
        return left[0] - share * standing

    for column, speed in enumerate(found.speed):
        marked = getattr(found, f"{name}_throttle")[place, column]
        if load(1.0, speed) > 0:
            assert np.isnan(marked)
        else:
            assert marked == pytest.approx(brentq(load, 0.0, 1.0, args=(speed,), xtol=1e-12), abs=1e-8)


def test_phase_limit_that_holds_agrees_with_a_root_finder_on_single_runs():
    """exact solution: with that limit full throttle just fails to lift at any speed, one ampere more does."""
    limit = phase_limit_that_holds(BUILD, fraction=LIFTED)[2]

    def spare(phase):
        level = [PowerLevel("one", phase, 300.0)]
        found = front_wheel(BUILD, np.linspace(0, 40, 121), level)
        return float((found.full_force[0] - found.lift_force).max())

    assert spare(limit) == pytest.approx(0.0, abs=1e-3)
    assert limit == pytest.approx(brentq(spare, 100.0, 700.0, xtol=1e-6), abs=1e-3)
    assert spare(limit + 1) > 0 > spare(limit - 1)


def lifting_force(fraction):
    """Drive with which the standing BUILD's front carries a fraction of its load, moments by hand: wheels of 0.9
    and a rotor of 0.012 kg m2 turn with 0.245 m of radius and 56 : 12; the fork's 35 mm over 1.25 m turn the bike
    by 0.028, half of that with half the load. m_e a + R, where (m h + J) a = m g (b - fraction x 0.58)."""
    angle = 0.028 * (1 - fraction)
    along, height = 0.58 - (0.70 - 0.245) * angle, 0.70 + 0.58 * angle
    spin = (0.9 + 0.012 * 56 / 12) / 0.245
    inertia = 148.0 + (0.9 + 0.012 * (56 / 12) ** 2) / 0.245**2
    gain = 148.0 * 9.80665 * (along - fraction * 0.58) / (148.0 * height + spin)
    return inertia * gain + 148.0 * 9.80665 * 0.015


def test_phase_limit_by_hand_when_standing():
    """hand-worked: standing still on the level the front lifts at `lifting_force`; with Kv 48 rpm/V the torque
    per peak ampere is sqrt(3) / 2 x 60 / (2 pi 48); current = F r / (ratio x efficiency) over that, there being no
    iron loss in a motor that stands."""
    force = lifting_force(0.0)
    torque = force * 0.245 / (56 / 12) / 0.96
    expected = torque / (math.sqrt(3) / 2 * 60 / (2 * math.pi * 48.0))
    found = phase_limit_that_holds(BUILD, fastest=1e-6)
    assert found == pytest.approx([expected] * 3, rel=1e-4)


def test_run_with_that_phase_limit_keeps_the_front_down_without_a_rule():
    """exact solution: in a run the front's load stays just above nothing, and a little more current lifts it."""
    limit = phase_limit_that_holds(BUILD)[2]
    for factor, lifts in ((0.995, False), (1.005, True)):
        changes = {"controller.phase_current_limit": factor * limit, "controller.line_current_limit": 300.0}
        result = run(BUILD.change(changes), 10.0)
        assert bool((result.limit[0] == FRONT_WHEEL).any()) is lifts


def test_line_limit_alone_may_keep_the_front_down():
    """property: with a small line limit no phase limit is needed away from a standstill."""
    weak = [PowerLevel("weak", 300.0, 5.0)]
    assert phase_limit_that_holds(BUILD, weak)[0] == np.inf


# --- properties -----------------------------------------------------------------------------------------------


def test_force_rises_in_a_straight_line_until_the_line_limit():
    """exact solution: torque control; force = slope x throttle less iron loss, then level at the line limit."""
    throttle = np.linspace(0, 1, 41)
    speed = 14.0
    found = front_wheel(BUILD, [speed])
    force = force_against_throttle(BUILD, speed, throttle)
    for place in range(3):
        used = found.used_throttle[place, 0]
        rising = throttle <= used
        straight = force[place, 0] + found.force_per_throttle[place, 0] * throttle
        # below no force the chain's loss acts the other way round: leave that short piece out
        clear = rising & (straight > 20)
        zero = (force[place] - found.force_per_throttle[place, 0] * throttle)[clear]
        assert np.ptp(zero) < 1e-6 * force[place].max()
        assert np.ptp(force[place][throttle >= used]) < 1e-6 * force[place].max()
    assert found.used_throttle[2, 0] < 1


@settings(max_examples=15, deadline=None)
@given(
    height=st.floats(0.5, 0.9),
    to_rear=st.floats(0.45, 0.75),
    slope=st.floats(-0.1, 0.1),
    wind=st.floats(-8, 8),
    factor=st.floats(1.05, 1.6),
)
def test_marks_are_ordered(height, to_rear, slope, wind, factor):
    """property: light comes before lifted, a stronger level at less throttle; a taller bike lifts sooner."""
    build = BUILD.change(
        {
            "bike.centre_of_gravity_height": height,
            "bike.centre_of_gravity_to_rear_axle": to_rear,
            "conditions.slope": slope,
            "conditions.headwind": wind,
        }
    )
    found = front_wheel(build, SPEED)
    for name in ("light_throttle", "lift_throttle"):
        marks = np.nan_to_num(getattr(found, name), nan=9.0)
        assert (marks[0] >= marks[1] - 1e-12).all()
        assert (marks[1] >= marks[2] - 1e-12).all()
        assert ((marks <= 1) | (marks == 9)).all()
    light, lift = (np.nan_to_num(values, nan=9.0) for values in (found.light_throttle, found.lift_throttle))
    assert (light <= lift).all()
    holds = phase_limit_that_holds(build)
    assert (phase_limit_that_holds(build, fraction=LIGHT) <= holds).all()
    taller = phase_limit_that_holds(build.change({"bike.centre_of_gravity_height": factor * height}))
    assert (taller <= holds + 1e-6).all()


def test_the_rule_that_holds_the_front_down_plays_no_part():
    held = front_wheel(BUILD, SPEED)
    free = front_wheel(BUILD.change({"bike.hold_front_down": False}), SPEED)
    assert held.lift_throttle == pytest.approx(free.lift_throttle, nan_ok=True)
    assert phase_limit_that_holds(BUILD) == pytest.approx(
        phase_limit_that_holds(BUILD.change({"bike.hold_front_down": False}))
    )


def test_a_slippery_road_spins_the_rear_first():
    """property: the rear slips first just where grip is below what lifting the front takes."""
    for grip, first in ((0.4, True), (1.5, False)):
        found = front_wheel(BUILD.change({"bike.grip": grip}), SPEED)
        assert (found.slips_first == first).all()
    assert not front_wheel(BUILD, SPEED).slips_first.any()


def test_torque_table_motor_has_marks_too():
    """hand-worked: the table's torque stands in for the phase limit: the mark is torque needed over given."""
    build = BUILD.change({"motor.torque_table": ((0.0, 90.0), (600.0, 90.0))})
    found = front_wheel(build, [0.0])
    force = lifting_force(0.5)
    expected = force * 0.245 / (56 / 12) / 0.96 / 90.0
    assert found.light_throttle[2, 0] == pytest.approx(expected, rel=1e-6)


def test_levels_side_by_side_equal_their_own_runs():
    """property: one batch, the same numbers as single runs."""
    runs = level_runs(BUILD, 40 / 3.6, 70 / 3.6, 15.0)
    for place, level in enumerate(LEVELS):
        one = run(
            BUILD.change(
                {
                    "controller.phase_current_limit": level.phase_current_limit,
                    "controller.line_current_limit": level.line_current_limit,
                }
            ),
            15.0,
        )
        assert runs.top_speed[place] == pytest.approx(one.top_speed[0], rel=1e-9)
        assert runs.time_to_low_speed[place] == pytest.approx(one.time_to(40 / 3.6)[0], rel=1e-9)
        assert runs.allowance_left[place] == pytest.approx(1 - one.allowance_used[0].max(), abs=1e-9)


def test_a_build_without_levels_is_ridden_with_its_limits():
    alone = BUILD.change({"controller.power_levels": ()})
    (level,) = levels_of(alone)
    assert (level.phase_current_limit, level.line_current_limit) == (700.0, 300.0)
    assert front_wheel(alone, SPEED).lift_throttle[0] == pytest.approx(
        front_wheel(BUILD, SPEED).lift_throttle[2], nan_ok=True
    )
