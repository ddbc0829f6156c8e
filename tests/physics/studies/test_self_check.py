"""What a controller's identification should report, worked by hand; the throttle for an acceleration."""

import numpy as np
import pytest

from physics.build import example_build
from physics.simulation.run import run
from physics.studies.force.front_wheel import throttle_for_acceleration
from physics.studies.self_check import self_check


def test_hand_worked():
    """hand-worked: full, 24 x 4.2 = 100.8 V at 60 rpm/V are 6048 rpm = 633.345 rad/s; 15 W and (0.3 + 0.0004 x
    633.345) N m x 633.345 rad/s = 350.454 W: 365.454 W / 100.8 V = 3.626 A. 6 milliohm at 20 degrees C are at 71
    6 x 306 / 255 = 7.2, between two wires 14.4; 10 % off 6.48 to 7.92."""
    build = example_build().change(
        {"motor.kv_rpm_per_volt": 60.0, "conditions.charge": 1.0, "conditions.motor_temperature": 344.15}
    )
    found = self_check(build, 0.05)
    assert found.voltage == pytest.approx(100.8)
    assert found.speed.middle == pytest.approx(633.345, abs=5e-4)
    assert found.speed.high == pytest.approx(1.05 * 633.345, abs=1e-3)
    assert found.current.middle == pytest.approx(3.626, abs=5e-4)
    assert 1000 * found.phase_resistance.middle == pytest.approx(7.2)
    assert 1000 * found.line_resistance.middle == pytest.approx(14.4)
    assert [1000 * float(found.phase_resistance[end]) for end in (0, 2)] == pytest.approx([6.48, 7.92])
    with pytest.raises(ValueError, match="kv_doubt"):
        self_check(build, -0.1)
    with pytest.raises(ValueError, match="torque line"):
        self_check(build.change({"motor.torque_table": ((0.0, 50.0), (600.0, 0.0))}))


def test_throttle_hand_worked():
    """hand-worked: no losses, no drag, rotor and wheels without inertia: 195 kg at 2 m/s2 are 390 N; at 0.3 m and a
    ratio of 56 / 12, 25.071 N m; at 60 rpm/V an ampere gives 0.137832 N m: 181.90 A of 400 A are 45.47 %."""
    nothing = (
        "motor.iron_loss_torque", "motor.iron_loss_damping", "motor.rotor_inertia", "bike.wheel_inertia",
        "bike.drag_area", "bike.rolling_coefficient", "bike.rolling_coefficient_speed_squared",
    )  # fmt: skip
    build = example_build().change(
        dict.fromkeys(nothing, 0.0)
        | {"driveline.efficiency": 1.0, "bike.rolling_radius": 0.3, "motor.kv_rpm_per_volt": 60.0,
           "driveline.front_teeth": 12, "driveline.rear_teeth": 56, "controller.phase_current_limit": 400.0}
    )  # fmt: skip
    assert throttle_for_acceleration(build, 2.0, 5.0)[0] == pytest.approx(0.4547, abs=5e-5)
    assert np.isnan(throttle_for_acceleration(build, 20.0, 5.0)[0])


def test_throttle_replayed_by_a_run():
    """property: a run at 6 m/s with that throttle has the acceleration at once, to what a step of it takes away."""
    build = example_build()
    throttle = throttle_for_acceleration(build, 1.5, 6.0)[0]
    held = build.change({"controller.throttle": float(throttle), "controller.throttle_ramp_time": 0.0})
    assert run(held, 0.01, 6.0, 2).acceleration[0, 0] == pytest.approx(1.5, rel=1e-3)
