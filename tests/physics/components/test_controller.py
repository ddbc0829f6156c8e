"""The controller: throttle, foldbacks, the line limit against the pack's line, losses."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from physics.components.controller import (
    MAXIMUM_POWER_FRACTION,
    controller_loss,
    foldback,
    line_limit_current,
    quadrature_current_for_power,
    throttle_position,
)


@pytest.mark.parametrize(
    ("time", "held", "ramp", "expected"),
    [
        (0.0, 1.0, 0.3, 0.0), (0.15, 1.0, 0.3, 0.5), (0.3, 1.0, 0.3, 1.0), (9.0, 1.0, 0.3, 1.0),
        (0.15, 0.4, 0.3, 0.4), (0.06, 0.4, 0.3, 0.2), (0.0, 0.8, 0.0, 0.8), (5.0, 0.8, 0.0, 0.8),
        (1.0, 0.0, 0.0, 0.0),
    ],
)  # fmt: skip
def test_throttle_ramp(time, held, ramp, expected):
    """hand-worked: full travel in the ramp time; it stops where it is held; without a ramp it is there at once."""
    assert throttle_position(time, held, ramp) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("value", "start", "end", "left"),
    [
        (70.0, 80.0, 100.0, 1.0), (80.0, 80.0, 100.0, 1.0), (85.0, 80.0, 100.0, 0.75), (95.0, 80.0, 100.0, 0.25),
        (100.0, 80.0, 100.0, 0.0), (130.0, 80.0, 100.0, 0.0),  # folds as the value rises, as for heat
        (82.0, 80.0, 60.0, 1.0), (75.0, 80.0, 60.0, 0.75), (60.0, 80.0, 60.0, 0.0), (10.0, 80.0, 60.0, 0.0),
        (5.0, 0.0, 0.0, 1.0), (-5.0, 0.0, 0.0, 1.0),  # equal: no foldback
    ],
)  # fmt: skip
def test_foldback(value, start, end, left):
    """hand-worked: the whole limit up to the start, nothing from the end, a straight line between."""
    assert foldback(value, start, end) == pytest.approx(left, abs=1e-12)


def test_line_limit_without_foldback():
    """hand-worked: 80 V and 50 milliohm: 760 A are 0.95 of 80 / (2 x 0.05) = 800 A, the most."""
    current, folding, starved = line_limit_current(80.0, 0.05, np.array([200.0, 760.0, 900.0]), 0.0, 0.0)
    assert current == pytest.approx([200.0, 760.0, 760.0])
    assert not folding.any()
    assert starved.tolist() == [False, False, True]


def test_line_limit_with_foldback():
    """hand-worked: 400 A folding from 80 to 60 V: I = 400 (E - 60) / (20 + 0.05 x 400) = 10 (E - 60) below 80 V.
    E = 84 V: 240 A at 72 V. E = 105 V: 85 V at 400 A, no folding. E = 60 V or less: nothing.
    """
    current, folding, starved = line_limit_current(np.array([84.0, 105.0, 60.0, 50.0]), 0.05, 400.0, 80.0, 60.0)
    assert current == pytest.approx([240.0, 400.0, 0.0, 0.0])
    assert folding.tolist() == [True, False, True, True]
    assert not starved.any()


@settings(deadline=None, max_examples=300)
@given(
    st.floats(5.0, 500.0), st.floats(1e-4, 0.5), st.floats(1.0, 2000.0), st.floats(0.0, 1.2), st.floats(0.01, 0.6)
)
def test_line_limit_against_a_root_finder(rest, resistance, limit, end_share, width_share):
    """exact solution: scipy's brentq on U = E - R limit share(U), whose right side falls as U rises.

    A part in 1e9 of the voltage: brentq's own tolerance.
    """
    end = end_share * rest
    start = end + width_share * rest
    most = MAXIMUM_POWER_FRACTION * rest / (2 * resistance)

    def line(voltage):
        return limit * min(max((voltage - end) / (start - end), 0.0), 1.0)

    assume(rest - resistance * limit > -1e3 * rest)
    voltage = brentq(lambda u: rest - resistance * line(u) - u, -2e3 * rest, rest + 1.0, xtol=1e-12, rtol=1e-14)
    current, folding, starved = line_limit_current(rest, resistance, limit, start, end)
    held = (rest - voltage) / resistance
    assert current == pytest.approx(min(held, most), rel=1e-7, abs=1e-9 * rest / resistance)
    if abs(held - most) > 1e-6 * most:
        assert bool(starved) == (held > most)
    if abs(voltage - start) > 1e-6 * start and held < most:
        assert bool(folding) == (voltage < start)


def test_controller_loss():
    """hand-worked: 15 W + 0.2 x 300 A + 1.5 milliohm x 300^2 A^2 = 15 + 60 + 135 = 210 W; 15 W at no current."""
    assert controller_loss(15.0, 0.2, 1.5e-3, np.array([300.0, 0.0])) == pytest.approx([210.0, 15.0])


@pytest.mark.parametrize(
    ("power", "square", "linear", "current"),
    [(12.0, 1.0, 1.0, 3.0), (0.0, 1.0, 1.0, 0.0), (100.0, 0.0, 20.0, 5.0), (250.0, 0.1, 0.0, 50.0)],
)
def test_current_for_a_power(power, square, linear, current):
    """hand-worked: 9 + 3 = 12; nothing for nothing; 100 / 20; sqrt(250 / 0.1). 1e-9: the guard against 0 / 0."""
    assert quadrature_current_for_power(power, square, linear) == pytest.approx(current, rel=1e-9, abs=1e-9)


@settings(deadline=None, max_examples=300)
@given(st.floats(0.0, 1e6), st.floats(1e-9, 1.0), st.floats(1e-3, 500.0))
def test_current_for_a_power_uses_that_power(power, square, linear):
    """property: square i^2 + linear i gives the power back, also where one part is far below the other.

    1e-8: the guard of 1e-12 V beside a linear part of 1 mV or more.
    """
    current = quadrature_current_for_power(power, square, linear)
    assert current >= 0
    assert (square * current + linear) * current == pytest.approx(power, rel=1e-8)


def test_arrays_broadcast():
    """property: a column against a row is a table, each element as it would be alone."""
    rest, limit = np.array([[40.0], [80.0]]), np.array([50.0, 400.0, 900.0])
    table = line_limit_current(rest, 0.05, limit, 70.0, 60.0)
    for place in np.ndindex(2, 3):
        alone = line_limit_current(rest[place[0], 0], 0.05, limit[place[1]], 70.0, 60.0)
        assert [values[place] for values in table] == [float(value) for value in alone]
    assert throttle_position(np.zeros((3, 1)), np.ones(2), 0.3).shape == (3, 2)
