"""Batches: builds as arrays, variations of one build, typical values, and a batch of one against a single build."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
from physics.build.batch import NUMBER_PATHS, Batch, build_columns
from physics.build.fields import BuildError
from physics.simulation.run import run
from tests.reference.builds import random_build

BUILD = Build(
    Pack(24, 26.0),
    Motor(60.0),
    Controller(200.0, 400.0),
    Driveline(12, 56),
    Bike(120.0, 75.0),
    Conditions(air_temperature=279.15),
)
TABLE = ((0.0, 40.0), (300.0, 40.0), (500.0, 0.0))


def mean_cell_voltage(key):
    """Trapezoid over a published open-circuit table as it stands in the file."""
    path = Path(__file__).parents[3] / "physics" / "components" / "data" / "open_circuit_voltage.csv"
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    return np.trapezoid([float(row[key]) for row in rows], [float(row["charge"]) for row in rows])


def test_typical_values_are_worked_out():
    """hand-worked: 24 cells of 26 Ah nmc: 24 x 0.08 ohm Ah / 26 Ah; mass from 210 Wh/kg; 1040 J/(kg K); a cube of
    2000 kg/m3, cells 0.75 of its mass, 10 W/(m2 K). Numbers from physics/components/data/cell_constants.csv.
    """
    batch = Batch.of(BUILD)
    mass = mean_cell_voltage("nmc") * 24 * 26 / 210
    assert batch["pack.resistance"] == pytest.approx([24 * 0.08 / 26])
    assert batch["pack.heat_capacity"] == pytest.approx([mass * 1040], rel=1e-9)
    assert batch["pack.thermal_conductance"] == pytest.approx([60 * (mass / 0.75 / 2000) ** (2 / 3)], rel=1e-9)
    for part in ("pack", "motor", "controller"):
        assert batch[f"conditions.{part}_temperature"] == pytest.approx([279.15])


def test_rolling_radius_from_the_tyre_code():
    """hand-worked: 110/70-17 is (432 + 2 x 77) / 2 = 293 mm free; it rolls at 0.975 of that."""
    assert Batch.of(BUILD)["bike.rolling_radius"] == pytest.approx([0.293 * 0.975], abs=1e-9)
    varied = Batch.vary(BUILD, {"pack.capacity_ah": [20.0, 30.0]})
    assert varied["bike.rolling_radius"] == pytest.approx([0.293 * 0.975] * 2, abs=1e-9)


def test_given_values_are_left_alone():
    """hand-worked: what the rider knows is not overwritten."""
    known = {"pack.resistance": 0.09, "pack.heat_capacity": 5e3, "bike.rolling_radius": 0.3}
    batch = Batch.of(BUILD.change({**known, "conditions.motor_temperature": 350.0}))
    for path, value in known.items():
        assert batch[path] == pytest.approx([value])
    assert batch["conditions.motor_temperature"] == pytest.approx([350.0])
    assert batch["conditions.controller_temperature"] == pytest.approx([279.15])


def test_nothing_is_missing_in_a_batch():
    """property: no NaN in any column of 100 random builds."""
    batch = Batch.of([random_build(seed) for seed in range(100)])
    for path in NUMBER_PATHS:
        assert batch[path].shape == (100,)
        assert not np.isnan(batch[path]).any()


# ----- of, vary, join, take


def test_of_one_several_and_a_batch():
    """hand-worked: one build, two builds, a batch comes back as it is."""
    other = BUILD.change({"pack.chemistry": "lfp", "bike.hold_front_down": False, "motor.torque_table": TABLE})
    both = Batch.of([BUILD, other])
    assert len(Batch.of(BUILD)) == 1
    assert len(both) == 2
    assert Batch.of(both) is both
    assert both.chemistry.tolist() == [0, 2]
    assert both.hold_front_down.tolist() == [True, False]
    assert both.torque_tables == ((), TABLE)


def test_vary_broadcasts_like_numpy():
    """hand-worked: a column of 2 against a row of 3 is 6 builds in row order; a lone number is the same for all."""
    batch = Batch.vary(
        BUILD, {"driveline.front_teeth": [[11], [12]], "driveline.rear_teeth": [48, 52, 56], "bike.drag_area": 0.5}
    )
    assert len(batch) == 6
    assert batch["driveline.front_teeth"].tolist() == [11, 11, 11, 12, 12, 12]
    assert batch["driveline.rear_teeth"].tolist() == [48, 52, 56, 48, 52, 56]
    assert batch["bike.drag_area"].tolist() == [0.5] * 6
    assert batch["pack.capacity_ah"].tolist() == [26.0] * 6


def test_vary_works_out_typical_values_for_each():
    """hand-worked: typical resistance 24 x 0.08 / capacity follows the capacity; None asks for it."""
    batch = Batch.vary(BUILD, {"pack.capacity_ah": [13.0, 26.0], "pack.resistance": [None, 0.05]})
    assert batch["pack.resistance"] == pytest.approx([24 * 0.08 / 13, 0.05])
    assert len(Batch.vary(BUILD, {})) == 1


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"pack.colour": [1.0]}, ["pack.colour"]),
        ({"pack.chemistry": [1.0]}, ["pack.chemistry"]),
        ({"nothing": [1.0], "bike": [2.0]}, ["nothing", "bike"]),
        ({"pack.capacity_ah": [20.0, -1.0]}, ["pack.capacity_ah"]),
        ({"pack.capacity_ah": [20.0, math.nan]}, ["pack.capacity_ah"]),
        ({"pack.capacity_ah": ["much"]}, ["pack.capacity_ah"]),
        ({"pack.cells_in_series": [20.5], "bike.grip": [-1.0]}, ["pack.cells_in_series", "bike.grip"]),
        (
            {"pack.protection.continuous_current": [300.0], "pack.protection.peak_current": [400.0, 200.0]},
            ["pack.protection.peak_current"],
        ),
        ({"bike.wheelbase": [1.4, 0.6]}, ["bike.centre_of_gravity_to_rear_axle"]),
        ({"controller.foldback_end_voltage": 70.0}, ["controller.foldback_start_voltage"]),
    ],
)
def test_what_vary_refuses(changes, named):
    """hand-worked: unknown paths, values out of range, and fields that contradict each other, all named."""
    with pytest.raises(BuildError) as raised:
        Batch.vary(BUILD, changes)
    assert [fault.field for fault in raised.value.faults] == named


def test_join_and_take():
    """hand-worked: four builds put together and taken apart by slice, places and truths."""
    joined = Batch.join([Batch.vary(BUILD, {"bike.drag_area": [0.4, 0.5, 0.6]}), Batch.of(random_build(3))])
    assert len(joined) == 4
    assert joined["bike.drag_area"][:3].tolist() == [0.4, 0.5, 0.6]
    assert joined.take(slice(1, 3))["bike.drag_area"].tolist() == [0.5, 0.6]
    assert joined.take([2, 0])["bike.drag_area"].tolist() == [0.6, 0.4]
    assert joined.take(joined["bike.drag_area"] == 0.4)["bike.drag_area"].tolist() == [0.4]
    last = joined.take([3])
    assert len(last.torque_tables) == len(last.chemistry) == len(last.hold_front_down) == 1


def test_vary_equals_change():
    """property: one variation is the build with those fields changed."""
    changes = {"pack.capacity_ah": 31.0, "conditions.slope": 0.02, "pack.protection.fast_current": 400.0}
    varied, changed = Batch.vary(BUILD, changes), Batch.of(BUILD.change(changes))
    for path in NUMBER_PATHS:
        assert varied[path].tolist() == changed[path].tolist()


def test_a_batch_changes_as_its_builds_do():
    """property: changing a batch is changing each build, but for typical values, which stay as they were."""
    slopes = [0.02, 0.03]
    both = Batch.of([BUILD, BUILD]).change({"conditions.slope": slopes, "pack.protection.fast_current": 400.0})
    one_by_one = [BUILD.change({"conditions.slope": s, "pack.protection.fast_current": 400.0}) for s in slopes]
    for path in NUMBER_PATHS:
        assert both[path].tolist() == Batch.of(one_by_one)[path].tolist()


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000))
def test_columns_hold_the_build(seed):
    """property: every number of a build comes out of its batch, None as a typical value."""
    build = random_build(seed)
    batch, columns = Batch.of(build), build_columns(build)
    for path, value in columns.items():
        assert np.isnan(value) or batch[path].tolist() == [value]


# ----- a batch of one equals a single build


def test_each_build_runs_as_it_would_alone():
    """property: 24 mixed builds in one batch against 24 runs of one build.

    1e-6 instead of equality: the search for the bus voltage may stop one Newton step earlier in company.
    """
    builds = [random_build(seed) for seed in range(24)]
    together = run(builds, duration=8.0)
    for place, build in enumerate(builds):
        alone = run(build, duration=8.0)
        assert alone.speed[0] == pytest.approx(together.speed[place], rel=1e-6, abs=1e-6)
        assert alone.minimum_voltage[0] == pytest.approx(together.minimum_voltage[place], rel=1e-6)
        assert alone.cut_out_rule_names() == [together.cut_out_rule_names()[place]]
        assert np.allclose(alone.cut_out_time, together.cut_out_time[place], rtol=1e-6, equal_nan=True)


def test_a_single_build_is_a_batch_of_one():
    """property: Build, list, Batch.of and Batch.vary give the same run."""
    build = BUILD.change({"pack.protection": Protection(150.0, 250.0)})
    runs = [run(given, 6.0) for given in (build, [build], Batch.of(build), Batch.vary(build, {}))]
    for other in runs[1:]:
        assert np.array_equal(runs[0].speed, other.speed)
        assert np.array_equal(runs[0].trip_timers, other.trip_timers)
