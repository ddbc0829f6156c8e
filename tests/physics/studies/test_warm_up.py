"""The warm-up: minutes and pulls replayed, whether it pays by runs apart, and what is said where it cannot be."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from physics.build import example_build
from physics.build.batch import Batch
from physics.scenarios.pull import Pull, make_pull
from physics.scenarios.ride import Leg, ride
from physics.scenarios.state import BikeState, rest, run_from
from physics.simulation.run import run
from physics.studies.day.outcomes import COSTS, PAYS, SAME, line_limits, outcomes_from
from physics.studies.day.warm_up import (
    CUTS_OUT,
    EMPTY_FIRST,
    GETS_THERE,
    INDOORS,
    LOSSES,
    NOT_DRAWN,
    OWN,
    PULLS,
    STEADY,
    TARGET,
    TOO_LONG,
    USUAL,
    WARM_ALREADY,
    WarmUpPlan,
    at_currents,
    warm_up,
)
from physics.studies.line_limit import line_limit
from physics.studies.uncertainty.tolerance import default_tolerances

ZERO = 273.15
PLAN = WarmUpPlan(40.0, 20.0, 100.0, 60.0, 115.0 / 3.6, 30.0)


@cache
def supermoto(air=6.0, charge=0.95):
    """The demo on a cold day."""
    build = make_build(PRESETS["supermoto"].values())
    return build.change({"conditions.air_temperature": air + ZERO, "conditions.charge": charge})


def planned(**changes):
    return WarmUpPlan(**(vars(PLAN) | changes))


def test_replayed_minute_by_minute():
    """property: after the minutes that are told, in pieces of a second, the pack is as warm as wanted, within a
    twentieth of what it rose, for resistance held over 15 s; charge used is current times time."""
    build, wanted = supermoto(), 14.0 + ZERO
    way = warm_up(build, planned(temperature=wanted)).ways[STEADY]
    assert way.status == GETS_THERE
    batch = Batch.of(build)
    state = BikeState.rested(batch)
    whole, part = divmod(way.time[0], 1.0)
    for duration in (*[1.0] * int(whole), part):
        state = rest(batch, state, duration, 40.0)
    assert state.temperatures[0, 0] == pytest.approx(wanted, abs=0.05 * 8.0)
    assert state.temperatures[0, 0] <= wanted  # as resistance falls within a piece, it is told a little early
    assert state.charge[0] == pytest.approx(0.95 - 40.0 * way.time[0] / (26.0 * 3600.0), abs=1e-9)
    assert way.charge == pytest.approx(state.charge[0], abs=1e-9)
    assert way.time[1] < way.time[0] < way.time[2]


@pytest.mark.parametrize(("row", "by", "cools"), [(1, 1.0, 0.5), (2, -1.0, 2.0)])
def test_replayed_where_things_are_other_than_entered(row, by, cools):
    """property: with resistance and its growth in the cold at an end of what is known of them, and cooling half or
    twice as good, the minutes and pulls told for that make the pack as warm as wanted; minutes to a twentieth."""
    build, wanted = supermoto(), 14.0 + ZERO
    ways, entered = warm_up(build, planned(temperature=wanted)).ways, Batch.of(build)
    changes = {"pack.thermal_conductance": cools * float(entered["pack.thermal_conductance"][0])}
    for item in default_tolerances(build):
        if item.path in ("pack.resistance", "pack.cold_growth"):
            changes[item.path] = float(item.away(entered[item.path][0], by))
    assert len(changes) == 3
    batch = Batch.of(build.change(changes))
    state = BikeState.rested(batch)
    whole, part = divmod(ways[STEADY].time[row], 1.0)
    for duration in (*[1.0] * int(whole), part):
        state = rest(batch, state, duration, 40.0)
    assert state.temperatures[0, 0] == pytest.approx(wanted, abs=0.05 * 8.0)
    gentle = batch.change({"controller.line_current_limit": 100.0})
    state, before = BikeState.rested(gentle), None
    for _ in range(int(ways[PULLS].pulls[row])):
        before, state = state, rest(gentle, make_pull(gentle, Pull(20.0), state).after, 60.0)
    assert before.temperatures[0, 0] < wanted <= state.temperatures[0, 0] + 1e-6


def test_replayed_by_a_ride():
    """property: a simulated ride at the speed that is named, on the level, for the minutes that are told, warms the
    pack as far, within a tenth of the rise: the ride gathers speed first, and its current follows the voltage."""
    build, wanted = supermoto(), 14.0 + ZERO
    way = warm_up(build, planned(temperature=wanted)).ways[STEADY]
    cruised = ride(build, [Leg("pull", round(way.time[0]), 1.0, way.speed)], step=1.0)
    assert cruised.pack_temperature[0, -1] - 6.0 - ZERO == pytest.approx(8.0, rel=0.1)
    assert cruised.line_current[0, 60:].mean() == pytest.approx(40.0, rel=0.03)


def test_pulls_replayed_and_judged_by_runs_apart():
    """property: that many gentle pulls and rests make it so warm and one fewer do not; the run from there, and the
    one from the pack as it is, worked out apart, give the verdict. 1e-7 of charge: the starts of all pulls are
    worked out at once, until none moves by more than a little."""
    build, wanted = supermoto(), 12.0 + ZERO
    found = warm_up(build, planned(temperature=wanted))
    way = found.ways[PULLS]
    batch = Batch.of(build.change({"controller.line_current_limit": 100.0}))
    state, before = BikeState.rested(batch), None
    for _ in range(int(way.pulls[0])):
        before, state = state, rest(batch, make_pull(batch, Pull(20.0), state).after, 60.0)
    assert before.temperatures[0, 0] < wanted <= state.temperatures[0, 0]
    warm = run_from(Batch.of(build), state, 30.0, np.zeros(1))
    cold = run(build, 30.0)
    assert found.outcomes.top_speed[[0, 1 + PULLS]] == pytest.approx(
        [cold.top_speed[0], warm.top_speed[0]], rel=1e-6
    )
    assert found.outcomes.charge[1 + PULLS] == pytest.approx(state.charge[0], abs=1e-7)
    times = [made.time_to(115.0 / 3.6)[0] for made in (warm, cold)]
    assert not np.isfinite(times).any()
    gain = 3.6 * (warm.top_speed[0] - cold.top_speed[0])
    assert found.outcomes.pays(1 + PULLS) == (PAYS if gain >= 0.5 else COSTS if gain <= -0.5 else SAME)
    kept = run(build.change({"conditions.pack_temperature": wanted}), 30.0)
    assert found.outcomes.time_to_target[1 + INDOORS] == pytest.approx(kept.time_to(115.0 / 3.6)[0], rel=1e-6)
    assert found.outcomes.pays(1 + INDOORS) == PAYS
    # hand-worked: the cells' heat capacity times six kelvin
    assert found.heat == pytest.approx(Batch.of(build)["pack.heat_capacity"][0] * 6.0)


def test_how_warm_by_default():
    """property: what is looked for is the least that reaches a missed target; 25 degrees where it is reached, or
    where nothing reaches it; and a pack in which resistance is everything gains by riding."""
    hard = planned(pull_current=200.0, pull_time=40.0)  # soon done
    missed = warm_up(supermoto(), hard)
    assert missed.reason == TARGET
    kept = np.isfinite(missed.along.time_to_target.reshape(3, -1)[INDOORS])
    assert missed.temperature == missed.axis[kept.argmax()]
    assert warm_up(supermoto(), replace(hard, target_speed=25.0)).reason == USUAL
    assert warm_up(supermoto(), replace(hard, target_speed=60.0)).temperature == 25.0 + ZERO
    stiff = supermoto().change({"pack.cold_growth": 4.0, "conditions.air_temperature": ZERO - 2.0})
    assert warm_up(stiff, replace(hard, current=60.0, temperature=10.0 + ZERO)).outcomes.pays(1 + STEADY) == PAYS
    assert warm_up(supermoto(), replace(hard, temperature=10.0 + ZERO)).reason == OWN


@pytest.mark.parametrize(
    ("changes", "plan", "steady", "pulls"),
    [
        ({}, {"temperature": 0.0 + ZERO}, WARM_ALREADY, WARM_ALREADY),
        ({"conditions.air_temperature": 27.0 + ZERO}, {"target_speed": 20.0}, WARM_ALREADY, WARM_ALREADY),
        ({}, {"current": 400.0, "temperature": 8.0 + ZERO}, NOT_DRAWN, GETS_THERE),
        ({}, {"current": 3.0, "temperature": 30.0 + ZERO, "pull_current": 50.0}, LOSSES, TOO_LONG),
        ({"conditions.charge": 0.15}, {"temperature": 30.0 + ZERO}, EMPTY_FIRST, EMPTY_FIRST),
        ({"conditions.air_temperature": -25.0 + ZERO}, {"temperature": 0.0 + ZERO}, CUTS_OUT, CUTS_OUT),
        ({"pack.protection.continuous_current": 30.0, "pack.protection.peak_time": 1.0}, {}, CUTS_OUT, CUTS_OUT),
    ],
)
def test_where_it_cannot_be(changes, plan, steady, pulls):
    """property: each way says why it does not get there, and has no time then."""
    found = warm_up(supermoto().change(changes), planned(**plan))
    assert [way.status for way in found.ways] == [steady, pulls]
    for row, way in enumerate(found.ways):
        assert np.isfinite(way.time[0]) == (way.status == GETS_THERE)
        assert (way.rule >= 0) == (way.status == CUTS_OUT)
        if way.status not in (GETS_THERE, WARM_ALREADY):
            assert way.warmest < found.temperature
            assert np.isnan(found.outcomes.top_speed[1 + row])


def test_pays_hand_worked():
    """hand-worked: reached beats missed, sooner beats later by more than a tenth of a second, faster by more than
    half a km/h."""
    made = outcomes_from(example_build(), [BikeState.rested(Batch.of(example_build()))], 20.0, 20.0).take([0] * 5)
    made.time_to_target[:] = [np.inf, np.inf, 10.0, 10.05, 10.3]
    made.top_speed[:] = [30.0, 30.1, 33.0, 33.0, 34.0]
    assert [made.pays(row, other) for row, other in ((1, 0), (2, 0), (0, 2), (3, 2), (4, 2))] == [
        SAME, PAYS, COSTS, SAME, COSTS,
    ]  # fmt: skip


def test_other_currents_and_line_limits():
    """property: among others a current takes as long as by itself; line limits are of packs so warm and full."""
    build, wanted = supermoto(), 12.0 + ZERO
    found = warm_up(build, planned(temperature=wanted))
    speed, time, charge = at_currents(build, [20.0, 40.0, 999.0], wanted)
    assert (time[1], charge[1], speed[1]) == pytest.approx(
        (found.ways[STEADY].time[0], found.ways[STEADY].charge, found.ways[STEADY].speed)
    )
    assert np.isnan(speed[2])
    limits = line_limits(build, found.outcomes.take([0, 3]), Pull(10.0), 0.0, 20.0, ())
    apart = line_limit(build, Pull(10.0), 0.0, [wanted], [0.95], 20.0, None, ())
    assert limits[1] == apart.limit[0, 0]
    with pytest.raises(ValueError, match="accepts currents"):
        warm_up(build, planned(current=0.0))
