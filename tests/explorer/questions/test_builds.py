"""Named builds: moves and their undoing, the link that holds them all, side by side on the page, hostile links."""

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from streamlit.testing.v1 import AppTest

from explorer.components.live_chart import pack
from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.presets import PRESETS, STARTS
from explorer.inputs.to_build import make_build
from explorer.questions.builds import chart
from explorer.state.names import LONGEST_NAME, as_chart_text, as_file_name, as_markdown, clean_name, free_name
from explorer.state.share_link import MOST_BUILDS, MOST_NOTES, address
from explorer.state.state import State, from_link
from physics.simulation.run import run
from tests.explorer.page.test_page import APP, rerun, state_of, written
from tests.explorer.pages import EVERYTHING, SUPERMOTO
from tests.explorer.state.test_state import some_values

DEMO = PRESETS[SUPERMOTO].name


def random_state(seed: int) -> State:
    """A state with some builds, a baseline and settings."""
    chance = random.Random(seed)
    state = State.of(chance.choice(list(PRESETS)))
    for count in range(chance.randrange(MOST_BUILDS)):
        state.add(f"{chance.choice(['Wet', 'Dry & cold', '<b>Tall</b>', 'été / 13'])} {count}")
        if chance.random() < 0.5:
            state.use_preset(chance.choice(list(PRESETS)))
        elif chance.random() < 0.5:
            state.make_own({"kv": 75.0, "tyre": "90/90-12"})
        values = some_values(seed + count)
        state.change_many({key: values[key] for key in chance.sample(list(INPUTS), 8)})
    state.edit(chance.choice(list(state.builds)))
    if chance.random() < 0.7:
        state.set_baseline(STARTS[chance.choice(list(STARTS))].values() | {"rear_teeth": 51.0}, "Dry one")
    state.units, state.phase_as = chance.choice(["metric", "US"]), chance.choice(["peak", "RMS"])
    state.charge_as = chance.choice(["charge", "rest voltage"])
    return state


@pytest.mark.parametrize("seed", range(40))
def test_link_brings_back_everything(seed):
    """property: builds with names and order, the one being edited, baseline and settings survive the link."""
    state = random_state(seed)
    again = from_link(state.link())
    for name in ("builds", "name", "baseline", "baseline_name", "units", "phase_as", "charge_as"):
        assert getattr(again, name) == getattr(state, name), name
    for name, values in state.builds.items():
        assert (again.builds[name].preset, again.builds[name].given) == (values.preset, values.given)
    if state.baseline is not None:
        assert (again.baseline.preset, again.baseline.given) == (state.baseline.preset, state.baseline.given)
    assert list(again.builds) == list(state.builds)
    assert not again.notes
    assert again.link() == state.link()


@pytest.mark.parametrize("seed", range(10))
def test_link_of_one_build_holds_it_alone(seed):
    state = random_state(seed)
    again = from_link(state.link(alone=True))
    assert list(again.builds) == [state.name]
    assert again.values == state.values
    assert again.baseline is None


def test_keys_of_the_link_are_no_inputs():
    """property: no input's key can be taken for another part of the link."""
    assert not {"v", "preset", "name", "units", "phase", "charge_as", "base", "given"} & set(INPUTS)
    assert not [key for key in INPUTS if "." in key or (key[0] == "b" and key[1:].isdigit())]


KEYS = st.sampled_from(
    [
        *list(INPUTS)[::4],
        "v",
        "preset",
        "name",
        "base",
        "b1",
        "b2",
        "b6",
        "b7",
        "b01",
        "base.",
        "b2.preset",
        "zzz",
        "given",
    ]
)
HEADS = st.sampled_from(["", "", "base.", "b1.", "b3.", "b9.", "..", "base.base."])
TEXTS = st.one_of(
    st.text(max_size=60),
    st.sampled_from(
        ["off", "nan", "-inf", "1e999", "1", "13", "1_0", "trail", "own", "kv.tyre.x", "<script>x</script>"]
    ),
)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.builds(str.__add__, HEADS, KEYS), TEXTS, max_size=25))
def test_no_link_gives_a_state_that_its_inputs_refuse(link):
    """property: whatever a link holds, what comes of it is safe, can be shown, and makes a link of its own."""
    state = from_link(link)
    assert 1 <= len(state.builds) <= MOST_BUILDS
    assert state.name in state.builds
    assert len(state.notes) <= MOST_NOTES + 1
    assert all(note.isprintable() and "<" not in note for note in state.notes)
    everyone = [*state.builds.values(), *([state.baseline] if state.baseline is not None else [])]
    for values in everyone:
        assert list(values) == list(INPUTS)
        for key, value in values.items():
            held, sentence = INPUTS[key].clean(value)
            assert (held, sentence) == (value, "")
    for name in [*state.builds, *([state.baseline_name] if state.baseline is not None else [])]:
        assert name
        assert len(name) <= LONGEST_NAME
        assert name.isprintable()
    if state.baseline is not None:
        make_build(state.baseline)
    assert from_link(state.link()).builds == state.builds


def test_baseline_that_makes_no_build_is_left_out_and_said():
    state = from_link({"base": "Odd", "base.tyre": "banana", "front_teeth": "13"})
    assert state.baseline is None
    assert "The baseline's settings contradict each other" in state.notes[0]
    assert state.values["front_teeth"] == 13


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=300))
def test_names_are_made_safe(text):
    """property: a name is one short printable line, is made once, and no spreadsheet takes it for a formula."""
    name = clean_name(text, "Build")
    assert 0 < len(name) <= LONGEST_NAME
    assert name.isprintable()
    assert name[0] not in "=+-@"
    assert clean_name(name, "Build") == name
    assert "<" not in as_chart_text(name)
    assert len(free_name(name, [name, f"{name} (2)"])) <= LONGEST_NAME
    assert not set(as_file_name(name)) & set('/\\<>:"|?*. ')


@pytest.mark.parametrize("text", ["www.a.example", "http://a.example", "ftp://a.b", "me@a.example", ":red[x]"])
def test_addresses_in_names_make_no_links(text):
    """property: every dot, colon and at-sign is escaped, with an unseen joiner before it: no address is whole."""
    shown = as_markdown(text)
    assert shown.replace("\u2060", "").replace("\\", "") == text
    for place, sign in enumerate(shown):
        if sign in ":.@":
            assert shown[place - 2 : place] == "\u2060\\"


def test_a_copy_leaves_the_first_as_it_was_and_undo_takes_it_away():
    state = State.of(SUPERMOTO)
    state.add(state.name)
    state.change("front_teeth", 13.0)
    assert list(state.builds) == [DEMO, f"{DEMO} (2)"]
    assert state.builds[DEMO]["front_teeth"] == 12
    state.undo()
    state.undo()
    assert list(state.builds) == [DEMO]


def test_renaming_keeps_place_and_inputs():
    state = State.of(SUPERMOTO)
    state.add("Second")
    state.add("Third")
    state.edit("Second")
    state.rename("  Wet \n one ")
    assert list(state.builds) == [DEMO, "Wet one", "Third"]
    state.rename("Third")
    assert list(state.builds) == [DEMO, "Third (2)", "Third"]
    state.rename("\x00 ")
    assert state.name == "Third (2)"
    state.undo()
    assert state.name == "Wet one"


def test_each_build_keeps_the_preset_it_started_from():
    state = State.of(SUPERMOTO)
    state.add("Woods")
    state.use_preset("trail")
    assert state.name == PRESETS["trail"].name
    state.edit(DEMO)
    assert state.preset == SUPERMOTO
    assert not state.values.given
    state.edit(PRESETS["trail"].name)
    assert (state.preset, state.values.given) == ("trail", set())


def test_removing_goes_to_a_neighbour_and_the_last_one_stays():
    state = State.of(SUPERMOTO)
    state.add("Second")
    state.remove()
    state.remove()
    assert list(state.builds) == [DEMO]
    state.undo()
    assert state.name == "Second"


def test_there_is_room_for_so_many():
    state = State.of(SUPERMOTO)
    for count in range(2 * MOST_BUILDS):
        state.add(f"Build {count}")
    assert len(state.builds) == MOST_BUILDS
    assert state.take_in([("More", state.values)]) == []
    assert len(from_link(state.link()).builds) == MOST_BUILDS


def test_reset_keeps_the_name():
    state = State.of(SUPERMOTO)
    state.rename("Mine")
    state.change("rear_teeth", 50.0)
    state.reset()
    assert (state.name, state.values.given) == ("Mine", set())


def test_address_keeps_only_the_page():
    assert address({"v": "1"}, "http://127.0.0.1:8501/?x=1#y") == "http://127.0.0.1:8501/?v=1"
    assert address({"name": "a&b"}, "javascript:alert(1)") == "?name=a%26b"
    assert address({"v": "1"}, None) == "?v=1"


def opened(*open_sections: str, **link) -> AppTest:
    """The page with just these sections unfolded, and the side's last group open."""
    page = AppTest.from_file(APP, default_timeout=60)
    for key, value in ({"preset": SUPERMOTO} | link).items():
        page.query_params[key.replace("__", ".")] = value
    page.session_state["moment"] = EVERYTHING[0][0]
    for name in ("headroom", "builds", "setup_sheet"):
        page.session_state[f"section_{name}"] = name in open_sections
    page.session_state["group_keep"] = True
    return rerun(page)


def test_one_build_says_how_to_get_another():
    page = opened("builds")
    assert "one build so far" in written(page)
    page.button(key="builds_add").click().run()
    state_of(page).change("front_teeth", 13.0)
    rerun(page)
    assert "Fastest is" in written(page)
    frame = page.dataframe[0].value
    assert list(frame.columns) == ["input or result", DEMO, f"{DEMO} (2)"]
    row = frame[frame["input or result"] == "Front sprocket"].iloc[0]
    assert (row[DEMO], row[f"{DEMO} (2)"]) == ("12 ○", "13")


def test_table_says_what_the_page_says():
    """property: the build's column holds the page's own key numbers."""
    page = opened("builds", b1="Tall", b1__front_teeth="14")
    frame = page.dataframe[0].value.set_index("input or result")
    tops = {metric.label: metric.value for metric in page.metric}
    assert frame.loc["top speed", DEMO] == tops["Top speed"]
    assert frame.loc["lowest pack voltage", DEMO] == tops["Lowest pack voltage"]
    assert frame.loc["highest line current", DEMO] == tops["Highest line current"]


def test_same_day_for_all_or_each_its_own():
    page = opened("builds", b2="Cold", b2__air_temperature="-10")
    assert "Air temperature" not in list(page.dataframe[0].value["input or result"])
    page.toggle(key="builds_same_day").set_value(False).run()
    assert "Air temperature" in list(page.dataframe[0].value["input or result"])
    page.toggle(key="builds_same_day").set_value(True).run()
    assert "Air temperature" not in list(page.dataframe[0].value["input or result"])


def test_another_build_is_drawn_behind_all_charts():
    page = opened("builds", b1="Tall", b1__front_teeth="14")
    page.selectbox(key="builds_behind").set_value("Tall").run()
    assert state_of(page).baseline["front_teeth"] == 14
    assert page.metric[0].delta.endswith("km/h")
    page.selectbox(key="builds_behind").set_value("none").run()
    assert state_of(page).baseline is None


def test_a_build_that_cannot_be_made_is_left_out_and_explained():
    page = opened("builds", b2="Odd", b2__tyre="banana", b3="Tall", b3__front_teeth="14")
    assert list(page.dataframe[0].value.columns) == ["input or result", DEMO, "Tall"]
    assert "is left out" in written(page)
    page.selectbox(key="keep:build").set_value("Odd").run()
    assert not page.exception
    assert "banana" in page.error[0].value


def test_switch_rename_and_remove_at_the_side():
    page = opened("builds", b1="Tall", b1__front_teeth="14")
    page.selectbox(key="keep:build").set_value("Tall").run()
    assert state_of(page).values["front_teeth"] == 14
    page.text_input(key="keep:name").set_value("<script>alert(1)</script>").run()
    assert not page.exception
    assert state_of(page).name == "<script>alert(1)</script>"
    assert state_of(page).link() == {key: "".join(page.query_params[key]) for key in page.query_params}
    page.button(key="keep:remove").click().run()
    assert list(state_of(page).builds) == [DEMO]


def test_names_stay_apart_in_the_table():
    """property: a held build with a name that is taken has a column of its own."""
    page = opened("builds")
    page.button(key="set_baseline").click().run()
    state_of(page).change("front_teeth", 14.0)
    rerun(page)
    assert list(page.dataframe[0].value.columns) == ["input or result", DEMO, f"{DEMO} (baseline)"]


def test_chart_of_many_builds_travels():
    """property: every build has a line of its own look on both axes, and no number is lost on the way."""
    made = [
        make_build(PRESETS[SUPERMOTO].values() | {"front_teeth": 10.0 + count}) for count in range(MOST_BUILDS + 1)
    ]
    runs = run(made, 20.0)
    names = [f"<i>{count}</i>" + 40 * "x" for count in range(len(made))]
    figure = chart.figure(runs, names, 2, UnitFormatter("US"), 30.0)
    looks = {(trace["line"]["color"], trace["line"]["dash"]) for trace in figure["data"]}
    assert len(looks) == len(made)
    assert all(np.isfinite(trace["y"]).all() for trace in figure["data"])
    assert all("<i>" not in trace["name"] for trace in figure["data"])
    assert pack(figure, key="a", height=1, alt="a")


def test_names_of_copies_stay_apart_in_a_legend():
    """property: copies of one name differ at their end, which stays."""
    name = "Club spare supermoto (invented)"
    made = {chart.shortened(f"{name} ({number})") for number in range(2, 7)} | {chart.shortened(name)}
    assert len(made) == 6
    assert max(map(len, made)) <= 24
