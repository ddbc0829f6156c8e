"""The pull that a cut-out ended: its beginning, its conditions, the same ride again, and what saves it."""

import numpy as np
import pytest

from physics.build.batch import Batch
from physics.fitting.cut_out_pull import CutOutPull, pull_of, ridden_again
from physics.ridelog.cut_out import find_cut_out
from physics.ridelog.segments import find_segments
from physics.scenarios.ride import Leg, ride
from physics.simulation.run import run
from physics.studies.target import saving_levers, what_saves
from tests.physics.ridelog.cut_out_rides import CASES, KINDS, OPENED_AT, build_of, limits_of, log_of, ridden

STEPS_OFF = 3
"""By how many steps of a lever a change may be larger than needed: thresholds are taken 0.2 % stricter."""


def pull(case: str, kind: str = "10 a second", entered=None) -> CutOutPull:
    """The pull of a case's log, for the build that was ridden or for another."""
    build = build_of(case) if entered is None else entered
    log = log_of(ridden(case), *KINDS[kind])
    (cut,) = find_cut_out(log, limits_of(build))
    found = pull_of(cut, log, build, find_segments(log))
    assert found is not None
    return found


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("kind", KINDS)
def test_the_pull_is_found_and_ridden_again(case, kind):
    """property: the build that made the log cuts out as the log does, whatever the logger. Where the pull begins is
    known to two readings; its voltage at rest is the log's, and what still settles of the pull before reads as
    up to 6 % less charge: so the cut-out comes back to a tenth of a second and of the pull."""
    rate, throttle = KINDS[kind]
    found, build = pull(case, kind), build_of(case)
    # without the throttle, until a current flows that can be told from none: a quarter of a slow opening
    slow_hand = 0.0 if throttle else max(0.3, 0.25 * build.controller.throttle_ramp_time)
    assert found.start == pytest.approx(OPENED_AT, abs=2.0 / rate + slow_hand)
    assert found.start_speed == 0.0
    assert -0.06 < found.build.conditions.charge - build.conditions.charge < 0.01
    ramp = found.build.controller.throttle_ramp_time
    assert ramp == pytest.approx(build.controller.throttle_ramp_time, abs=0.1 if rate > 1 else 1.0)
    replay = ridden_again(found)
    assert replay.agrees, replay
    assert replay.rest_voltage == pytest.approx(found.rest_voltage, abs=0.01)
    true = ridden(case).cut_out_time[0] - OPENED_AT
    assert replay.time == pytest.approx(true, abs=0.1 + 0.1 * true)


def test_a_pull_opened_while_rolling():
    """property: the last opening of the throttle begins the pull; no voltage at rest, so the charge is as given."""
    build = build_of("empty pack")
    made = ride(build, [Leg("stand", 4.0), Leg("pull", 6.0, throttle=0.3), Leg("pull", 8.0), Leg("coast", 5.0)])
    log = log_of(made, 10.0, True)
    (cut,) = find_cut_out(log, limits_of(build))
    found = pull_of(cut, log, build, find_segments(log), np.full(len(log.frame), 0.137))
    assert found.start == pytest.approx(10.0, abs=0.2)
    assert found.start_speed == pytest.approx(made.speed[0, 200], abs=0.5)
    assert np.isnan(found.rest_voltage)
    assert found.build.conditions.charge == 0.137
    assert ridden_again(found).agrees


def test_a_log_that_begins_in_the_middle_has_no_pull():
    """hand-worked: the first reading is at 10 m/s."""
    build = build_of("empty pack")
    log = log_of(ridden("empty pack"), 10.0, True)
    cut = find_cut_out(log, limits_of(build))[0]
    late = log.frame[log.frame["time"] > OPENED_AT + 2.0].reset_index(drop=True)
    part = type(log)(late.assign(time=late["time"] - late["time"][0]), log.report)
    (cut,) = find_cut_out(part, limits_of(build))
    assert pull_of(cut, part, build, find_segments(part)) is None


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"pack.resistance": 0.026}, "in_time"),  # half as much
        ({"pack.protection.cell_undervoltage": 2.0}, "in_time"),
        ({"controller.line_current_limit": 120.0, "controller.phase_current_limit": 200.0}, "in_time"),
    ],
)
def test_another_build_does_not_agree(changes, what):
    """property: a build that does not ride the pull as it was is not asked what would have saved it."""
    entered = build_of("empty pack").change(changes)
    replay = ridden_again(pull("empty pack", entered=entered))
    assert not getattr(replay, what)
    assert not replay.agrees


def test_what_saves_the_pull_of_a_log_saves_the_bike_that_wrote_it():
    """property: replayed by the bike itself in every worse case no change of the log's pull opens the pack; a few
    steps less of one does in some case, the line limit aside, which heeds ratings too."""
    found, bike = pull("empty pack"), build_of("empty pack")
    told = {"conditions.charge": found.build.conditions.charge}
    levers = [lever for lever in saving_levers(found.build) if lever.key in ("line_limit", "charge")]
    answer = what_saves(found.build, 6.0, found.start_speed, 0.5, levers=levers)
    assert all(one.found for one in answer.savings)

    def opens(build, changes):
        batch = Batch.vary(build.change(told), changes)
        every = Batch.join([case.applied(batch) for case in answer.cases])
        return np.isfinite(run(every, 6.0, found.start_speed, 200).cut_out_time).any()

    for one in answer.savings:
        assert not opens(bike, one.lever.changes(bike, [one.value])), one.lever.key
        less = one.value + np.sign(one.present - one.value) * STEPS_OFF * one.lever.step
        if one.lever.key != "line_limit" and (less - one.present) * (one.value - one.present) > 0:
            assert opens(found.build, one.lever.changes(found.build, [less])), one.lever.key
