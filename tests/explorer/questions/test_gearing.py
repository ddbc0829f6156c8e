"""The sections on gearing and on reaching a target, as Streamlit runs them, and what they are made of."""

import time
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from explorer.format import UnitFormatter
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.page import words_of_changes as words_changes
from explorer.questions import FOLDED, name_of
from explorer.questions.gearing import chart as gearing_chart
from explorer.questions.gearing import section as gearing
from explorer.questions.gearing.chain_on_bike import Chain, usual_links
from explorer.questions.gearing.results import one_tooth_less, suggested
from explorer.questions.what_gets_me_there import allowed, change
from explorer.questions.what_gets_me_there import chart as ways_chart
from explorer.questions.what_gets_me_there import section as what_gets_me_there
from explorer.questions.what_gets_me_there.results import search
from explorer.state.state import State
from physics.simulation.run import run
from physics.studies.gearing import gearing_map
from physics.studies.target import Goal, Lever
from physics.studies.target.single_change import REACHES

APP = str(Path(__file__).parents[3] / "explorer" / "app.py")
GEARING, WAYS = "gearing", "what_gets_me_there"


def opened(*sections, **link) -> AppTest:
    page = AppTest.from_file(APP, default_timeout=60)
    for key, value in link.items():
        page.query_params[key] = value
    for name in map(name_of, FOLDED):
        page.session_state[f"section_{name}"] = name in sections
    page.run()
    assert not page.exception
    return page


def settled(page: AppTest, name: str) -> AppTest:
    """The page once the work beside it is done."""
    for _ in range(200):
        jobs = page.session_state[f"background:{name}"].jobs.values()
        if all(job.ended for job in jobs):
            break
        time.sleep(0.05)
    page.run()
    assert not page.exception
    return page


def written(page: AppTest) -> str:
    blocks = [*page.markdown, *page.caption, *page.info, *page.error, *page.warning]
    return " ".join(block.value for block in blocks).replace("\u00a0", " ")


def state_of(page: AppTest) -> State:
    return page.session_state["headroom_state"]


def buttons(page: AppTest, start: str) -> list:
    return [button for button in page.button if str(button.key).startswith(start)]


def test_folded_sections_compute_nothing():
    """property: no job is started and no map is run."""
    page = opened()
    for name in (GEARING, WAYS):
        assert f"background:{name}" not in page.session_state
    assert not buttons(page, WAYS)
    assert not buttons(page, GEARING)


def test_gearing_answers_in_words():
    """property: the verdict names the pair, what holds it back, what a tooth does, and the better pair."""
    page = opened(GEARING)
    text = written(page)
    assert "12/56 does" in text
    assert "At its top speed voltage holds it back: one tooth less at the rear makes it" in text
    assert "faster and takes 2 % of its pull" in text
    assert "link chain:** 12/56 fits where the axle is" in text
    assert "speed symbol" in text
    assert "wheel off the ground" in text


def test_where_power_holds_the_page_says_teeth_do_not_help():
    """common practice, no source: a tooth off the rear helps only where voltage holds; here power does."""
    page = opened(GEARING, line_3="60", rear_teeth="45", target="80")
    text = written(page)
    assert "At its top speed power (line current) holds it back" in text
    assert "one tooth less at the rear would not make it faster" in text or "slower, and takes pull as well" in text


def test_the_suggested_pair_is_fitted_with_the_former_as_baseline():
    """property: one click; undo takes it back."""
    page = opened(GEARING)
    before = dict(state_of(page).values)
    buttons(page, "gearing_try")[0].click().run()
    state = state_of(page)
    assert state.baseline == before
    pair = state.values["front_teeth"], state.values["rear_teeth"]
    assert pair != (before["front_teeth"], before["rear_teeth"])
    assert run(make_build(state.values), before["duration"]).top_speed[0] * 3.6 >= before["target"]
    page.button(key="undo").click().run()
    assert state_of(page).values == before


@pytest.mark.parametrize("view", gearing.VIEWS)
@pytest.mark.parametrize("units", ["metric", "US"])
def test_every_view_of_the_map_draws(view, units):
    """property: no error, in both systems of units."""
    page = opened(GEARING, units=units)
    page.session_state["gearing_view"] = view
    page.run()
    assert not page.exception


def test_all_pairs_are_run_beside_the_page_and_can_be_stopped():
    """property: while it runs there is a way to stop it; what is done when it is stopped is shown."""
    page = opened(GEARING)
    page.session_state["gearing_spread"] = gearing.ALL
    page.run()
    job = next(iter(page.session_state["background:gearing"].jobs.values()))
    if not job.ended:
        buttons(page, "gearing_stop")[0].click().run()
    settled(page, GEARING)
    assert job.result is not None
    assert job.result.front_teeth.size == 12 * 56


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
    assert "Nothing is needed" in written(settled(page, WAYS))


def test_a_target_out_of_reach_says_so():
    """property: no single change, and how far the best one gets."""
    page = settled(opened(WAYS, target="180"), WAYS)
    text = written(page)
    assert "No single change reaches 180 km/h" in text
    assert "What brings most" in text
    assert not buttons(page, f"{WAYS}_try")


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
    found = search(build, Goal(target, 20.0), change.levers(build, values), ())(lambda *_: None, lambda: False)
    reaching = words_changes.reaching(found.single.changes)
    assert reaching
    for one in reaching:
        made = make_build(values | change.as_inputs(build, values, one.lever, one.value))
        assert run(made, 20.0).top_speed[0] == pytest.approx(one.outcome.top_speed, rel=2e-6)
    assert found.pairs
    for pair in found.pairs[:4]:
        made = make_build(values | change.pair_as_inputs(build, values, pair))
        assert run(made, 20.0).top_speed[0] == pytest.approx(pair.outcome.top_speed, rel=2e-6)


def test_a_line_limit_goes_to_the_power_level_that_is_used():
    """hand-worked: level 2 is in use, so its limit changes, and no other input."""
    values, _ = supermoto()
    values["level"] = "2"
    build = make_build(values)
    assert change.as_inputs(build, values, Lever("line_limit", 50.0, 300.0), 155.0) == {"line_2": 155.0}
    assert change.as_inputs(build, values, Lever("drag_area", 0.3, 0.6), 0.44) == {"drag_area": 0.44}
    assert change.as_inputs(build, values, Lever("pack_temperature", 270.0, 310.0), 284.65) == {
        "pack_temperature": 11.5
    }


def test_more_cells_change_what_hangs_on_them():
    """hand-worked: 52 milliohms for 24 cells are 56.333 for 26; weight goes up."""
    values, build = supermoto()
    values["pack_resistance"] = 52.0
    build = make_build(values)
    made = change.as_inputs(build, values, Lever("cells_in_series", 20, 30, 1.0), 26)
    assert made["cells"] == 26
    assert made["pack_resistance"] == pytest.approx(52.0 * 26 / 24, rel=1e-7)
    assert made["bike_mass"] > values["bike_mass"]
    assert set(made) == {"cells", "pack_resistance", "bike_mass"}


@pytest.mark.parametrize("system", ["metric", "US"])
def test_allowed_ranges_go_through_the_table_unchanged(system):
    """property: a value shown and entered again is held within what is shown."""
    values, build = supermoto()
    fmt = UnitFormatter(system)
    every = change.levers(build, values)
    for row, lever in enumerate(every):
        low, high = allowed.shown(lever, lever.low, fmt), allowed.shown(lever, lever.high, fmt)
        kept: dict = {}
        allowed.take(kept, {row: {allowed.LOW: low, allowed.HIGH: high, allowed.PRICE: 10.0}}, every, fmt)
        room = max(lever.high - lever.low, 1e-9)
        assert kept[lever.key][allowed.LOW] == pytest.approx(lever.low, abs=0.02 * room)
        assert kept[lever.key][allowed.HIGH] == pytest.approx(lever.high, abs=0.02 * room)
        assert kept[lever.key][allowed.PRICE] == 10.0
        assert allowed.unit(lever, fmt).isdigit() is False


def test_a_range_entered_backwards_still_holds_the_present_value():
    """hand-worked: 60 to 50 teeth are 50 to 60; without the present 56 they would be widened to it."""
    lever = Lever("rear_teeth", 40, 72, 1.0)
    assert allowed.narrowed(lever, {allowed.LOW: 60.0, allowed.HIGH: 50.0}, 56.0).low == 50.0
    assert allowed.narrowed(lever, {allowed.HIGH: 50.0}, 56.0).high == 56.0


@pytest.mark.parametrize(
    ("tyre", "km_h", "words"),
    [
        ("110/70-17 54H", 150.0, ""),
        ("110/70-17 54J", 118.0, "more than the tyre's speed symbol J allows (100 km/h)"),
        ("110/70-17", 118.0, "speed symbol J are made for (100 km/h): both tyres must carry L"),
        ("110/70-17", 90.0, ""),
        ("580 mm", 131.0, "speed symbol M are made for (130 km/h): both tyres must carry N"),
    ],
)
def test_speed_symbols(tyre, km_h, words):
    """published: speeds of the symbols J 100, L 120, M 130, N 140 and H 210 km/h, ISO 4223-1 and UN R75."""
    found = words_changes.tyre_caution(tyre, km_h / 3.6, UnitFormatter("metric"))
    assert words in found if words else found == ""


@pytest.fixture(scope="module")
def table():
    return gearing_map(supermoto()[1], (11, 12, 13), (50, 52, 54, 56), 50 / 3.6, 20.0)


def test_suggested_pair(table):
    """property: it reaches the target, and none that does is sooner by more than one part in a hundred."""
    here = table.index(12, 56)
    target = table.top_speed[here] + 0.4
    best = suggested(table, target, here)
    reaching = table.top_speed >= target
    assert reaching[best]
    assert table.time_to_speed[best] <= 1.01 * table.time_to_speed[reaching].min()
    assert suggested(table, 100.0, here) is None
    assert np.isnan(one_tooth_less(table, table.index(12, 50)))
    expected = table.top_speed[table.index(12, 52)] - table.top_speed[table.index(12, 54)]
    assert one_tooth_less(table, table.index(12, 54)) == pytest.approx(expected)


def test_charts_of_gearing_hold_the_map(table):
    """property: one cell for each pair, one mark for each pair that reaches the speed."""
    here = table.index(12, 56)
    texts = [str(place) for place in range(12)]
    figure = gearing_chart.gearing_map(table, table.top_speed, texts, "x", (12, 56), (12, 54))
    cells = figure["data"][0]
    assert np.shape(cells["z"]) == (4, 3)
    assert cells["text"][3][1] == str(here)
    assert len(figure["layout"]["shapes"]) == 2
    marks = gearing_chart.compromise(table, UnitFormatter("US"), 30.0, here, table.index(12, 54))["data"]
    shown = sum(len(trace["x"]) for trace in marks if str(trace.get("name", "")).endswith("holds"))
    assert shown == np.isfinite(table.time_to_speed).sum()


def test_chart_of_ways():
    """property: every change has a bar; where all reach it there is one kind and no legend."""
    figure = ways_chart.figure(["a", "b"], [0.1, 0.9], [True, False], ["1", "2"])
    assert [list(trace["y"]) for trace in figure["data"]] == [["a"], ["b"]]
    assert figure["layout"]["showlegend"]
    assert not ways_chart.figure(["a"], [0.1], [True], ["1"])["layout"]["showlegend"]


def test_usual_chain_closes_and_an_impossible_one_fits_nothing():
    """property: the assumed chain has an even number of links; a chain that cannot close fits no pair."""
    links = usual_links("428", 12, 56)
    assert links % 2 == 0
    assert Chain("428", links, 12, 56, 0.01, 0.01, False).fit([12.0], [56.0]).fits.all()
    short = Chain("428", 40, 12, 56, 0.01, 0.01, True)
    assert np.isnan(short.distance)
    assert not short.fit([12.0, 12.0], [56.0, 50.0]).fits.any()


def test_no_lever_stands_in_too_many_pairs():
    """property: at most two pairs with the same lever, best first."""
    values, build = supermoto()
    goal = Goal(120 / 3.6, 20.0)
    found = search(build, goal, change.levers(build, values), ())(lambda *_: None, lambda: False)
    shown = what_gets_me_there.mixed(found.pairs)
    keys = [lever.key for pair in shown for lever in pair.levers]
    assert 1 < len(shown) <= 4
    assert max(keys.count(key) for key in keys) <= 2
    assert shown[0] is found.pairs[0]
    assert all(one.status == REACHES for one in words_changes.reaching(found.single.changes))
