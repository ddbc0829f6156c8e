"""What the page remembers: moves and their undoing, the baseline, and the share link there and back."""

import random

import pytest

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.power_levels import level_in_use
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import rest_voltage_of
from explorer.state.state import LONGEST_PAST, REST_VOLTAGE, State, from_link


def some_values(seed: int) -> dict:
    """Random inputs inside their ranges."""
    chance = random.Random(seed)
    values = {}
    for key, spec in INPUTS.items():
        if spec.kind == "options":
            values[key] = chance.choice([name for name, _ in spec.options])
        elif spec.kind == "flag":
            values[key] = chance.random() < 0.5
        elif spec.kind == "text":
            values[key] = chance.choice(["120/70-17", "3.00-12", "580 mm", "4.25/85-18 M/C 64R"])
        elif spec.kind != "number" and chance.random() < 0.3:
            values[key] = None
        else:
            values[key] = spec.clamp(chance.uniform(spec.low, spec.high))
    return values | {"level": level_in_use(values)}


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("preset", PRESETS)
def test_link_there_and_back(preset, seed):
    """property: a link brings back every input it was made from, and says nothing was dropped."""
    state = State.of(preset)
    state.change_many(some_values(seed))
    again = from_link(state.link())
    assert again.values == state.values
    assert again.values.given == state.values.given
    assert not again.notes


def test_link_of_a_preset_is_short():
    assert State.of("road").link() == {"v": "1", "preset": "road"}


@pytest.mark.parametrize("seed", range(40))
def test_no_link_breaks_the_page(seed):
    """property: whatever stands in a link, the state it gives holds only values its inputs accept."""
    chance = random.Random(seed)
    junk = ["nan", "inf", "-1", "1e308", "", " ", "<script>", "off", "yes", "17", "é" * 200, "\x00", "1_0", "0x1F"]
    keys = [*INPUTS, "v", "preset", "units", "phase", "zzz"]
    link = {key: chance.choice(junk) for key in chance.sample(keys, 30) if key != "v"}
    state = from_link(link)
    for key, value in state.values.items():
        spec = INPUTS[key]
        if spec.is_number and value is not None:
            assert spec.low <= value <= spec.high
        if spec.is_number and value is None:
            assert spec.kind != "number"
    assert all(note.isprintable() and len(note) < 300 and "<" not in note for note in state.notes)


def test_undo_takes_back_one_move_at_a_time():
    state = State()
    start = dict(state.values)
    state.change("front_teeth", 13.0)
    state.change("rear_teeth", 50.0)
    state.undo()
    assert state.values == start | {"front_teeth": 13.0}
    state.undo()
    assert state.values == start
    state.undo()
    assert state.values == start


def test_a_drag_is_one_move():
    state = State()
    for amps in range(150, 190):
        state.change("line_3", float(amps))
    state.undo()
    assert state.values == PRESETS[state.preset].values()


def test_what_is_tried_out_is_compared_with_the_build_before_it():
    """property: one move, taken back at once; the build as it was is the baseline."""
    state = State()
    before = dict(state.values)
    state.try_out({"front_teeth": 13.0, "rear_teeth": 50.0}, before)
    assert state.values == before | {"front_teeth": 13.0, "rear_teeth": 50.0}
    assert (state.baseline, state.baseline_name) == (before, state.name)
    state.undo()
    assert state.values == before


def test_a_slider_changes_one_input_in_the_unit_it_shows():
    """hand-worked: 212 degF is 100 degC, above the 50 degC that the input accepts; 50 degF is 10 degC."""
    state = State(units="US")
    before = dict(state.values)
    state.slide("in:air_temperature", 50.0)
    assert state.values == before | {"air_temperature": pytest.approx(10.0)}
    state.slide("in:air_temperature", 212.0)
    assert state.values == before | {"air_temperature": 50.0}
    state.undo()
    assert state.values == before


def test_a_rest_voltage_is_held_as_the_charge_that_has_it():
    """property: there and back."""
    state = State.of("supermoto")
    state.slide(REST_VOLTAGE, 90.0)
    assert rest_voltage_of(state.values, state.values["charge"]) == pytest.approx(
        90.0, abs=1e-6
    )  # the charge is held to eight digits


@pytest.mark.parametrize("key", ["", "in:", "in:posture:on", "in:posture", "in:nothing", "rest_voltage"])
def test_a_key_of_no_slider_changes_nothing(key):
    """property: nothing the browser sends is trusted."""
    state = State()
    before = dict(state.values)
    state.slide(key, 3.0)
    assert state.values == before
    assert not state.past


def test_a_change_that_is_none_is_not_remembered():
    state = State()
    state.change("cells", state.values["cells"])
    assert not state.past


def test_the_past_is_bounded():
    state = State()
    for count in range(3 * LONGEST_PAST):
        state.change_many({"front_teeth": float(10 + count % 9)})
    assert len(state.past) == LONGEST_PAST


def test_reset_and_preset_can_be_undone_and_keep_the_baseline():
    state = State()
    state.change("front_teeth", 13.0)
    state.set_baseline(state.values)
    state.reset()
    assert not state.values.given
    state.use_preset("trail")
    state.undo()
    state.undo()
    assert state.values["front_teeth"] == 13.0
    assert state.baseline["front_teeth"] == 13.0
    assert state.changed_from_baseline() == []


def test_us_units_start_from_round_numbers_that_nobody_has_to_undo():
    """property: 50 mph and 25 mph, not 49.7 and 24.9; what was typed stays, and nothing of it is in the link."""
    state = State()
    state.change("range_speed", 60.0)
    state.units = "US"
    shown = {key: spec.as_shown(state.values[key], "US") for key, spec in INPUTS.items() if spec.us_default}
    assert shown.pop("range_speed") == 37.3  # 60 / 1.609344
    assert shown == {key: INPUTS[key].us_default for key in shown}
    assert (shown["speedo_shown"], shown["home_speed"]) == (50, 25)
    assert state.values is state.values
    assert not {"speedo_shown", "home_speed"} & set(state.link())
    state.set_baseline(state.values)
    assert not state.changed_from_baseline()
    state.units = "metric"
    assert (state.values["speedo_shown"], state.values["range_speed"]) == (80.0, 60.0)
    assert not state.changed_from_baseline()
    for spec in INPUTS.values():
        if spec.us_default:
            assert spec.low < spec.held(spec.us_default, "US") < spec.high
            assert abs(spec.held(spec.us_default, "US") / spec.default - 1) < 0.05
