"""Two rides on one chart: what is said of them, and the page that lays them over each other."""

import numpy as np
import pytest

from explorer.components.live_chart import pack
from explorer.format import UnitFormatter
from explorer.questions.ride_log import rides
from explorer.questions.ride_log.two_rides import chart, words
from explorer.questions.ride_log.two_rides.section import KEY
from physics.ridelog import synthetic_log
from physics.ridelog.side_by_side import SideBySide, course_of
from tests.explorer.pages import opened, rerun, written
from tests.explorer.plain_words import slips, unsaid

NAMES = ("warm.csv", "cold.csv")


def found(times=(13.4, 14.2), speeds=(30.0, 29.0), volts=(86.2, 84.1)):
    return SideBySide(
        np.array([240.0]), np.array(times)[:, None], np.array(speeds)[:, None], np.array(volts, dtype=float)
    )


def test_which_was_faster_is_said_as_it_is_printed():
    """hand-worked: 14.2 − 13.4 s; 30 and 29 m/s are 108 and 104 km/h; 86.2 − 84.1 V."""
    text = words.verdict(found(), NAMES, UnitFormatter("metric"))
    assert text == (
        "**Over 240 m, cold.csv was 0.8 s slower than warm.csv:** 14.2 s against 13.4 s. At the end of it, "
        "cold.csv was 4 km/h slower, at 104 km/h. Its lowest voltage was 2.1 V lower: 84.1 V against 86.2 V."
    )


@pytest.mark.parametrize("units", ["metric", "US"])
def test_every_sentence(units):
    fmt = UnitFormatter(units)
    alike = words.verdict(found((13.4, 13.43), (30.0, 30.1), (86.2, 86.21)), NAMES, fmt)
    assert "both rides took 13.4 s" in alike
    assert "At the end" not in alike
    assert "86.2 V on both" in alike
    blind = words.verdict(found(volts=(np.nan, 84.0)), NAMES, fmt)
    assert "voltage" not in blind
    faster = words.verdict(found((14.2, 13.4), (29.0, 30.0), (84.1, 86.2)), NAMES, fmt)
    assert "0.8 s faster" in faster
    assert "higher" in faster
    notes = [words.note(True, fmt), words.note(False, fmt), words.WHAT_IT_TAKES, words.NO_WAY, words.NO_SPEED]
    for text in (alike, blind, faster, *notes):
        assert not slips(text), text
        assert not unsaid(text), text


@pytest.mark.parametrize("along", list(words.VIEWS))
def test_the_figure_holds_what_the_logs_hold(along):
    """property: a log without electrics has no line in their panels; what is lost is no fault."""
    bare = course_of(synthetic_log([0.0, 20.0], [0.0, 20.0], noise=0, dropouts=1), 0.0)
    whole = course_of(synthetic_log([0.0, 9.0], [0.0, 9.0], [99.0, 90.0], [0.0, 100.0], noise=0), 0.0)
    figure = chart.figure((bare, whole), NAMES, along, UnitFormatter("US"))
    assert [line["name"] for line in figure["data"]] == [*NAMES, NAMES[1], NAMES[1]]
    assert pack(figure, key="k", height=9, alt="a")


def test_the_invented_rides_are_laid_over_each_other():
    """property: the cold ride with less charge is the slower one and pulls the voltage lower."""
    page = opened("ride_log", kept={f"fold_{KEY}": True, f"why_{KEY}": True})
    assert "Open two ride logs" in written(page)
    page.button(key=f"{KEY}_take").click()
    text = written(rerun(page))
    assert "invented\\_cold" in text
    assert "s slower than" in text
    assert "V lower" in text
    assert "nothing is brought to one day" in text
    page.segmented_control(key=f"{KEY}_along").set_value("distance")
    rerun(page)
    box = next(box for box in page.selectbox if (box.key or "").startswith(f"{KEY}_from_0"))
    box.select(words.WHOLE)
    assert "Each clock starts with its log" in written(rerun(page)) or "Both clocks" in written(page)
    page.button(key=f"{KEY}_forget_others").click()
    assert "Open two ride logs" in written(rerun(page))


def test_no_more_rides_are_held_than_there_is_room_for(monkeypatch):
    """property: a file that is held already is not held twice; one too many is refused in a sentence; of two files
    of one name each can be chosen."""
    monkeypatch.setattr(rides, "MOST_RIDES", 2)
    page = opened("ride_log", kept={f"fold_{KEY}": True})
    uploader = next(one for one in page.file_uploader if one.label == words.UPLOAD)
    rows = [b"time,speed\n" + b"".join(b"%d,%d\n" % (k, k + more) for k in range(30)) for more in (0, 1, 2)]
    same = [("a.csv", rows[0], "text/csv"), ("b.csv", rows[0], "text/csv"), ("a.csv", rows[1], "text/csv")]
    uploader.set_value(same)
    rerun(page)
    assert len(page.session_state["ride_log:rides"].others) == 2
    second = next(box for box in page.selectbox if (box.key or "").startswith(f"{KEY}_which_1"))
    assert second.options == ["a.csv", "a.csv (2)"]
    uploader = next(one for one in page.file_uploader if one.label == words.UPLOAD)
    uploader.set_value([("c.csv", rows[2], "text/csv")])
    assert "There is room for 2 more rides" in written(rerun(page))
