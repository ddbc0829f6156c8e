"""Every input: its range inside what the physics accepts, its way across the border, and values from outside."""

import math

import pytest

from explorer.inputs.catalogue import INPUTS, cleaned, defaults
from explorer.inputs.presets import PRESETS, STARTS
from explorer.inputs.to_build import charge_of, make_build, rest_voltage_of
from explorer.inputs.typical import at_first
from physics.build.batch import NUMBER_PATHS
from physics.components.cell import chemistry
from physics.components.thresholds import typical_thresholds
from physics.simulation.run import run
from physics.units import UNITS

NUMBERS = [spec for spec in INPUTS.values() if spec.is_number]
SYSTEMS = [("metric", "peak"), ("US", "RMS")]


def build_with(**changes):
    return make_build(defaults() | changes)


def build_field(build, path):
    for name in path.split("."):
        build = getattr(build, name)
    return build


@pytest.mark.parametrize("spec", NUMBERS, ids=lambda spec: spec.key)
def test_range_is_in_order_and_holds_the_default(spec):
    assert spec.low < spec.high
    assert spec.step > 0
    for value in (spec.default, spec.start):
        assert value is None or spec.low <= value <= spec.high
    assert spec.kind == "number" or spec.switch
    assert spec.kind == "number" or spec.low <= at_first(spec.key, defaults()) <= spec.high
    assert spec.unit in UNITS
    assert not spec.us_unit or UNITS[spec.us_unit].dimension == UNITS[spec.unit].dimension


@pytest.mark.parametrize("spec", [spec for spec in NUMBERS if spec.path], ids=lambda spec: spec.key)
def test_physics_accepts_the_whole_range(spec):
    for end in (spec.low, spec.high):
        si = end if spec.path.endswith(("_ah", "_rpm_per_volt")) else spec.si(end)
        assert NUMBER_PATHS[spec.path].holds(si), f"{spec.key} at {end}"


@pytest.mark.parametrize("spec", [c for c in INPUTS.values() if c.path], ids=lambda spec: spec.key)
def test_reaches_its_field_of_the_build(spec):
    """Each input changes the field it names, and the other inputs' fields stay."""
    other = {"options": spec.options and spec.options[-1][0], "text": "90/90-12", "flag": not spec.default}
    value = other[spec.kind] if spec.kind in other else spec.clamp(0.63 * spec.low + 0.37 * spec.high)
    room = {"foldback_start": 140.0, "peak_current": 1000.0}  # what has to lie above another input
    before = build_with(**room)
    changed = build_with(**room | {spec.key: value})
    assert build_field(changed, spec.path) != build_field(before, spec.path)


@pytest.mark.parametrize("system", SYSTEMS, ids=str)
@pytest.mark.parametrize("spec", NUMBERS, ids=lambda spec: spec.key)
def test_display_units_there_and_back(spec, system):
    """property: what is shown converts back to what is held, and the slider's ends enclose the range."""
    low, high, step = spec.bounds(*system)
    assert step > 0
    for share in (0.0, 0.13, 0.5, 1.0):
        held = spec.clamp(spec.low + share * (spec.high - spec.low))
        shown = spec.shown(held, *system)
        assert low - 1e-6 <= shown <= high + 1e-6
        assert spec.held(shown, *system) == pytest.approx(held, rel=1e-6, abs=1e-9)


def test_hand_worked_displays():
    """hand-worked: 115 km/h is 71.46 mph; 6 degrees C is 42.8 degrees F; 480 A peak is 339.4 A RMS."""
    assert INPUTS["target"].shown(115.0, "US") == pytest.approx(71.46, abs=0.005)
    assert INPUTS["air_temperature"].shown(6.0, "US") == pytest.approx(42.8, abs=0.05)
    assert INPUTS["phase_3"].shown(480.0, "metric", "RMS") == pytest.approx(339.4, abs=0.05)


def test_what_was_entered_in_the_other_system_is_shown_in_round_numbers():
    """hand-worked: 115 km/h is 71.458 mph, 118 kg 260.15 lb, 50 m 164.04 ft, 1013.25 hPa 29.9213 inHg, 40 km/h
    24.855 mph, 480 A peak 339.41 A RMS."""
    shown = {
        "target": (115.0, 71.5), "bike_mass": (118.0, 260.0), "altitude": (50.0, 164.0),
        "sea_level_pressure": (1013.25, 29.92), "ride_off_speed": (40.0, 25.0), "phase_3": (480.0, 339.0),
    }  # fmt: skip
    for key, (held, round_number) in shown.items():
        assert INPUTS[key].as_shown(held, "US", "RMS") == round_number
        assert INPUTS[key].as_shown(held, "metric") == held
    assert INPUTS["bike_mass"].text(118.0, "US") == "260 lb"
    assert INPUTS["air_temperature"].text(-4.0) == "−4 °C"


@pytest.mark.parametrize("system", SYSTEMS, ids=str)
def test_what_was_typed_stays_as_it_was_typed(system):
    """property: with up to two digits more than the slider's step, in either system."""
    for spec in NUMBERS:
        low, high, _ = spec.bounds(*system)
        for share in (0.1, 0.37, 0.8):
            typed = round(low + share * (high - low), spec.digits(*system) + 2 - 2 * spec.whole)
            if spec.shown(spec.low, *system) < typed < spec.shown(spec.high, *system):
                assert spec.as_shown(spec.held(typed, *system), *system) == pytest.approx(typed, abs=1e-9), spec.key


@pytest.mark.parametrize("junk", ["nan", "inf", "-inf", "", "abc", "1_0", "1e999", None, [], "0x10", "١٢x"])
def test_junk_for_a_number_is_dropped_with_a_sentence(junk):
    value, sentence = INPUTS["cells"].clean(junk)
    assert value is None
    assert "Cells in series" in sentence


def test_out_of_range_and_off_step_values():
    assert INPUTS["cells"].clean("24.4")[0] == 24
    assert INPUTS["cells"].clean("1e9")[0] == 32
    assert INPUTS["capacity"].clean("25.37") == (25.37, "")
    assert "80 Ah" in INPUTS["capacity"].clean("81")[1]
    assert INPUTS["drag_area"].clean("off") == (None, "")
    assert INPUTS["hold_front"].clean("no") == (False, "")
    assert INPUTS["tyre"].clean("x" * 31)[0] is None


def test_cleaned_leaves_out_what_cannot_be_used():
    values, said = cleaned({"cells": "x", "target": "120", "chemistry": "lfp"})
    assert values == {"target": 120.0, "chemistry": "lfp"}
    assert len(said) == 1


def test_next_to_nothing_is_nothing():
    """property: the least number above zero, from a link, is no ramp of the throttle; 1 ms is one."""
    assert [INPUTS["throttle_ramp"].clamp(value) for value in (5e-324, 0.001)] == [0.0, 0.001]


@pytest.mark.parametrize("preset", PRESETS)
def test_presets_use_known_inputs_inside_their_ranges(preset):
    values = PRESETS[preset].values()
    assert set(values) == set(INPUTS)
    for key, value in values.items():
        if INPUTS[key].is_number and value is not None:
            assert INPUTS[key].clamp(value) == value
    assert "invented" in PRESETS[preset].name
    make_build(values)


def test_charge_and_rest_voltage_convert_both_ways():
    """property: charge to rest voltage and back, for every chemistry."""
    for key, _ in INPUTS["chemistry"].options:
        values = defaults() | {"chemistry": key}
        for charge in (0.0, 3.0, 50.0, 100.0):
            assert charge_of(values, rest_voltage_of(values, charge)) == pytest.approx(charge, abs=1e-6)


def test_slope_and_power_levels_go_into_the_build():
    """hand-worked: a slope of 10 % is 5.71 degrees."""
    build = build_with(slope=10.0, level="1")
    assert math.degrees(build.conditions.slope) == pytest.approx(5.71, abs=0.005)
    assert build.controller.line_current_limit == build.controller.power_levels[0].line_current_limit
    assert len(build.controller.power_levels) == 3


@pytest.mark.parametrize("key", [key for key, _ in INPUTS["chemistry"].options])
def test_thresholds_follow_the_chemistry_unless_they_are_given(key):
    """property: what was not given is typical for the chemistry, and what was given stays."""
    for changes in ({}, {"undervoltage": 2.95}, {"overvoltage": 4.11}, {"undervoltage": 1.6, "overvoltage": 3.5}):
        rules = build_with(chemistry=key, **changes).pack.protection
        typical = typical_thresholds(key)
        assert rules.cell_undervoltage == changes.get("undervoltage", typical.cell_undervoltage)
        assert rules.cell_overvoltage == changes.get("overvoltage", typical.cell_overvoltage)


def test_the_demo_on_iron_phosphate_is_not_cut_out_by_another_chemistrys_rule():
    """property: 2.8 V holds on iron phosphate only where it is given."""
    demo = PRESETS["supermoto"].values() | {"chemistry": "lfp"}
    typical, given = run([make_build(demo), make_build(demo | {"undervoltage": 2.8})], 30.0).cut_out_rule_names()
    assert (typical, given) == ("", "under-voltage")


@pytest.mark.parametrize("start", STARTS)
def test_a_switched_number_starts_at_what_the_build_may_have(start):
    """property: on every demo it lies in its range; a rest voltage lies between the pack's empty and full."""
    values = STARTS[start].values()
    kind = chemistry(values["chemistry"])
    for spec in INPUTS.values():
        if spec.kind not in ("optional", "limit"):
            continue
        begun = at_first(spec.key, values)
        assert spec.low <= begun <= spec.high, spec.key
        if spec.key in ("charge_own", "charge_from"):
            assert kind.voltage_minimum <= begun / values["cells"] <= kind.voltage_maximum, spec.key
