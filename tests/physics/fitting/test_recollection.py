"""What remembered facts make of unknowns: weights, intervals, contradictions, against closed forms."""

import math

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from physics.fitting.recollection import (
    CUT_OUT,
    HELD,
    TIME_TO_SPEED,
    TOP_SPEED,
    Drawn,
    Fact,
    Observable,
    conclude,
    fact,
    refined,
)
from physics.fitting.recollection.fact import likelihood
from physics.fitting.recollection.findings import LEAST_EFFECTIVE, weighted_quantiles
from physics.fitting.recollection.sampling import effective_sample_size, tempered
from physics.studies.uncertainty.draws import spread_points

SPEED = Observable(TOP_SPEED)
NINE_IN_TEN = 1.6448536  # normal quantile of 0.95, from tables


@pytest.fixture
def never_wrong(monkeypatch):
    """Memories that are right, so that closed forms hold."""
    monkeypatch.setattr(fact, "WRONG", 1e-12)


def test_effective_sample_size_and_quantiles():
    """hand-worked: (1 + 2 + 3)^2 / (1 + 4 + 9) = 36 / 14; half of the weight 1, 2, 3, 2 is passed at the third."""
    assert effective_sample_size([1.0, 2.0, 3.0]) == pytest.approx(36 / 14)
    assert effective_sample_size(np.zeros(3)) == 0.0
    assert weighted_quantiles([4.0, 1.0, 3.0, 2.0], [2.0, 1.0, 3.0, 2.0], [0.5]) == [3.0]
    assert effective_sample_size(tempered(np.ones(100), -np.arange(100.0), 0.2)) == pytest.approx(20, abs=0.1)


def test_soft_edges_of_events():
    """hand-worked: 19 in 20 memories are right. Held for 10 s where it would cut out after 10 s is an even chance;
    20 s against 10 s with a quarter of error, an eighth of standard deviation, are 8 ln 2 deviations."""
    held = Fact(Observable(HELD, 150.0), 10.0, 2.5)
    found = likelihood(held, [10.0, np.inf, 5.0])[0]
    assert found == pytest.approx([0.5, 0.95 + 0.025, 0.025 + 0.95 * ndtr(-8 * math.log(2))])
    cut = Fact(Observable(CUT_OUT, 150.0), 10.0, 2.5)
    density, wrong = likelihood(cut, [10.0, np.inf, np.nan])
    broad = 0.05 / math.log(4)
    assert density == pytest.approx([0.95 * 8 / math.sqrt(2 * math.pi) + broad, broad, broad])
    assert wrong[1:] == pytest.approx([1.0, 1.0])


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Fact(SPEED, 900.0, 1.0), "top speed: got 900.0; accepts a number from 1 to 120 m/s."),
        (lambda: Fact(SPEED, math.nan, 1.0), "accepts a number from 1 to 120 m/s"),
        (lambda: Fact(SPEED, 30.0, 0.0), "how sure: got 0.0; accepts a number above 0"),
        (lambda: Observable(TIME_TO_SPEED), "got None; accepts a number from 1 to 120 m/s"),
        (lambda: Observable(TOP_SPEED, 3.0), "got 3.0; accepts nothing"),
        (lambda: Observable("weather"), "accepts one of top speed, "),
    ],
)
def test_bad_facts_are_refused_in_words(make, says):
    """property: what was wrong, and what is accepted."""
    with pytest.raises(ValueError, match=says):
        make()


def test_two_unknowns_of_which_the_facts_hold_one_sum(never_wrong):
    """exact solution: y = 30 + a + b + noise, standard deviations 1, 1 and 0.05, read twice as 32.

    a + b is normal of variance 2; two readings have a noise of variance 0.05^2 / 2 together. So a + b comes out at
    2 within a thousandth, a and b each at 1 with the variance 1 - 2 / (4 + 0.05^2) = 0.5003 from the conditional
    normal distribution. Tolerance: three standard errors at the effective sample size that is reported.
    """
    facts = [Fact(SPEED, 32.0, 0.1)] * 2
    points = [spread_points(2, 4096, seed) for seed in (1, 2, 3)]

    def predict(unknowns, _):
        return np.column_stack([30.0 + unknowns.sum(axis=1)] * 2)

    drawn = refined(predict, facts, points, 2)
    values = np.column_stack([drawn.unknowns, drawn.unknowns.sum(axis=1)])
    found = conclude(["a", "b", "sum"], values, drawn, facts)
    assert found.success
    assert found.effective > 1500  # of the first stage alone some 100 would be left
    close = 3 / math.sqrt(found.effective)
    for name in "ab":
        item, half = found.finding(name), NINE_IN_TEN * math.sqrt(0.5003)
        assert item.middle == pytest.approx(1.0, abs=close)
        assert (item.low, item.high) == pytest.approx((1 - half, 1 + half), abs=1.5 * close)  # flatter out there
        assert (item.before_low, item.before_high) == pytest.approx((-NINE_IN_TEN, NINE_IN_TEN), abs=0.1)
        assert not item.left_open
    deviation = 0.05 / math.sqrt(2)
    total = found.finding("sum")
    assert total.middle == pytest.approx(2.0, abs=0.001 + close * deviation)
    assert total.high - total.low == pytest.approx(2 * NINE_IN_TEN * deviation, rel=0.1)  # sampling error
    assert not found.contradictions


@pytest.mark.parametrize(("second", "contradicts"), [(30.5, False), (27.0, True)])
def test_ratio_of_evidence(never_wrong, second, contradicts):
    """exact solution: of y = 30 + a + noise, a standard normal, noise of deviation 0.5, one value is normal of
    variance 1.25 and two of one bike have the covariance 1; the ratio is that of these normal densities."""
    first = 32.0
    unknown = ndtri((np.arange(20000) + 0.5) / 20000)[:, None]
    drawn = Drawn(unknown, np.ones(20000), 30.0 + np.column_stack([unknown, unknown]))
    facts = [Fact(SPEED, value, 1.0) for value in (first, second)]
    found = conclude(["a"], unknown, drawn, facts)
    away = np.array([first - 30.0, second - 30.0])
    both = np.array([[1.25, 1.0], [1.0, 1.25]])
    exponent = -0.5 * away @ np.linalg.inv(both) @ away + 0.5 * away @ away / 1.25
    ratio = math.exp(exponent) * 1.25 / math.sqrt(np.linalg.det(both))
    assert (ratio < 0.1) == contradicts
    if contradicts:
        assert found.contradictions[0].ratio == pytest.approx(ratio, rel=1e-3)  # a sum over 20,000 places
    else:
        assert not found.contradictions


def test_a_fact_that_nothing_gives_is_named_and_left_alone():
    """property: alone it is wrong; beside two that agree it is the one that is named, and they decide."""
    unknown = ndtri((np.arange(8192) + 0.5) / 8192)[:, None]
    drawn = Drawn(unknown, np.ones(8192), 30.0 + np.column_stack([unknown] * 3))
    told = [Fact(SPEED, value, 0.5) for value in (30.9, 31.1, 45.0)]
    found = conclude(["a"], unknown, drawn, told)
    assert found.doubtful == (2,)
    assert found.finding("a").middle == pytest.approx(1.0, abs=0.05)  # pulled towards 0 by what was known before
    odd = conclude(["a"], unknown, drawn, [*told[:2], Fact(SPEED, 28.5, 0.5)])
    assert odd.doubtful == (2,)
    assert {(pair.first, pair.second) for pair in odd.contradictions} == {(0, 2), (1, 2)}


def test_too_few_samples_conclude_nothing():
    """property: below the stated number no values are given, and the sentence says so."""
    unknown = ndtri((np.arange(2048) + 0.5) / 2048)[:, None]
    drawn = Drawn(unknown, np.ones(2048), 30.0 + unknown)
    found = conclude(["a"], unknown, drawn, [Fact(SPEED, 31.0, 0.01)])
    assert not found.success
    assert found.effective < LEAST_EFFECTIVE
    assert found.findings == ()
    assert "too few to conclude: it takes 200" in found.message


def test_a_stop_keeps_the_stages_that_are_done():
    """property: the second stage is stopped; the first one counts, and none where the first is."""
    points = [spread_points(1, 256, seed) for seed in (1, 2)]
    answers = iter([lambda unknowns: 30.0 + unknowns, lambda _: None, lambda _: None])
    facts = [Fact(SPEED, 31.0, 1.0)]
    drawn = refined(lambda unknowns, _: next(answers)(unknowns), facts, points, 1)
    assert len(drawn.unknowns) == 256
    assert not drawn.complete
    assert refined(lambda unknowns, _: None, facts, points, 1) is None
