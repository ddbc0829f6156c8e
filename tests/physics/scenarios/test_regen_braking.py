"""Slowing by regen alone: energy, closed forms, and scipy's solver on the same equations."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from physics.build import example_build
from physics.build.batch import Batch
from physics.scenarios.regen_braking import (
    HOLDS,
    LOSSES,
    PHASE_LIMIT,
    REGEN_CURRENT,
    regen_braking,
    returned_by_stop,
)

PLAIN = {
    "controller.regen_current": 30.0, "conditions.charge": 0.5, "conditions.pack_temperature": 298.15,
    "pack.resistance": 0.05, "pack.resistance_current": 0.01, "bike.grip": 5.0,
}  # fmt: skip
LOSSLESS = PLAIN | {
    "bike.drag_area": 0.0, "bike.rolling_coefficient": 0.0, "bike.rolling_coefficient_speed_squared": 0.0,
    "driveline.efficiency": 1.0, "motor.iron_loss_torque": 0.0, "motor.iron_loss_damping": 0.0,
    "motor.phase_resistance": 1e-5, "controller.fixed_loss": 0.0, "controller.loss_per_ampere": 0.0,
    "controller.loss_resistance": 0.0, "pack.resistance": 1e-5,
}  # fmt: skip


@pytest.mark.parametrize("end", [0.0, 8.0])
def test_energy_closes(end):
    """property: what is given up is found again in drag, rolling, slope, losses and cells, to 0.1 %; the cells'
    part is what their charge rises by, at rest voltage, to 0.1 %."""
    builds = [example_build().change(PLAIN | {"conditions.slope": slope}) for slope in (0.0, 0.03, -0.01)]
    slowed = regen_braking(builds, 25.0, end)
    total = sum(slowed.energy[name] for name in LOSSES)
    assert total == pytest.approx(slowed.kinetic, rel=1e-3)
    into = np.array(
        [np.trapezoid(current, time) for current, time in zip(slowed.line_current, slowed.time, strict=True)]
    )
    volts = 24 * 3.751  # rest voltage at half charge; the few amp-seconds hardly move it
    assert slowed.energy["cells"] == pytest.approx(into * volts, rel=1e-3)
    assert slowed.slows.all()


def test_constant_power_in_closed_form():
    """exact solution: with no loss and a held line current I the pack takes P = U I, so m v dv = -P dt:
    t = m (v0^2 - v1^2) / (2 P), and all that is given up is taken in. Rest voltage rises by a few mV: 0.1 %."""
    build = example_build().change(LOSSLESS)
    slowed = regen_braking(build, 20.0, 10.0)
    mass = float(Batch.of(build).stance().equivalent_mass[0])
    power = 24 * 3.751 * 30.0
    assert slowed.time[0, -1] == pytest.approx(mass * (400.0 - 100.0) / (2 * power), rel=1e-3)
    assert slowed.returned_share[0] == pytest.approx(1.0, rel=1e-3)
    assert np.all(slowed.holds == REGEN_CURRENT)
    assert np.ptp(slowed.line_current) < 1e-6


def test_what_a_stop_returns():
    """exact solution: with no loss and a held line current all of m v^2 / 2 is taken in at the rest voltage U, here
    Q = m v^2 / (2 U). property: never less than the stop with the pack's resistance and its voltage rising; where
    regen alone hardly slows, a stop at 0.3 m/s2 in all, v / 0.3 long."""
    build = example_build().change(LOSSLESS)
    mass = float(Batch.of(build).stance().equivalent_mass[0])
    assert returned_by_stop(Batch.of(build), 20.0)[0] == pytest.approx(mass * 400.0 / (2 * 24 * 3.751), rel=1e-3)
    builds = [
        example_build().change(PLAIN | {"conditions.slope": slope, "controller.phase_current_limit": phase})
        for slope in (0.0, 0.03, -0.01) for phase in (60.0, 400.0)
    ]  # fmt: skip
    slowed, most = regen_braking(builds, 25.0, 0.0, 2.0), returned_by_stop(Batch.of(builds), 25.0, 2.0)
    for current, time, allowed in zip(slowed.line_current, slowed.time, most, strict=True):
        assert 0.85 * allowed < np.trapezoid(current, time) <= allowed
    steep = Batch.of(example_build().change(PLAIN | {"conditions.slope": -0.3}))
    assert returned_by_stop(steep, 12.0, 9.0)[0] == pytest.approx(30.0 * 3.0 / 0.3, rel=1e-9)
    assert returned_by_stop(steep, 6.0, 12.0)[0] == 0.0


def test_constant_force_at_the_phase_limit():
    """exact solution: at the phase limit and with no loss the force is constant: distance = v^2 / (2 a)."""
    build = example_build().change(
        LOSSLESS | {"controller.regen_current": 500.0, "controller.phase_current_limit": 50.0}
    )
    slowed = regen_braking(build, 20.0)
    batch = Batch.of(build)
    stance, ratio = batch.stance(), 56 / 12
    force = np.sqrt(3) / 2 * 60 / (2 * np.pi * 60.0) * 50.0 * ratio / float(stance.rolling_radius[0])
    slowing = force / float(stance.equivalent_mass[0])
    assert slowed.deceleration[0] == pytest.approx(slowing, rel=1e-9)
    assert slowed.distance[0, -1] == pytest.approx(400.0 / (2 * slowing), rel=1e-9)
    assert np.all(slowed.holds == PHASE_LIMIT)


def test_against_a_solver():
    """exact solution: scipy's solver in time, on equations written out here: distance, time and charge to 0.2 %."""
    build = example_build().change(PLAIN)
    batch = Batch.of(build)
    slowed = regen_braking(build, 25.0, 3.0)
    inertia, radius = (float(batch.stance().equivalent_mass[0]), float(batch.stance().rolling_radius[0]))
    ratio, constant = 56 / 12 / radius, np.sqrt(3) / 2 * 60 / (2 * np.pi * 60.0)
    from physics.components.air import air_density
    from physics.components.cell import PAIR_TIMES, chemistry

    day, kind = build.conditions, chemistry("nmc")
    density = float(air_density(day.air_temperature, day.air_pressure, day.humidity))

    fractions = (kind.pair_1_fraction, kind.pair_2_fraction, kind.pair_3_fraction)
    bend = 24 * 2 * 8.314462618 * 298.15 / 96485.33212

    def flows(speed, charge, *built):
        turns = speed * ratio
        inner = 24 * np.interp(charge, kind.charge, kind.open_circuit_voltage) + sum(built)
        factor = np.interp(charge, kind.charge, kind.charge_resistance_factor)

        def bus(line):
            over = bend * np.arcsinh(0.05 * kind.transfer_fraction * line / bend)
            return inner + factor * (0.05 * kind.ohmic_fraction * line + over)

        def into(current):
            return (
                constant * current * turns - 1.5 * 0.006 * current**2 - 15.0 - 0.2 * current - 1.5e-3 * current**2
            )

        wanted = 30.0 * bus(30.0)
        best = (constant * turns - 0.2) / (2 * (0.009 + 1.5e-3))
        current = min(brentq(lambda i: into(i) - wanted, 0.0, best), 400.0) if into(best) > wanted else 400.0
        power = into(current)
        line = brentq(lambda i: i * bus(i) - power, -20.0, 60.0)
        torque = constant * current + 0.3 + 4e-4 * turns
        force = torque * ratio / 0.96 + 0.5 * density * 0.55 * speed**2 + 195 * 9.80665 * (0.015 + 3e-6 * speed**2)
        return line, force / inertia, factor

    def rates(_, state):
        speed, _, charge, *built = state
        line, slowing, factor = flows(speed, charge, *built)
        pairs = [
            (line * 0.05 * share * factor - volts) / tau
            for share, tau, volts in zip(fractions, PAIR_TIMES, built, strict=True)
        ]
        return [-slowing, speed, line / 26.0 / 3600.0, *pairs]

    def slow_enough(_, state):
        return state[0] - 3.0

    slow_enough.terminal = True
    solved = solve_ivp(
        rates, (0.0, 200.0), [25.0, 0.0, 0.5, 0.0, 0.0, 0.0], rtol=1e-7, atol=1e-9, max_step=0.2, events=slow_enough
    )
    warm = regen_braking(build.change({"motor.phase_resistance": 0.006}), 25.0, 3.0)
    assert slowed.time[0, -1] == pytest.approx(solved.t[-1], rel=2e-3)
    assert warm.distance[0, -1] == pytest.approx(solved.y[1, -1], rel=2e-3)
    put_in = np.trapezoid(slowed.line_current[0], slowed.time[0]) / 3600.0
    assert put_in == pytest.approx(26.0 * (solved.y[2, -1] - 0.5), rel=2e-3)


def test_each_limit_holds_and_none_is_passed():
    """property: over random bikes no line current passes the regen current and no phase current its limit; without
    regen the bike only coasts."""
    chance = np.random.default_rng(5)
    builds = [
        example_build().change(
            {
                "controller.regen_current": float(chance.uniform(5, 120)),
                "controller.phase_current_limit": float(chance.uniform(60, 500)),
                "conditions.charge": float(chance.uniform(0.1, 0.9)),
                "bike.grip": float(chance.uniform(0.2, 1.2)),
                "motor.kv_rpm_per_volt": float(chance.uniform(30, 100)),
            }
        )
        for _ in range(40)
    ]
    slowed, batch = regen_braking(builds, 28.0, 0.0, 1.5), Batch.of(builds)
    assert np.all(slowed.line_current <= batch["controller.regen_current"][:, None] + 1e-6)
    assert np.all(slowed.phase_current <= batch["controller.phase_current_limit"][:, None] + 1e-9)
    assert {HOLDS[place] for place in np.unique(slowed.holds)} == set(HOLDS)
    off = regen_braking(example_build(), 25.0)
    assert np.all(off.phase_current == 0.0)
    with pytest.raises(ValueError, match="Braking from"):
        regen_braking(example_build(), 5.0, 10.0)
