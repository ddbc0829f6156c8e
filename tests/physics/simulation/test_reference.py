"""The reference that runs are compared with, checked against exact solutions and its own energy balance.

Exact solution: as in test_run_exact, with the tolerance of the integrator (1e-9 a step) instead of that of a run.
"""

import math
from functools import cache

import numpy as np
import pytest
from scipy.integrate import simpson

from tests.physics.simulation.test_run_exact import (
    AIR,
    GEAR,
    GRAVITY,
    TORQUE_PER_AMPERE,
    bare,
    constant_current,
    sag_after,
)
from tests.reference.bike import ENERGY
from tests.reference.builds import random_build
from tests.reference.simulate import TINY, simulate

SPACING = 0.02  # s


@cache
def pulled(seed):
    """The run of a random build, which two checks look at."""
    return simulate(random_build(seed))


def integral(values, time):
    """Simpson's rule, piece by piece: within one everything is smooth."""
    ends = np.flatnonzero(np.diff(time) <= 2 * TINY) + 1
    return sum(
        simpson(some, x=at)
        for some, at in zip(np.split(values, ends), np.split(time, ends), strict=True)
        if len(at) > 1
    )


@pytest.mark.parametrize("seed", [19, 38, 67, 117, 144])
def test_energy_from_the_cells_is_all_accounted_for(seed):
    # cells = pack heat and polarisation + winding + controller + iron + driveline + road + kinetic
    run = pulled(seed)
    seen, bike = run.sample_pieces(SPACING), run.bike
    flows = {
        "pack": (seen.rest - seen.bus) * seen.line,
        "winding": seen.heat_winding,
        "controller": seen.heat_box,
        "iron": seen.iron * seen.shaft,
        "driveline": (seen.torque + seen.taken - seen.iron) * seen.shaft - seen.force * seen.speed,
        "road": (seen.drag + seen.rolling + bike.weight_back) * seen.speed,
    }
    kinetic = 0.5 * bike.inertia * (seen.speed[-1] ** 2 - seen.speed[0] ** 2)
    spent = sum(integral(flow, seen.time) for flow in flows.values()) + kinetic
    # 1e-4: Simpson's rule over 20 ms
    assert spent == pytest.approx(integral(seen.rest * seen.line, seen.time), rel=1e-4)
    assert run.state(20.0)[0][ENERGY] == pytest.approx(spent, rel=1e-4)


@pytest.mark.parametrize("seed", [19, 67])
def test_bus_voltage_and_currents_satisfy_their_equations(seed):
    seen = pulled(seed).sample(np.linspace(0.0, 20.0, 200))
    bike, controller = pulled(seed).bike, random_build(seed).controller
    square = seen.i_q**2 + seen.i_d**2
    loss = controller.loss_per_ampere * np.sqrt(square) + controller.loss_resistance * square
    loss = loss + controller.fixed_loss
    motor = random_build(seed).motor
    share = 1.0 - motor.magnet_weakening * (seen.case - 293.15)
    share = share / np.sqrt(1.0 + (1.0 / 0.81 - 1.0) * (seen.i_q / motor.saturation_current) ** 2)
    shaft = 1.5 * bike.cold_flux * share * seen.i_q * seen.shaft
    assert seen.bus * seen.line == pytest.approx(seen.heat_winding + shaft + loss, rel=1e-8)
    assert (np.sqrt(square) <= controller.phase_current_limit * (1 + 1e-9)).all()
    assert (seen.i_q >= 0.0).all()
    assert (seen.i_d <= 0.0).all()
    assert (seen.i_d >= -controller.field_weakening_current).all()


def test_coast_down_under_drag_and_rolling_is_an_arctangent():
    build = bare(**{
        "controller.throttle": 0.0, "bike.drag_area": 0.6, "bike.rolling_coefficient": 0.015,
        "motor.kv_rpm_per_volt": 30.0,
    })  # fmt: skip
    times = np.linspace(0.0, 20.0, 50)
    constant, squared = 200.0 * GRAVITY * 0.015, 0.5 * AIR * 0.6
    angle = math.atan(20.0 * math.sqrt(squared / constant)) - math.sqrt(constant * squared) / 200.0 * times
    exact = math.sqrt(constant / squared) * np.tan(angle)
    assert simulate(build, 20.0, 20.0).sample(times).speed == pytest.approx(exact, abs=1e-6)


def test_launch_at_the_phase_limit_is_a_straight_line():
    exact = TORQUE_PER_AMPERE * 200.0 * GEAR / 200.0
    assert simulate(bare(), 3.0).sample([1.0, 3.0]).speed == pytest.approx([exact, 3.0 * exact], rel=1e-7)


def test_pack_voltage_after_a_current_step():
    seen = simulate(constant_current(), 20.0, 15.0).sample(np.linspace(0.0, 20.0, 50))
    sag = sag_after(seen.time)
    # 1e-3: charge and temperature still move a little, and with them the resistance
    assert seen.rest - seen.bus == pytest.approx(sag, rel=1e-3)


def test_a_timer_and_the_inverse_time_clock_open_on_the_dot():
    fast = constant_current(**{"pack.protection.fast_current": 90.0, "pack.protection.fast_delay": 8.0})
    assert simulate(fast, 20.0, 15.0).cut_out[:2] == (pytest.approx(8.0, abs=1e-6), "fast over-current")
    clock = constant_current(**{
        "pack.protection.continuous_current": 80.0, "pack.protection.peak_current": 120.0,
        "pack.protection.peak_time": 4.0, "pack.protection.overcurrent_law": "square of current",
    })  # fmt: skip
    exact = 4.0 * (120.0**2 - 80.0**2) / (100.0**2 - 80.0**2)
    assert simulate(clock, 20.0, 15.0).cut_out[:2] == (pytest.approx(exact, abs=1e-6), "continuous current")
    for law in ("definite time", "unknown"):  # at 100 A the plain timer's 4 s come before the square's 8.9 s
        either = clock.change({"pack.protection.overcurrent_law": law})
        assert simulate(either, 20.0, 15.0).cut_out[:2] == (
            pytest.approx(4.0, abs=1e-6), "timed over-current",
        )  # fmt: skip
