"""The road a test needs: closed forms, published stopping distances, and a stop replayed under worse conditions."""

import numpy as np
import pytest

from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from physics.build import example_build
from physics.build.batch import Batch
from physics.components.air import air_density
from physics.components.braking import FRONT, REAR
from physics.scenarios.state import at_instant
from physics.simulation.run import run
from physics.studies.day.road_needed import DRY_BRAKING, RoadPlan, road_needed
from physics.studies.uncertainty.tolerance import default_tolerances
from physics.studies.uncertainty.worse import worse_cases

CODE = {20: (6, 6), 30: (9, 14), 40: (12, 24), 50: (15, 38), 60: (18, 55), 70: (21, 75)}
"""Miles an hour to thinking and braking distance, m: The Highway Code, rule 126, typical stopping distances;
second-hand. In feet they are v and v^2 / 20, which is a reaction of 0.68182 s and 6.5562 m/s2."""


@pytest.mark.parametrize("mph", CODE)
def test_published_stopping_distances(mph):
    """published: The Highway Code, to the metre it prints; with no air, as its distances are v^2 / 2a."""
    plan = RoadPlan(reaction=0.68182, deceleration=6.5562)
    bike = example_build().change({"bike.drag_area": 0.0})
    found = road_needed(bike, mph * 0.44704, plan, 60.0, [])
    assert found.reached
    assert found.reaction == pytest.approx(CODE[mph][0], abs=0.5)
    assert found.braking == pytest.approx(CODE[mph][1], abs=0.5)


def test_parts_hand_worked():
    """hand-worked: 25 m/s, held for 4 s, 1 s of reaction and 7 m/s2: 100 m, 25 m and 625 / 14 = 44.64 m; 4.5
    degrees down, sin(0.07854) x 9.80665 = 0.7694 m/s2 less: 625 / 2 / 6.2306 = 50.16 m."""
    build = example_build()
    found = road_needed(build, 25.0, RoadPlan(hold=4.0), 60.0, [])
    assert (found.hold, found.reaction) == (pytest.approx(100.0), pytest.approx(25.0))
    assert found.braking == pytest.approx(44.64, abs=0.005)
    assert found.by_rider
    down = road_needed(build.change({"conditions.slope": -0.07854}), 25.0, RoadPlan(), 60.0, [])
    assert down.braking == pytest.approx(50.16, abs=0.005)
    assert found.total == pytest.approx(found.run_up + 125.0 + found.braking)


def test_grip_with_drag_against_a_closed_form():
    """exact solution: on a wet road, grip 0.3 and a rider who uses it all, m dv/dt = -(0.3 m g + k v^2): the stop
    is m / (2 k) ln(1 + k v^2 / (0.3 m g))."""
    build = example_build()
    found = road_needed(build, 25.0, RoadPlan(deceleration=50.0, grip=0.3), 60.0, [])
    day, mass = build.conditions, 195.0
    factor = 0.5 * float(air_density(day.air_temperature, day.air_pressure, day.humidity)) * build.bike.drag_area
    force = 0.3 * mass * 9.80665
    expected = mass / (2 * factor) * np.log(1 + factor * 625.0 / force)
    assert found.braking == pytest.approx(expected, rel=1e-4)
    assert not found.by_rider


@pytest.mark.parametrize("preset", PRESETS)
def test_nobody_runs_out_of_road(preset):
    """property: in every worse case, the run to the target (or to where the rider gives up) and the stop, stepped
    in time from the equation of motion, fit into the road."""
    build, duration, target = make_build(PRESETS[preset].values()), 40.0, 25.0
    plan = RoadPlan(hold=2.0, deceleration=DRY_BRAKING)
    found = road_needed(build, target, plan, duration)
    cases = worse_cases(default_tolerances(build), both_ends=True)
    batch = Batch.join([case.applied(Batch.of(build)) for case in cases])
    made = run(batch, duration, 0.0)
    times = made.time_to(target)
    used = at_instant(made.time, made.distance, np.where(np.isfinite(times), times, duration))
    speed = np.where(np.isfinite(times), target, made.speed[:, -1])
    used = used + speed * (plan.hold + plan.reaction)
    while (speed > 0).any():
        used, speed = used + np.maximum(speed, 0.0) * 0.01, speed - plan.deceleration * 0.01
    assert (used <= found.total + 0.3).all()  # a hundredth of a second at the target is 0.25 m


def test_more_of_anything_bad_is_never_shorter():
    """property: faster, downhill, wet, one brake alone, slower to react."""
    build = example_build()

    def total(speed=25.0, slope=0.0, **plan):
        return road_needed(build.change({"conditions.slope": slope}), speed, RoadPlan(**plan)).total

    assert total(28.0) > total()
    assert total(grip=0.5, deceleration=3.5) > total()
    assert total(brakes=REAR) > total(brakes=FRONT)
    assert total(reaction=2.0) > total()
    down, level = (road_needed(build.change({"conditions.slope": s}), 15.0, RoadPlan()) for s in (-0.1, 0.0))
    assert down.braking > level.braking
    assert total(15.0, -0.4, deceleration=3.0) == np.inf
    with pytest.raises(ValueError, match="reaction"):
        RoadPlan(reaction=-1.0)
