"""Cut-outs in a log: found to a reading or two in every kind of log, and none where the throttle was shut."""

import numpy as np
import pytest

from physics.ridelog import synthetic_log
from physics.ridelog.cut_out import CutOutLimits, find_cut_out
from tests.physics.ridelog.cut_out_rides import CASES, KINDS, build_of, limits_of, log_of, ridden


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
        (CutOutLimits(under_voltage=0.0), None),
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


def test_temperature_rule():
    """hand-worked: a pack at 340 K against a limit of 338 K, told in degrees."""
    log = _cut_log(91.5)
    log.frame["pack_temperature"] = 340.0
    (cut,) = find_cut_out(log, CutOutLimits(highest_temperature=338.0))
    assert cut.likely_rule == "pack temperature"
    assert "66.9 °C against a threshold of 64.9 °C" in cut.reason
    log.frame["pack_temperature"] = 250.0
    assert find_cut_out(log, CutOutLimits(lowest_temperature=253.0))[0].likely_rule == "pack temperature"


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("kind", KINDS)
def test_a_cut_out_of_a_ride_is_found_to_a_reading_or_two(case, kind):
    """property: a simulated cut-out, logged with the usual noise; sure only where the throttle is logged. The ride
    itself is in straight lines between steps of up to 0.12 s."""
    made, (rate, throttle) = ridden(case), KINDS[kind]
    (cut,) = find_cut_out(log_of(made, rate, throttle), limits_of(build_of(case)))
    assert -0.05 <= cut.time - made.cut_out_time[0] <= 2.0 / rate + 0.12
    assert cut.certain == throttle
    assert cut.likely_rule == ("continuous current" if case == "line limit above the rating" else "under-voltage")


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("kind", KINDS)
def test_a_throttle_shut_at_the_end_of_a_pull_is_no_cut_out(case, kind):
    """property: the same rides without a protection, the throttle shut from one reading to the next. Where it is
    not logged, only a threshold that was near makes it a doubt."""
    rate, throttle = KINDS[kind]
    log = log_of(ridden(case, False), rate, throttle)
    far = CutOutLimits(under_voltage=30.0, fast_current=900.0, continuous_current=600.0)
    assert find_cut_out(log, far) == ()
    near = find_cut_out(log, limits_of(build_of(case)))
    assert not any(cut.certain or not cut.near for cut in near)
    assert not (throttle and near)


def test_a_noisy_sensor_at_rest_hides_no_cut_out():
    """property: an offset of 1 A and noise of 0.3 A at no current, as a sensor of 200 A may have."""
    log = _cut_log(91.5, noise={"line_current": 0.3})
    log.frame["line_current"] += 1.0
    assert len(find_cut_out(log)) == 1


def test_a_gap_in_the_recording_is_no_cut_out():
    """hand-worked: two seconds are missing; the throttle may have been shut and opened again."""
    log = _cut_log(91.5)
    hole = (log.frame["time"] > 10.0) & (log.frame["time"] < 12.05)
    assert find_cut_out(type(log)(log.frame[~hole].reset_index(drop=True), log.report)) == ()
