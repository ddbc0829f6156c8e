"""A ride leg after leg, the pack model that a log's current runs through, and predictions laid over a pull."""

import numpy as np
import pytest

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack
from physics.components.pack import pulse_resistance, rest_voltage
from physics.fitting.build import RESISTANCE, fit_log
from physics.fitting.pack import charge_at, fit_pack_of_build, pack_course, start_charge
from physics.fitting.prediction import compare_pull, predicted_pulls
from physics.fitting.result import CANNOT_TELL, TOO_FEW
from physics.ridelog import find_segments, synthetic_log
from physics.scenarios.ride import Leg, ride
from physics.simulation.run import run

BUILD = Build(
    Pack(24, 26.0, "nmc", resistance=0.05), Motor(62.0), Controller(180.0, 420.0), Driveline(12, 56),
    Bike(118.0, 82.0), Conditions(charge=0.9),
)  # fmt: skip


def test_a_ride_of_one_pull_is_a_run():
    """property: the first leg is the run itself; speed and voltage agree to the step of the interpolation."""
    made, plain = ride(BUILD, [Leg("pull", 10.0)]), run(BUILD, 10.0, steps=240)
    assert made.speed[0] == pytest.approx(np.interp(made.time, plain.time, plain.speed[0]), abs=1e-9)
    volts = np.interp(made.time, plain.time, plain.pack_voltage[0])
    assert made.pack_voltage[0] == pytest.approx(volts, abs=1e-9)


def test_legs_follow_on():
    """hand-worked: braking from v in 4 s passes half of v after 2 s; standing stands; speed never jumps."""
    kinds = (("stand", 2.0), ("pull", 8.0), ("coast", 5.0), ("brake", 4.0), ("stand", 3.0))
    made = ride(BUILD, [Leg(kind, duration) for kind, duration in kinds])
    at = {second: round(second / 0.05) for second in (2, 10, 15, 17, 19)}
    assert (made.speed[0, : at[2]] == 0).all()
    assert made.speed[0, at[17]] == pytest.approx(made.speed[0, at[15]] / 2, rel=1e-9)
    assert (made.speed[0, at[19] :] == 0).all()
    assert np.abs(np.diff(made.speed[0])).max() < 0.5
    assert made.motor_speed[0] == pytest.approx(made.speed[0] * made.motor_speed[0, at[10]] / made.speed[0, at[10]])
    later = made.pack_voltage[0, at[15] :]
    assert (np.diff(later) >= -1e-9).all()  # a pack that rests recovers


@pytest.mark.parametrize("leg", [("fly", 1.0), ("pull", 0.0), ("pull", 5.0, 1.5), ("pull", float("nan"))])
def test_legs_that_are_none_are_refused(leg):
    with pytest.raises(ValueError, match="leg"):
        Leg(*leg)


def test_course_of_a_constant_current_is_the_pulse_resistance():
    """exact solution: at 25 degrees C and half charge (a pack so large that it stays there) the sag of a small
    current follows the pulse resistance; after ten seconds it is the reference itself, for which 10 mA was used."""
    large = BUILD.change({"pack.capacity_ah": 2000.0, "pack.resistance_current": 0.01})
    t = np.arange(0.0, 60.01, 0.1)
    warm = np.full(t.size, 298.15)
    _, x, charge = pack_course(large, t, np.full(t.size, 0.1), np.full(t.size, 90.0), warm, start_charge=0.5)
    expected = pulse_resistance(0.05, "nmc", t) / 0.05 * 0.1
    assert charge[-1] > 0.499
    assert x == pytest.approx(expected, rel=2e-3)  # the factor of charge moves by up to that over a thousandth
    assert x[100] == pytest.approx(0.1, rel=2e-3)
    strong = large.change({"pack.resistance_current": 100.0})
    _, x, _ = pack_course(strong, t, np.full(t.size, 100.0), np.full(t.size, 90.0), warm, start_charge=0.5)
    assert x[100] == pytest.approx(100.0, rel=2e-3)


def test_charge_and_rest_voltage_convert_both_ways():
    """property: across the charges a log may begin with."""
    for charge in np.linspace(0.05, 0.98, 20):
        assert charge_at(BUILD, rest_voltage("nmc", 24, charge)) == pytest.approx(charge, abs=2e-3)
    assert charge_at(BUILD, 500.0) == pytest.approx(1.0)
    assert charge_at(BUILD, 0.0) == pytest.approx(0.0)


def test_start_charge_says_where_it_comes_from():
    """property: from the voltage before the first load, else the build's own."""
    t = np.arange(0.0, 20.0, 0.1)
    volts = np.full(t.size, float(rest_voltage("nmc", 24, 0.7)))
    current = np.where(t < 5.0, 0.0, 50.0)
    log = synthetic_log(t, np.zeros(t.size), volts, current, noise=0)
    charge, where = start_charge(log, BUILD)
    assert charge == pytest.approx(0.7, abs=1e-3)
    assert "before the first load" in where
    loaded = synthetic_log(t, np.zeros(t.size), volts, np.full(t.size, 50.0), noise=0)
    assert start_charge(loaded, BUILD)[0] == BUILD.conditions.charge


def test_a_pack_that_cannot_be_told():
    """hand-worked: no current, a steady current, and a current of the wrong sign hold no resistance."""
    t = np.arange(0.0, 30.0, 0.1)
    no_current = synthetic_log(t, np.zeros(t.size), np.full(t.size, 90.0))
    assert fit_pack_of_build(no_current, BUILD)[0].status == TOO_FEW
    steady = synthetic_log(t, np.zeros(t.size), np.full(t.size, 90.0), np.full(t.size, 40.0))
    assert fit_pack_of_build(steady, BUILD)[0].status == CANNOT_TELL
    swing = 60.0 + 60.0 * np.sin(t)
    turned = synthetic_log(t, np.zeros(t.size), 90.0 - 0.05 * swing, -swing)
    fit = fit_pack_of_build(turned, BUILD)[0]
    assert not fit.success
    assert "sign" in fit.message


def test_growth_is_kept_apart():
    """hand-worked: a pack of 0.05 ohm grown by 1.2 is found as 0.05 by a build that knows the growth, as 0.06 by
    one that does not."""
    aged = BUILD.change({"pack.resistance_growth": 1.2})
    made = ride(aged, [Leg("stand", 3.0), Leg("pull", 10.0), Leg("coast", 8.0)])
    log = synthetic_log(
        made.time, made.speed[0], made.pack_voltage[0], made.line_current[0], others=made.logged(0), noise=0
    )
    segments = find_segments(log)
    assert fit_log(log, aged, segments).item(RESISTANCE).value == pytest.approx(0.05, rel=0.005)
    assert fit_log(log, BUILD, segments).item(RESISTANCE).value == pytest.approx(0.06, rel=0.005)


def test_own_prediction_lies_on_the_log():
    """property: a log without noise is met by its own build to a tenth of a volt, a tenth of a m/s, and the start
    of the pull to a fifth of a second."""
    made = ride(BUILD, [Leg("stand", 3.0), Leg("pull", 12.0), Leg("coast", 8.0)])
    log = synthetic_log(
        made.time, made.speed[0], made.pack_voltage[0], made.line_current[0], others=made.logged(0), noise=0
    )
    pull = next(segment for segment in find_segments(log) if segment.kind == "pull")
    found = compare_pull(predicted_pulls([BUILD], log, [pull]), log, pull)
    assert found.spread["speed"] < 0.1
    assert found.spread["pack_voltage"] < 0.1
    assert pull.start + found.shift == pytest.approx(3.0, abs=0.2)


def test_what_is_trusted_must_be_known():
    log = synthetic_log([0.0, 10.0], [0.0, 20.0], noise=0)
    with pytest.raises(ValueError, match="trusted"):
        fit_log(log, BUILD, (), "luck")
