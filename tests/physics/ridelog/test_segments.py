"""Parts of a ride, and a ride read, taken apart and fitted from end to end."""

from itertools import pairwise

import numpy as np
import pytest

from physics.fitting.coast_down import fit_coast_down
from physics.fitting.efficiency import fit_driveline_efficiency
from physics.fitting.pack import fit_pack
from physics.ridelog import find_segments, read_log, synthetic_log, write_csv
from physics.ridelog.cut_out import find_cut_out
from physics.ridelog.segments import SegmentRules, samples_of

G = 9.80665
MASS, AREA, ROLLING, DENSITY, RESISTANCE, EFFICIENCY = 185.0, 0.48, 0.016, 1.25, 0.07, 0.86


def _ride():
    """A ride in exact steps of 10 ms: stand 5 s, pull to 28 m/s, hold 8 s, coast to 6 m/s, brake, stand."""
    dt, v, rows = 0.01, 0.0, []
    plan = "stand"
    started = 0.0
    for step in range(100_000):
        t = step * dt
        road = MASS * G * ROLLING * (v > 0) + 0.5 * DENSITY * AREA * v * v
        drive = {"stand": 0.0, "pull": 420.0, "hold": road, "coast": 0.0, "brake": -700.0, "end": 0.0}[plan]
        power = max(drive, 0.0) * v / EFFICIENCY
        rest = 96.0
        current = (rest - np.sqrt(rest**2 - 4 * RESISTANCE * power)) / (2 * RESISTANCE)
        rows.append((t, v, rest - RESISTANCE * current, current, float(drive > 0)))
        v = max(v + (drive - road) / MASS * dt, 0.0) if plan not in ("stand", "end") else 0.0
        past = t - started
        following = {
            "stand": past > 5,
            "pull": v >= 28,
            "hold": past > 8,
            "coast": v <= 6,
            "brake": v <= 0,
            "end": past > 5,
        }[plan]
        if following:
            if plan == "end":
                break
            plan = {"stand": "pull", "pull": "hold", "hold": "coast", "coast": "brake", "brake": "end"}[plan]
            started = t
    return np.array(rows).T


RIDE = _ride()


def _log(seed=0, **options):
    t, v, u, i, throttle = RIDE
    return synthetic_log(t, v, u, i, others={"throttle": throttle}, seed=seed, sample_rate=20.0, **options)


def test_the_parts_of_a_ride():
    """exact solution: the ride stepped above, found in order and to half a second."""
    segments = find_segments(_log())
    assert [s.kind for s in segments] == ["standstill", "pull", "steady", "coast-down", "standstill"]
    t, v = RIDE[0], RIDE[1]
    coast = segments[3]
    begin = t[np.flatnonzero(v >= 27.9)[-1]]
    assert coast.start == pytest.approx(begin, abs=1.0)
    assert coast.end_speed == pytest.approx(6.0, abs=0.7)
    assert coast.duration == coast.end - coast.start
    assert coast.note == ""
    for one, two in pairwise(segments):
        assert one.last <= two.first


def test_without_current_a_coast_down_is_uncertain():
    """hand-worked: speed alone cannot tell coasting from a closing throttle; the note says so."""
    t, v = RIDE[0], RIDE[1]
    segments = find_segments(synthetic_log(t, v, sample_rate=20.0))
    coast = [s for s in segments if s.kind == "coast-down"]
    assert len(coast) == 1
    assert "may be" in coast[0].note


def test_segments_do_not_reach_over_gaps():
    """property: a pause in the recording splits what it interrupts."""
    log = _log(noise=0)
    frame = log.frame
    hole = frame[(frame["time"] < 12.0) | (frame["time"] > 14.0)]
    again = read_log(hole.to_csv(index=False).encode(), columns={"speed": ("speed", "m/s"), "throttle": None})
    assert len(again.report.gaps) == 1
    for s in find_segments(again):
        assert s.end <= 12.0 or s.start >= 14.0


def test_no_speed_no_segments():
    """hand-worked: nothing to find is an empty answer."""
    log = read_log(b"time,volts\n0,90\n1,90\n2,91\n")
    assert find_segments(log) == ()
    assert find_cut_out(log) == ()
    assert find_segments(synthetic_log([0.0, 0.1], [1.0, 2.0])) == ()


def test_rules_can_be_set():
    """property: a pull must gain what the rules ask."""
    strict = SegmentRules(pull_gain=40.0)
    assert "pull" not in [s.kind for s in find_segments(_log(), strict)]


def test_a_ride_from_end_to_end():
    """exact solution: written, read, taken apart and fitted; what went in comes back.

    Resistance and efficiency within 3 %, drag area within 5 %: one ride, 20 Hz, the usual noise.
    """
    log = read_log(write_csv(_log(seed=5)).encode())
    segments = find_segments(log)
    time, voltage, current = log.frame[["time", "pack_voltage", "line_current"]].dropna().to_numpy().T
    drawn = np.concatenate([[0.0], np.cumsum(np.diff(time) * (current[1:] + current[:-1]) / 2)])
    pack = fit_pack(voltage, current, drawn)
    assert pack.value("resistance") == pytest.approx(RESISTANCE, rel=0.03)
    assert pack.value("rest_voltage") == pytest.approx(96.0, abs=0.1)
    coast = next(s for s in segments if s.kind == "coast-down")
    rows = slice(coast.first, coast.last)
    road = fit_coast_down(log.column("time")[rows], log.column("speed")[rows], MASS, air_density=DENSITY)
    assert road.success
    assert road.value("drag_area") == pytest.approx(AREA, rel=0.05)
    low, high = road.bounds("rolling_resistance")
    assert low <= ROLLING <= high
    pull = next(s for s in segments if s.kind == "pull")
    rows = slice(pull.first, pull.last)
    share = fit_driveline_efficiency(
        log.column("time")[rows],
        log.column("speed")[rows],
        log.column("pack_voltage")[rows],
        log.column("line_current")[rows],
        mass=MASS,
        drag_area=AREA,
        rolling_resistance=ROLLING,
        air_density=DENSITY,
    )
    assert share.value("driveline_efficiency") == pytest.approx(EFFICIENCY, rel=0.03)


def test_samples_of_a_kind():
    """property: the rows of all segments of a kind, numbered, and none where there is none."""
    log = _log()
    rows = samples_of(log, "standstill")
    assert rows["part"].unique().tolist() == [0, 1]
    assert rows["speed"].max() < 1.0
    assert len(samples_of(log, "pull", ())) == 0
    with pytest.raises(ValueError, match="coast-down"):
        samples_of(log, "wheelie")
