"""Whole runs against what riders of such bikes report, on an invented build.

Common practice, no source: the bands below are what people who ride bikes of this kind tell each other, and the
build is invented to be such a bike. They do not prove an equation; they would show a factor of two, a forgotten
sag, or a pack that does not care about the cold. Bands are about 3 % of a speed and 10 % of a power.
"""

import numpy as np
import pytest

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
from physics.components.pack import charge_from_rest_voltage, rest_voltage
from physics.simulation.run import run

CELLS = 20


def bike_at(rest, **changes):
    """A 150 kg machine with rider tucked in, on 12-inch tyres, resting at a voltage just above freezing."""
    build = Build(
        Pack(CELLS, 20.0, resistance=0.045),
        Motor(75.0),
        Controller(225.0, 450.0, field_weakening_current=60.0),
        Driveline(13, 52),
        Bike(75.0, 75.0, drag_area=0.36, tyre="90/90-12"),
        Conditions(274.15, charge=float(charge_from_rest_voltage("nmc", CELLS, rest))),
    )
    return build.change(changes)


BIGGER_PACK = {
    "pack.capacity_ah": 30.0,
    "pack.resistance": 0.030,
    "pack.protection": Protection(300.0, 360.0, 10.0, overcurrent_law="square of current"),
    "controller.line_current_limit": 345.0,
    "controller.phase_current_limit": 800.0,
    "conditions.air_temperature": 293.15,
}

# so heavy and so strong that the line limit holds all the time
HEAVY = BIGGER_PACK | {
    "bike.bike_mass": 800.0,
    "motor.kv_rpm_per_volt": 110.0,
    "motor.phase_inductance": 10e-6,
    "controller.phase_current_limit": 1500.0,
}


def top_speed_km_h(build):
    return run(build, duration=40.0).top_speed[0] * 3.6


def test_a_full_pack_of_twenty_cells_rests_at_84_volts():
    assert float(rest_voltage("nmc", CELLS, 1.0)) == pytest.approx(84.0, abs=0.05)


def test_81_volts_is_relatively_full_and_77_is_not():
    full, lower = (float(charge_from_rest_voltage("nmc", CELLS, rest)) for rest in (81.0, 77.4))
    assert 0.75 < full < 0.95
    assert 0.5 < lower < full - 0.1


def test_a_small_pack_near_freezing_reaches_113_km_h_from_81_volts():
    assert top_speed_km_h(bike_at(81.0)) == pytest.approx(113.0, abs=3.0)


def test_77_volts_at_rest_are_too_few_for_the_same_speed():
    assert top_speed_km_h(bike_at(77.4)) < top_speed_km_h(bike_at(81.0)) - 1.5


def test_the_same_bike_is_faster_in_summer():
    warm = {"conditions.air_temperature": 298.15}
    assert top_speed_km_h(bike_at(81.0, **warm)) > top_speed_km_h(bike_at(81.0)) + 3.0


def test_a_30_amp_hour_pack_gives_25_kilowatts_for_ten_seconds():
    # held at its line limit by its weight; 345 A and 3 % overshoot are below the peak of 360 A
    build = bike_at(84.0, **HEAVY)
    result = run(build, duration=10.0, initial_speed=18.0)
    power = result.pack_voltage[0] * result.line_current[0]
    held = result.time > 0.5
    assert np.median(power[held]) == pytest.approx(25e3, rel=0.10)
    assert np.isnan(result.cut_out_time[0])


def test_the_same_demand_opens_the_protection_a_little_later():
    # the rule allows (360^2 - 300^2) / (355.35^2 - 300^2) x 10 s = 10.9 s at the limit with its overshoot
    build = bike_at(84.0, **HEAVY)
    result = run(build, duration=14.0, initial_speed=18.0)
    assert 10.5 < result.cut_out_time[0] < 12.5


def test_a_few_teeth_fewer_at_the_rear_pass_129_km_h():
    speeds = [top_speed_km_h(bike_at(84.0, **BIGGER_PACK, **{"driveline.rear_teeth": teeth})) for teeth in (44, 40)]
    assert 120.0 < speeds[0] < 129.0 < speeds[1] < 140.0
