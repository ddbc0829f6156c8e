"""The way home as advice: whoever turns back where it says gets home without a cut-out, were all as much worse."""

import numpy as np
import pytest

from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from physics.build import example_build
from physics.build.batch import Batch
from physics.components import pack
from physics.scenarios.cruise import cruise
from physics.scenarios.state import BikeState, run_from
from physics.studies.day.way_home import PULLING_AWAY, STOP_EVERY, Way, way_home
from physics.studies.uncertainty.tolerance import default_tolerances
from physics.studies.uncertainty.worse import worse_cases

WAYS = [Way(4000.0, 11.0), Way(6000.0, 15.0, headwind=3.0), Way(3000.0, 10.0, slope=0.03)]


@pytest.mark.parametrize("way", WAYS, ids=str)
@pytest.mark.parametrize("preset", PRESETS)
def test_nobody_is_left_on_the_way(preset, way):
    """property: the whole way simulated from the voltage to turn back at, in every worse case: the protection stays
    closed and the speed is held."""
    build = make_build(PRESETS[preset].values())
    answer = way_home(build, way)
    assert answer.reachable
    day = {"conditions.charge": answer.charge, "conditions.slope": way.slope, "conditions.headwind": way.headwind}
    entered = Batch.of(build).change(day | {"controller.throttle_ramp_time": 0.0})
    batch = Batch.join([case.applied(entered) for case in worse_cases(default_tolerances(build), both_ends=False)])
    batch = batch.change({"controller.speed_cap": way.speed})
    speed = np.full(len(batch), way.speed)
    run = run_from(batch, BikeState.rested(batch), way.distance / way.speed, speed, 60)
    assert np.isnan(run.cut_out_time).all()
    assert (run.speed[:, -1] > 0.97 * way.speed).all()
    assert (run.charge[:, -1] >= 0.0).all()


def test_energy_of_the_way():
    """exact solution: what lies between both charges at rest voltage is what the way takes, stops included, to 1 %:
    the energy for each metre changes a little with charge."""
    build = example_build().change({"conditions.charge": 0.9})
    for share in (0.0, 0.5):
        way = Way(8000.0, 12.0, stop_share=share)
        answer = way_home(build, way, [])
        between = pack.energy_content("nmc", 24, 26.0, answer.charge, answer.reserve_charge)
        middle = build.change({"conditions.charge": 0.5 * (answer.charge + answer.reserve_charge)})
        steady = float(cruise(middle, 12.0)[0][0])
        mass = float(Batch.of(build).stance().equivalent_mass[0])
        stops = share * way.distance / STOP_EVERY * 0.5 * mass * 12.0**2 / PULLING_AWAY
        assert float(between) == pytest.approx(steady * way.distance + stops, rel=0.01)
        assert answer.power == pytest.approx(answer.energy_per_metre * 12.0, rel=1e-9)


def test_reserve_hand_worked():
    """hand-worked: an under-voltage rule of 3.6 V, no sag to speak of: the weakest cell, 2 % behind, must rest at
    3.6 V; so the pack is 2 % above the charge of 3.6 V. A hundredth of that charge's step of the table may be lost.
    """
    build = example_build().change({"pack.protection.cell_undervoltage": 3.6, "pack.resistance": 1e-5})
    answer = way_home(build, Way(1000.0, 5.0), [])
    weakest = float(pack.charge_from_rest_voltage("nmc", 1, 3.6))
    assert answer.reserve_charge == pytest.approx(weakest + 0.02, abs=0.02)
    assert answer.reserve_charge >= weakest + 0.02


def test_worse_is_never_less():
    """property: farther, faster than walking pace, uphill, against the wind and with stops never ask for less."""
    build = make_build(PRESETS["supermoto"].values())
    plain = way_home(build, Way(5000.0, 12.0))
    for worse in (
        Way(8000.0, 12.0), Way(5000.0, 16.0), Way(5000.0, 12.0, slope=0.02), Way(5000.0, 12.0, headwind=4.0),
        Way(5000.0, 12.0, stop_share=0.5),
    ):  # fmt: skip
        assert way_home(build, worse).charge >= plain.charge
    assert way_home(build, Way(5000.0, 12.0), []).charge < plain.charge
    assert np.all(np.diff(plain.ranges) >= 0)
    assert np.all(plain.ranges <= plain.ranges_entered)


def test_ways_too_far_too_fast_and_not_accepted():
    """property: no charge is enough; nothing is said to be in range."""
    build = make_build(PRESETS["trail"].values())
    assert not way_home(build, Way(500e3, 12.0)).reachable
    fast = way_home(build, Way(1000.0, 45.0))
    assert (fast.reachable, fast.range_now) == (False, 0.0)
    cold = build.change({"pack.protection.discharge_temperature_minimum": 290.0})
    assert not way_home(cold, Way(1000.0, 10.0)).reachable
    with pytest.raises(ValueError, match="distance"):
        Way(0.0, 10.0)
