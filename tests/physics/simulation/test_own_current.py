"""The current of a machine whose flux depends on it: against roots that are known, and against scipy's.

Exact solution: each function has a root in closed form, or one that scipy's brentq finds.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq

from physics.simulation.own_current import CLOSE, at_own_current


def root(function, start, most):
    start, most = np.atleast_1d(np.asarray(start, float)), np.atleast_1d(np.asarray(most, float))
    return at_own_current(lambda at: SimpleNamespace(i_q=function(at)), start, most)[0].i_q


def test_what_does_not_depend_on_its_current_is_found_at_once():
    assert root(lambda at: np.array([0.0, 40.0, 100.0]) + 0 * at, np.zeros(3), np.full(3, 100.0)).tolist() == [
        0,
        40,
        100,
    ]


@pytest.mark.parametrize("start", [0.0, 50.0, 200.0])
def test_a_quadratic(start):
    # i (1 + i / 50) = 100: i = 25 (sqrt(9) - 1) = 50
    assert root(lambda at: 100.0 / (1 + at / 50.0), start, 200.0) == pytest.approx([50.0], abs=200.0 * CLOSE)


@pytest.mark.parametrize("steep", [0.5, 3.0, 40.0])
def test_steep_ones_and_ones_with_corners_against_brentq(steep):
    def function(at):
        return np.clip(120.0 - steep * (at - 70.0), 10.0, 150.0)

    expected = brentq(lambda at: float(function(at)) - at, 0.0, 200.0, xtol=1e-12)
    assert root(function, 0.0, 200.0) == pytest.approx([expected], abs=(1 + steep) * 200.0 * CLOSE)


def test_many_at_once_are_each_alone():
    ends = np.linspace(1.0, 400.0, 50)
    many = root(lambda at: ends / np.sqrt(1 + (at / 100.0) ** 2), np.zeros(50), ends)
    for place in range(0, 50, 7):
        end = ends[place]
        alone = brentq(lambda at, end=end: end / np.sqrt(1 + (at / 100.0) ** 2) - at, 0.0, end, xtol=1e-12)
        assert many[place] == pytest.approx(alone, abs=3 * end * CLOSE)


def test_where_there_is_no_current_none_is_found():
    """exact solution: a motor whose torque table is zero everywhere."""
    assert root(lambda at: 0.0 * at, 0.0, 0.0).tolist() == [0.0]


def test_a_smooth_one_is_there_after_a_pair_and_one_more():
    """exact solution: the root of `test_a_quadratic` from 0.4 % beside it: Newton's error is the square of that."""
    asked = []

    def function(at):
        asked.append(at.shape)
        return 100.0 / (1 + at / 50.0)

    assert root(function, 50.2, 200.0) == pytest.approx([50.0], abs=200.0 * CLOSE)
    assert asked == [(2, 1), (1,)]
