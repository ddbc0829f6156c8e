"""A cut-out in a ride log: what would have saved the pull, or why nothing can be said of it."""

import re
from dataclasses import replace

import pytest
from streamlit.testing.v1 import AppTest

from explorer.format import UnitFormatter
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.questions.ride_log import source as log_source
from explorer.questions.ride_log.cut_out import words
from explorer.questions.ride_log.cut_out.results import Ridden, tried
from explorer.questions.ride_log.demo_ride import demo_csv
from physics.fitting.cut_out_pull import pull_of, ridden_again
from physics.ridelog import RideLog, read_log, write_csv
from physics.ridelog.cut_out import find_cut_out
from physics.ridelog.segments import find_segments
from physics.simulation.run import run
from physics.studies.target import saving_levers, what_saves
from tests.explorer.derivations.test_derivations import check
from tests.explorer.pages import opened, page_of, rerun, settled, state_of, written
from tests.explorer.plain_words import slips, unsaid
from tests.physics.ridelog.cut_out_rides import OPENED_AT, build_of, limits_of, log_of, ridden
from tests.physics.ridelog.test_gpx import SAMPLE

CASE = "empty pack"


def ridden_by(changes: dict[str, float], rate: float = 10.0, throttle: bool = True) -> Ridden:
    """The pull of the case's log, ridden again by a build that differs from the one that wrote it."""
    page = page_of(charge=15.0)
    build = build_of(CASE).change(changes)
    log = log_of(ridden(CASE), rate, throttle)
    (cut,) = find_cut_out(log, limits_of(build))
    pull = pull_of(cut, log, build, find_segments(log))
    assert pull is not None
    return Ridden(ridden_again(pull), page.inputs, {"charge": 14.0}, False)


def on_the_sheet(page: AppTest) -> bool:
    """Whether the setup sheet has a line of what would have saved a pull."""
    return any("saved by line limit" in table.value.to_string() for table in page.table)


def test_a_log_with_a_cut_out_is_answered_on_the_page():
    """property: when it came and what would have saved the pull; a button puts the pull on the page, as it was
    ridden beside it; forgetting the log forgets the search."""
    page = opened("ride_log", charge=15.0, limit_margin=0)
    log = write_csv(log_of(ridden(CASE), 10.0, True)).encode()
    page.file_uploader[0].set_value(("ride.csv", log, "text/csv"))
    page = settled(rerun(page), log_source.SAVING)
    text = written(page)
    said = re.search(r"\*\*The pack cut out at ([\d.]+) s\*\*, ([\d.]+) s into pull 2, at 20", text)
    at, into = (float(number) for number in said.groups())
    assert abs(at - ridden(CASE).cut_out_time[0]) <= 0.32  # two readings, and the ride's own steps of 0.12 s
    assert abs(at - into - OPENED_AT) <= 0.3  # the second pull of the script begins there
    assert "**What would have saved pull 2: " in text
    assert f"; in the log it was after {said[2]} s, at 5" in text
    page.button(key="ride_log_try_saved_line_limit").click()
    state = state_of(rerun(page))
    line = state.values[f"line_{state.values['level']}"]
    assert line < state.baseline[f"line_{state.values['level']}"] == pytest.approx(200.0, abs=2.0)
    assert run(make_build(state.baseline), 10.0).cut_out_rule[0] >= 0
    assert run(make_build(state.values), 10.0).cut_out_rule[0] == -1
    assert "**What would have saved pull 2: " in written(page), "what is tried out changes nothing that was ridden"
    assert on_the_sheet(rerun(page, "section_setup_sheet", "table_setup_sheet"))
    page.button(key="ride_log_forget").click()
    rerun(page)
    assert f"background:{log_source.SAVING}" not in page.session_state
    assert not on_the_sheet(page)


@pytest.mark.parametrize("preset", PRESETS)
def test_the_invented_rides_have_none(preset):
    """property: no cut-out is in them; without the throttle a pull's end may look like one, not be."""
    build, log = make_build(PRESETS[preset].values()), read_log(demo_csv(preset))
    assert find_cut_out(log, limits_of(build)) == ()
    bare = RideLog(log.frame.drop(columns="throttle"), log.report)
    segments = find_segments(bare)
    for cut in find_cut_out(bare, limits_of(build)):
        assert cut.near
        pull = pull_of(cut, bare, build, segments)
        assert pull is None or not ridden_again(pull).agrees


def test_a_track_has_none():
    """published: the GPX 1.1 sample of the physics tests, an open standard; it has no electrics."""
    log = read_log(SAMPLE if isinstance(SAMPLE, bytes) else SAMPLE.encode())
    assert find_cut_out(log, limits_of(build_of(CASE))) == ()
    assert words.cut_outs((), (), log, UnitFormatter("metric")).startswith("The log has no line current")


def test_what_saves_is_said_plainly():
    """property: in both units, with and without a logged throttle; the derivation's numbers give its results."""
    for throttle in (True, False):
        found = ridden_by({}, throttle=throttle)
        pull = found.pull
        levers = [lever for lever in saving_levers(pull.build) if lever.key in ("line_limit", "charge")]
        answer = what_saves(pull.build, 6.0, pull.start_speed, 0.0, levers=levers)
        page = page_of(charge=15.0)
        for shown in (page, replace(page, fmt=UnitFormatter("US"))):
            text = words.saved(found, answer, shown)
            line = words.on_the_sheet(found, answer, shown.fmt)
            assert "s into pull 2, at 20" in line
            assert "; saved by line limit 20" in line
            assert not [*slips(line), *unsaid(line)], line
            assert text.startswith("**What would have saved pull 2: ")
            assert ("shut it yourself" in text) == (not throttle)
            assert not [*slips(text), *unsaid(text)], text
        for step in words.derivation(found, answer, page):
            check(step)
        for one in answer.savings:
            assert tried(found, one).keys() >= {"bike_mass"}


DIFFERENT = {
    "half the resistance": ({"pack.resistance": 0.026}, "Your pack sags more"),
    "no such rule": ({"pack.protection.cell_undervoltage": 2.0}, "check the BMS thresholds"),
    "a lower level": ({"controller.phase_current_limit": 200.0}, "Your bike drew more"),
}


@pytest.mark.parametrize("case", DIFFERENT)
def test_what_differs_is_said_instead_of_advice(case):
    """property: no change is offered where the model does not ride the pull as it was; what to look at is named."""
    changes, hint = DIFFERENT[case]
    found = ridden_by(changes)
    page = page_of(charge=15.0)
    assert not found.replay.agrees
    for shown in (page, replace(page, fmt=UnitFormatter("US"))):
        text = words.differs(found, shown)
        assert "cannot be said" in text
        assert hint in text
        assert not [*slips(text), *unsaid(text)], text
    for step in words.derivation(found, None, page):
        check(step)
