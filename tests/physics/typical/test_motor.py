"""Typical motors: published scaling laws and machines, hand-worked values, and properties."""

import numpy as np
import pytest

from physics.components.motor import no_load_speed, torque_constant
from physics.typical import motor

# A light open machine: M. Budinger et al., Aerospace Science and Technology 98 (2020) 105658, its reference as
# carried by the authors' public course (multirotor, motor selection): torque per ampere of the direct current,
# resistance between two wires, mass, friction torque without load at nominal speed.
OPEN_MACHINE = {"torque_constant": 0.03, "resistance": 0.03, "mass": 0.575, "friction": 0.03, "torque": 2.32}
# The same machine at 1.0 N m, as printed there: friction 0.014582965, mass 0.279506833, and R 0.044890827 at K
# 0.020117619.
SMALLER = {"torque": 1.0, "mass": 0.279506833, "friction": 0.014582965, "R": 0.044890827, "K": 0.020117619}


def test_resistance_goes_with_size_and_winding_as_published():
    """published: ratio of resistances of the two machines, at their own torque constants."""
    kv = [60 / (2 * np.pi * value) for value in (OPEN_MACHINE["torque_constant"], SMALLER["K"])]
    large, small = (
        motor.phase_resistance(one, mass).middle for one, mass in zip(kv, (0.575, SMALLER["mass"]), strict=True)
    )
    assert small / large == pytest.approx(SMALLER["R"] / OPEN_MACHINE["resistance"], rel=1e-6)


def test_friction_goes_with_mass_as_published():
    """published: ratio of the friction torques of the two machines, and the value itself.

    The published friction is at a nominal speed that is not printed with it; 500 rad/s stands for it, hence 20 %.
    """
    large, small = (motor.iron_loss(one["mass"]) for one in (OPEN_MACHINE, SMALLER))
    assert small[0] / large[0] == pytest.approx(SMALLER["friction"] / OPEN_MACHINE["friction"], rel=1e-6)
    assert large[0] + 500.0 * large[1] == pytest.approx(OPEN_MACHINE["friction"], rel=0.2)


def test_the_light_machine_is_the_upper_end():
    """published: motor constant 0.03 / sqrt(0.03) N m/W^0.5 at 0.575 kg, the upper end of the rule within 2 %.

    2 %: the end is a round share of the middle.
    """
    constant = OPEN_MACHINE["torque_constant"] / np.sqrt(OPEN_MACHINE["resistance"])
    assert motor.motor_constant(OPEN_MACHINE["mass"]).high == pytest.approx(constant, rel=0.02)


def test_a_published_car_motor_lies_inside():
    """published: 80 kW from 58 kg (a car's motor of 2011, public page on motor mass)."""
    low, _, high = motor.mass_from_power(80e3)
    assert low < 58.0 < high


def test_rated_power():
    """hand-worked: 30 kW for ever goes with 55 kW for 18 s, 55000 / 1300 = 42.31 kg."""
    assert motor.mass_from_rated_power(30e3).middle == pytest.approx(42.31, abs=0.005)


def test_speed_constant_from_an_unloaded_motor():
    """exact solution: the inverse of the no-load speed; 6000 rpm at 80 V are 75 rpm/V."""
    speed = no_load_speed(np.array([40.0, 75.0]), 80.0, 0.95)
    assert motor.kv_from_speed(speed, 80.0, 0.95) == pytest.approx([40.0, 75.0], rel=1e-14)
    assert motor.kv_from_speed(6000 * np.pi / 30, 80.0) == pytest.approx(75.0, rel=1e-14)


def test_speed_constant_from_the_stand():
    """hand-worked: 115.92 km/h at 0.25 m: 128.8 rad/s, times 14/3 601.07 rad/s, 5739.8 rpm; over 82 V 70.0."""
    assert motor.kv_from_stand(115.92 / 3.6, 82.0, 14 / 3, 0.25) == pytest.approx(70.0, abs=0.05)


def test_speed_constant_from_a_pull():
    """published: 0.0827 N m a peak ampere at 100 rpm/V (trade tables of sine motors); 300 A, 5 to 1, 0.3 m."""
    force = 0.0827 * 300.0 * 5.0 * 0.96 / 0.3
    assert motor.kv_from_pull(force, 300.0, 5.0, 0.3, 0.96) == pytest.approx(100.0, abs=0.05)


def test_winding_at_a_given_size():
    """property: resistance and inductance with 1 / Kv^2; the motor constant stays, whatever the winding."""
    kv = np.geomspace(10.0, 200.0, 7)
    for rule in (motor.phase_resistance, motor.phase_inductance):
        for value in rule(kv, 8.0):
            assert value * kv**2 == pytest.approx(np.full(7, value[0] * kv[0] ** 2))
    resistance = motor.phase_resistance(kv, 8.0).middle
    constant = torque_constant(kv) / np.sqrt(1.5 * resistance)
    assert constant == pytest.approx(np.full(7, motor.motor_constant(8.0).middle))


@pytest.mark.parametrize(
    ("rule", "power"),
    [
        (lambda mass: motor.motor_constant(mass).middle, 5 / 6),
        (lambda mass: motor.phase_resistance(60.0, mass).middle, -5 / 3),
        (lambda mass: motor.phase_inductance(60.0, mass).middle, -1.0),
        (lambda mass: motor.rotor_inertia(mass).middle, 5 / 3),
        (lambda mass: motor.heat_capacities(mass)[1], 1.0),
        (lambda mass: motor.heat_paths(mass)[1], 2 / 3),
    ],
)
def test_size(rule, power):
    """published: l^2.5, l^-5, l^5, l^3, l^2 at a mass of l^3, equations (1) to (6); L / flux^2 = l^-3."""
    assert rule(8 * 6.0) / rule(6.0) == pytest.approx(8.0**power)


def test_heat_capacity():
    """hand-worked: 10 kg of 0.2 copper, 0.6 iron, 0.2 aluminium: 2 x 385 = 770; 6 x 449 + 2 x 897 = 4488 J/K."""
    assert motor.heat_capacities(10.0) == pytest.approx((770.0, 4488.0))


@pytest.mark.parametrize("mass", [2.0, 10.0, 40.0])
def test_ends_enclose_the_middle(mass):
    """property: low < middle < high for every rule that has ends."""
    for low, middle, high in (
        motor.mass_from_power(1000.0 * mass), motor.motor_constant(mass), motor.phase_resistance(60.0, mass),
        motor.phase_inductance(60.0, mass), motor.rotor_inertia(mass),
    ):  # fmt: skip
        assert 0 < low < middle < high
