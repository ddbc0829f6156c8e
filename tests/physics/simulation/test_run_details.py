"""What a motor and its drive do beyond the plain machine, each in a run with an exact solution.

Exact solution: as in test_run_exact, whose stripped build these share. Each detail is off unless given, and a build
with all of them off is the plain machine.
"""

import math

import numpy as np
import pytest

from physics.limits import SPEED_CAP
from physics.simulation.run import run
from tests.physics.simulation.test_run_exact import GEAR, GRAVITY, TORQUE_PER_AMPERE, bare


@pytest.mark.parametrize(("current", "share"), [(200.0, 0.9), (400.0, 1 / math.sqrt(1 + 4 * (1 / 0.81 - 1)))])
def test_torque_per_ampere_falls_with_current(current, share):
    # a tenth less at 200 A; at twice that 1 / sqrt(1 + 4 x 0.2346) = 0.718
    build = bare(**{"motor.saturation_current": 200.0, "controller.phase_current_limit": current})
    result = run(build, duration=2.0)
    assert result.speed[0] == pytest.approx(
        share * TORQUE_PER_AMPERE * current * GEAR / 200.0 * result.time, rel=1e-3
    )
    balance = result.energy_balance()
    assert abs(balance["remainder"][0]) < 1e-3 * balance["cells"][0]


def test_with_a_given_power_more_current_makes_up_for_it():
    # 100 A of line current at some 75 V push as before: what saturates costs current and copper, not shaft power
    plain, weaker = (
        run(
            bare(**{
                "controller.line_current_limit": 100.0, "controller.phase_current_limit": 2000.0,
                "motor.kv_rpm_per_volt": 150.0, "motor.saturation_current": tenth,
            }),
            20.0, initial_speed=8.0,
        )
        for tenth in (math.inf, 1000.0)
    )  # fmt: skip
    assert weaker.speed[0] == pytest.approx(plain.speed[0], rel=1e-3)
    power = TORQUE_PER_AMPERE * 60.0 / 150.0 * weaker.i_q[0] * GEAR * weaker.speed[0]
    share = 1 / np.sqrt(1 + (1 / 0.81 - 1) * (weaker.i_q[0] / 1000.0) ** 2)
    copper = 1.5 * 1e-5 * weaker.i_q[0] ** 2 * 260 / 255  # 25 degrees C
    assert power * share + copper == pytest.approx(100.0 * weaker.pack_voltage[0], rel=1e-3)


def test_a_cap_is_held_with_the_current_that_it_takes():
    # at 10 m/s the road asks for 200 kg x g x 0.1, its current is more where torque saturates
    build = bare(**{
        "controller.speed_cap": 10.0, "bike.rolling_coefficient": 0.1, "motor.saturation_current": 60.0,
    })  # fmt: skip
    result = run(build, duration=90.0)
    assert result.speed[0, -1] == pytest.approx(10.0, rel=1e-3)
    assert result.limit[0, -1] == SPEED_CAP
    share = 1 / math.sqrt(1 + (1 / 0.81 - 1) * (result.i_q[0, -1] / 60.0) ** 2)
    assert TORQUE_PER_AMPERE * result.i_q[0, -1] * share * GEAR == pytest.approx(200 * GRAVITY * 0.1, rel=1e-3)


def test_what_is_left_of_the_inductance_decides_how_fast_it_is_with_a_load():
    # no resistance: (w L i)^2 + (w flux)^2 = (U / sqrt(3))^2 with i_d = 0; i by the road, 200 kg x g x 0.15; of L,
    # 300 uH, a tenth less at 100 A
    build = bare(**{
        "bike.rolling_coefficient": 0.15, "motor.phase_inductance": 300e-6, "motor.pole_pairs": 5,
        "motor.inductance_saturation_current": 100.0, "controller.phase_current_limit": 400.0,
    })  # fmt: skip
    result = run(build, duration=120.0)
    current = 200 * GRAVITY * 0.15 / GEAR / TORQUE_PER_AMPERE
    left = 300e-6 / math.sqrt(1 + (1 / 0.81 - 1) * (current / 100.0) ** 2)
    per_speed = GEAR * math.hypot(5 * left * current, TORQUE_PER_AMPERE / 1.5)
    assert result.i_q[0, -1] == pytest.approx(current, rel=1e-3)
    assert result.top_speed[0] == pytest.approx(20 * 3.7509 / math.sqrt(3) / per_speed, rel=1e-3)


def test_a_winding_that_resists_more_the_faster_it_turns():
    # 12 m/s are 200 rad/s, five pole pairs 159.2 Hz: at a doubling by 318.3 Hz a quarter more heat in the copper
    at_rest, turning = (
        run(bare(**{"motor.eddy_frequency": 1000 / math.pi, "motor.phase_resistance": 0.01}), 0.01, initial_speed=v)
        for v in (0.0, 12.0)
    )
    heat = [one.heat_power["winding"][0, 0] for one in (at_rest, turning)]
    assert heat[0] == pytest.approx(1.5 * 0.01 * 260 / 255 * 200.0**2, rel=1e-9)
    assert heat[1] == pytest.approx(1.25 * heat[0], rel=1e-9)
    assert turning.energy_balance()["winding"][0] == pytest.approx(0.01 * heat[1], rel=1e-3)


def test_a_tyre_that_slips_under_drive_costs_top_speed():
    # the road asks for 200 kg x g x 0.1 = 196.1 N; the rear stands with 200 g 0.72 / 1.40 = 1008.7 N: at 20 times
    # slip 0.972 %, by which the bike is slower; the same current meets the same voltage
    build = bare(**{
        "bike.rolling_coefficient": 0.1, "motor.phase_resistance": 0.01, "controller.phase_current_limit": 400.0,
    })  # fmt: skip
    gripping, slipping = (run(build.change({"bike.slip_stiffness": s}), 120.0) for s in (math.inf, 20.0))
    slip = 200 * GRAVITY * 0.1 / (200 * GRAVITY * 0.72 / 1.40 * 20)
    assert slip == pytest.approx(0.972e-2, abs=5e-6)
    assert slipping.top_speed[0] * (1 + slip) == pytest.approx(gripping.top_speed[0], rel=2e-4)
    balance = slipping.energy_balance()
    assert abs(balance["remainder"][0]) < 1e-3 * balance["cells"][0]
    # what slip takes is heat of the driveline: force times the speed at which the tyre slides
    lost = np.trapezoid(slipping.heat_power["driveline"][0], slipping.time)
    assert balance["driveline"][0] == pytest.approx(lost, rel=0.02)
