"""The fitting path: certified answers, exact lines, honest spread."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from physics.fitting import result as fit_result
from physics.fitting.regression import autocorrelation_time, linear_fit
from tests.published.nist_strd import NO_INTERCEPT_1, NO_INTERCEPT_2, NORRIS


def _design(case):
    x = np.array(case["x"], float)
    return x if len(case["values"]) == 1 else np.column_stack([np.ones_like(x), x])


@pytest.mark.parametrize("case", [NO_INTERCEPT_1, NO_INTERCEPT_2, NORRIS], ids=["NoInt1", "NoInt2", "Norris"])
def test_nist_certified_values(case):
    """published: NIST StRD linear least squares, certified to 15 digits.

    The tolerance is 1e-12 of the value: double precision carries 16 digits, and the subtraction in the
    residuals and a design condition near 3 cost the last few.
    """
    names = ("slope",) if len(case["values"]) == 1 else ("intercept", "slope")
    fit = linear_fit(_design(case), case["y"], names)
    assert fit.values == pytest.approx(case["values"], rel=1e-12)
    assert fit.standard_error == pytest.approx(case["standard_error"], rel=1e-12)
    assert fit.residual_standard_deviation == pytest.approx(case["residual_standard_deviation"], rel=1e-12)
    assert fit.n == len(case["x"]) == fit.effective_n


def test_interval_uses_student_t():
    """hand-worked: NoInt2 has 2 degrees of freedom; Student's t at 0.975 is 4.303 (any printed t table)."""
    fit = linear_fit(NO_INTERCEPT_2["x"], NO_INTERCEPT_2["y"], ("slope",))
    low, high = fit.bounds("slope")
    assert (high - low) / 2 / fit.error("slope") == pytest.approx(4.303, abs=0.0005)
    assert (low + high) / 2 == pytest.approx(fit.value("slope"))


@given(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3).filter(lambda b: abs(b) > 1e-3), st.integers(4, 60))
@settings(max_examples=60, deadline=None)
@pytest.mark.parametrize("loss", ["linear", "soft_l1"])
def test_exact_line_comes_back(loss, intercept, slope, n):
    """property: readings on a line give the line, whatever the loss."""
    x = np.linspace(1.0, 20.0, n)
    fit = linear_fit(np.column_stack([np.ones(n), x]), intercept + slope * x, ("intercept", "slope"), loss=loss)
    size = abs(intercept) + 20 * abs(slope)
    assert fit.values == pytest.approx([intercept, slope], abs=1e-9 * size)


def test_robust_loss_shrugs_off_outliers():
    """property: one reading in ten off by fifty spreads moves the robust slope by far less than the plain one."""
    rng = np.random.default_rng(3)
    x = np.linspace(0, 10, 200)
    y = 1.0 + 2.0 * x + rng.normal(0, 0.1, 200)
    y[::10] += 5.0
    design = np.column_stack([np.ones(200), x])
    plain = linear_fit(design, y, ("intercept", "slope"))
    robust = linear_fit(design, y, ("intercept", "slope"), loss="soft_l1")
    assert abs(robust.value("intercept") - 1.0) < 0.3 * abs(plain.value("intercept") - 1.0)
    assert robust.error("slope") < plain.error("slope")


def test_autocorrelation_time_of_a_first_order_series():
    """exact solution: for x_t = r x_(t-1) + noise, tau = (1 + r) / (1 - r).

    Bartlett's result, as in Thiebaux and Zwiers 1984; 25 % because tau itself is estimated from 20 000 values
    over a window of five times tau, whose own spread is about 3 tau (window / n)^0.5, 15 % at r = 0.9.
    """
    rng = np.random.default_rng(1)
    for r in (0.0, 0.5, 0.9):
        noise = rng.normal(size=20_000)
        x = np.empty_like(noise)
        x[0] = noise[0]
        for i in range(1, x.size):
            x[i] = r * x[i - 1] + noise[i]
        assert autocorrelation_time(x) == pytest.approx((1 + r) / (1 - r), rel=0.25)


def test_correlated_readings_widen_the_interval():
    """property: each reading repeated ten times must not look ten times as sure. Half of 40 standard errors lie
    above and half below that of the single readings, 15 % (one alone is only good to about 60 %)."""
    rng = np.random.default_rng(5)
    x = np.repeat(np.linspace(0, 1, 60), 10)
    design = np.column_stack([np.ones(600), x])
    ratios = []
    for _ in range(40):
        y = 1.0 + x + np.repeat(rng.normal(0, 0.1, 60), 10)
        honest = linear_fit(design, y, ("a", "b"), in_time_order=True)
        single = linear_fit(design[::10], y[::10], ("a", "b"))
        ratios.append(honest.error("b") / single.error("b"))
    assert np.median(ratios) == pytest.approx(1.0, abs=0.15)


def test_it_says_when_it_cannot_tell():
    """hand-worked: too few, all alike, and pure noise are three plain refusals."""
    assert linear_fit([1.0], [1.0], ("slope",)).status == fit_result.TOO_FEW
    flat = linear_fit(np.ones((9, 2)), np.arange(9.0), ("a", "b"))
    assert flat.status == fit_result.CANNOT_TELL
    assert np.isnan(flat.values).all()
    assert not flat.success
    zero = linear_fit(np.zeros(9), np.arange(9.0), ("a",))
    assert zero.status == fit_result.CANNOT_TELL
    noise = np.random.default_rng(2).normal(size=200)
    vague = linear_fit(np.linspace(0, 1, 200), noise, ("slope",))
    assert vague.status == fit_result.CANNOT_TELL
    assert "slope" in vague.message


def test_strong_correlation_is_named():
    """hand-worked: intercept and slope far from the origin are tied together."""
    x = np.linspace(100.0, 101.0, 50)
    y = 500.0 + 3.0 * x + np.random.default_rng(0).normal(0, 0.001, 50)
    fit = linear_fit(np.column_stack([np.ones(50), x]), y, ("intercept", "slope"))
    assert fit.status == fit_result.FITTED_BUT_CORRELATED
    assert fit.correlated[0][:2] == ("intercept", "slope")
    assert fit.correlated[0][2] < -0.99


def test_wrong_arguments_are_named():
    """hand-worked: shapes, losses and names are checked with a sentence."""
    with pytest.raises(ValueError, match="accepted are 'linear'"):
        linear_fit([1.0], [1.0], ("a",), loss="huber")
    with pytest.raises(ValueError, match="shape"):
        linear_fit(np.ones((3, 2)), np.ones(3), ("a",))
    with pytest.raises(KeyError, match="slope"):
        linear_fit([1.0, 2.0], [1.0, 2.0], ("slope",)).value("intercept")
