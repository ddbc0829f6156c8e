"""Runs whose equations have exact solutions, worked out by hand beside each check.

Exact solution: every build here is stripped until one effect is left, whose equation has a closed form. Tolerances
are those asked of a run: speed within 0.1 %, times within 0.5 % or 10 ms, voltage within 0.2 %, cut-outs to 20 ms.
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from physics.build import OVERCURRENT_LAWS, Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
from physics.components.air import air_density
from physics.limits import (
    FRONT_WHEEL,
    LINE_CURRENT,
    LOW_VOLTAGE_CUTBACK,
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
            rolling_radius=0.3, wheel_inertia=0.0, fork_sag=0.0, hold_front_down=False, grip=math.inf,
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


def test_a_chain_that_drags_at_any_load():
    # 24 N of chain on a sprocket of 10 teeth, 12.7 mm / sin(18 degrees) = 41.10 mm wide: 0.4932 N m at the shaft,
    # 0.4932 x 5 / 0.3 = 8.220 N at the road; driving less its share of the efficiency, coasting so much more
    assert 24.0 * 0.0127 / math.sin(math.pi / 10) / 2 == pytest.approx(0.4932, abs=5e-5)
    build = bare(**{"driveline.chain_drag": 24.0, "driveline.efficiency": 0.9})
    drive = (TORQUE_PER_AMPERE * 200.0 - 0.4932) * GEAR * 0.9
    pulled = run(build, duration=3.0, initial_speed=1.0)
    assert pulled.speed[0] == pytest.approx(1.0 + drive / 200.0 * pulled.time, rel=1e-3)
    rolling = run(build.change({"controller.throttle": 0.0}), duration=20.0, initial_speed=15.0)
    assert rolling.speed[0] == pytest.approx(15.0 - 0.4932 * GEAR / 0.9 / 200.0 * rolling.time, abs=15e-3)
    # efficiency is a straight line in the reciprocal of the tension: with T = k i / r, 0.9 (1 - 24 N / T)
    radius, shares = 0.02055, []
    for current in (50.0, 100.0, 200.0):
        point = run(build.change({"controller.phase_current_limit": current}), duration=0.01, initial_speed=5.0)
        shares.append(point.drive_force[0, 0] / (TORQUE_PER_AMPERE * current * GEAR))
        tension = TORQUE_PER_AMPERE * current / radius
        assert shares[-1] == pytest.approx(0.9 * (1.0 - 24.0 / tension), rel=1e-4)
    balance = pulled.energy_balance()
    assert abs(balance["remainder"][0]) < 1e-3 * balance["cells"][0]


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


def test_launch_with_wheels_and_rotor_that_spin_up_and_a_fork_that_tops_out():
    # moments about the rear contact: m g b = (m h + J) a, J = 0.9 / 0.3 + 0.012 x 5 / 0.3 = 3.2 kg m; 35 mm of fork
    # over 1.40 m turn the bike by 0.025: b = 0.68 - 0.35 x 0.025 = 0.67125 m, h = 0.65 + 0.68 x 0.025 = 0.667 m
    spinning = {"bike.wheel_inertia": 0.9, "motor.rotor_inertia": 0.012}
    build = bare(**{"bike.hold_front_down": True, "controller.phase_current_limit": 2000.0, **spinning})
    for sag, along, height in ((0.0, 0.68, 0.65), (0.035, 0.67125, 0.667)):
        result = run(build.change({"bike.fork_sag": sag}), duration=1.0)
        acceleration = 200.0 * GRAVITY * along / (200.0 * height + 3.2)
        assert result.speed[0] == pytest.approx(acceleration * result.time, rel=1e-3)
        assert (result.limit == FRONT_WHEEL).all()


def test_launch_on_the_rear_tyre_grip():
    # F = mu N with N = m g (w - b) / w + F h / w: a / g = mu (w - b) / (w - mu h), mu = 0.6
    build = bare(**{"bike.grip": 0.6, "controller.phase_current_limit": 2000.0})
    result = run(build, duration=1.5)
    expected = GRAVITY * 0.6 * (1.40 - 0.68) / (1.40 - 0.6 * 0.65)
    assert result.speed[0] == pytest.approx(expected * result.time, rel=1e-3)
    assert (result.limit == REAR_GRIP).all()


def test_rear_tyre_grip_where_the_drive_spins_up_wheel_and_rotor_too():
    # the tyre pushes the mass and the front wheel, half of both: X = (200 + 5) a with 0.9 / 2 / 0.3^2 = 5 kg; and
    # X = 0.6 (m g (w - b) + (m h + J) a) / w, J = 3.2 kg m as above: a = 0.6 m g 0.72 / (205 x 1.4 - 0.6 x 133.2)
    build = bare(**{
        "bike.grip": 0.6, "controller.phase_current_limit": 2000.0, "bike.wheel_inertia": 0.9,
        "motor.rotor_inertia": 0.012,
    })  # fmt: skip
    result = run(build, duration=1.5)
    expected = 0.6 * 200.0 * GRAVITY * 0.72 / (205.0 * 1.40 - 0.6 * 133.2)
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


@pytest.mark.parametrize("celsius", [20.0, 100.0, -10.0])
def test_warm_magnets_pull_less_and_turn_faster(celsius):
    # 0.11 % of the flux for each kelvin from 20 degrees C: 0.912 of it at 100. Torque per ampere is that much less,
    # the speed at which back-EMF meets the pack that much more; the case is so heavy that it stays as warm
    share = 1.0 - 0.0011 * (celsius - 20.0)
    build = bare(**{
        "motor.magnet_weakening": 0.0011, "conditions.motor_temperature": 273.15 + celsius,
        "motor.case_heat_capacity": 1e7, "motor.phase_resistance": 0.01,
    })  # fmt: skip
    result = run(build, duration=60.0)
    assert result.acceleration[0, 0] == pytest.approx(share * TORQUE_PER_AMPERE * GEAR, rel=1e-9)
    free = 20.0 * 3.7509 * 60.0 * 2.0 * math.pi / 60.0 / GEAR
    assert result.top_speed[0] == pytest.approx(free / share, rel=1e-3)
    balance = result.energy_balance()
    assert abs(balance["remainder"][0]) < 1e-3 * balance["cells"][0]


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
    assert result.limit[0, 0] == LOW_VOLTAGE_CUTBACK


@pytest.mark.parametrize("slope", [0.0, 0.05, -0.015])
@pytest.mark.parametrize("efficiency", [1.0, 0.9])
def test_a_speed_cap_is_held(slope, efficiency):
    # at v = cap the drive that is let through is the road load itself: dv/dt = 0; 0.1 % is all a run may err
    build = bare(**{
        "controller.speed_cap": 10.0, "bike.rolling_coefficient": 0.02, "bike.drag_area": 0.5,
        "conditions.slope": slope, "driveline.efficiency": efficiency, "motor.iron_loss_damping": 2e-3,
    })  # fmt: skip
    result = run(build, duration=20.0)
    assert result.top_speed[0] == pytest.approx(10.0, rel=1e-3)
    assert result.speed[0, -1] == pytest.approx(10.0, rel=1e-3)
    assert result.limit[0, -1] == SPEED_CAP
    drive = 200.0 * GRAVITY * (math.sin(slope) + 0.02 * math.cos(slope)) + 0.5 * AIR * 0.5 * 100.0
    assert result.drive_force[0, -1] == pytest.approx(drive, rel=5e-3, abs=0.5)


def test_full_drive_until_shortly_before_the_cap():
    # F / m = 2.30 m/s2 until (cap - v) / 0.05 s falls below it, 0.11 m/s before the cap; then exp(-t / 0.05 s)
    build = bare(**{"controller.speed_cap": 10.0})
    acceleration = TORQUE_PER_AMPERE * 200.0 * GEAR / 200.0
    result = run(build, duration=8.0, steps=800)  # instants every 10 ms, to see the corner
    before = 10.0 - 0.05 * acceleration
    assert result.time_to(before)[0] == pytest.approx(before / acceleration, abs=0.01)
    time = result.time
    after = time > before / acceleration
    exact = 10.0 - 0.05 * acceleration * np.exp(-(time[after] - before / acceleration) / 0.05)
    assert result.speed[0, after] == pytest.approx(exact, abs=10e-3)
    assert (result.speed[0] <= 10.0 * (1 + 1e-6)).all()


def test_a_speed_cap_never_makes_faster():
    # property: at every instant at most the speed without the cap; rolling above it the bike only coasts
    free, capped = (
        run(bare(**{"bike.drag_area": 0.6, "controller.speed_cap": cap}), 20.0) for cap in (math.inf, 12.0)
    )
    speeds = np.interp(capped.time, free.time, free.speed[0])
    assert (capped.speed[0] <= speeds * (1 + 1e-3) + 5e-3).all()
    coasting = run(bare(**{"bike.drag_area": 0.6, "controller.speed_cap": 12.0}), 20.0, initial_speed=15.0)
    closed = run(bare(**{"bike.drag_area": 0.6, "controller.throttle": 0.0}), 20.0, initial_speed=15.0)
    above = coasting.speed[0] > 12.2
    assert above.sum() > 10
    assert coasting.speed[0, above] == pytest.approx(
        np.interp(coasting.time[above], closed.time, closed.speed[0]), abs=15e-3
    )


def test_a_cap_beyond_what_the_bike_can_do_changes_nothing():
    # property: a cap of twice the top speed
    free, capped = (
        run(bare(**{"bike.drag_area": 0.6, "controller.speed_cap": cap}), 30.0) for cap in (math.inf, 60.0)
    )
    assert capped.top_speed[0] == pytest.approx(free.top_speed[0], rel=1e-9)


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


def test_leads_sag_at_the_controller_and_not_in_the_cells():
    # IEC 60228, class 5, 16 mm2: 1.21 ohm/km, 2 m of it 2.42 mohm: 0.242 V at 100 A, and 24.2 W
    plain, wired = (
        run(constant_current(**{"pack.lead_resistance": leads}), duration=10.0, initial_speed=15.0)
        for leads in (0.0, 2 * 1.21e-3)
    )
    assert plain.pack_voltage[0] - wired.pack_voltage[0] == pytest.approx(0.242, abs=1e-6)
    assert plain.weakest_cell_voltage[0] == pytest.approx(wired.weakest_cell_voltage[0], abs=1e-9)
    assert plain.line_current[0] == pytest.approx(wired.line_current[0], rel=1e-9)
    balance = wired.energy_balance()
    assert balance["leads"][0] == pytest.approx(242.0, rel=1e-6)
    assert balance["pack"][0] == pytest.approx(plain.energy_balance()["pack"][0], rel=1e-6)


def test_a_fold_of_the_line_limit_looks_at_the_voltage_behind_the_leads():
    # as that without leads, and behind them another 4 mohm x I with I = 20 (U - 60) A; at the end of the run, less
    # what the pairs have filled up to: at the start, with nothing foreseen, charge transfer is known to 0.1 % of U
    build = constant_current(400.0, 0.05, **{
        "controller.foldback_start_voltage": 80.0, "controller.foldback_end_voltage": 60.0,
        "controller.phase_current_limit": 4000.0, "pack.lead_resistance": 4e-3,
    })  # fmt: skip
    result = run(build, duration=1.0, initial_speed=15.0)
    source = result.rest_voltage[0, -1] - result.polarisation_voltage[0, -1]

    def missing(u):
        return source - sag_after(0.0, 20.0, (u - 60.0) / 20.0) - 4e-3 * 20.0 * (u - 60.0) - u

    assert result.pack_voltage[0, -1] == pytest.approx(brentq(missing, 60.0, 75.018), rel=1e-4)
    assert result.limit[0, -1] == LOW_VOLTAGE_CUTBACK


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
@pytest.mark.parametrize("law", OVERCURRENT_LAWS)
def test_an_over_current_rule_opens_when_its_timer_is_full(law, continuous, peak, overshoot):
    # by the square of current t = peak time (Ip^2 - Ic^2) / (I^2 - Ic^2), with the overshoot counted in I; by
    # definite time, and where Ip = Ic, the peak time itself; the first of the two where the law is unknown
    build = constant_current(**{
        "pack.protection.continuous_current": continuous, "pack.protection.peak_current": peak,
        "pack.protection.peak_time": 5.0, "controller.overshoot": overshoot, "pack.protection.overcurrent_law": law,
    })  # fmt: skip
    signal = 100.0 * (1.0 + overshoot)
    square = 5.0 * (peak**2 - continuous**2) / (signal**2 - continuous**2) if peak > continuous else math.inf
    timed = math.inf if law == "square of current" and peak > continuous else 5.0
    exact = min(timed, math.inf if law == "definite time" else square)
    result = run(build, duration=30.0, initial_speed=15.0)
    if exact > 30.0:
        assert math.isnan(result.cut_out_time[0])
    else:
        assert result.cut_out_time[0] == pytest.approx(exact, abs=0.02)
        if timed != square:  # at the peak current itself both are full at once
            named = "continuous current" if square == exact else "timed over-current"
            assert result.cut_out_rule_names() == [named]


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


@pytest.mark.parametrize("window", [20.0, 1.0])
def test_a_winding_that_folds_its_own_current_back_settles(window):
    """Exact solution: scipy's on C dT/dt = 1.5 R20 (235 + T) / 255 (300 A (40 - T) / window)^2, T in degrees C."""
    build = bare(**{
        "bike.bike_mass": 1000.0, "conditions.slope": 0.5, "controller.phase_current_limit": 300.0,
        "motor.phase_resistance": 0.01, "motor.winding_heat_capacity": 200.0, "motor.winding_to_case": 0.01,
        "motor.case_heat_capacity": 1e7, "motor.winding_foldback_start": 273.15 + 40.0 - window,
        "motor.winding_temperature_maximum": 273.15 + 40.0,
    })  # fmt: skip

    def warming(_, temperature):
        current = 300.0 * np.clip((40.0 - temperature) / window, 0.0, 1.0)
        return 1.5 * 0.01 * (235.0 + temperature) / 255.0 * current**2 / 200.0

    result = run(build, duration=60.0)
    exact = solve_ivp(warming, (0.0, 60.0), [25.0], t_eval=result.time, method="LSODA", rtol=1e-9, atol=1e-9).y[0]
    assert (result.speed == 0.0).all()
    # 0.1 K: the path to the case, which cannot be cut, carries 0.01 W/K x 15 K x 60 s / 200 J/K = 45 mK
    assert result.winding_temperature[0] - 273.15 == pytest.approx(exact, abs=0.1)
    assert len(result.between[0]) < 30  # steps besides those to the instants: it does not go to and fro


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
