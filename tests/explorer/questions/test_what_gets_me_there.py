"""What would get me there, as Streamlit runs it, and what it is made of."""

from dataclasses import replace

import pytest

from explorer.derivations.saving import saving
from explorer.format import UnitFormatter
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.page import lever_inputs, saved_words
from explorer.page.tolerances import tolerances
from explorer.questions.what_gets_me_there import allowed, chart, words
from explorer.questions.what_gets_me_there.results import mixed, search
from explorer.questions.what_gets_me_there.words import HIGH, LOW, PRICE
from physics.simulation.run import run
from physics.studies.target import Goal, Lever, saving_levers, what_saves
from physics.studies.target.single_change import REACHES
from tests.explorer.derivations.test_derivations import check
from tests.explorer.pages import CUTS_OUT, opened, page_of, settled, state_of, written
from tests.explorer.plain_words import slips, unsaid

WAYS = "what_gets_me_there"


def buttons(page) -> list:
    """Those that make a change."""
    return [button for button in page.button if str(button.key).startswith(f"{WAYS}_try")]


def test_folded_it_computes_nothing():
    """property: no job is started."""
    page = opened()
    assert f"background:{WAYS}" not in page.session_state
    assert not buttons(page)


def test_ways_are_offered_in_words_and_one_click_makes_one():
    """property: what is clicked becomes the build, the former the baseline, and the target is reached."""
    page = settled(opened(WAYS), WAYS)
    text = written(page)
    assert "changes alone reaches 115 km/h" in text
    assert "Rear sprocket 56 → 54 teeth" in text
    assert "Two together" in text
    before = dict(state_of(page).values)
    page.button(key=f"{WAYS}_try_rear_teeth").click().run()
    state = state_of(page)
    assert state.baseline == before
    assert state.values["rear_teeth"] == 54
    text = written(settled(page, WAYS))
    assert "Nothing needs to change" in text
    assert "saved this pull" not in text


def test_a_target_out_of_reach_says_so():
    """property: no single change, and how far the best one gets."""
    page = settled(opened(WAYS, target="180"), WAYS)
    text = written(page)
    assert "No single change reaches 180 km/h" in text
    assert "The biggest gain" in text
    assert not buttons(page)


def test_a_change_of_the_build_searches_again():
    """property: another build, another job; going back finds the first one's answer kept."""
    page = settled(opened(WAYS), WAYS)
    state_of(page).change("bike_mass", 100.0)
    settled(page.run(), WAYS)
    assert len(page.session_state[f"background:{WAYS}"].jobs) == 2
    state_of(page).undo()
    page.run()
    assert len(page.session_state[f"background:{WAYS}"].jobs) == 2
    assert "changes alone reaches" in written(page)


def supermoto():
    values = PRESETS["supermoto"].values()
    return values, make_build(values)


@pytest.mark.parametrize("preset", PRESETS)
def test_inputs_make_the_change_that_was_found(preset):
    """property: for each lever, the inputs it gives make a build that reaches the target as found."""
    values = PRESETS[preset].values()
    build = make_build(values)
    target = run(build, 20.0).top_speed[0] + 0.5
    levers = lever_inputs.levers(build, values)
    found = search(build, Goal(target, 20.0), levers, ())(lambda *_: None, lambda: False)
    reaching = words.reaching(found.single.changes)
    assert reaching
    for one in reaching:
        made = make_build(values | lever_inputs.as_inputs(build, values, one.lever, one.value))
        assert run(made, 20.0).top_speed[0] == pytest.approx(one.outcome.top_speed, rel=2e-6)
    assert found.pairs
    for pair in found.pairs[:4]:
        made = make_build(values | lever_inputs.pair_as_inputs(build, values, pair))
        assert run(made, 20.0).top_speed[0] == pytest.approx(pair.outcome.top_speed, rel=2e-6)


def test_a_line_limit_goes_to_the_power_level_that_is_used():
    """hand-worked: level 2 is in use, so its limit changes, and no other input."""
    values, _ = supermoto()
    values["level"] = "2"
    build = make_build(values)
    assert lever_inputs.as_inputs(build, values, Lever("line_limit", 50.0, 300.0), 155.0) == {"line_2": 155.0}
    assert lever_inputs.as_inputs(build, values, Lever("drag_area", 0.3, 0.6), 0.44) == {"drag_area": 0.44}
    assert lever_inputs.as_inputs(build, values, Lever("pack_temperature", 270.0, 310.0), 284.65) == {
        "pack_temperature": 11.5
    }


def test_more_cells_change_what_hangs_on_them():
    """hand-worked: 52 milliohms for 24 cells are 56.333 for 26; weight goes up."""
    values, build = supermoto()
    values["pack_resistance"] = 52.0
    build = make_build(values)
    made = lever_inputs.as_inputs(build, values, Lever("cells_in_series", 20, 30, 1.0), 26)
    assert made["cells"] == 26
    assert made["pack_resistance"] == pytest.approx(52.0 * 26 / 24, rel=1e-7)
    assert made["bike_mass"] > values["bike_mass"]
    assert set(made) == {"cells", "pack_resistance", "bike_mass"}


@pytest.mark.parametrize("system", ["metric", "US"])
def test_allowed_ranges_go_through_the_table_unchanged(system):
    """property: a value shown and entered again is held within what is shown."""
    values, build = supermoto()
    fmt = UnitFormatter(system)
    every = lever_inputs.levers(build, values)
    for row, lever in enumerate(every):
        low, high = allowed.shown(lever, lever.low, fmt), allowed.shown(lever, lever.high, fmt)
        kept: dict = {}
        allowed.take(kept, {row: {LOW: low, HIGH: high, PRICE: 10.0}}, every, fmt)
        room = max(lever.high - lever.low, 1e-9)
        assert kept[lever.key][LOW] == pytest.approx(lever.low, abs=0.02 * room)
        assert kept[lever.key][HIGH] == pytest.approx(lever.high, abs=0.02 * room)
        assert kept[lever.key][PRICE] == 10.0
        assert allowed.unit(lever, fmt).isdigit() is False


def test_a_range_entered_backwards_still_holds_the_present_value():
    """hand-worked: 60 to 50 teeth are 50 to 60; without the present 56 they would be widened to it."""
    lever = Lever("rear_teeth", 40, 72, 1.0)
    assert allowed.narrowed(lever, {LOW: 60.0, HIGH: 50.0}, 56.0).low == 50.0
    assert allowed.narrowed(lever, {HIGH: 50.0}, 56.0).high == 56.0


def test_chart_of_ways():
    """property: every change has a bar; where all reach it there is one kind and no legend."""
    figure = chart.figure(["a", "b"], [0.1, 0.9], [True, False], ["1", "2"])
    assert [list(trace["y"]) for trace in figure["data"]] == [["a"], ["b"]]
    assert figure["layout"]["showlegend"]
    assert not chart.figure(["a"], [0.1], [True], ["1"])["layout"]["showlegend"]


def test_no_lever_stands_in_too_many_pairs():
    """property: at most two pairs with the same lever, best first."""
    values, build = supermoto()
    goal = Goal(120 / 3.6, 20.0)
    found = search(build, goal, lever_inputs.levers(build, values), ())(lambda *_: None, lambda: False)
    shown = mixed(found.pairs)
    keys = [lever.key for pair in shown for lever in pair.levers]
    assert 1 < len(shown) <= 4
    assert max(keys.count(key) for key in keys) <= 2
    assert shown[0] is found.pairs[0]
    assert all(one.status == REACHES for one in words.reaching(found.single.changes))


def test_a_low_speed_that_only_one_of_two_reaches():
    """hand-worked."""
    said, nan = words._later, float("nan")
    assert said(nan, nan, "50 km/h") == "50 km/h still not reached"
    assert said(nan, 3.0, "50 km/h") == "50 km/h no longer reached"
    assert said(3.0, nan, "50 km/h") == "50 km/h after 3.0 s, which it does not reach now"
    assert said(3.4, 3.0, "50 km/h") == "50 km/h 0.4 s later"


def test_a_change_that_leaves_little_of_a_limit_says_so():
    """hand-worked: 2 % left of 27 %, and 45 % of 40 %."""
    fmt = UnitFormatter("metric")
    little = words._margin(0.02, 0.27, fmt)
    assert little == "only 2 % of the BMS limit left (−25), less than the 20 % to keep in reserve"
    assert words._margin(0.45, 0.40, fmt).endswith("of the BMS limit left (+5)")


def test_what_would_have_saved_the_pull():
    """property: said in plain words; the derivation's numbers give its results; inputs make the change found."""
    page = page_of(**CUTS_OUT)
    levers = lever_inputs.levers(page.build, page.inputs, saving_levers)
    saved = what_saves(page.build, page.duration, 0.0, page.pull_margin, tolerances(page.inputs), levers)
    found = [one for one in saved.savings if one.found]
    for shown in (page, replace(page, fmt=UnitFormatter("US"))):
        texts = [saved_words.verdict(saved, shown), saved_words.not_alone(saved)]
        texts += [saved_words.offer(saved, one, shown) for one in found]
        assert texts[0].startswith("**What would have saved this pull: ")
        assert not any(slips(text) or unsaid(text) for text in texts), texts
    for step in saving(saved):
        check(step)
    for one in found:
        made = make_build(page.inputs | lever_inputs.as_inputs(page.build, page.inputs, one.lever, one.value))
        assert run(made, page.duration).cut_out_rule[0] == -1


def test_a_cut_out_is_answered_on_the_page():
    """property: what saves it has a button."""
    page = settled(opened(WAYS, **CUTS_OUT), WAYS)
    assert "What would have saved this pull" in written(page)
    assert any("saved_line_limit" in button.key for button in buttons(page))
