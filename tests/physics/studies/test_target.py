"""Reaching a target: the smallest change against a root finder and against trying every value, on single runs."""

import dataclasses

import numpy as np
import pytest
from scipy.optimize import brentq

from physics.build import NO_RULES, Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
from physics.build.batch import Batch
from physics.limits import LIMITS
from physics.simulation.run import run
from physics.studies.target import Goal, Lever, best_pairs, default_levers, reach_target
from physics.studies.target.levers import PATHS, with_range
from physics.studies.target.outcome import trials
from physics.studies.target.search import POINTS, Side
from physics.studies.target.single_change import CUTS_OUT, NO_ROOM, NOT_SEARCHED, REACHES, SHORT

BUILD = Build(
    Pack(
        24, 26.0, resistance=0.05,
        protection=Protection(continuous_current=180.0, peak_current=240.0, cell_undervoltage=2.8),
    ),
    Motor(62.0),
    Controller(200.0, 480.0),
    Driveline(12, 56),
    Bike(118.0, 82.0, drag_area=0.48, rolling_radius=0.2857),
    Conditions(air_temperature=279.15, charge=0.95),
)  # fmt: skip
POWER_HELD = BUILD.change({"controller.line_current_limit": 70.0, "driveline.rear_teeth": 46})
TIME = 15.0


def lever_of(build, key):
    return next(lever for lever in default_levers(build) if lever.key == key)


def changed(build, lever, value):
    """One build with a lever moved; teeth and cells as whole numbers."""
    one = {path: np.asarray(values).item() for path, values in lever.changes(build, value).items()}
    return build.change({path: round(v) if path == lever.path and lever.whole else v for path, v in one.items()})


def top_speed(build, lever, value):
    return run(changed(build, lever, value), TIME).top_speed[0]


@pytest.fixture(scope="module")
def now():
    return run(BUILD, TIME).top_speed[0]


@pytest.fixture(scope="module")
def found(now):
    return reach_target(BUILD, Goal(now * 1.02, TIME))


@pytest.mark.parametrize(
    "key",
    ["field_weakening", "pack_temperature", "pack_resistance", "pack_capacity", "rolling_radius", "drag_area"],
)
def test_smallest_change_against_a_root_finder(key, now, found):
    """exact solution: brentq on single runs; the search ends within 1 / (12 x 16^4) of the allowed range.

    1e-5 of the root: where a run's steps fall depends on its build, which moves its top speed by a millionth.
    """
    change = found.change(key)
    assert change.status == REACHES
    lever, target = change.lever, now * 1.02
    far = lever.high if change.exact > change.present else lever.low
    root = brentq(lambda value: top_speed(BUILD, lever, value) - target, change.present, far, xtol=1e-9)
    width = abs(far - change.present) / (12 * 16**4)
    assert change.exact == pytest.approx(root, abs=1.2 * width + 1e-5 * abs(root))
    assert change.outcome.top_speed >= target


def test_line_limit_against_a_root_finder():
    """exact solution: the same where power holds the bike back."""
    here = run(POWER_HELD, TIME)
    assert LIMITS[here.holding_limit[0]] == "line current"
    target = here.top_speed[0] * 1.05
    lever = lever_of(POWER_HELD, "line_limit")
    change = reach_target(POWER_HELD, Goal(target, TIME), [lever]).change("line_limit")
    root = brentq(lambda value: top_speed(POWER_HELD, lever, value) - target, 70.0, 140.0, xtol=1e-9)
    assert change.exact == pytest.approx(root, abs=70.0 / (12 * 16**4) * 1.2)
    assert change.value == np.ceil(root)


@pytest.mark.parametrize("key", ["rear_teeth", "front_teeth", "cells_in_series"])
def test_whole_numbers_against_trying_every_one(key, now, found):
    """exact solution: single runs outward from the present value until one reaches the target."""
    change = found.change(key)
    way = 1 if change.value > change.present else -1
    value = change.present
    while top_speed(BUILD, change.lever, value) < now * 1.02:
        value += way
    assert change.value == value
    assert top_speed(BUILD, change.lever, change.present - way) < now * 1.02


def test_a_bike_geared_too_tall_needs_more_teeth():
    """property: where power holds and gearing is far too tall, the way to more speed is a larger rear sprocket."""
    tall = POWER_HELD.change({"driveline.rear_teeth": 34})
    target = run(tall, TIME).top_speed[0] * 1.02
    change = reach_target(tall, Goal(target, TIME), [lever_of(tall, "rear_teeth")]).change("rear_teeth")
    assert change.status == REACHES
    speeds = {teeth: top_speed(tall, change.lever, teeth) for teeth in range(18, 51)}
    reaching = [teeth for teeth, speed in speeds.items() if speed >= target]
    assert change.value == min(reaching, key=lambda teeth: abs(teeth - 34)) > 34


def weak_pack(continuous):
    rules = {"pack.protection.continuous_current": continuous, "pack.protection.peak_current": continuous + 30.0}
    rules |= {"pack.protection.peak_time": 3.0, "pack.protection.overcurrent_law": "square of current"}
    return POWER_HELD.change(rules)


def test_a_window_narrower_than_the_first_grid_is_found():
    """exact solution: a target reached just before the line limit at which the protection opens.

    The window is a twentieth of the first grid's spacing, so no value tried first is good.
    """
    build, spacing = weak_pack(85.0), 70.0 / POINTS
    lever = lever_of(build, "line_limit")
    low, high = 70.0, 140.0
    for _ in range(20):  # bisection on single runs: the largest line limit that stays closed
        middle = (low + high) / 2
        low, high = (low, middle) if run(changed(build, lever, middle), TIME).status[0] else (middle, high)
    offset = (low - 70.0) % spacing
    assert 0.1 * spacing < offset < 0.98 * spacing
    target = top_speed(build, lever, low - 0.05 * spacing)
    change = reach_target(build, Goal(target, TIME), [lever]).change("line_limit")
    assert change.status == REACHES
    assert low - 0.06 * spacing < change.exact < low
    assert change.outcome.cut_out_rule == -1
    beyond = reach_target(build, Goal(top_speed(build, lever, low) * 1.01, TIME), [lever]).change("line_limit")
    assert beyond.status == CUTS_OUT
    assert beyond.outcome.cut_out_rule == 0


def test_the_most_a_lever_can_do_lies_where_the_protection_begins_to_open():
    """exact solution: bisection on single runs; no value of the first grid but the present one stays closed."""
    build = weak_pack(85.0)
    lever = dataclasses.replace(lever_of(build, "line_limit"), low=70.0, high=800.0)
    low, high = 70.0, 140.0
    for _ in range(23):
        middle = (low + high) / 2
        low, high = (low, middle) if run(changed(build, lever, middle), TIME).status[0] else (middle, high)
    assert 70.0 + 3.0 < low < 70.0 + 730.0 / POINTS
    change = reach_target(build, Goal(60.0, TIME), [lever]).change("line_limit")
    assert change.status == SHORT
    assert change.value == np.floor(low)
    assert change.outcome.cut_out_rule == -1
    assert change.speed_gained > 0.9 * (top_speed(build, lever, low) - top_speed(build, lever, 70.0)) > 0.1


def test_a_build_that_cuts_out_is_helped_by_less():
    """exact solution: too much line current opens the pack; the least reduction that keeps it closed."""
    build = weak_pack(85.0).change({"controller.line_current_limit": 130.0})
    assert run(build, TIME).status[0] == 1
    lever = lever_of(build, "line_limit")
    change = reach_target(build, Goal(20.0, TIME), [lever]).change("line_limit")
    low, high = lever.low, 130.0
    for _ in range(23):
        middle = (low + high) / 2
        low, high = (low, middle) if run(changed(build, lever, middle), TIME).status[0] else (middle, high)
    assert change.status == REACHES
    assert change.exact == pytest.approx(low, abs=(130.0 - lever.low) / (12 * 16**4) * 1.2)
    assert change.value == np.floor(low)


def test_a_better_rated_pack_comes_as_a_whole():
    """hand-worked: 180 to 240 A is 4/3: peak 320 A; (4/3)^-0.463 = 0.8753 of 50 milliohm; (4/3)^0.26 = 1.0777.

    Of the pack's 14.74 kg (24 cells, 26 Ah, by its energy) that is 1.146 kg more.
    """
    made = changed(BUILD, lever_of(BUILD, "pack_rating"), 240.0)
    assert made.pack.protection.peak_current == pytest.approx(320.0)
    assert made.pack.resistance == pytest.approx(0.04376, abs=5e-6)
    assert made.bike.bike_mass == pytest.approx(118.0 + 1.146, abs=0.005)
    typical = BUILD.change({"pack.resistance": None})
    better = changed(typical, lever_of(typical, "pack_rating"), 240.0)
    assert Batch.of(better)["pack.resistance"] / Batch.of(typical)["pack.resistance"] == pytest.approx(
        0.8753, abs=5e-5
    )


def test_more_cells_in_parallel_carry_more():
    """hand-worked: half as many again: 270 and 360 A, two thirds of the resistance."""
    made = changed(BUILD, lever_of(BUILD, "pack_capacity"), 39.0)
    assert made.pack.protection.continuous_current == pytest.approx(270.0)
    assert made.pack.protection.peak_current == pytest.approx(360.0)
    assert made.pack.resistance == pytest.approx(0.05 * 2 / 3)


def test_a_pack_that_cuts_out_is_helped_by_a_better_one():
    """property: the lever is offered where the rating is known, and what it finds keeps the pack closed."""
    build = weak_pack(85.0).change({"controller.line_current_limit": 130.0})
    change = reach_target(build, Goal(20.0, TIME), [lever_of(build, "pack_rating")]).change("pack_rating")
    assert change.status == REACHES
    assert run(changed(build, change.lever, change.value), TIME).status[0] == 0
    unknown = build.change({"pack.protection": Protection()})
    assert "pack_rating" not in {lever.key for lever in default_levers(unknown)}


def test_what_cannot_reach_it_alone_says_so(found, now):
    """property: no single run inside the allowed range reaches it, and the most it can do is told."""
    for change in found.changes:
        if change.status == SHORT:
            values = np.linspace(change.lever.low, change.lever.high, 7)
            tried = trials(BUILD, [change.lever.changes(BUILD, values)], found.goal)
            assert not tried.fast_enough.any()
            assert tried.free_speed.max() <= now + change.speed_gained + 0.05
    assert {"bike_mass", "charge"} <= {change.lever.key for change in found.changes if change.status == SHORT}


def test_answers_are_in_order(found):
    """property: those that reach the target first, the least share of what is allowed first."""
    assert [change.lever.key for change in found.changes] != list(PATHS)
    assert {change.lever.key for change in found.changes} == set(PATHS)
    reaching = [change for change in found.changes if change.status == REACHES]
    assert list(found.changes[: len(reaching)]) == reaching
    shares = [change.fraction for change in reaching]
    assert shares == sorted(shares)
    assert found.complete
    assert not found.reached


def test_outcome_is_that_of_the_changed_build(found):
    """property: every number of the outcome is that of a run of the build with the change."""
    change = found.change("rear_teeth")
    result = run(changed(BUILD, change.lever, change.value), TIME)
    outcome = change.outcome
    assert outcome.top_speed == pytest.approx(result.top_speed[0], rel=1e-9)
    assert outcome.time_to_low_speed == pytest.approx(result.time_to(50 / 3.6)[0], rel=1e-9)
    assert outcome.holding_limit == result.holding_limit[0]
    assert outcome.margin == pytest.approx(1 - result.allowance_used[0].max(), rel=1e-9)
    assert outcome.cell_margin == pytest.approx(result.minimum_cell_voltage[0] - 2.8, rel=1e-9)
    per_metre = result.energy_used[0] / result.distance[0, -1]
    assert outcome.energy_per_distance == pytest.approx(per_metre, rel=1e-9)


def test_price_for_speed():
    """hand-worked: 60 for a gain of 2 m/s is 30 per m/s; no price, no figure."""
    target = run(BUILD, TIME).top_speed[0] + 1.0
    levers = [lever_of(BUILD, "rear_teeth"), lever_of(BUILD, "drag_area")]
    result = reach_target(BUILD, Goal(target, TIME), levers, {"rear_teeth": 60.0})
    priced = dataclasses.replace(result.change("rear_teeth"), speed_gained=2.0)
    assert priced.price_per_speed == 30.0
    assert np.isnan(result.change("drag_area").price_per_speed)


def test_a_target_that_is_reached_needs_no_change(now):
    """property: nothing is searched."""
    result = reach_target(BUILD, Goal(now * 0.9, TIME))
    assert result.reached
    assert result.changes == ()
    assert best_pairs(result) == ()


def test_stopping_keeps_what_is_found(now):
    """property: stopped after the first batch, what reaches the target still does; nothing is called impossible."""
    calls = []

    def stop_soon():
        calls.append(1)
        return len(calls) > 2

    stopped = reach_target(BUILD, Goal(now * 1.02, TIME), cancelled=stop_soon)
    assert not stopped.complete
    for change in stopped.changes:
        if change.status == REACHES:
            assert top_speed(BUILD, change.lever, change.value) >= now * 1.02
    at_once = reach_target(BUILD, Goal(now * 1.02, TIME), cancelled=lambda: True)
    assert {change.status for change in at_once.changes} <= {NOT_SEARCHED, NO_ROOM}


def test_progress_reaches_its_end(now):
    """property: counts up to the total."""
    seen = []
    levers = [lever_of(BUILD, "drag_area")]
    reach_target(BUILD, Goal(now * 1.01, TIME), levers, progress=lambda done, total: seen.append((done, total)))
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
    assert seen[-1][0] == seen[-1][1]


def test_pairs_reach_it_and_neither_does_alone(now):
    """property: single runs of both together, and of each alone."""
    target = now * 1.08
    result = reach_target(BUILD, Goal(target, TIME))
    pairs = best_pairs(result)
    assert len(pairs) == 5
    assert [pair.fraction for pair in pairs] == sorted(pair.fraction for pair in pairs)
    for pair in pairs[:3]:
        first, second = pair.levers
        with_one = changed(BUILD, first, pair.values[0])
        both = run(changed(with_one, second, pair.values[1]), TIME)
        assert both.top_speed[0] >= target
        assert both.status[0] == 0
        assert top_speed(BUILD, first, pair.values[0]) < target
        assert top_speed(BUILD, second, pair.values[1]) < target
        assert pair.outcome.top_speed == pytest.approx(both.top_speed[0], rel=1e-6)


def test_the_second_of_a_pair_against_a_root_finder(now):
    """exact solution: with the first change made, brentq for the second; rounding may add one step."""
    target = now * 1.06
    levers = [lever_of(BUILD, "drag_area"), lever_of(BUILD, "rolling_radius")]
    pair = best_pairs(reach_target(BUILD, Goal(target, TIME), levers))[0]
    first, second = pair.levers
    with_one = changed(BUILD, first, pair.values[0])
    far = second.high if pair.values[1] > pair.present[1] else second.low
    root = brentq(lambda value: top_speed(with_one, second, value) - target, pair.present[1], far, xtol=1e-9)
    grid_spacing = abs(far - pair.present[1]) / 5 / 16
    assert abs(pair.values[1] - root) <= grid_spacing + second.step
    assert abs(pair.values[1] - pair.present[1]) >= abs(root - pair.present[1]) - 1e-9


def test_more_cells_bring_what_belongs_to_them():
    """hand-worked: half as many amp-hours again are two thirds of the resistance; 24 to 30 cells are 1.25 of it."""
    build = BUILD.change({"controller.foldback_start_voltage": 80.0, "controller.foldback_end_voltage": 72.0})
    more = lever_of(build, "pack_capacity").changes(build, [39.0])
    assert more["pack.resistance"][0] == pytest.approx(0.05 / 1.5, rel=1e-12)
    assert more["bike.bike_mass"][0] > 118.0
    more = lever_of(build, "cells_in_series").changes(build, [30.0])
    assert more["pack.resistance"][0] == pytest.approx(0.0625, rel=1e-12)
    assert more["controller.foldback_start_voltage"][0] == 100.0
    assert more["controller.foldback_end_voltage"][0] == 90.0
    unrated = {"pack.protection.continuous_current": np.inf, "pack.protection.peak_current": np.inf}
    typical = build.change({"pack.resistance": None} | unrated)
    batch = Batch.vary(typical, lever_of(typical, "pack_capacity").changes(typical, [26.0, 52.0]))
    assert batch["pack.resistance"][1] == pytest.approx(batch["pack.resistance"][0] / 2, rel=1e-12)


def test_rounding_goes_away_from_the_present_value():
    """hand-worked: up when the lever goes up, down when it goes down, never out of range, and not past a step."""
    lever = Lever("drag_area", 0.36, 0.60, 0.005)
    assert lever.rounded(0.48, 0.4423) == 0.44
    assert lever.rounded(0.48, 0.5001) == 0.505
    assert lever.rounded(0.48, 0.44 + 1e-12) == 0.44
    assert lever.rounded(0.48, 0.3601) == 0.36
    assert dataclasses.replace(lever, step=0.0).rounded(0.48, 0.4423) == 0.4423
    warm = Lever("pack_temperature", 279.15, 308.15, 0.5, origin=273.15)
    assert warm.rounded(279.15, 284.343) == 284.65  # 11.5 degrees C
    assert lever.fraction(0.48, [0.48, 0.42, 0.36, 0.60]) == pytest.approx([0.0, 0.5, 1.0, 1.0])


def test_ranges_stay_inside_what_fields_accept():
    """property: the default ranges hold the present value; an asked range is cut, an empty one refused."""
    for lever in default_levers(BUILD):
        assert lever.low <= lever.present(BUILD) <= lever.high
        Batch.vary(BUILD, lever.changes(BUILD, [lever.low, lever.high]))
    assert with_range(lever_of(BUILD, "charge"), -1.0, 2.0).high == 1.0
    with pytest.raises(ValueError, match="must not end before it starts"):
        with_range(lever_of(BUILD, "charge"), 0.8, 0.5)


@pytest.mark.parametrize("way", [-1, 1])
@pytest.mark.parametrize("charge", [0.03, 0.1, 0.29, 0.57, 0.93])
def test_values_looked_at_stay_inside_the_range(charge, way):
    """property: no value of a side passes the end of its range, not even by rounding, and the end is among them."""
    build = BUILD.change({"conditions.charge": charge})
    for lever in default_levers(build):
        values = Side(lever, build, way).values
        assert ((lever.low <= values) & (values <= lever.high)).all(), lever.key
        assert not values.size or values[-1] == (lever.high if way > 0 else lever.low), lever.key


def test_without_rules_nothing_opens():
    """property: the changes for a calculation without a cut-out switch every rule off that opens on discharge."""
    harsh = BUILD.change({"pack.protection.continuous_current": 20.0, "pack.protection.peak_current": 25.0})
    assert run(harsh, TIME).status[0] == 1
    assert run(harsh.change(NO_RULES), TIME).status[0] == 0
