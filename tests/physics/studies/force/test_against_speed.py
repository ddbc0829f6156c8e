"""Force against speed: each limit's own curve, the envelope under them, and the top speed."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from physics import limits
from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
from physics.build.batch import Batch
from physics.components.air import STANDARD_GRAVITY
from physics.simulation.run import run
from physics.studies.force import OWN_LIMITS, around_cap, force_against_speed
from physics.studies.force.stand import Stand
from tests.reference.builds import random_build

# An invented bike without losses: a stiff pack, a motor with next to no resistance, no iron or controller loss.
IDEAL = Build(
    Pack(20, 40.0, resistance=1e-5, protection=Protection(continuous_current=600.0, peak_current=900.0)),
    Motor(
        60.0,
        phase_resistance=1e-5,
        phase_inductance=1e-7,
        iron_loss_torque=0.0,
        iron_loss_damping=0.0,
        pole_pairs=5,
    ),
    Controller(150.0, 400.0, fixed_loss=0.0, loss_per_ampere=0.0, loss_resistance=0.0),
    Driveline(12, 48, efficiency=0.9),
    Bike(70.0, 80.0, drag_area=0.5, rolling_radius=0.25, hold_front_down=False, grip=math.inf),
    Conditions(charge=0.8),
)
SPEED = np.linspace(0.0, 60.0, 121)
PHASE, LINE, VOLTAGE, WEAKENING = range(4)


def test_phase_limit_is_flat_at_the_force_of_its_torque():
    """hand-worked: 60 rpm per volt is p flux = 60 / (3^(1/2) 2 pi 60) = 0.0918881 V s; torque 3/2 x 0.0918881 x
    400 A = 55.1329 N m, through 4 : 1 at 90 % on 0.25 m: 55.1329 x 4 x 0.9 / 0.25 = 793.91 N at every speed."""
    own = force_against_speed([IDEAL], SPEED).own[PHASE, 0]
    assert own == pytest.approx(np.full(SPEED.size, 793.91), abs=0.005)


def test_line_limit_is_a_hyperbola():
    """exact solution: without losses, force x speed is the pack's power at the line limit x 90 %."""
    found = force_against_speed([IDEAL], SPEED[1:])
    power = (found.own[LINE, 0] * SPEED[1:])[SPEED[1:] > 20.0]
    voltage = Stand(Batch.of(IDEAL)).rest[0]
    # 1.2e-4: some resistance there must be; at 20 m/s the winding loses 1.5 x 1e-5 ohm x (247 A)^2 = 0.9 W
    assert power == pytest.approx(np.full(power.size, 0.9 * voltage * 150.0), rel=1.2e-4)


def test_voltage_falls_to_the_unloaded_speed():
    """exact solution: without losses the voltage allows full force up to, and none beyond, the speed at which
    3^(1/2) x phase back-EMF is the pack's voltage: rpm = Kv U."""
    voltage = Stand(Batch.of(IDEAL)).rest[0]
    unloaded = 60.0 * voltage / 60 * 2 * math.pi * 0.25 / 4
    found = force_against_speed([IDEAL], [0.99 * unloaded, 1.01 * unloaded])
    below, above = found.own[VOLTAGE, 0]
    assert below > 5_000
    assert above == pytest.approx(0.0, abs=1e-6)


def test_lift_is_the_textbook_force():
    """published: V. Cossalter, Motorcycle Dynamics, chapter 3 (from memory): standing, without anything that spins
    or springs, the front lifts at a force of m g b / h."""
    bike = {"wheel_inertia": 0.0, "fork_sag": 0.0, "centre_of_gravity_to_rear_axle": 0.6, "wheelbase": 1.3}
    changes = {f"bike.{name}": value for name, value in bike.items()}
    still = IDEAL.change(changes | {"bike.centre_of_gravity_height": 0.7, "motor.rotor_inertia": 0.0,
                                    "bike.drag_area": 0.0, "bike.rolling_coefficient": 0.0,
                                    "bike.rolling_coefficient_speed_squared": 0.0})  # fmt: skip
    lift = force_against_speed([still], SPEED).own[OWN_LIMITS.index(limits.FRONT_WHEEL), 0]
    assert lift == pytest.approx(np.full(SPEED.size, 150 * STANDARD_GRAVITY * 0.6 / 0.7), rel=1e-9)


def test_top_speed_is_where_a_run_settles():
    """property, 0.1 %: of a pack that does not sag, the crossing is the speed at which a long run settles."""
    strong = IDEAL.change({"pack.capacity_ah": 2000.0, "motor.phase_resistance": 0.006,
                           "motor.phase_inductance": 1e-4, "controller.loss_resistance": 1e-3})  # fmt: skip
    builds = [
        strong,
        strong.change({"conditions.headwind": 5.0}),
        strong.change({"controller.speed_cap": 20.0}),
        strong.change({"controller.throttle": 0.4}),
    ]
    found = force_against_speed(builds, SPEED)
    settled = run(Batch.of(builds), 120.0).top_speed
    assert found.top_speed == pytest.approx(settled, rel=1e-3)


BUILDS = [random_build(seed) for seed in range(40)]
FOUND = force_against_speed(BUILDS, around_cap(SPEED, [build.controller.speed_cap for build in BUILDS]))


def test_the_envelope_lies_under_every_curve_and_on_that_of_the_limit_that_holds():
    """property: of 40 random builds no limit's own curve is below the envelope; where the limit that holds weakens
    no field, the envelope is its own curve. 2e-3: of the pack's charge transfer a line stands for the curve."""
    allowed = 2e-3 * np.abs(FOUND.force) + 0.5
    by_voltage = np.fmax(FOUND.own[VOLTAGE], FOUND.own[WEAKENING])
    for own in (FOUND.own[PHASE], FOUND.own[LINE], by_voltage):
        assert (np.isnan(own) | (own >= FOUND.force - allowed)).all()
    weakens = np.array([build.controller.field_weakening_current > 0 for build in BUILDS])[:, None]
    for place, limit in enumerate(OWN_LIMITS):
        if limit == limits.FIELD_WEAKENING:
            continue
        there = (FOUND.limit == limit) & (FOUND.own[place] > 0)
        if place in (PHASE, LINE, VOLTAGE):
            there &= ~weakens
        assert there.sum() > (3 if limit == limits.SPEED_CAP else 50)  # a cap holds within a fraction of a km/h
        assert (np.abs(FOUND.own[place] - FOUND.force) <= allowed)[there].all()


def test_top_speeds_are_those_of_a_root_finder():
    """exact solution: scipy's brentq on drive force less road load, one build at a time, within 0.1 %."""
    for index, build in enumerate(BUILDS[:12]):
        stand, throttle = Stand(Batch.of(build)), np.array([build.controller.throttle])

        def spare(speed: float, stand: Stand = stand, throttle: np.ndarray = throttle) -> float:
            at = np.array([speed])
            return float((stand.at(at, throttle).drive_force - stand.road_load(at))[0])

        top = FOUND.top_speed[index]
        if 0 < top < SPEED[-1]:
            low = SPEED[np.searchsorted(SPEED, top) - 1]
            assert top == pytest.approx(brentq(spare, low, low + 0.5), rel=1e-3)
        else:
            assert (spare(0.0) <= 0.0) if top == 0 else (spare(SPEED[-1]) > 0)


def test_speed_cap_lets_go_within_a_fraction_of_a_kilometre_per_hour():
    """hand-worked: 40 m/s2 x 0.05 s below the cap the cap allows 40 m/s2, at the cap what the road takes; nothing
    else of the ideal bike holds it there: 20 m/s is below its line limit's corner."""
    capped = IDEAL.change({"controller.speed_cap": 20.0})
    found = force_against_speed([capped], [10.0, 18.0, 20.0])
    own, road = found.own[OWN_LIMITS.index(limits.SPEED_CAP), 0], found.road_load[0]
    assert own[1] == pytest.approx(road[1] + 40.0 * found.mass[0], rel=1e-12)
    assert own[2] == pytest.approx(road[2], rel=1e-12)
    assert found.force[0, 2] == pytest.approx(road[2], rel=1e-9)
    assert limits.LIMITS[found.limit[0, 2]] == "speed cap"
    assert found.force[0, 0] < own[0]


def test_acceleration_is_the_gap_over_the_mass():
    """property: where nothing else is in the way, the run's first acceleration at full throttle is the gap's."""
    launch = IDEAL.change({"controller.throttle_ramp_time": 0.0})
    first = run(Batch.of(launch), 0.1).acceleration[0, 0]
    assert force_against_speed([launch], [0.0]).acceleration[0, 0] == pytest.approx(first, rel=1e-6)
