"""A rule's limits: arithmetic by hand, and the advice replayed by runs in the worst conditions and in others."""

import numpy as np
import pytest

from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from physics.build import example_build
from physics.build.batch import Batch
from physics.simulation.run import run
from physics.studies.day.rule_limits import rule_limits, worst_batch
from physics.studies.uncertainty.tolerance import default_tolerances


def powers(batch, limit, initial_speed=0.0, duration=15.0, steps=80):
    """The highest power at shaft and wheel in runs with a line limit, overshoot on top, W, over all of them."""
    set_to = limit * (1.0 + batch["controller.overshoot"])
    made = run(batch.change({"controller.line_current_limit": set_to}), duration, initial_speed, steps)
    machine = made.machine
    turning = made.speed * machine.turns_per_speed[:, None]
    iron = machine.iron_torque[:, None] * np.minimum(turning, 1.0) + machine.iron_damping[:, None] * turning
    flux = 1.0 - machine.magnet_weakening[:, None] * (made.case_temperature - 293.15)
    flux = flux / np.sqrt(1.0 + (1 / 0.81 - 1) * (made.i_q / machine.saturation_current[:, None]) ** 2)
    shaft = (machine.torque_per_ampere[:, None] * flux * made.i_q - iron) * turning
    return shaft.max(), (made.drive_force * made.speed).max()


@pytest.mark.parametrize("preset", PRESETS)
def test_no_run_makes_more(preset):
    """property: with the limit, no run from full or less, hot or cold, in any case, makes more than is allowed, at
    the shaft or at the wheel; one ampere more does, in a rested pack's first moment at the speed of most power."""
    build, allowed = make_build(PRESETS[preset].values()), 6000.0
    found = rule_limits(build, allowed)
    assert found.certain <= found.shaft <= found.wheel
    known = default_tolerances(build)
    worst = worst_batch(build, known)
    still = {"controller.throttle_ramp_time": 0.0}
    for which, limit in enumerate((found.shaft, found.wheel)):
        assert powers(worst, limit)[which] <= allowed
        for day in ({"conditions.charge": 0.6}, {"conditions.pack_temperature": 268.15}):
            assert powers(worst.change(day), limit)[which] <= allowed
        curve = (found.shaft_power, found.wheel_power)[which]
        start = float(found.speed[np.argmax(curve)])
        beyond = [
            powers(worst.change(still), limit + 1, np.full(len(worst), start * by), 0.3, 4)[which]
            for by in np.linspace(0.97, 1.03, 7)
        ]
        assert max(beyond) > allowed


def test_hand_worked():
    """hand-worked: 24 cells of 4.2 V are 100.8 V: 5000 W / 100.8 V / 1.03 are 48.16 A, set 48; 20 m/s, a tyre
    2 % larger are 20 / 1.02 = 19.608 m/s. property: a cap in motor speed is that times the gearing."""
    build = example_build()
    found = rule_limits(build, 5000.0, 20.0, tolerances=[])
    assert build.pack.cells_in_series == 24
    assert found.certain == 48.0
    assert found.speed_cap == pytest.approx(19.608, abs=5e-4)
    line = build.driveline
    radius = float(Batch.of(build)["bike.rolling_radius"][0])
    turns = line.primary_ratio * line.rear_teeth / line.front_teeth
    assert found.motor_speed == pytest.approx(found.speed_cap * turns / radius)


def test_ends():
    """property: a power that is never made needs no limit; one that 1 A beats has none; bad input says so."""
    assert rule_limits(example_build(), 1e6, tolerances=[]).shaft == np.inf
    assert rule_limits(example_build(), 10.0, tolerances=[]).shaft == 0.0
    only_speed = rule_limits(example_build(), None, 10.0)
    assert np.isnan(only_speed.shaft)
    assert only_speed.speed.size == 0
    with pytest.raises(ValueError, match="power"):
        rule_limits(example_build(), -1.0)
