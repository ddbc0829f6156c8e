"""The page as Streamlit runs it: every input in reach, presets, units, links, mistakes."""

from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from explorer.frame import background_job as background
from explorer.inputs.catalogue import DRIVE, INPUTS, PROTECTION
from explorer.inputs.power_levels import LEVELS
from explorer.inputs.presets import FIRST, PRESETS
from explorer.inputs.to_build import make_build
from explorer.inputs.typical import at_first
from explorer.page import cautions, make_page, words
from explorer.questions.pack_gauge import marks
from explorer.questions.registry import FOLDED, name_of
from explorer.questions.voltage_window import results as voltage_window
from explorer.state.state import State
from tests.explorer.pages import EVERYTHING, SUPERMOTO

APP = str(Path(__file__).parents[3] / "explorer" / "app.py")


def opened(**link) -> AppTest:
    page = AppTest.from_file(APP, default_timeout=30)
    for key, value in ({"preset": SUPERMOTO} | link).items():
        if value:
            page.query_params[key] = value
    page.run()
    assert not page.exception
    return page


def state_of(page: AppTest) -> State:
    return page.session_state["headroom_state"]


def written(page: AppTest) -> str:
    blocks = [*page.markdown, *page.caption, *page.info, *page.error, *page.warning]
    return " ".join(block.value for block in blocks).replace("\u00a0", " ")


def rerun(page: AppTest) -> AppTest:
    page.run()
    assert not page.exception
    return page


def test_the_bare_address_opens_on_a_demo_with_a_sensible_answer():
    """property: the invented trail bike; in reach or by how much not, no rating passed, both marks of the gauge."""
    page = opened(preset=None)
    assert (state_of(page).preset, next(iter(PRESETS))) == ("trail", "trail")
    assert "invented" in PRESETS["trail"].name
    values = state_of(page).values
    target = f"{values['target']:.0f} km/h"
    assert [metric.label for metric in page.metric][:2] == ["Top speed", f"Time to {target}"]
    first = make_page.page_of(state_of(page), values)
    kind, sentence = words.headline(first)
    assert kind == "reaches" if first.reaches_target else "km/h" in sentence.replace(target, "")
    assert not np.isfinite(first.run.cut_out_time[0])
    assert words.past_rating(first) == ""
    assert cautions.speed_ratings(first.build, float(first.run.top_speed[0]), first.fmt) == ""
    regen, reach = marks.of(first)
    assert 0.5 < regen.high < 1.0
    assert 0.0 < reach.low < reach.high


@pytest.mark.parametrize("preset", PRESETS)
def test_every_preset_answers(preset):
    page = opened(preset=preset)
    assert state_of(page).preset == preset
    assert page.metric[0].value.endswith("km/h")
    assert not page.error


def test_choosing_a_preset_can_be_undone():
    page = opened()
    page.selectbox(key="in:preset").set_value("trail").run()
    assert state_of(page).preset == "trail"
    page.button(key="undo").click().run()
    assert state_of(page).preset == SUPERMOTO


def test_every_input_is_in_reach(monkeypatch):
    """Unfold everything: each input has a widget under its key, those of a power level once it is chosen.

    Of the questions only heat shows others then: the rest are folded after the first level, as they compute anew.
    """
    monkeypatch.setattr(voltage_window, "MOST_PULLS", 2)
    monkeypatch.setattr(background.Job, "_run", lambda job: job._ended.set())
    page = opened()
    for key, spec in INPUTS.items():
        if spec.kind in ("optional", "limit"):
            state_of(page).values[key] = at_first(key, state_of(page).values)
    groups = dict.fromkeys(spec.group for spec in INPUTS.values())
    for group in groups:
        page.session_state[f"group_{group}"] = page.session_state[f"more_{group}"] = True
    page.session_state["group_protection"] = True
    page.session_state["side_view"] = "All inputs"
    page.session_state["moment"] = EVERYTHING[0][0]
    for name in map(name_of, FOLDED):
        page.session_state[f"section_{name}"] = True
    assert PROTECTION in groups
    seen = set()
    state_of(page).values["levels"] = len(LEVELS)
    for level in LEVELS:
        state_of(page).values["level"] = level
        state_of(page).values["heat_view"] = "held" if level == LEVELS[0] else "pulls"
        rerun(page)
        seen |= {key for key in INPUTS if f"in:{key}" in page.session_state}
        for name in map(name_of, FOLDED):
            page.session_state[f"section_{name}"] = name == "heat"
    assert not [key for key in INPUTS if key not in seen]


def test_switching_units_changes_no_build():
    page = opened()
    before = make_build(state_of(page).values)
    page.segmented_control(key="in:setting:units").set_value("US").run()
    assert not page.exception
    page.session_state["side_view"] = "All inputs"
    page.session_state[f"group_{DRIVE}"] = True
    rerun(page)
    page.segmented_control(key="in:setting:phase_as").set_value("RMS").run()
    assert not page.exception
    assert make_build(state_of(page).values) == before
    assert page.metric[0].value.endswith("mph")
    assert page.session_state["in:phase_3"] == pytest.approx(480 / 2**0.5, abs=0.5)  # as the box shows it


def test_charge_and_rest_voltage_are_two_ways_to_say_one_thing():
    page = opened()
    before = state_of(page).values["charge"]
    page.segmented_control(key="in:setting:charge_as").set_value("rest voltage").run()
    assert not page.exception
    assert state_of(page).values["charge"] == before


def test_link_holds_what_differs_and_brings_it_back():
    page = opened(preset="road", cells="30", tyre="120/70-17", drag_area="0.4", units="US")
    values = state_of(page).values
    assert (values["cells"], values["tyre"], values["drag_area"]) == (30, "120/70-17", 0.4)
    assert state_of(page).link() == {key: "".join(page.query_params[key]) for key in page.query_params}
    changed = {"cells": "30", "tyre": "120/70-17", "drag_area": "0.4"}
    assert state_of(page).link() == {"v": "1", "preset": "road", "units": "US"} | changed


def test_bad_link_says_what_was_dropped_and_opens_all_the_same():
    page = opened(cells="nan", line_3="99999", chemistry="<b>x</b>", front_teeth="12.6", nonsense="1")
    said = written(page)
    assert state_of(page).values["cells"] == PRESETS[SUPERMOTO].values()["cells"]
    assert state_of(page).values["line_3"] == INPUTS["line_3"].high
    assert state_of(page).values["front_teeth"] == 13
    for label in ("Cells in series", "Line limit", "Chemistry", "Front sprocket", "nonsense"):
        assert label in said


def test_link_of_another_version_opens_the_demo():
    page = opened(v="99", cells="30")
    assert state_of(page).values == PRESETS[FIRST].values()
    assert "another version" in written(page)


def test_bad_tyre_code_is_explained_and_nothing_entered_is_lost():
    page = opened(rear_teeth="50")
    state_of(page).change("tyre", "banana")  # the test driver cannot type a new option into the box
    rerun(page)
    assert "Rear tyre" in page.error[0].value
    assert state_of(page).values["tyre"] == "banana"
    assert state_of(page).values["rear_teeth"] == 50
    assert page.metric[0].value.endswith("km/h")
    page.selectbox(key="in:tyre").set_value("120/70-17").run()
    assert not page.error


def test_settings_that_do_not_go_together_are_explained():
    page = opened(peak_current="100")
    assert "“Peak current” is 100" in page.error[0].value
    assert "continuous current" in page.error[0].value.lower()


def test_baseline_is_held_and_let_go():
    page = opened()
    page.button(key="set_baseline").click().run()
    state_of(page).change("front_teeth", 13.0)
    rerun(page)
    assert page.metric[0].delta.endswith("km/h")
    assert "front sprocket" in written(page)
    page.button(key="clear_baseline").click().run()
    assert not page.metric[0].delta


def test_folded_sections_compute_nothing(monkeypatch):
    page = opened()
    page.session_state["moment"] = EVERYTHING[0][0]
    called = []
    for question in FOLDED:
        monkeypatch.setattr(question, "draw", called.append)
    state_of(page).change("regen", 55.0)
    rerun(page)
    assert not called


def test_link_that_makes_no_build_falls_back_on_its_preset():
    page = opened(preset="trail", tyre="banana")
    assert "banana" in page.error[0].value
    assert page.metric[0].value.endswith("km/h")
    page.button(key="set_baseline").click().run()
    assert not page.exception
    assert state_of(page).baseline["tyre"] == PRESETS["trail"].values()["tyre"]
