"""Results of runs: crossings, times and distances, energy balance, status and message, taking runs out."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from physics.build import Bike, Build, Controller, Driveline, Motor, Pack, Protection
from physics.limits import LIMITS, RULES
from physics.simulation.hermite import time_of_level, value_at
from physics.simulation.plant import POWERS
from physics.simulation.result import CUT_OUT_STATUS, REACHED_END
from physics.simulation.run import run
from tests.reference.builds import random_build
from tests.reference.simulate import simulate

BUILD = Build(Pack(24, 26.0), Motor(60.0), Controller(200.0, 400.0), Driveline(12, 56), Bike(120.0, 75.0))
OPENS = BUILD.change({"pack.protection": Protection(120.0, 180.0, 2.0, overcurrent_law="square of current")})


@pytest.fixture(scope="module")
def mixed():
    """Sixty random builds in one batch, some of which cut out."""
    return run([random_build(seed) for seed in range(60)], duration=15.0)


# ----- arrays


def test_value_at_is_exact_for_a_cubic():
    """exact solution: t^3 - 2 t on 0, 1, 3 s, at 0, 0.5, 1 and 2.5 s; NaN at no moment."""
    time = np.array([[0.0, 1.0, 3.0]])
    values, slopes = time**3 - 2 * time, 3 * time**2 - 2
    for when in (0.0, 0.5, 1.0, 2.5, 3.0):
        found = value_at(time, values, slopes, np.array([when]))[0]
        assert found == pytest.approx(when**3 - 2 * when, abs=1e-12)
    assert np.isnan(value_at(time, values, slopes, np.array([np.nan]))[0])


def test_each_row_may_have_its_own_level():
    """hand-worked: levels 1 and 3 on two rows of slope 2 and 1."""
    time = np.array([[0.0, 4.0], [0.0, 4.0]])
    values = time * np.array([[2.0], [1.0]])
    slopes = np.broadcast_to([[2.0], [1.0]], (2, 2))
    assert time_of_level(time, values, slopes, np.array([1.0, 3.0])) == pytest.approx([0.5, 3.0], abs=1e-6)


@settings(deadline=None, max_examples=100)
@given(st.floats(0.1, 5.0), st.floats(0.0, 3.0), st.floats(0.0, 2.0), st.floats(0.01, 0.99))
def test_time_of_a_level_is_exact_for_a_cubic(linear, square, cube, share):
    """exact solution: v = a t + b t^2 + c t^3 rises all the way; its level at any t gives that t back.

    1 microsecond: the search for the crossing ends sooner than rounding does.
    """
    time = np.array([[0.0, 0.7, 1.5]])
    values = linear * time + square * time**2 + cube * time**3
    slopes = linear + 2 * square * time + 3 * cube * time**2
    moment = share * 1.5
    level = linear * moment + square * moment**2 + cube * moment**3
    assert time_of_level(time, values, slopes, level)[0] == pytest.approx(moment, abs=1e-6)


# ----- times and distances


def test_times_to_speeds(mixed):
    """property: the speed at the time found is the speed asked for; slower speeds come first; never is NaN."""
    share = np.array([0.2, 0.5, 0.8])
    times = np.array([mixed.time_to(each * mixed.top_speed) for each in share])
    assert (np.diff(times, axis=0) >= 0).all()
    for row, each in enumerate(share):
        for place in range(len(mixed)):
            # the two instants beside the time found have to hold the speed between them
            speed, at = mixed.speed[place], np.searchsorted(mixed.time, times[row, place])
            low, high = speed[max(at - 1, 0)], speed[min(at, len(speed) - 1)]
            assert low - 1e-9 <= each * mixed.top_speed[place] <= high + 1e-9
    assert np.isnan(mixed.time_to(mixed.top_speed * 1.01)).all()
    assert (mixed.time_to(0.0) == 0).all()


def test_what_it_coasts_to_is_not_reached():
    """property: down a slope of 10 % a bike whose pack has cut out rolls on, ever faster, without drive.

    30 s, in which it gains the 5 m/s that leave no doubt; what it would settle at is hardly faster.
    """
    result = run(OPENS.change({"pack.protection.peak_time": 0.5, "conditions.slope": -0.1}), 30.0)
    opened, end = result.cut_out_speed[0], result.speed[0, -1]
    assert end > opened + 5.0
    assert result.top_speed[0] == opened
    assert result.reaches(opened)[0]
    assert result.time_to(0.999 * opened)[0] < result.cut_out_time[0]
    assert not result.reaches(1.001 * opened)[0]
    assert np.isnan(result.time_to(1.001 * opened)).all()


def test_a_speed_is_reached_where_there_is_a_time_for_it(mixed):
    """property: for every run and speed, alone and among others; a cut-out never comes first."""
    for share in (0.3, 0.9, 0.9999, 1.0, 1.0001):
        speed = share * mixed.top_speed
        times, there = mixed.time_to(speed), mixed.reaches(speed)
        assert there.tolist() == [share <= 1] * len(mixed)
        assert np.isfinite(times).tolist() == there.tolist()
        assert not (mixed.cut_out_time < times - 1e-9).any()
        for place in range(0, len(mixed), 7):
            assert np.isfinite(mixed.one(place).time_to(speed[place])[0]) == there[place]


def test_distance(mixed):
    """property: it grows, starts at nothing, and is the area under the speed; at a speed it is where that time is.

    0.4 % and 8 cm against a plain trapezoid, which cuts corners; 1 % and 10 cm against the second simulation's own
    distance at that speed, which is read off straight lines.
    """
    assert (mixed.distance[:, 0] == 0).all()
    assert (np.diff(mixed.distance, axis=1) >= -1e-9).all()
    plain = np.trapezoid(mixed.speed, mixed.time)
    assert mixed.distance[:, -1] == pytest.approx(plain, rel=4e-3, abs=0.08)
    seen, result = simulate(BUILD).sample(np.linspace(0.0, 20.0, 401)), run(BUILD, 20.0)
    half = result.top_speed / 2
    assert result.distance_at(half) == pytest.approx(np.interp(half, seen.speed, seen.distance), rel=0.01, abs=0.1)


def test_since_when_a_limit_holds(mixed):
    """property: not later than the instant, and the same as long as the limit is."""
    assert (mixed.limit_since <= mixed.time).all()
    same = mixed.limit[:, 1:] == mixed.limit[:, :-1]
    steady = np.isclose(np.diff(mixed.limit_since, axis=1), 0.0)
    assert (steady | ~same).mean() > 0.99  # two changes between two instants may lead back


def test_limits_change_at_the_moment_a_fine_run_finds():
    """property: a run of three thousand instants names the same moments.

    0.15 s: a change that hardly bends anything passes within a step of up to twice that.
    """
    both = run(BUILD, 20.0), run(BUILD, 20.0, steps=3000)
    found = [list(dict.fromkeys(zip(each.limit[0], each.limit_since[0].round(6), strict=True))) for each in both]
    assert [limit for limit, _ in found[0]] == [limit for limit, _ in found[1]]
    assert len(found[0]) >= 3
    assert [since for _, since in found[0]] == pytest.approx([since for _, since in found[1]], abs=0.15)


def test_straight_lines_between_its_own_steps_show_one_run_with_its_corners():
    """exact solution: the second simulation (solve_ivp), every 20 ms. 2 % of the range: chords at the launch."""
    for build in (BUILD, OPENS):
        result, times = run([BUILD, build], 20.0).one(1), np.linspace(0.0, 20.0, 1001)
        seen = simulate(build).sample(times)
        near = np.abs(times - result.cut_out_time[0]) < 0.03  # a cut-out may be 20 ms off
        for name, exact in (("speed", seen.speed), ("pack_voltage", seen.bus), ("line_current", seen.line)):
            values = np.interp(times, result.time, getattr(result, name)[0])
            assert values[~near] == pytest.approx(exact[~near], abs=0.02 * np.ptp(exact)), name


def test_one_run_with_its_own_steps(mixed):
    """property: it holds every instant of the grid, in order, and both sides of its cut-out; all else is kept."""
    for index in np.flatnonzero(mixed.cut_out_rule >= 0):
        own = mixed.one(index)
        assert (np.diff(own.time) > 0).all()
        assert np.isin(mixed.time, own.time).all()
        at = np.searchsorted(own.time, own.cut_out_time[0])
        assert own.time[at] == own.cut_out_time[0]
        assert own.line_current[0, at] == own.cut_out_current[0]
        assert own.trip_timers[0, at, own.cut_out_rule[0]] == 1
        assert own.line_current[0, at + 1] == 0
        assert own.time[at + 1] - own.time[at] < 1e-6
        assert own.distance[0, -1] == pytest.approx(mixed.distance[index, -1], rel=5e-3, abs=0.1)
        assert own.message == (mixed.message[index],)


# ----- energy


def test_energy_balance_closes(mixed):
    """property: cells = heat + drag + rolling + climbing + kinetic within 0.1 %, for every build."""
    balance = mixed.energy_balance()
    assert set(balance) == {*POWERS, "kinetic", "remainder"}
    scale = np.maximum(balance["cells"], balance["kinetic"])
    assert (np.abs(balance["remainder"]) <= 1e-3 * scale).all()
    assert balance["cells"].tolist() == mixed.energy_used.tolist()
    named = sum(value for name, value in balance.items() if name not in ("cells", "remainder"))
    assert balance["cells"] - named == pytest.approx(balance["remainder"], abs=1e-6)


def test_energies_are_the_areas_under_the_powers():
    """property: drag, rolling and heat summed by the run against a trapezoid over its finely kept arrays.

    1 %: the trapezoid over kept instants, which may lie further apart than the run's own steps.
    """
    result = run(BUILD, 12.0, steps=1500)
    balance, time = result.energy_balance(), result.time
    powers = {name: power[0] for name, power in result.heat_power.items()}
    powers["drag"] = result.drag_force[0] * result.speed[0]
    powers["rolling"] = result.rolling_force[0] * result.speed[0]
    powers["cells"] = result.rest_voltage[0] * result.line_current[0]
    for name, power in powers.items():
        assert balance[name][0] == pytest.approx(np.trapezoid(power, time), rel=0.01, abs=1.0)
    mass = 195.0  # kinetic energy of bike and rider alone is a little below that of all that turns too
    assert 1.0 < balance["kinetic"][0] / (mass / 2 * result.speed[0, -1] ** 2) < 1.15


def test_climbing_takes_what_the_height_takes():
    """hand-worked: m g times the height gained, distance x sin(slope)."""
    result = run(BUILD.change({"conditions.slope": 0.05}), 15.0)
    expected = 195.0 * 9.80665 * np.sin(0.05) * result.distance[0, -1]
    assert result.energy_balance()["climbing"][0] == pytest.approx(expected, rel=2e-3)


# ----- what a run says of itself


def test_status_and_message():
    """hand-worked: one build that runs to a settled end, one that is still gaining speed, one that cuts out."""
    result = run([BUILD, BUILD.change({"bike.bike_mass": 900.0}), OPENS], 25.0)
    long = run(BUILD, 120.0)
    assert result.status.tolist() == [REACHED_END, REACHED_END, CUT_OUT_STATUS] == [0, 0, 1]
    assert long.message == ("The run went on to its end at a settled speed.",)
    assert result.message[1] == "The run went on to its end; the speed was still changing."
    sentence = result.message[2]
    assert sentence.startswith("The protection cut out by its continuous current rule after")
    for number in (f"{result.cut_out_time[2]:.2f} s", f"{result.cut_out_current[2]:.0f} A",
                   f"{result.cut_out_voltage[2]:.1f} V"):  # fmt: skip
        assert number in sentence
    assert long.settled[0]
    assert not result.settled[1:].any()
    assert result.cut_out_rule_names() == ["", "", "continuous current"]


def test_a_cut_out_is_reported(mixed):
    """property: time, current and voltages where a rule opened, NaN elsewhere; afterwards no current."""
    opened = mixed.cut_out_rule >= 0
    assert opened.any()
    assert not opened.all()
    for values in (mixed.cut_out_time, mixed.cut_out_current, mixed.cut_out_voltage, mixed.cut_out_cell_voltage):
        assert (np.isnan(values) == ~opened).all()
    for place in np.flatnonzero(opened):
        after = mixed.time > mixed.cut_out_time[place] + 1e-3
        assert (mixed.line_current[place, after] == 0).all()
        assert {LIMITS[limit] for limit in mixed.limit[place, after]} <= {"cut-out"}
        rule = mixed.cut_out_rule[place]
        assert mixed.allowance_used[place, rule] == pytest.approx(1.0)
        assert mixed.cut_out_rule_names()[place] == RULES[rule]
        assert mixed.minimum_voltage[place] <= mixed.cut_out_voltage[place] + 1e-9
    assert (mixed.allowance_used[~opened] < 1).all()
    assert (mixed.allowance_used >= 0).all()


def test_lowest_voltages_and_sag(mixed):
    """property: no kept instant lies below the lowest voltage; sag is rest less loaded voltage, never negative."""
    assert (mixed.pack_voltage.min(axis=1) >= mixed.minimum_voltage - 1e-9).all()
    assert (mixed.weakest_cell_voltage.min(axis=1) >= mixed.minimum_cell_voltage - 1e-9).all()
    assert (mixed.sag >= -1e-9).all()
    assert (mixed.pack_voltage > 0).all()


def test_holding_limit(mixed):
    """property: what holds at the fastest of its own steps under power; the top speed is the speed there."""
    for place in range(len(mixed)):
        own = mixed.one(place)
        speed = np.where(own.limit[0] == LIMITS.index("cut-out"), 0.0, own.speed[0])
        assert mixed.top_speed[place] == speed.max()
        assert mixed.holding_limit[place] == own.limit[0, speed.argmax()]


def test_take(mixed):
    """property: runs taken out are the same runs, derived arrays too; by slice, places, truths or one place."""
    opened = mixed.cut_out_rule >= 0
    for places in (slice(5, 9), [3, 1], opened, 7):
        some, chosen = mixed.take(places), np.atleast_1d(np.arange(len(mixed))[places])
        assert len(some) == len(chosen)
        for field in dataclasses.fields(some):
            if field.name not in ("machine", "time", "between"):
                assert np.array_equal(getattr(some, field.name), getattr(mixed, field.name)[chosen], equal_nan=True)
        assert np.array_equal(some.time, mixed.time)
        assert np.array_equal(some.one(0).speed, mixed.one(chosen[0]).speed)
        assert np.array_equal(some.drag_force, mixed.drag_force[chosen])
        assert np.array_equal(some.distance, mixed.distance[chosen])
        assert some.message == tuple(mixed.message[place] for place in chosen)
        assert np.array_equal(some.energy_balance()["remainder"], mixed.energy_balance()["remainder"][chosen])
