"""Parts of a ride and cut-outs, and a ride read, taken apart and fitted from end to end."""

from itertools import pairwise

import numpy as np
import pytest

from physics.fitting.coast_down import fit_coast_down
from physics.fitting.efficiency import fit_driveline_efficiency
from physics.fitting.pack import fit_pack
from physics.ridelog import find_segments, read_log, synthetic_log, write_csv
from physics.ridelog.cut_out import CutOutLimits, find_cut_out
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


def _cut_log(after_voltage, throttle=True, at=12.0, noise=None):
    t = np.arange(0.0, 30.0, 0.05)
    on = (t > 2.0) & (t < at)
    current = np.where(on, np.minimum(40 * (t - 2.0), 210.0), 0.0)
    voltage = np.where(t < at, 92.0 - 0.1 * current, after_voltage)
    speed = np.interp(t, [0, 2, at, 30], [0, 0, 30, 10])
    others = {"throttle": np.where(t > 2.0, 0.9, 0.0)} if throttle else None
    return synthetic_log(t, speed, voltage, current, others=others, sample_rate=20.0, noise=noise, seed=2)


@pytest.mark.parametrize(
    ("limits", "rule"),
    [
        (CutOutLimits(under_voltage=72.0), "under-voltage"),
        (CutOutLimits(fast_current=208.0), "fast over-current"),
        (CutOutLimits(continuous_current=150.0), "continuous current"),
        (CutOutLimits(), None),
        (CutOutLimits(under_voltage=60.0, fast_current=400.0), None),
    ],
)
def test_a_cut_out_and_its_rule(limits, rule):
    """hand-worked: 210 A at 71 V, then nothing under an open throttle at 12 s; the mean of the ten seconds before
    is 154.9 A (ramp of 40 A/s to 210 A in 5.25 s, then held)."""
    found = find_cut_out(_cut_log(91.5), limits)
    assert len(found) == 1
    cut = found[0]
    assert cut.time == pytest.approx(12.0, abs=0.1)
    assert cut.current_before == pytest.approx(210.0, abs=2.0)
    assert cut.voltage_before == pytest.approx(71.0, abs=0.5)
    assert cut.voltage_after == pytest.approx(91.5, abs=0.5)
    assert (cut.voltage_course, cut.certain, cut.likely_rule) == ("recovers", True, rule)


def test_two_rules_near_name_both():
    """hand-worked: 71.0 V against 75 V is 5.3 % past, 210 A against 205 A 2.4 %."""
    cut = find_cut_out(_cut_log(91.5, noise=0), CutOutLimits(under_voltage=75.0, fast_current=205.0))[0]
    assert cut.likely_rule == "under-voltage"
    assert "also near: fast over-current" in cut.reason


def test_voltage_behind_the_protection_collapses():
    """hand-worked: a logger fed behind the protection sees the voltage go with the current."""
    assert find_cut_out(_cut_log(3.0))[0].voltage_course == "collapses"


def test_without_throttle_it_is_not_certain():
    """hand-worked: a throttle shut quickly looks the same."""
    cut = find_cut_out(_cut_log(91.5, throttle=False))[0]
    assert not cut.certain
    assert "looks the same" in cut.reason


def test_ordinary_riding_has_no_cut_out():
    """property: a throttle let go, slowly or with the throttle in the log, is none; nor is a stop."""
    assert find_cut_out(_log()) == ()
    t = np.arange(0.0, 30.0, 0.05)
    slow = np.clip(200 - 60 * np.clip(t - 5, 0, None), 0, None)
    assert find_cut_out(synthetic_log(t, np.full(t.size, 20.0), current=slow, noise=0, sample_rate=20.0)) == ()


def test_temperature_rule():
    """hand-worked: a pack at 340 K against a limit of 338 K."""
    log = _cut_log(91.5)
    log.frame["pack_temperature"] = 340.0
    assert find_cut_out(log, CutOutLimits(highest_temperature=338.0))[0].likely_rule == "pack temperature"
    log.frame["pack_temperature"] = 250.0
    assert find_cut_out(log, CutOutLimits(lowest_temperature=253.0))[0].likely_rule == "pack temperature"
