"""Builds: every wrong field is named, all at once; nothing but BuildError on any input."""

import dataclasses
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
from physics.build.fields import BuildError
from physics.build.parts import PARTS
from physics.components import cell

PLAIN = {
    "pack": Pack(24, 26.0), "motor": Motor(60.0), "controller": Controller(200.0, 400.0),
    "driveline": Driveline(12, 56), "bike": Bike(120.0, 75.0), "conditions": Conditions(),
}  # fmt: skip
BUILD = Build(**PLAIN)


def numbers():
    """Every number field of every part: (part, field)."""
    owners = [*PARTS.items(), ("pack.protection", Protection)]
    return [(part, f) for part, kind in owners for f in dataclasses.fields(kind) if "accepts" in f.metadata]


def faults_of(make):
    with pytest.raises(BuildError) as raised:
        make()
    for fault in raised.value.faults:
        assert str(fault) in str(raised.value)
        assert "got" in str(fault)
        assert "accepts" in str(fault)
    return [fault.field for fault in raised.value.faults]


def refusal(make, given):
    """The faults with which something is refused, none where it is accepted."""
    try:
        make(given)
    except BuildError as error:
        return error.faults
    return ()


@pytest.mark.parametrize(("part", "field"), numbers(), ids=lambda x: x if isinstance(x, str) else x.name)
@pytest.mark.parametrize("wrong", [math.nan, "12", True, 10**400, -1e9, 1e9, [1.0]])
def test_every_wrong_number_is_named(part, field, wrong):
    """property: one wrong field, one fault with its path; no other error."""
    path = f"{part}.{field.name}"
    found = faults_of(lambda: BUILD.change({path: wrong}))
    assert path in found


@pytest.mark.parametrize(("part", "field"), numbers(), ids=lambda x: x if isinstance(x, str) else x.name)
def test_both_ends_of_every_range_are_accepted(part, field):
    """property: what the sentence of a fault says is accepted is accepted, and nothing beyond."""
    accepts, path = field.metadata["accepts"], f"{part}.{field.name}"
    for value in (accepts.low, accepts.high):
        refused = refusal(BUILD.change, {path: value})  # at most because of another field of the part
        assert not any(fault.accepts == accepts.sentence() for fault in refused)
    beyond = 1 if accepts.whole else 1e-6 * max(abs(accepts.low), abs(accepts.high))
    for value in (accepts.low - beyond, accepts.high + beyond):
        assert faults_of(lambda value=value: BUILD.change({path: value})) == [path]
    assert f"{accepts.low:g} to {accepts.high:g}" in accepts.sentence()


@pytest.mark.parametrize("path", ["pack.cells_in_series", "motor.pole_pairs", "driveline.front_teeth"])
def test_whole_numbers_only(path):
    """hand-worked: 12.5 cells, pole pairs or teeth do not exist; 12.0 is 12."""
    assert faults_of(lambda: BUILD.change({path: 12.5})) == [path]
    BUILD.change({path: 12.0})


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        ("pack.chemistry", "lead"), ("pack.chemistry", None), ("pack.protection", None), ("bike.tyre", "round"),
        ("bike.tyre", 17), ("bike.hold_front_down", 1), ("motor.torque_table", ((0.0, 5.0),)),
        ("motor.torque_table", ((1.0, 5.0), (2.0, 5.0))), ("motor.torque_table", ((0.0, 5.0), (0.0, 4.0))),
        ("motor.torque_table", ((0.0, -5.0), (9.0, 4.0))), ("motor.torque_table", ((0.0, 5.0), (math.nan, 4.0))),
        ("motor.torque_table", ("01", "12")), ("motor.torque_table", [(0.0, 5.0), (9.0, 4.0)]),
        ("motor.torque_table", None), ("motor.torque_table", ((0.0, 5.0), (9.0, 10**400))),
        ("controller.power_levels", 3), ("controller.power_levels", ("wet",)), ("name", 5), ("name", "x" * 81),
        ("bike.nothing", 1.0), ("nothing", 1.0), ("pack.protection.nothing.at_all", 1.0), ("pack", None),
        ("pack.capacity_ah", {}),
    ],
)  # fmt: skip
def test_other_wrong_fields_are_named(path, wrong):
    """hand-worked: texts, tables, parts and paths."""
    found = faults_of(lambda: BUILD.change({path: wrong}))
    assert len(found) == 1
    assert found[0].startswith(path)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"pack.protection.continuous_current": 300.0, "pack.protection.peak_current": 200.0},
         "pack.protection.peak_current"),
        ({"motor.winding_foldback_start": 420.0, "motor.winding_temperature_maximum": 420.0},
         "motor.winding_temperature_maximum"),
        ({"controller.foldback_start_temperature": 360.0, "controller.temperature_maximum": 350.0},
         "controller.temperature_maximum"),
        ({"controller.foldback_start_voltage": 60.0, "controller.foldback_end_voltage": 70.0},
         "controller.foldback_start_voltage"),
        ({"bike.wheelbase": 1.2, "bike.centre_of_gravity_to_rear_axle": 1.2},
         "bike.centre_of_gravity_to_rear_axle"),
    ],
)  # fmt: skip
def test_two_fields_that_contradict_each_other(changes, named):
    """hand-worked: each value is accepted alone, not both together."""
    assert faults_of(lambda: BUILD.change(changes)) == [named]


def test_all_faults_at_once():
    """hand-worked: six wrong fields in five parts, six faults."""
    wrong = {
        "pack.cells_in_series": 0, "pack.protection.peak_time": -1.0, "motor.kv_rpm_per_volt": math.inf,
        "controller.throttle": 1.5, "bike.tyre": "?", "conditions.charge": math.nan,
    }  # fmt: skip
    assert set(faults_of(lambda: BUILD.change(wrong))) == set(wrong)


def test_a_fault_says_where_what_and_what_is_accepted():
    """hand-worked: the sentence itself."""
    with pytest.raises(BuildError) as raised:
        BUILD.change({"pack.cells_in_series": 0})
    assert str(raised.value) == "pack.cells_in_series: got 0; accepts a whole number from 1 to 250."


# ----- changes

JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.just(10**400)
    | st.floats()
    | st.text(max_size=5)
    | st.sampled_from(["off", "nmc", "110/70-17"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)
PATHS = [f"{part}.{field.name}" for part, kind in PARTS.items() for field in dataclasses.fields(kind)]
PATHS += [*PARTS, "name", *[f"pack.protection.{field.name}" for field in dataclasses.fields(Protection)]]


@settings(deadline=None, max_examples=200)
@given(st.dictionaries(st.sampled_from(PATHS), JSON_VALUES | st.just(cell.CHEMISTRY_KEYS), min_size=1, max_size=3))
def test_changes_give_a_build_or_a_build_error(changes):
    """property: `change` refuses with BuildError alone."""
    whole = {*PARTS, "pack.protection"}  # a part and a field of it cannot be changed together
    changes = {path: value for path, value in changes.items() if path not in whole}
    assert all(fault.field and fault.accepts for fault in refusal(BUILD.change, changes))
