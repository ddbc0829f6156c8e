"""Ratings of tyre, controller and motor against what a speed asks for."""

import math

import pytest

from physics.build import Bike, Build, Controller, Driveline, Motor, Pack
from physics.studies.speed_ratings import RATINGS, speed_ratings

BUILD = Build(
    Pack(20, 40.0), Motor(60.0, pole_pairs=5),
    Controller(200.0, 400.0, voltage_maximum=90.0), Driveline(12, 48),
    Bike(120.0, 80.0, tyre="110/70-17 54H", rolling_radius=0.3, wheelbase=1.4, centre_of_gravity_to_rear_axle=0.7),
)  # fmt: skip


def test_what_a_speed_asks_for():
    """hand-worked: 30 m/s at 0.3 m and 4:1 are 400 rad/s or 3819.7 rpm at the motor: 63.66 V at 60 rpm/V, 318.3 Hz
    with 5 pole pairs. 20 cells of 4.2 V are 84 V; half of 200 kg stands on the rear wheel."""
    asked = speed_ratings(BUILD, 30.0)
    assert tuple(asked) == RATINGS
    values = [asked[name].value for name in RATINGS]
    assert values == pytest.approx([30.0, 100.0, 84.0, 63.66, 318.3], abs=0.05)


def test_limits_that_are_known():
    """published: load index 54 carries 212 kg and symbol H allows 210 km/h, UN Regulation No. 75, second-hand."""
    asked = speed_ratings(BUILD, 30.0)
    limits = [asked[name].limit for name in RATINGS]
    assert limits == pytest.approx([210 / 3.6, 212.0, 90.0, 90.0, math.inf])
    assert not any(rating.passed for rating in asked.values())


@pytest.mark.parametrize(
    ("changes", "speed", "passed"),
    [
        ({}, 58.5, ["tyre speed", "back-EMF"]),  # 124.1 V, and 210.6 km/h
        ({}, 43.0, ["back-EMF"]),  # 91.2 V
        ({"controller.back_emf_maximum": 130.0}, 43.0, []),
        ({"controller.back_emf_maximum": 60.0}, 30.0, ["back-EMF"]),
        ({"controller.voltage_maximum": 80.0}, 30.0, ["pack voltage"]),
        ({"pack.chemistry": "lfp", "controller.voltage_maximum": 80.0}, 30.0, []),  # 20 x 3.6 V
        ({"controller.electrical_frequency_maximum": 300.0}, 30.0, ["electrical frequency"]),
        ({"bike.tyre": "70/100-17 36M"}, 30.0, []),  # 125 kg
        ({"bike.tyre": "70/100-17 30M", "bike.bike_mass": 140.0}, 30.0, ["tyre load"]),  # 110 kg on 106
        ({"bike.tyre": "580 mm"}, 80.0, ["back-EMF"]),
    ],
)
def test_ratings_that_are_passed(changes, speed, passed):
    """hand-worked: by the arithmetic of the first test."""
    asked = speed_ratings(BUILD.change(changes), speed)
    assert [name for name in RATINGS if asked[name].passed] == passed
