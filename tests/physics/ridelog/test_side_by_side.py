"""Two rides laid over each other."""

import numpy as np
import pytest

from physics.ridelog import find_segments, synthetic_log
from physics.ridelog.segments import Segment
from physics.ridelog.side_by_side import course_of, passing, side_by_side, starts_of


def rising(rate, begins=3.0, **more):
    """A bike that stands, then gains so many m/s each second for ten seconds."""
    t = np.array([0.0, begins, begins + 10.0])
    others = [np.array([99.0, 99.0, 99.0 - 2.0 * rate])] * 2
    return synthetic_log(t, [0.0, 0.0, 10.0 * rate], *others, noise=0, sample_rate=100.0, **more)


def test_two_pulls_of_steady_acceleration():
    """hand-worked: from 1 m/s at 2 and at 4 m/s², 40 m of way. v = √(1 + 2 a 40): 12.689 and 17.916 m/s;
    t = (v − 1) / a: 5.844 s and 4.229 s, so the second is 1.615 s ahead. The grid of 0.01 s is the error; the
    place next to 40 m is up to 0.25 m off, which moves the lead by 0.25 (1 / 12.689 − 1 / 17.916) = 6 ms."""
    slow, fast = rising(2.0), rising(4.0, begins=7.0)
    pulls = tuple(find_segments(log)[-1] for log in (slow, fast))
    assert [pull.kind for pull in pulls] == ["pull", "pull"]
    starts = starts_of((slow, fast), pulls)
    assert starts == pytest.approx((3.5, 7.25), abs=1e-6)
    found = side_by_side(*(course_of(log, start) for log, start in zip((slow, fast), starts, strict=True)))
    at = int(np.argmin(np.abs(found.distance - 40.0)))
    way = found.distance[at]
    for row, rate in enumerate((2.0, 4.0)):
        speed = np.sqrt(1.0 + 2.0 * rate * way)
        assert found.times[row, at] == pytest.approx((speed - 1.0) / rate, abs=0.01)
        assert found.speeds[row, at] == pytest.approx(speed, abs=0.05)
    assert way == pytest.approx(40.0, abs=0.3)
    assert found.times[1, at] - found.times[0, at] == pytest.approx(-1.615, abs=0.01)


def test_lowest_voltage_is_that_of_the_way_both_went():
    """hand-worked: the faster one's voltage goes on falling behind the slower one's end; 99 − 0.8 V/s there."""
    slow, fast = rising(2.0), rising(4.0)
    found = side_by_side(course_of(slow, 3.0), course_of(fast, 3.0))
    assert found.distance[-1] == pytest.approx(100.0, abs=0.2)
    assert found.lowest_voltages[0] == pytest.approx(95.0, abs=0.01)
    assert found.lowest_voltages[1] == pytest.approx(99.0 - 0.8 * np.sqrt(2 * 100.0 / 4.0), abs=0.02)


def test_what_is_lost_is_bridged_and_a_stop_holds_the_clock():
    """hand-worked: 10 m/s for 10 s, 5 s of standing, 10 m/s again: 150 m after 20 s, whatever was lost. Off by what
    the grid of 0.02 s makes of the two changes of speed, 0.2 m each, and by one reading at the end."""
    t = np.array([0.0, 10.0, 10.01, 15.0, 15.01, 30.0])
    speed = np.array([10.0, 10.0, 0.0, 0.0, 10.0, 10.0])
    log = synthetic_log(t, speed, noise=0, sample_rate=50.0)
    log.frame.loc[100:200, "speed"] = np.nan
    found = side_by_side(course_of(log, 0.0), course_of(log, 0.0, end=20.0))
    assert found.distance[-1] == pytest.approx(150.0, abs=0.5)
    assert found.behind == pytest.approx(0.0, abs=1e-9)
    assert found.times[0, -1] == pytest.approx(20.0, abs=0.1)


def test_logs_without_speed_or_way_compare_to_nothing():
    still = synthetic_log([0.0, 10.0], [0.0, 0.0], noise=0)
    none = synthetic_log([0.0, 10.0], [np.nan, np.nan], noise=0)
    assert side_by_side(course_of(still, 0.0), course_of(still, 0.0)) is None
    assert side_by_side(course_of(none, 0.0), course_of(still, 0.0)) is None
    assert passing(still, Segment("pull", 1.0, 5.0, 10, 50, 0.0, 5.0), 1.0) == 1.0
