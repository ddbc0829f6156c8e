"""Gearing, as Streamlit runs it, and what it is made of."""

import numpy as np
import pytest

from explorer.format import UnitFormatter
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.questions.gearing import chart, words
from explorer.questions.gearing.chain_on_bike import Chain, usual_links
from explorer.questions.gearing.results import one_tooth_less, suggested
from physics.simulation.run import run
from physics.studies.gearing import gearing_map
from tests.explorer.pages import opened, settled, state_of, written

GEARING = "gearing"


def buttons(page, start: str) -> list:
    return [button for button in page.button if str(button.key).startswith(start)]


def test_folded_it_computes_nothing():
    """property: no job is started and no map is run."""
    page = opened()
    assert f"background:{GEARING}" not in page.session_state
    assert not buttons(page, GEARING)


def test_gearing_answers_in_words():
    """property: the verdict names the pair, what holds it back, what a tooth does, and the better pair."""
    page = opened(GEARING, tyre="110/70-17")
    text = written(page)
    assert "12/56 does" in text
    assert "At its top speed voltage holds it back: one tooth fewer at the rear makes it" in text
    assert "faster and costs 2 % of the pull" in text
    assert "link chain:** 12/56 fits with the axle where it is" in text
    assert "speed symbol" in text
    assert "wheel off the ground" in text


def test_where_power_holds_the_page_says_teeth_do_not_help():
    """common practice, no source: a tooth off the rear helps only where voltage holds; here power does."""
    page = opened(GEARING, line_3="60", rear_teeth="45", target="80")
    text = written(page)
    assert "At its top speed power (line current) holds it back" in text
    assert (
        "one tooth fewer at the rear would not make it faster" in text or "slower, and costs pull as well" in text
    )


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


@pytest.mark.parametrize("view", words.VIEWS)
@pytest.mark.parametrize("units", ["metric", "US"])
def test_every_view_of_the_map_draws(view, units):
    """property: no error, in both systems of units."""
    page = opened(GEARING, units=units)
    page.session_state["gearing_view"] = view
    page.run()
    assert not page.exception


def test_all_pairs_are_run_beside_the_page_and_can_be_stopped():
    """property: what is done when it is stopped is shown; so quick a job draws no bar that would stay empty."""
    page = opened(GEARING)
    page.session_state["gearing_spread"] = words.ALL
    page.run()
    job = next(iter(page.session_state["background:gearing"].jobs.values()))
    assert not buttons(page, "gearing_stop")
    job.stop()
    settled(page, GEARING)
    assert job.result is not None
    assert job.result.front_teeth.size == 12 * 56


@pytest.fixture(scope="module")
def table():
    inputs = PRESETS["supermoto"].values() | {"overcurrent_law": "square of current"}  # by which no pair cuts out
    return gearing_map(make_build(inputs), (11, 12, 13), (50, 52, 54, 56), 50 / 3.6, 20.0)


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
    figure = chart.gearing_map(table, table.top_speed, texts, "x", (12, 56), (12, 54))
    cells = figure["data"][0]
    assert np.shape(cells["z"]) == (4, 3)
    assert cells["text"][3][1] == str(here)
    assert len(figure["layout"]["shapes"]) == 2
    marks = chart.compromise(table, UnitFormatter("US"), 30.0, here, table.index(12, 54))["data"]
    shown = sum(len(trace["x"]) for trace in marks if str(trace.get("name", "")).startswith("limited by"))
    assert shown == np.isfinite(table.time_to_speed).sum()


def test_usual_chain_closes_and_an_impossible_one_fits_nothing():
    """property: the assumed chain has an even number of links; a chain that cannot close fits no pair."""
    links = usual_links("428", 12, 56)
    assert links % 2 == 0
    assert Chain("428", links, 12, 56, 0.01, 0.01, False).fit([12.0], [56.0]).fits.all()
    short = Chain("428", 40, 12, 56, 0.01, 0.01, True)
    assert np.isnan(short.distance)
    assert not short.fit([12.0, 12.0], [56.0, 50.0]).fits.any()
