"""A bike's balance from its wheels' loads."""

import numpy as np
import pytest

from physics.typical.bike import balance_point


def test_balance_point():
    """hand-worked: 52 of 120 kg on the front wheel, wheelbase 1.38 m: 1.38 x 52 / 120 = 0.598 m."""
    assert balance_point(52.0, 68.0, 1.38) == pytest.approx(0.598)


def test_the_ends():
    """property: all on the rear wheel, all on the front; kilograms or newtons alike."""
    assert balance_point(np.array([0.0, 80.0]), np.array([80.0, 0.0]), 1.4).tolist() == [0.0, 1.4]
    assert balance_point(52.0 * 9.80665, 68.0 * 9.80665, 1.38) == pytest.approx(balance_point(52.0, 68.0, 1.38))
