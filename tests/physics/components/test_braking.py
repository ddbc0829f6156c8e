"""The largest braking: hand-worked balances, and a moment balance about the other contact."""

import numpy as np
import pytest

from physics.components.braking import (
    BOTH,
    BRAKES,
    FRONT,
    FRONT_SLIDES,
    REAR,
    REAR_LIFTS,
    REAR_SLIDES,
    SLIDES,
    braking_limit,
)
from physics.components.load_transfer import Stance

G = 9.80665
BIKE = Stance(200.0, 1.4, 0.6, 0.65, 0.75)


def test_the_rear_lifts_hand_worked():
    """hand-worked: without drag and slope the rear lifts at g (w - b) / h = 9.80665 x 0.8 / 0.65 = 12.0697 m/s2."""
    limit = braking_limit(BIKE, 2.0)
    assert float(limit.force) / 200.0 == pytest.approx(12.0697, abs=5e-5)
    assert limit.end == REAR_LIFTS


def test_each_wheel_alone_hand_worked():
    """hand-worked, grip 0.8: front alone N_f (1.4 - 0.8 x 0.65) = 200 g x 0.6 -> F = 0.8 x 1176.798 / 0.88 =
    1069.816 N; rear alone F = 0.8 x 200 g x 0.8 / (1.4 + 0.52) = 653.777 N; both 0.8 x 200 g = 1569.064 N."""
    for brakes, force, end in (
        (FRONT, 1069.816, FRONT_SLIDES),
        (REAR, 653.777, REAR_SLIDES),
        (BOTH, 1569.064, SLIDES),
    ):
        limit = braking_limit(BIKE, 0.8, brakes)
        assert float(limit.force) == pytest.approx(force, abs=5e-4)
        assert limit.end == end


@pytest.mark.parametrize("brakes", BRAKES)
def test_balance_about_the_front_contact(brakes):
    """exact solution: at the limit the loads from moments about the front contact, mass, slope and drag in it, give
    just the grip or no rear load; 200 random bikes."""
    chance = np.random.default_rng(3)
    for _ in range(200):
        base, slope, grip, drag = (
            chance.uniform(1.2, 1.5),
            chance.uniform(-0.1, 0.1),
            chance.uniform(0.3, 1.4),
            90.0,
        )
        bike = Stance(
            chance.uniform(120, 280), base, chance.uniform(0.45, 0.8), chance.uniform(0.5, 0.75), 0.8, slope
        )
        force, end = (float(value) for value in braking_limit(bike, grip, brakes, drag))
        weight = bike.mass * G
        slowed = force + drag + weight * np.sin(slope)  # m times the deceleration
        ahead = base - bike.centre_of_gravity_to_rear_axle
        rear = weight * np.cos(slope) * ahead + bike.centre_of_gravity_height * (weight * np.sin(slope) - slowed)
        rear = (rear + drag * bike.drag_height) / base
        front = weight * np.cos(slope) - rear
        if end == REAR_LIFTS:
            assert rear == pytest.approx(0.0, abs=1e-6)
        else:
            load = {SLIDES: front + rear, FRONT_SLIDES: front, REAR_SLIDES: rear}[int(end)]
            assert force == pytest.approx(grip * load, abs=1e-6)
            assert rear >= -1e-6


def test_what_is_not_accepted():
    with pytest.raises(ValueError, match="brakes"):
        braking_limit(BIKE, 1.0, "left")
