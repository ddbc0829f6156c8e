"""How the parts of a build fit each other: hand-worked values, exact solutions, and what must hold."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from physics.build import Bike, Build, Controller, Driveline, Motor, Pack, Protection
from physics.simulation.run import run
from physics.studies.parts_fit import LINES, highest_motor_speed, line_duty, parts_fit, time_to_foldback

RULES = Protection(continuous_current=190.0, peak_current=250.0, peak_time=10.0)
BUILD = Build(
    Pack(20, 40.0, charge_current=40.0, protection=RULES),
    Motor(60.0, pole_pairs=5),
    Controller(200.0, 400.0, regen_current=40.0, overshoot=0.03),
    Driveline(12, 48),
    Bike(120.0, 80.0, tyre="110/70-17 54H", rolling_radius=0.3, wheelbase=1.4, centre_of_gravity_to_rear_axle=0.7),
)
RUN = run(BUILD, 20.0)
# Surface machine without resistance, 72 V, 80 microhenry, 5 pole pairs, 0.0125 Wb: 6351 rpm without load, flux
# over inductance 156.25 A. R. Krishnan, Permanent Magnet Synchronous and Brushless DC Motor Drives, 2010, chapter
# 5, derived.
SURFACE = {
    "pack.cells_in_series": 20, "pack.chemistry": "lfp",  # 20 cells of 3.6 V are 72 V
    "motor.kv_rpm_per_volt": 60 / (2 * np.pi * np.sqrt(3) * 5 * 0.0125), "motor.phase_resistance": 1e-5,
    "motor.phase_inductance": 80e-6, "motor.iron_loss_torque": 0.0, "motor.iron_loss_damping": 0.0,
    "controller.phase_current_limit": 300.0,
}  # fmt: skip


@pytest.mark.parametrize(("weakening", "times"), [(0.0, 1.0), (78.125, 2.0), (117.1875, 4.0)])
def test_the_highest_speed_of_a_surface_machine(weakening, times):
    """exact solution: U / sqrt(3) / (flux - L i): 6351 rpm, twice that at half of flux / L, four times at 3/4.

    0.1 %: the machine's resistance cannot be 0.
    """
    build = BUILD.change(SURFACE | {"controller.field_weakening_current": weakening})
    assert highest_motor_speed(build) * 30 / np.pi == pytest.approx(6351 * times, rel=1e-3)


def test_what_holds_the_highest_speed_back():
    """property: iron loss lowers it, a speed cap holds it, and even all the field there is leaves it an end."""
    free = highest_motor_speed(BUILD.change(SURFACE))
    assert highest_motor_speed(BUILD.change(SURFACE | {"motor.iron_loss_torque": 5.0})) < free
    capped = BUILD.change(SURFACE | {"controller.speed_cap": 20.0})
    assert highest_motor_speed(capped) == pytest.approx(20.0 * 4 / 0.3)
    assert free < highest_motor_speed(BUILD.change({"controller.field_weakening_current": 1000.0})) < 1e5


def test_the_winding_at_the_phase_limit():
    """exact solution: C dT/dt = 1.5 I^2 R(T), scipy's DOP853, copper's line of IEC 60034-1."""
    machine, start = BUILD.motor, 298.15
    build = BUILD.change({"conditions.motor_temperature": start})

    def heating(_, temperature):
        resistance = machine.phase_resistance * (235.0 + temperature - 273.15) / 255.0
        return 1.5 * 400.0**2 * resistance / machine.winding_heat_capacity

    time = time_to_foldback(build)
    end = solve_ivp(heating, (0.0, time), [start], method="DOP853", rtol=1e-10, atol=1e-10).y[0, -1]
    assert end == pytest.approx(machine.winding_foldback_start, abs=1e-5)
    assert time_to_foldback(BUILD.change({"conditions.motor_temperature": 400.0})) == 0.0


def test_the_duty_of_a_run():
    """exact solution: the mean square of the straight lines between a run's own steps, by a fine sum."""
    duty, whole = line_duty(RUN, 0.03), RUN.one(0)
    time = np.linspace(0.0, whole.time[-1], 200_001)
    middle = 0.5 * (time[1:] + time[:-1])
    squares = np.interp(middle, whole.time, whole.line_current[0]) ** 2
    assert duty.root_mean_square == pytest.approx(np.sqrt(squares.mean()), rel=1e-5)
    assert duty.square_integral == pytest.approx(squares.mean() * duty.time, rel=1e-5)
    assert duty.highest == pytest.approx(1.03 * RUN.maximum_line_current[0])


def test_the_duty_ends_with_a_cut_out():
    """property: what coasts on after a cut-out carries nothing and counts for nothing."""
    build = BUILD.change({"pack.protection.fast_current": 160.0})
    cut = run(build, 20.0)
    assert line_duty(cut).time == pytest.approx(cut.cut_out_time[0])
    assert line_duty(cut).root_mean_square > 0


def test_lines():
    """hand-worked: 20 x 4.2 = 84 V; 40 A x 1.03 = 41.2 A of regen; half of 200 kg; 36 x 5 / 60 Hz per volt at Kv
    60.

    Chain: 400 A x 11.695 / 60 / sqrt(2) = 55.13 N m over 24.53 mm (12.7 mm / sin 15 / 2) = 2247 N, against
    12,500 lbf/in2 x 0.25 in2 / 6 = 520.8 lbf = 2317 N.
    """
    lines = parts_fit(BUILD, RUN).lines
    assert tuple(lines) == LINES
    assert lines["pack voltage"].value == pytest.approx(84.0)
    assert lines["voltage class"] == pytest.approx((84.0, 60.0))
    assert lines["regen"] == pytest.approx((41.2, 40.0))
    assert lines["tyre load"].value == pytest.approx(100.0)
    assert lines["electrical frequency"].value == pytest.approx(lines["back-EMF"].value * 60 * 5 / 60)
    assert lines["chain"].value == pytest.approx(2247, abs=1.5)
    assert lines["chain"].limit == pytest.approx(2317, abs=0.5)
    assert lines["peak current"] == pytest.approx((206.0, 250.0))


def test_a_thicker_chain():
    """hand-worked: at 5/8 inch the strength is 25/16 of that at 1/2 inch, and the pull 4/5."""
    thin, thick = (parts_fit(BUILD, RUN, chain_pitch=pitch).lines["chain"] for pitch in (0.0127, 0.015875))
    assert thick.limit / thin.limit == pytest.approx(25 / 16)
    assert thick.value / thin.value == pytest.approx(4 / 5)


@pytest.mark.parametrize(
    ("changes", "allowed"),
    [
        ({"conditions.pack_temperature": 278.15}, 8.0),
        ({"conditions.pack_temperature": 272.15}, 0.0),
        ({"conditions.pack_temperature": 320.15}, 0.0),
        ({"conditions.pack_temperature": 293.15}, 40.0),
        ({"pack.charge_current": None}, 40.0),
    ],
)
def test_what_the_cells_may_be_charged_with(changes, allowed):
    """hand-worked: 40 A as rated; a fifth of 40 Ah below 10 degrees C, nothing below 0 or above 45."""
    assert parts_fit(BUILD.change(changes), RUN).lines["regen"].limit == pytest.approx(allowed)


def test_what_is_not_known_is_never_passed():
    """property: of ratings that were not given none is passed; those given are held."""
    unknown = BUILD.change({"pack.protection": Protection(), "bike.tyre": "110/70-17"})
    lines = parts_fit(unknown, RUN).lines
    nothing = ("pack voltage", "back-EMF", "electrical frequency", "peak current", "peak time")
    for name in (*nothing, "fuse", "cable", "connector", "tyre speed", "tyre load"):
        assert math.isinf(lines[name].limit), name
        assert not lines[name].passed
    mean = line_duty(RUN).root_mean_square
    rated = parts_fit(unknown, RUN, fuse=mean - 1, cable=mean + 1, connector=mean - 1).lines
    assert [name for name in ("fuse", "cable", "connector") if rated[name].passed] == ["fuse", "connector"]
