"""Warming a pack by riding: closed forms of one body's heat, scipy's solver on the same balance, and replays."""

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from physics.build import example_build
from physics.build.batch import Batch
from physics.components.pack import pair_heat, pair_step
from physics.limits import PACK_TEMPERATURE, TIMED_OVER_CURRENT
from physics.scenarios.pull import Pull, make_pull
from physics.scenarios.state import BikeState, rest
from physics.scenarios.warming import EMPTY, GOES_ON, steady_ride, warm_by_pulls, warm_steadily
from physics.simulation.plant import PackModel

COLD = {"conditions.air_temperature": 275.15, "conditions.pack_temperature": 280.15, "conditions.charge": 0.9}
STEADY = COLD | {"pack.cold_growth": 1.0, "pack.capacity_ah": 1000.0, "pack.resistance": 0.05,
                 "pack.heat_capacity": 12000.0, "pack.thermal_conductance": 2.5}  # fmt: skip
"""A pack whose resistance neither temperature nor the charge it gives in minutes changes."""


def test_heat_of_a_pair():
    """exact solution: scipy's quadrature of v squared over R; from 1 V left alone half of C v², C = T / R."""
    for start, current, time in ((0.0, 50.0, 40.0), (0.8, 20.0, 300.0), (0.5, 0.0, 10.0)):
        wanted = quad(lambda t, v=start, i=current: pair_step(v, i, 0.01, 25.0, t) ** 2 / 0.01, 0, time)[0]
        assert pair_heat(start, current, 0.01, 25.0, time) == pytest.approx(wanted, rel=1e-9)
    assert pair_heat(1.0, 0.0, 0.01, 180.0, 1e5) == pytest.approx(9000.0, rel=1e-9)


def test_constant_heat_in_closed_form():
    """exact solution: with all pairs built up and constant resistance, one body with losses follows
    T = T_air + P/G + (T_0 - T_air - P/G) exp(-G t / C), P = I (E - U); charge falls by I t. In sixty pieces, in
    which a hundredth of the charge moves the resistance, it is off by 5e-4 at most."""
    build = example_build().change(STEADY)
    batch, current, time = Batch.of(build), 40.0, 900.0
    model, start = PackModel(batch), BikeState.rested(batch)
    _, _, factor, transfer = model.evaluate(start.charge, start.temperatures[0])
    built = current * factor * model.pairs
    state = BikeState(start.charge, start.temperatures, built, start.trip_timers)
    drop = current * factor * model.ohmic + transfer.voltage(np.array([current])) + built.sum(axis=0)
    power = float(current * drop[0])
    once = rest(batch, state, time, current)
    for _ in range(60):
        state = rest(batch, state, time / 60, current)
    settled = 275.15 + power / 2.5
    wanted = settled + (280.15 - settled) * np.exp(-2.5 * time / 12000.0)
    assert once.temperatures[0, 0] == pytest.approx(wanted, rel=1e-12)
    assert state.temperatures[0, 0] == pytest.approx(wanted, rel=5e-4)
    assert wanted - 280.15 > 3.0
    assert state.charge[0] == pytest.approx(0.9 - current * time / 3.6e6, abs=1e-12)


def test_no_rest_changes_nothing():
    """hand-worked: in no time at all no charge flows and nothing cools, whatever the current."""
    batch = Batch.of(example_build().change(COLD))
    state = make_pull(batch, Pull(10.0), BikeState.rested(batch)).after
    same = rest(batch, state, 0.0, 80.0)
    for name in ("charge", "temperatures", "pair_voltage"):
        assert getattr(same, name) == pytest.approx(getattr(state, name), abs=1e-9)


def test_energy_of_current_and_rest():
    """exact solution: without a path to the air all that the current loses warms the pack, once it has rested: the
    integral of I (E - U), U after each pair's exponential; a constant resistance."""
    build = example_build().change(STEADY | {"pack.thermal_conductance": 0.0})
    batch, current, time = Batch.of(build), 40.0, 90.0
    model, state = PackModel(batch), BikeState.rested(batch)
    _, _, factor, transfer = model.evaluate(state.charge, state.temperatures[0])
    over = current * factor[0] * model.ohmic[0] + transfer.voltage(np.array([current]))[0]
    settled, taus = current * factor[0] * model.pairs[:, 0], model.pair_times[:, 0]
    lost = current * (over * time + (settled * (time - taus * -np.expm1(-time / taus))).sum())
    for duration, amps in ((time / 2, current), (time / 2, current), (20000.0, 0.0)):
        state = rest(batch, state, duration, amps)
    assert 12000.0 * (state.temperatures[0, 0] - 280.15) == pytest.approx(lost, rel=1e-3)  # charge, transfer moved


def test_steady_current_against_scipy():
    """exact solution: scipy's solve_ivp on the balance with a resistance that falls with temperature and charge; a
    hundredth, for resistance held over each 15 s."""
    build = example_build().change(COLD | {"pack.resistance": 0.06})
    batch, current = Batch.of(build), 60.0
    model, air = PackModel(batch), 275.15
    capacity, loss = (float(batch[f"pack.{name}"][0]) for name in ("heat_capacity", "thermal_conductance"))

    def rate(_, y):
        _, _, factor, transfer = model.evaluate(y[1:2], y[:1])
        built = model.pairs[:, 0] * factor[0]
        over = current * model.ohmic[0] * factor[0] + transfer.voltage(np.array([current]))[0]
        heat = current * over + (y[2:] ** 2 / built).sum()
        pairs = (current * built - y[2:]) / model.pair_times[:, 0]
        return [(heat - loss * (y[0] - air)) / capacity, -current * model.charge_per_ampere[0], *pairs]

    solved = solve_ivp(rate, (0, 900), [280.15, 0.9, 0, 0, 0], rtol=1e-8, atol=1e-8)
    made = warm_steadily(batch, current, 900.0)
    assert made.temperature[0, -1] - 280.15 == pytest.approx(solved.y[0, -1] - 280.15, rel=0.01)
    assert made.charge[0, -1] == pytest.approx(0.9 - 60.0 * 900.0 * model.charge_per_ampere[0], abs=1e-9)
    place = made.place(285.15)[0]
    wanted = np.interp(285.15, solved.y[0], solved.t)
    assert 15.0 * place == pytest.approx(wanted, rel=0.01)
    assert made.at(0, place).temperatures[0, 0] == pytest.approx(285.15, abs=1e-9)


def test_what_ends_it():
    """property: a current above the continuous one, a pack too cold or too hot, and an empty cell each end it, and
    nothing is said of later."""
    build = example_build().change(COLD | {"pack.protection.continuous_current": 100.0})
    assert warm_steadily(build, 110.0, 600.0).end[0] == TIMED_OVER_CURRENT
    cold = build.change({"pack.protection.discharge_temperature_minimum": 283.15})
    none = warm_steadily(cold, 40.0, 600.0)
    assert none.end[0] == PACK_TEMPERATURE
    assert np.isnan(none.temperature).all()
    assert np.isinf(none.place(270.0)[0])
    hot = build.change({"pack.protection.discharge_temperature_maximum": 283.15})
    assert warm_steadily(hot, 60.0, 3000.0).end[0] == PACK_TEMPERATURE
    empty = build.change({"conditions.charge": 0.1, "pack.protection.cell_undervoltage": 0.0})
    assert warm_steadily(empty, 40.0, 3000.0).end[0] == EMPTY
    rules = {"pack.protection.peak_current": 60.0, "pack.protection.continuous_current": 50.0,
             "pack.protection.fast_current": 70.0}  # fmt: skip
    assert warm_by_pulls(build.change(rules), Pull(15.0), 30.0, 3).end[0] != GOES_ON


def test_pulls_give_the_same_as_one_by_one():
    """property: harder pulls take less charge for the same warmth; motor heat stays with the state."""
    build = example_build().change(COLD)
    made = [
        warm_by_pulls(build.change({"controller.line_current_limit": limit}), Pull(15.0), 60.0, 30, 283.15)
        for limit in (80.0, 160.0)
    ]
    taken = []
    for one in made:
        count = int(np.ceil(one.place(283.15)[0]))
        assert one.temperature[0, count - 1] < 283.15 <= one.temperature[0, count]
        taken.append((0.9 - one.charge[0, count]) / (one.temperature[0, count] - 280.15))
        assert one.states[count].temperatures[1, 0] > 275.15
    assert taken[1] < taken[0]


def test_the_speed_of_a_current():
    """property: the energy that the steady speed takes makes just that current; more is drawn faster."""
    speed, heat, most = steady_ride(example_build(), [10.0, 20.0, 40.0, 2000.0])
    assert (np.diff(speed[:3]) > 0).all()
    assert np.isnan(speed[3])
    assert (heat[:, :3] > 0).all()
    assert most < 2000.0
