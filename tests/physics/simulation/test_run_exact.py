"""Runs whose equations have exact solutions, worked out by hand beside each check.

Exact solution: every build here is stripped until one effect is left, whose equation has a closed form. Tolerances
are those asked of a run: speed within 0.1 %, times within 0.5 % or 10 ms, voltage within 0.2 %, cut-outs to 20 ms.
"""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
from physics.components.air import air_density
from physics.limits import (
    FRONT_WHEEL,
    LINE_CURRENT,
    LOW_VOLTAGE_FOLDBACK,
    PHASE_CURRENT,
    REAR_GRIP,
    SPEED_CAP,
    THROTTLE,
    VOLTAGE,
)
from physics.simulation.run import run

GRAVITY = 9.80665
AIR = float(air_density(298.15, 101325.0, 0.5))
# Share of charge transfer, then share and time constant of the three pairs of "nmc", of the ten-second resistance
# at small current: physics/components/data/cell_constants.csv. One cell's 2 R T / F at 25 degrees C, V.
TRANSFER, PAIRS = 0.569, ((0.061, 3.0), (0.342, 25.0), (0.299, 180.0))
OHMIC = 1.0 - TRANSFER - sum(share * -math.expm1(-10.0 / tau) for share, tau in PAIRS)
BEND = 2.0 * 8.314462618 * 298.15 / 96485.33212


def bare(**changes):
    """A build without losses: stiff pack that stays at half charge and 25 degrees C, no drag, no rolling, no iron.

    Mass 200 kg, gear 5 over radius 0.3 m, so that motor rad/s are 50 / 3 of m/s; wheels and rotor weightless.
    """
    build = Build(
        Pack(
            20, 2000.0, resistance=1e-5, charge_spread=0.0, resistance_spread=0.0, heat_capacity=1e7,
            thermal_conductance=0.0, protection=Protection(),
        ),
        Motor(
            60.0, phase_resistance=1e-5, phase_inductance=1e-7, iron_loss_torque=0.0, iron_loss_damping=0.0,
            rotor_inertia=0.0, winding_heat_capacity=1e6, case_to_air=0.0,
        ),
        Controller(
            5000.0, 200.0, throttle_ramp_time=0.0, overshoot=0.0, fixed_loss=0.0, loss_per_ampere=0.0,
            loss_resistance=0.0, heat_capacity=1e6, thermal_conductance=0.0,
        ),
        Driveline(10, 50, efficiency=1.0),
        Bike(
            120.0, 80.0, drag_area=0.0, rolling_coefficient=0.0, rolling_coefficient_speed_squared=0.0,
            rolling_radius=0.3, wheel_inertia=0.0, hold_front_down=False, grip=math.inf,
        ),
        Conditions(298.15, humidity=0.5, charge=0.5),
    )  # fmt: skip
    return build.change(changes)


def small_current_drop(drop, cells=20):
    """What the linear law makes of a sag of `drop` volts after ten seconds: r I in
    r I (1 - k) + n v asinh(k r I / (n v)) = drop."""
    volt = cells * BEND
    return brentq(lambda u: (1 - TRANSFER) * u + volt * math.asinh(TRANSFER * u / volt) - drop, drop, 100 * drop)


def sag_after(time, drop=5.0, fraction=1.0, cells=20):
    """Sag of a constant current, V: r I (r0 + sum r_i (1 - exp(-t / tau_i))) + n v asinh(k r I / (n v)).

    Of a fraction of the current that makes `drop` volts after ten seconds.
    """
    linear, volt = fraction * small_current_drop(drop, cells), cells * BEND
    rising = OHMIC + sum(share * -np.expm1(-time / tau) for share, tau in PAIRS)
    return linear * rising + volt * math.asinh(TRANSFER * linear / volt)


GEAR = 5.0 / 0.3
TORQUE_PER_AMPERE = math.sqrt(3.0) / 2.0 * 60.0 / (2.0 * math.pi * 60.0)  # peak amperes, kv 60


@pytest.mark.parametrize("headwind", [0.0, 4.0, -3.0])
def test_coast_down_under_drag_and_rolling_is_an_arctangent(headwind):
    # m du/dt = -A - C u|u|, u = v + headwind: u = sqrt(A/C) tan(atan(u0 sqrt(C/A)) - t sqrt(A C) / m) while u > 0
    build = bare(**{
        "controller.throttle": 0.0, "bike.drag_area": 0.6, "bike.rolling_coefficient": 0.015,
        "conditions.headwind": headwind, "motor.kv_rpm_per_volt": 30.0,
    })  # fmt: skip
    result = run(build, duration=40.0, initial_speed=20.0)
    constant, squared = 200.0 * GRAVITY * 0.015, 0.5 * AIR * 0.6
    angle = math.atan((20.0 + headwind) * math.sqrt(squared / constant))
    rate = math.sqrt(constant * squared) / 200.0
    time, speed = result.time, result.speed[0]
    moving = (speed > 0) & (angle - rate * time > 0)
    expected = math.sqrt(constant / squared) * np.tan(angle - rate * time) - headwind
    assert moving.sum() > 30
    assert speed[moving] == pytest.approx(expected[moving], abs=20e-3)
    assert (result.limit == THROTTLE).all()
    assert result.energy_used[0] == 0.0


def test_a_coasting_bike_stops_and_stands_still():
    # m dv/dt = -A: it stops after v0 / (g c) = 5 / (9.80665 * 0.05) = 10.197 s and v0^2 / (2 g c) = 25.493 m
    build = bare(**{"controller.throttle": 0.0, "bike.rolling_coefficient": 0.05})
    result = run(build, duration=20.0, initial_speed=5.0, steps=400)
    time, speed = result.time, result.speed[0]
    assert np.interp(-0.05, -speed, time) == pytest.approx(10.197 * 0.99, rel=5e-3)
    assert (speed[time > 10.4] == 0.0).all()
    # 0.5 %: within the step in which it stops, the run places the stop by a straight line
    assert result.distance[0, -1] == pytest.approx(25.493, rel=5e-3)


def test_coast_down_under_iron_drag_alone_is_exponential():
    # m dv/dt = -D (G/r)^2 v / efficiency with D = 2 mN m s and efficiency 0.9
    build = bare(**{
        "controller.throttle": 0.0, "motor.iron_loss_damping": 2e-3, "driveline.efficiency": 0.9,
        "motor.kv_rpm_per_volt": 30.0,
    })  # fmt: skip
    result = run(build, duration=60.0, initial_speed=15.0)
    rate = 2e-3 * GEAR**2 / 0.9 / 200.0
    assert result.speed[0] == pytest.approx(15.0 * np.exp(-rate * result.time), abs=15e-3)


def test_launch_at_the_phase_limit_is_a_straight_line():
    # F = k I G / r; the equivalent mass adds wheels J / r^2 and rotor J (G/r)^2
    build = bare(**{
        "motor.rotor_inertia": 0.01, "bike.wheel_inertia": 0.9, "driveline.efficiency": 0.95,
        "conditions.slope": 0.03, "controller.line_current_limit": 5000.0,
    })  # fmt: skip
    mass = 200.0 + 0.9 / 0.09 + 0.01 * GEAR**2
    force = TORQUE_PER_AMPERE * 200.0 * GEAR * 0.95 - 200.0 * GRAVITY * math.sin(0.03)
    result = run(build, duration=5.0)
    time = result.time
    assert result.speed[0, -1] < 15.0  # below the speed at which the voltage limit begins
    assert result.speed[0] == pytest.approx(force / mass * time, rel=1e-3)
    assert result.distance[0] == pytest.approx(force / mass * time**2 / 2.0, rel=1e-3, abs=1e-4)
    assert (result.limit == PHASE_CURRENT).all()


def test_launch_through_the_throttle_ramp():
    # throttle(t) = t / 2 s: v = F t^2 / (2 m 2 s) up to 2 s, then F / m (t - 1 s)
    build = bare(**{"controller.throttle_ramp_time": 2.0})
    acceleration = TORQUE_PER_AMPERE * 200.0 * GEAR / 200.0
    result = run(build, duration=5.0)
    time = result.time
    expected = np.where(time < 2.0, acceleration * time**2 / 4.0, acceleration * (time - 1.0))
    assert result.speed[0] == pytest.approx(expected, abs=1e-3 * expected[-1])
    for speed in (1.0, 3.0, 8.0):
        exact = math.sqrt(4.0 * speed / acceleration) if speed < acceleration else speed / acceleration + 1.0
        assert result.time_to(speed)[0] == pytest.approx(exact, abs=max(0.01, 5e-3 * exact))


def test_launch_with_the_front_wheel_just_on_the_ground():
    # moments about the rear contact, no drag: a / g = b / h = 0.68 / 0.65, whatever the motor could do
    build = bare(**{"bike.hold_front_down": True, "controller.phase_current_limit": 2000.0})
    result = run(build, duration=1.0)
    assert result.speed[0] == pytest.approx(GRAVITY * 0.68 / 0.65 * result.time, rel=1e-3)
    assert (result.limit == FRONT_WHEEL).all()


def test_launch_on_the_rear_tyre_grip():
    # F = mu N with N = m g (w - b) / w + F h / w: a / g = mu (w - b) / (w - mu h), mu = 0.6
    build = bare(**{"bike.grip": 0.6, "controller.phase_current_limit": 2000.0})
    result = run(build, duration=1.5)
    expected = GRAVITY * 0.6 * (1.40 - 0.68) / (1.40 - 0.6 * 0.65)
    assert result.speed[0] == pytest.approx(expected * result.time, rel=1e-3)
    assert (result.limit == REAR_GRIP).all()


def test_rear_tyre_grip_with_the_front_in_the_air():
    # past the wheelie line the rear carries the whole weight: a / g = mu, and mu = 1.3 is above b / h = 1.046
    build = bare(**{"bike.grip": 1.3, "controller.phase_current_limit": 2000.0})
    result = run(build, duration=1.0)
    assert result.speed[0] == pytest.approx(GRAVITY * 1.3 * result.time, rel=1e-3)


def test_top_speed_at_constant_power_solves_a_cubic():
    # eta I U = (A + C v^2) v with I = 100 A and U = 20 cells of 3.751 V (Chen et al. 2020, half charge)
    build = bare(**{
        "controller.line_current_limit": 100.0, "controller.phase_current_limit": 2000.0,
        "driveline.efficiency": 0.95, "bike.drag_area": 0.6, "bike.rolling_coefficient": 0.015,
        "motor.kv_rpm_per_volt": 100.0,
    })  # fmt: skip
    result = run(build, duration=120.0, initial_speed=20.0)
    power = 0.95 * 100.0 * 20.0 * 3.7509
    roots = np.roots([0.5 * AIR * 0.6, 0.0, 200.0 * GRAVITY * 0.015, -power])
    exact = float(roots[np.abs(roots.imag) < 1e-9].real[0])
    assert result.top_speed[0] == pytest.approx(exact, rel=1e-3)
    assert result.settled[0]
    assert result.limit[0, -1] == LINE_CURRENT


def test_acceleration_at_constant_power_follows_the_square_root():
    # m v dv/dt = P: v = sqrt(v0^2 + 2 P t / m)
    build = bare(**{
        "controller.line_current_limit": 100.0, "controller.phase_current_limit": 2000.0,
        "motor.kv_rpm_per_volt": 150.0,
    })  # fmt: skip
    result = run(build, duration=20.0, initial_speed=8.0)
    exact = np.sqrt(64.0 + 2.0 * 100.0 * 20.0 * 3.7509 * result.time / 200.0)
    assert result.speed[0] == pytest.approx(exact, rel=1e-3)


@pytest.mark.parametrize("modulation", [0.95, 1.1])
def test_a_bike_without_losses_tops_out_where_back_emf_meets_the_pack(modulation):
    # line-to-line peak back-EMF = rpm / kv = modulation U, U = 20 cells of 3.7509 V: 60 rpm/V give 4501 rpm
    build = bare(**{"controller.modulation": modulation, "motor.phase_resistance": 0.01})
    result = run(build, duration=60.0)
    exact = modulation * 20.0 * 3.7509 * 60.0 * 2.0 * math.pi / 60.0 / GEAR
    assert result.top_speed[0] == pytest.approx(exact, rel=1e-3)
    assert result.limit[0, -1] == VOLTAGE


def test_low_voltage_foldback_meets_the_sag_on_a_straight_line():
    # I = 400 (U - 60) / (80 - 60) and U = E - sag at once of I, of which 400 A make 20 V; E = 75.018 V
    build = constant_current(400.0, 0.05, **{
        "controller.foldback_start_voltage": 80.0, "controller.foldback_end_voltage": 60.0,
        "controller.phase_current_limit": 4000.0,
    })  # fmt: skip
    result = run(build, duration=1.0, initial_speed=15.0)
    voltage = brentq(lambda u: 75.018 - sag_after(0.0, 20.0, (u - 60.0) / 20.0) - u, 60.0, 75.018)
    assert result.pack_voltage[0, 0] == pytest.approx(voltage, rel=1e-4)
    assert result.line_current[0, 0] == pytest.approx(20.0 * (voltage - 60.0), rel=1e-3)
    assert result.limit[0, 0] == LOW_VOLTAGE_FOLDBACK


def test_a_speed_cap_settles_within_its_band():
    # drive fades in proportion over the last 2 % below the cap: F (cap - v) / (0.02 cap) = 0 has its end at the cap
    build = bare(**{"controller.speed_cap": 10.0, "bike.rolling_coefficient": 0.02})
    result = run(build, duration=20.0)
    full = TORQUE_PER_AMPERE * 200.0 * GEAR
    exact = 10.0 * (1.0 - 0.02 * 200.0 * GRAVITY * 0.02 / full)
    assert result.top_speed[0] == pytest.approx(exact, rel=1e-3)
    assert result.speed[0, -1] == pytest.approx(exact, rel=1e-3)
    assert result.limit[0, -1] == SPEED_CAP


def constant_current(current=100.0, resistance=0.05, **changes):
    """A heavy bike, already moving and held at its line limit: the pack sees a step of constant current."""
    return bare(**{
        "pack.resistance": resistance, "pack.resistance_current": current, "bike.bike_mass": 1000.0,
        "controller.line_current_limit": current,
        "controller.phase_current_limit": 2000.0, "motor.kv_rpm_per_volt": 150.0, **changes,
    })  # fmt: skip


def test_pack_voltage_after_a_current_step():
    # half charge and 25 degrees C make every factor one
    result = run(constant_current(), duration=20.0, initial_speed=15.0)
    time = result.time
    assert result.line_current[0] == pytest.approx(100.0, rel=1e-6)
    sag = sag_after(time)
    # charge used: 2000 A s of 7.2 MA s, which changes the rest voltage by a third of a millivolt per cell
    assert result.rest_voltage[0] - result.pack_voltage[0] == pytest.approx(sag, rel=2e-3)
    assert result.pack_voltage[0] == pytest.approx(20 * 3.7509 - sag, rel=2e-4)


def test_sag_after_ten_seconds_is_the_ten_second_resistance():
    # the definition of the resistance a rider gives: 0.05 ohm x 100 A = 5 V after 10 s, half charge, 25 degrees C
    result = run(constant_current(), duration=10.0, initial_speed=15.0)
    assert result.rest_voltage[0, -1] - result.pack_voltage[0, -1] == pytest.approx(5.0, rel=2e-3)


def test_pack_voltage_recovers_after_a_cut_out():
    # fast rule: opens exactly its delay after the step; then each pair decays by its own time constant
    build = constant_current(**{
        "pack.protection.fast_current": 90.0, "pack.protection.fast_delay": 8.0,
    })  # fmt: skip
    result = run(build, duration=30.0, initial_speed=15.0)
    assert result.cut_out_time[0] == pytest.approx(8.0, abs=0.02)
    assert result.cut_out_rule_names() == ["fast over-current"]
    assert result.cut_out_current[0] == pytest.approx(100.0, rel=1e-6)
    time = result.time
    after = time > 8.02
    charged = [small_current_drop(5.0) * share * -math.expm1(-8.0 / tau) for share, tau in PAIRS]
    left = sum(v * np.exp(-(time[after] - 8.0) / tau) for v, (_, tau) in zip(charged, PAIRS, strict=True))
    assert (result.line_current[0, after] == 0.0).all()
    assert result.rest_voltage[0, after] - result.pack_voltage[0, after] == pytest.approx(left, abs=2e-3)
    # nothing resists this bike, so it coasts on at the speed it had
    assert result.speed[0, after] == pytest.approx(result.speed[0, after][0], rel=1e-9)


@pytest.mark.parametrize(
    ("continuous", "peak", "overshoot"),
    [(80.0, 100.0, 0.0), (60.0, 150.0, 0.0), (90.0, 200.0, 0.1), (80.0, 80.0, 0.0)],
)
def test_inverse_time_rule_opens_when_its_clock_is_full(continuous, peak, overshoot):
    # t = peak time (Ip^2 - Ic^2) / (I^2 - Ic^2), with the overshoot counted in I; Ip = Ic: the peak time itself
    build = constant_current(**{
        "pack.protection.continuous_current": continuous, "pack.protection.peak_current": peak,
        "pack.protection.peak_time": 5.0, "controller.overshoot": overshoot,
    })  # fmt: skip
    signal = 100.0 * (1.0 + overshoot)
    exact = 5.0 * (peak**2 - continuous**2) / (signal**2 - continuous**2) if peak > continuous else 5.0
    result = run(build, duration=30.0, initial_speed=15.0)
    if exact > 30.0:
        assert math.isnan(result.cut_out_time[0])
    else:
        assert result.cut_out_time[0] == pytest.approx(exact, abs=0.02)
        assert result.cut_out_rule_names() == ["continuous current"]


def test_a_winding_at_constant_current_warms_exponentially():
    # C dT/dt = 1.5 R20 (235 + T) / 255 I^2, T in degrees C: 235 + T grows by exp(1.5 R20 I^2 t / (255 C))
    build = bare(**{
        "bike.bike_mass": 1000.0, "motor.phase_resistance": 0.01, "motor.winding_heat_capacity": 200.0,
        "motor.winding_to_case": 0.01, "motor.case_heat_capacity": 1e7,
    })  # fmt: skip
    result = run(build, duration=10.0)
    grown = (235.0 + 25.0) * np.exp(1.5 * 0.01 * 200.0**2 * result.time / (255.0 * 200.0))
    # 0.1 K: the path to the case, which cannot be cut, carries 0.01 W/K x 30 K x 10 s / 200 J/K = 15 mK
    assert result.winding_temperature[0] - 273.15 + 235.0 == pytest.approx(grown, abs=0.1)


def test_a_bike_that_cannot_start_stands_still():
    # 5 A of phase current push with 7 N; the slope pulls with 200 kg x g x sin(0.1) = 196 N
    build = bare(**{"controller.phase_current_limit": 5.0, "conditions.slope": 0.1})
    result = run(build, duration=5.0)
    assert (result.speed == 0.0).all()
    assert (result.distance == 0.0).all()


@pytest.mark.parametrize(("duration", "speed"), [(0.0, 0.0), (-1.0, 0.0), (1e5, 0.0), (math.nan, 0.0), (5.0, -1.0)])
def test_what_a_run_refuses(duration, speed):
    with pytest.raises(ValueError, match="accepts"):
        run(bare(), duration=duration, initial_speed=speed)
