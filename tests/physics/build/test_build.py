"""Builds: every wrong field is named, all at once; to and from plain dicts; nothing but BuildError on any input."""

import dataclasses
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, PowerLevel, Protection
from physics.build.fields import BuildError
from physics.build.file import SCHEMA_VERSION, build_from_dict, build_to_dict
from physics.build.parts import PARTS
from physics.components import cell
from tests.reference.builds import random_build

PLAIN = {
    "pack": Pack(24, 26.0), "motor": Motor(60.0), "controller": Controller(200.0, 400.0),
    "driveline": Driveline(12, 56), "bike": Bike(120.0, 75.0), "conditions": Conditions(),
}  # fmt: skip
BUILD = Build(**PLAIN)
FULL = Build(
    Pack(20, 40.0, "lfp", resistance=0.05, protection=Protection(300.0, 360.0, cell_overvoltage=3.65)),
    Motor(45.0, torque_table=((0.0, 40.0), (300.0, 40.0), (500.0, 0.0))),
    Controller(200.0, 400.0, speed_cap=25.0, power_levels=(PowerLevel("wet", 150.0, 90.0),)),
    Driveline(11, 48),
    Bike(90.0, 70.0, tyre="90/90-12", grip=math.inf),
    Conditions(headwind=-3.0),
    "a name",
)


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


# ----- plain dicts


@pytest.mark.parametrize("build", [BUILD, FULL, *[random_build(seed) for seed in range(40)]])
def test_round_trip_through_json(build):
    """property: what was written is read back equal, through strict JSON (no infinity, no NaN)."""
    text = json.dumps(build_to_dict(build), allow_nan=False)
    assert build_from_dict(json.loads(text)) == build


def test_no_limit_is_written_as_off():
    """hand-worked: a protection without rules."""
    data = build_to_dict(BUILD)
    assert data["schema"] == SCHEMA_VERSION == 1
    assert data["pack"]["protection"]["continuous_current"] == "off"
    assert data["controller"]["speed_cap"] == "off"
    data["pack"]["protection"]["peak_time"] = "off"  # a time cannot be switched off
    assert faults_of(lambda: build_from_dict(data)) == ["pack.protection.peak_time"]


def test_fields_left_out_take_their_default():
    """hand-worked: the fewest fields a build can be read from."""
    data = {
        "schema": 1, "pack": {"cells_in_series": 24, "capacity_ah": 26}, "motor": {"kv_rpm_per_volt": 60},
        "controller": {"line_current_limit": 200, "phase_current_limit": 400},
        "driveline": {"front_teeth": 12.0, "rear_teeth": 56}, "bike": {"bike_mass": 120, "rider_mass": 75},
    }  # fmt: skip
    assert build_from_dict(data) == BUILD
    assert isinstance(build_from_dict(data).driveline.front_teeth, int)


@pytest.mark.parametrize("schema", [0, 2, None, "1", 1.5, []])
def test_another_schema_is_refused(schema):
    """property: one fault, named "schema"."""
    assert faults_of(lambda: build_from_dict({**build_to_dict(BUILD), "schema": schema})) == ["schema"]


def test_a_dict_without_schema_is_refused():
    """hand-worked."""
    data = build_to_dict(BUILD)
    del data["schema"]
    assert faults_of(lambda: build_from_dict(data)) == ["schema"]


@pytest.mark.parametrize("owner", ["", *PARTS, "pack.protection"])
def test_unknown_fields_are_named(owner):
    """property: an unknown field anywhere is a fault with its path."""
    data = json.loads(json.dumps(build_to_dict(BUILD)))
    place = data
    for name in filter(None, owner.split(".")):
        place = place[name]
    place["wheels"] = 3
    assert faults_of(lambda: build_from_dict(data)) == [f"{owner}.wheels".lstrip(".")]


def test_missing_parts_name_their_required_fields():
    """hand-worked: nothing given; eight fields have no default."""
    assert faults_of(lambda: build_from_dict({"schema": 1})) == [
        "pack.cells_in_series", "pack.capacity_ah", "motor.kv_rpm_per_volt", "controller.line_current_limit",
        "controller.phase_current_limit", "driveline.front_teeth", "driveline.rear_teeth", "bike.bike_mass",
        "bike.rider_mass",
    ]  # fmt: skip


def test_faults_of_all_parts_at_once_from_a_dict():
    """hand-worked: a wrong value, an unknown field, a wrong power level and a wrong part together."""
    data = json.loads(json.dumps(build_to_dict(FULL)))
    data["pack"]["capacity_ah"] = -1
    data["motor"]["colour"] = "red"
    data["controller"]["power_levels"][0]["line_current_limit"] = "much"
    data["bike"] = 7
    assert set(faults_of(lambda: build_from_dict(data))) == {
        "pack.capacity_ah", "motor.colour", "controller.power_levels[0].line_current_limit", "bike",
    }  # fmt: skip


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
PATHS += [*PARTS, "schema", "name", *[f"pack.protection.{field.name}" for field in dataclasses.fields(Protection)]]


@settings(deadline=None, max_examples=300)
@given(JSON_VALUES)
def test_any_json_gives_a_build_or_a_build_error(data):
    """property: never another exception, whatever the text held."""
    assert_only_build_errors(data)


@settings(deadline=None, max_examples=400)
@given(st.dictionaries(st.sampled_from(PATHS), JSON_VALUES, min_size=1, max_size=4), st.booleans())
def test_a_damaged_build_gives_a_build_or_a_build_error(damage, full):
    """property: the same for a good build with a few fields replaced by anything."""
    data = json.loads(json.dumps(build_to_dict(FULL if full else BUILD)))
    for path, value in damage.items():
        *owners, last = path.split(".")
        place = data
        for name in owners:
            place = place[name] if isinstance(place, dict) and isinstance(place.get(name), dict) else {}
        place[last] = value
    assert_only_build_errors(data)


def assert_only_build_errors(data):
    refused = refusal(build_from_dict, data)
    assert all(fault.field and fault.accepts for fault in refused)
    if not refused:
        json.dumps(build_to_dict(build_from_dict(data)), allow_nan=False)


@settings(deadline=None, max_examples=200)
@given(st.dictionaries(st.sampled_from(PATHS), JSON_VALUES | st.just(cell.CHEMISTRY_KEYS), min_size=1, max_size=3))
def test_changes_give_a_build_or_a_build_error(changes):
    """property: `change` refuses with BuildError alone."""
    whole = {*PARTS, "pack.protection"}  # a part and a field of it cannot be changed together
    changes = {path: value for path, value in changes.items() if path not in whole}
    assert all(fault.field and fault.accepts for fault in refusal(BUILD.change, changes))
