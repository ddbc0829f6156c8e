"""Packs on offer: what changes with a pack, and what a bike then does. Hand-worked values and properties."""

import math
from dataclasses import replace

import pytest

from physics.build import example_build
from physics.build.batch import Batch
from physics.build.fields import BuildError
from physics.scenarios.pull import Pull
from physics.studies.headroom_curves import RegenPlan
from physics.studies.packs_on_offer import LONGEST, Offer, OfferPlan, PackAnswer, fitted, judged, mass_of
from physics.studies.uncertainty.tolerance import default_tolerances, rating_left_out

RATED = {"pack.protection.continuous_current": 120.0, "pack.protection.peak_current": 150.0}
MORE = {"pack.resistance": 0.08, "controller.regen_current": 20.0, "driveline.rear_teeth": 42}
BUILD = example_build().change(RATED | MORE | {"controller.foldback_start_voltage": 72.0})
OFFER = Offer("for current", 20, 20.0, 0.04, 200.0, 250.0, 8.0, 11.5, 900.0)
PLAN = OfferPlan(Pull(10.0), 1.0, 10.0, 22.0, 20.0, 9000.0, 14.0, RegenPlan())


def answer(build):
    return judged(build, PLAN, default_tolerances(build))


def test_what_comes_with_a_pack():
    """hand-worked: 20 cells for 24 move the foldback from 72 to 60 V; 11.5 kg come and 14.74 kg go.

    Those are 24 cells of 26 Ah. 20 cells of 5 Ah hold 372 Wh (tests of the pack), and cells have 210 Wh/kg, three
    quarters of a pack: 372 x 24 / 20 x 26 / 5 / 210 / 0.75 = 14.74 kg.
    """
    made = fitted(BUILD, OFFER)
    assert (made.pack.cells_in_series, made.pack.capacity_ah, made.pack.resistance) == (20, 20.0, 0.04)
    assert made.controller.foldback_start_voltage == pytest.approx(60.0)
    assert made.bike.bike_mass == pytest.approx(120.0 + 11.5 - 14.74, abs=0.02)
    rules = made.pack.protection
    assert (rules.continuous_current, rules.peak_current, rules.peak_time) == (200.0, 250.0, 8.0)
    assert math.isinf(rules.fast_current)


def test_what_an_offer_leaves_out_is_typical():
    """common practice: 20 cells, 20 Ah, 200 and 250 A: about 45 milliohm; property: mass goes with energy."""
    short = replace(OFFER, resistance=None, mass=None)
    assert Batch.of(fitted(BUILD, short))["pack.resistance"][0] == pytest.approx(0.045, abs=0.003)
    assert mass_of(BUILD, replace(short, capacity_ah=40.0)) == pytest.approx(2 * mass_of(BUILD, short))


def test_an_offer_without_a_rating_is_not_one_without_limits():
    """hand-worked: five times 20 Ah are 100 A, a quarter more 125; of a peak of 250 A, 200. As little as
    half of that may be so: 62.5 A, the overshoot counted."""
    unrated = replace(OFFER, continuous_current=math.inf, peak_current=math.inf)
    build = fitted(BUILD, unrated)
    assert (build.pack.protection.continuous_current, build.pack.protection.peak_current) == (100.0, 125.0)
    by_peak = fitted(BUILD, replace(unrated, peak_current=250.0)).pack.protection
    assert (by_peak.continuous_current, by_peak.peak_current) == (200.0, 250.0)
    known = default_tolerances(build) + rating_left_out(continuous=True, peak=True)
    assert 0 < judged(build, PLAN, known).line_limit <= 62.5 / (1 + BUILD.controller.overshoot)


def test_a_pack_for_more_current_brings_more():
    """property: a higher line limit, a higher top speed by it, more seconds at a power, less headroom to leave."""
    strong = Offer("strong", 24, 26.0, 0.04, 260.0, 320.0, mass=14.74)
    mine, theirs = answer(BUILD), answer(fitted(BUILD, strong))
    assert mine.line_limit < theirs.line_limit
    assert theirs.top_speed > mine.top_speed
    assert theirs.cold_time >= mine.cold_time
    assert theirs.warm_time >= mine.warm_time
    assert theirs.headroom < mine.headroom
    assert theirs.price_per_speed(900.0, mine) == pytest.approx(900.0 / (theirs.top_speed - mine.top_speed))


def test_no_limit_passes_the_rating():
    """property: the line limit with its overshoot never passes the peak current."""
    weak = replace(OFFER, continuous_current=80.0, peak_current=110.0)
    assert answer(fitted(BUILD, weak)).line_limit * (1 + BUILD.controller.overshoot) <= 110.0


def test_twice_the_capacity_goes_twice_as_far():
    """exact solution: same mass, cells and resistance, so the same energy for each metre; 1 % for its heat."""
    small, large = (answer(fitted(BUILD, replace(OFFER, capacity_ah=size))) for size in (20.0, 40.0))
    assert large.reach / small.reach == pytest.approx(2.0, rel=0.01)
    assert max(small.warm_time, large.warm_time) <= LONGEST


def test_no_price_and_no_gain_give_no_price_for_speed():
    """property: neither a missing price nor a slower bike is ever a bargain."""
    slow = PackAnswer(0.05, 10.0, 100.0, 20.0, math.inf, 1.0, 1.0, 1.0, 10.0, 1e4)
    fast = replace(slow, top_speed=22.0)
    assert fast.price_per_speed(500.0, slow) == pytest.approx(250.0)
    assert math.isnan(fast.price_per_speed(None, slow))
    assert math.isnan(slow.price_per_speed(500.0, fast))


def test_an_offer_that_cannot_be_is_refused():
    with pytest.raises(BuildError, match="peak_current"):
        fitted(BUILD, replace(OFFER, peak_current=100.0))
