"""Heat: lumped parts against their exact solutions, foldback, repeated pulls, and how long full power lasts."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm

from physics.build import NO_RULES, Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
from physics.build.batch import Batch
from physics.components import motor
from physics.components.controller import foldback
from physics.limits import RULES
from physics.scenarios.pull import Pull, make_pull
from physics.scenarios.repeated_pulls import repeated_pulls
from physics.scenarios.state import BikeState, rest
from physics.simulation.run import run
from physics.simulation.thermal import HEATED_PARTS, lumped_step, start_temperatures
from physics.studies.full_power import HEAT_LIMITS, full_power
from tests.reference.builds import random_build

PACK, WINDING, CASE, CONTROLLER = range(len(HEATED_PARTS))


def a_build(**parts):
    given = {
        "pack": Pack(24, 26.0, heat_capacity=8000.0, thermal_conductance=4.0),
        "motor": Motor(62.0),
        "controller": Controller(200.0, 400.0),
        "driveline": Driveline(12, 56),
        "bike": Bike(118.0, 82.0),
        "conditions": Conditions(air_temperature=283.15),
    }
    return Build(**(given | parts))


@pytest.mark.parametrize(("celsius", "ratio"), [(75, 1.2157), (100, 1.3137), (120, 1.3922)])
def test_copper(celsius, ratio):
    """published: IEC 60034-1, resistance method, (235 + T2) / (235 + T1), from 20 C; the constant from memory."""
    assert motor.winding_resistance(1.0, celsius + 273.15) == pytest.approx(ratio, abs=5e-5)


def test_one_body_hand_worked():
    """hand-worked: 2500 J/K and 5 W/K (500 s) with 200 W: up by 40 K (1 - 1/e) after 500 s, 40 K at last."""
    build = a_build()
    start = start_temperatures(Batch.of(build))
    heat = np.zeros((4, 1))
    heat[CONTROLLER] = 200.0
    rise = [lumped_step(build, start, heat, t)[CONTROLLER, 0] - 283.15 for t in (0.0, 500.0, 1e6)]
    assert rise == pytest.approx([0.0, 40 * (1 - np.exp(-1)), 40.0], abs=1e-9)


@settings(deadline=None, max_examples=60)
@given(
    st.tuples(*[st.floats(220.0, 480.0)] * 4),
    st.tuples(*[st.floats(0.0, 5000.0)] * 4),
    st.floats(0.0, 5000.0),
    st.floats(10.0, 5e4),
    st.floats(10.0, 5e4),
    st.floats(0.01, 500.0),
    st.floats(0.0, 500.0),
    st.floats(0.0, 500.0),
)  # fmt: skip
def test_step_against_the_matrix_exponential(temperatures, heat, duration, winding, case, inner, outer, leak):
    """exact solution: scipy's expm of the linear network with heat as a fifth, constant state."""
    build = a_build(
        pack=Pack(24, 26.0, heat_capacity=8000.0, thermal_conductance=leak),
        motor=Motor(62.0, winding_heat_capacity=winding, case_heat_capacity=case, winding_to_case=inner,
                    case_to_air=outer),
    )  # fmt: skip
    matrix = np.zeros((5, 5))
    matrix[PACK, PACK] = -leak / 8000.0
    matrix[WINDING, [WINDING, CASE]] = -inner / winding, inner / winding
    matrix[CASE, [WINDING, CASE]] = inner / case, -(inner + outer) / case
    matrix[CONTROLLER, CONTROLLER] = -5.0 / 2500.0
    matrix[:4, 4] = np.array(heat) / [8000.0, winding, case, 2500.0]
    state = np.append(np.array(temperatures) - 283.15, 1.0)
    expected = (expm(matrix * duration) @ state)[:4] + 283.15
    got = lumped_step(build, np.array(temperatures)[:, None], np.array(heat)[:, None], duration)[:, 0]
    assert got == pytest.approx(expected, rel=1e-6, abs=1e-5)


def test_the_run_keeps_to_the_same_network():
    """exact solution: a standing bike with a closed throttle cools by the network alone. 20 mK: a step takes
    the neighbour's temperature from its start."""
    conditions = Conditions(283.15, pack_temperature=320.0, motor_temperature=400.0, controller_temperature=340.0)
    build = a_build(conditions=conditions, controller=Controller(200.0, 400.0, throttle=0.0, fixed_loss=0.0))
    made = run(build, 300.0, steps=4000)
    got = np.array([getattr(made, f"{part}_temperature")[0, -1] for part in HEATED_PARTS])
    expected = lumped_step(build, start_temperatures(Batch.of(build)), 0.0, 300.0)[:, 0]
    assert got == pytest.approx(expected, abs=0.02)


def test_repeated_pulls_against_the_periodic_solution():
    """exact solution: constant heat P for a, none for b: the n-th peak over air is
    P/G (1 - e^(-a/T)) (1 - q^n) / (1 - q), q = e^(-(a + b)/T), towards its periodic value.

    The controller's fixed loss is such a heat. 0.02 K: nothing but time stepping.
    """
    power, path, capacity = 300.0, 5.0, 2500.0
    controller = Controller(
        60.0, 150.0, fixed_loss=power, loss_per_ampere=0.0, loss_resistance=0.0, heat_capacity=capacity,
        thermal_conductance=path,
    )  # fmt: skip
    made = repeated_pulls(a_build(controller=controller), Pull(40.0), rest_time=120.0, most=8)
    constant, n = capacity / path, np.arange(1, 9)
    q = np.exp(-160.0 / constant)
    peaks = power / path * (1 - np.exp(-40.0 / constant)) * (1 - q**n) / (1 - q)
    assert made.pulls[0] == 8
    assert made.temperatures_after[0, :, CONTROLLER] - 283.15 == pytest.approx(peaks, abs=0.02)
    valleys = np.append(0.0, peaks[:-1] * np.exp(-120.0 / constant))
    assert made.temperatures_before[0, :, CONTROLLER] - 283.15 == pytest.approx(valleys, abs=0.02)


def test_rest_relaxes_pairs_and_trip_timer():
    """exact solution: pairs decay with their time constants; the timer runs back at I_c^2 / ((I_p^2 - I_c^2) t_p).

    hand-worked: 200 A, 250 A, 10 s: 40000 / 22500 / 10 = 0.17778 per second, so 0.9 is 0.5444 after 2 s.
    """
    rules = Protection(continuous_current=200.0, peak_current=250.0, peak_time=10.0)
    batch = Batch.of(a_build(pack=Pack(24, 26.0, protection=rules)))
    timers = np.zeros((len(RULES), 1))
    timers[0] = 0.9
    state = BikeState(np.array([0.5]), start_temperatures(batch), np.array([[1.0], [2.0], [3.0]]), timers)
    after = rest(batch, state, 2.0)
    assert after.trip_timers[0, 0] == pytest.approx(0.54444, abs=5e-6)
    left = [np.exp(-2 / 3), 2 * np.exp(-2 / 25), 3 * np.exp(-2 / 180)]
    assert after.pair_voltage[:, 0] == pytest.approx(left, rel=1e-12)
    assert rest(batch, state, 60.0).trip_timers[0, 0] == 0.0
    assert after.charge[0] == 0.5


def test_rest_with_a_current_takes_its_charge():
    """hand-worked: 26 A from 26 Ah for six minutes is a tenth of the charge."""
    batch = Batch.of(a_build())
    after = rest(batch, BikeState.rested(batch), 360.0, current=26.0)
    assert after.charge[0] == pytest.approx(0.9, abs=1e-12)
    assert after.temperatures[PACK, 0] > 283.15


def test_held_speed_agrees_with_a_capped_run():
    """exact solution of the same bike: a run whose speed cap is the target. 1 % of the charge used: the pull holds
    its target from the instant it gets there, the cap is approached for a fifth of a second more."""
    build = a_build()
    target = 24.0
    made = make_pull(build, Pull(60.0, target, 20.0))
    capped = run(build.change({"controller.speed_cap": target}), float(made.end[0]), steps=4000)
    assert capped.speed[0, -1] == pytest.approx(target, rel=1e-3)
    used = 1 - made.after.charge[0]
    assert used == pytest.approx(1 - capped.charge[0, -1], rel=0.01)
    assert made.after.temperatures[WINDING, 0] == pytest.approx(capped.winding_temperature[0, -1], abs=0.4)


def test_foldback_keeps_parts_below_their_maximum():
    """property: a winding of little heat capacity, full throttle uphill; then heat holds it."""
    hot = Motor(62.0, winding_heat_capacity=150.0, winding_to_case=3.0)
    build = a_build(motor=hot, conditions=Conditions(303.15, slope=0.15))
    made = run(build, 120.0)
    assert made.winding_temperature.max() < hot.winding_temperature_maximum
    assert made.limit_names()[-1] == "winding heat"
    assert foldback(hot.winding_foldback_start, hot.winding_foldback_start, hot.winding_temperature_maximum) == 1


@pytest.mark.parametrize("begun", [None, 8.0, 100.0, 300.0])
def test_full_power_names_the_part_and_the_time(begun):
    """hand-worked: a controller of 1 kW fixed loss, 2500 J/K, no path to air, 20 to 75 C in 137.5 s, whatever is
    known of it."""
    controller = Controller(
        80.0, 200.0, fixed_loss=1000.0, loss_per_ampere=0.0, loss_resistance=0.0, thermal_conductance=0.0
    )
    build = a_build(controller=controller, conditions=Conditions(293.15))
    found = full_power(build, 200.0, begun and run(build, begun).one(0))
    assert HEATED_PARTS[found.first_part] == "controller"
    assert found.time == pytest.approx(137.5, abs=0.01)
    assert found.status == HEAT_LIMITS
    assert found.message == f"Full power lasts {found.time:.0f} s: then the controller is too hot."


@pytest.mark.parametrize(("ramp", "known"), [(0.3, 20.0), (5.0, 20.0), (0.3, 1.0)])
def test_full_power_goes_past_a_cut_out(ramp, known):
    """property: with a rule that trips under way, while the throttle opens, or after what is known of the run, heat
    is that of a run without rules within its 0.1 %, and the cut-out that of a run, which is good to 20 ms."""
    build = a_build(controller=Controller(120.0, 300.0, throttle_ramp_time=ramp), conditions=Conditions(293.15))
    strict = build.change({"pack.protection.peak_current": 30.0, "pack.protection.peak_time": 0.5})
    alone, free = run(strict, 20.0), run(Batch.of(strict).change(NO_RULES), 60.0)
    found = full_power(strict, 60.0, run(strict, known).one(0))
    assert found.cut_out_time == pytest.approx(alone.cut_out_time[0], abs=0.02)
    ends = [getattr(free, f"{part}_temperature")[0, -1] for part in HEATED_PARTS]
    assert found.temperatures[:, -1] - 293.15 == pytest.approx(np.array(ends) - 293.15, rel=1e-3)


@pytest.mark.parametrize("seed", range(12))
def test_nothing_is_not_a_number(seed):
    """property: random builds, three pulls with rests: numbers, or infinite where the field says so."""
    made = repeated_pulls(random_build(seed), Pull(8.0, 12.0, 3.0), 30.0, 3, 5.0, steps=40)
    for field in dataclasses.fields(made):
        assert not np.isnan(getattr(made, field.name)).any(), field.name


@pytest.mark.parametrize(
    "wrong", [{"duration": 0.0}, {"duration": float("nan")}, {"target_speed": 300.0}, {"hold": -1.0}]
)
def test_pulls_say_what_they_accept(wrong):
    """property: a plain sentence with the field, the value and the range."""
    with pytest.raises(ValueError, match=r"Pull .*: got .*; accepts a number from"):
        Pull(**wrong)


def test_many_builds_are_the_same_as_one_by_one():
    """property: a batch gives each build what it gives alone."""
    builds = [random_build(seed) for seed in (3, 4, 5)]
    pull = Pull(8.0, 15.0, 4.0)
    together = repeated_pulls(builds, pull, 40.0, 2)
    for place, build in enumerate(builds):
        alone = repeated_pulls(build, pull, 40.0, 2)
        assert together.pulls[place] == alone.pulls[0]
        assert together.temperatures_after[place, 0] == pytest.approx(alone.temperatures_after[0, 0], abs=0.2)
