"""A kerb: statics of a wheel at a step, worked by hand."""

import numpy as np
import pytest

from physics.components.kerb import front_kerb, rear_kerb
from physics.components.load_transfer import Stance

STANCE = Stance(200.0, 1.4, 0.7, 0.7, 0.7, rolling_radius=0.3)


def test_hand_worked():
    """hand-worked: 200 kg in the middle of 1.4 m, radius 0.3 m, 800 N. Front: tan t = 800 x 1.4 / (1372.931 - 240)
    = 0.98859, cos t = 0.71116, 0.3 x 0.28884 = 0.0867 m. Rear: sin t = 1120 / (1372.931 + 240) = 0.69439, cos t =
    0.71960, 0.3 x 0.28040 = 0.0841 m."""
    assert front_kerb(STANCE, 800.0, np.inf) == pytest.approx(0.0867, abs=5e-5)
    assert rear_kerb(STANCE, 800.0, np.inf) == pytest.approx(0.0841, abs=5e-5)


def test_ends():
    """property: a force whose line passes above the axle's climbs any kerb up to it; none climbs none; a tyre of
    grip 0.5 stays on an edge up to tan t = 0.5, cos t = 2 / sqrt 5 (hand-worked: 0.3 x 0.10557 = 0.0317 m)."""
    assert front_kerb(STANCE, 5000.0, np.inf) == pytest.approx(0.3)
    assert front_kerb(STANCE, 0.0, 1.0) == rear_kerb(STANCE, 0.0, 1.0) == 0.0
    assert rear_kerb(STANCE, 1e5, 0.5) == pytest.approx(0.0317, abs=5e-5)


def test_forces_balance():
    """property: at the kerb found, the pushes sum to nothing along, upright and about the rear contact."""
    force = 600.0
    for kerb, rear in ((front_kerb(STANCE, force, np.inf), False), (rear_kerb(STANCE, force, np.inf), True)):
        angle = np.arccos(1.0 - kerb / 0.3)
        weight = 200.0 * 9.80665
        if rear:  # upright at the edge; the wheel's own moment is the drive's
            edge = force * 0.3 / (0.3 * np.sin(angle))
            assert edge * (1.4 - 0.3 * np.sin(angle)) == pytest.approx(weight * 0.7)
        else:
            edge = force / np.sin(angle)
            assert edge * np.cos(angle) * 1.4 + edge * np.sin(angle) * 0.3 == pytest.approx(weight * 0.7)
