"""A steady speed: what is held, and what it takes from the cells."""

import math

import numpy as np
import pytest

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack
from physics.scenarios.cruise import cruise
from physics.simulation.run import run

GRAVITY = 9.80665
PLAIN = Build(
    Pack(24, 2000.0, resistance=1e-4),
    Motor(60.0, phase_resistance=1e-5, iron_loss_torque=0.0, iron_loss_damping=0.0),
    Controller(400.0, 800.0, fixed_loss=0.0, loss_per_ampere=0.0, loss_resistance=0.0),
    Driveline(12, 56, efficiency=0.9),
    Bike(120.0, 80.0, drag_area=0.0, rolling_coefficient=0.02, rolling_coefficient_speed_squared=0.0),
    Conditions(298.15),
)
REAL = Build(
    Pack(24, 26.0), Motor(60.0), Controller(200.0, 400.0), Driveline(12, 56), Bike(120.0, 75.0),
    Conditions(279.15, charge=0.9),
)  # fmt: skip


def test_rolling_resistance_alone_takes_its_force_over_the_driveline():
    """hand-worked: 200 kg x 9.80665 x 0.02 = 39.2266 N, over 0.9: 43.585 J/m. Nothing else is lost.

    1e-3: some microhms are left in pack and motor.
    """
    energy, held = cruise(PLAIN, 12.0)
    assert energy[0] == pytest.approx(200.0 * GRAVITY * 0.02 / 0.9, rel=1e-3)
    assert held[0] == pytest.approx(12.0, rel=1e-6)


def test_drag_grows_with_the_square_of_the_speed():
    """hand-worked: rho / 2 x 0.5 m2 x v^2 / 0.9 beside the rolling resistance; rho from the run's own machine."""
    build = PLAIN.change({"bike.drag_area": 0.5, "conditions.humidity": 0.0})
    density = 101325.0 / (287.055 * 298.15)  # dry air, specific gas constant 287.055 J/(kg K)
    energy, held = cruise(build, np.array([10.0]))
    expected = (200.0 * GRAVITY * 0.02 + density / 2 * 0.5 * held[0] ** 2) / 0.9
    assert energy[0] == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("speed", [6.0, 14.0, 22.0])
def test_a_long_run_under_the_same_cap_ends_there(speed):
    """exact solution: what `run` settles at after twenty minutes, with so much charge and so heavy parts that
    neither charge nor temperatures change by then, and the slowest pair, of 180 s, has settled to a thousandth.
    """
    lasting = REAL.change({
        "pack.capacity_ah": 2000.0, "pack.resistance": 0.09, "pack.resistance_current": 100.0,
        "pack.heat_capacity": 1e7,
        "motor.winding_heat_capacity": 1e6, "motor.case_heat_capacity": 1e7, "controller.heat_capacity": 1e6,
    })  # fmt: skip
    energy, held = cruise(lasting, speed)
    long = run(lasting.change({"controller.speed_cap": speed}), 1200.0, initial_speed=0.995 * speed)
    assert held[0] == pytest.approx(long.speed[0, -1], rel=1e-3)
    power = long.rest_voltage[0, -1] * long.line_current[0, -1]
    assert energy[0] == pytest.approx(power / long.speed[0, -1], rel=3e-3)  # 1 % of the charge is gone by then


def test_a_build_that_cannot_hold_it_settles_lower():
    """property: above its top speed the cap does not matter."""
    slow, fast = cruise(REAL, 60.0), cruise(REAL, 90.0)
    assert slow[1] < 40.0
    assert fast[1] == pytest.approx(slow[1], rel=2e-3)


def test_what_does_not_move():
    """property: on a wall no speed is held, and no energy is named."""
    energy, held = cruise(REAL.change({"conditions.slope": 0.3, "controller.phase_current_limit": 20.0}), 10.0)
    assert held[0] == 0.0
    assert math.isnan(energy[0])


def test_a_batch_is_many_alone():
    """property: each build of a batch gives what it gives alone."""
    caps = np.array([5.0, 15.0, 25.0])
    together = cruise([REAL] * 3, caps)
    for place, cap in enumerate(caps):
        alone = cruise(REAL, cap)
        assert [values[place] for values in together] == pytest.approx([values[0] for values in alone], rel=1e-9)


@pytest.mark.parametrize("speed", [0.0, -3.0, math.nan])
def test_a_cap_that_is_none_is_refused(speed):
    with pytest.raises(ValueError, match=r"speed: got .*; accepts numbers above 0\.5 m/s"):
        cruise(REAL, speed)
