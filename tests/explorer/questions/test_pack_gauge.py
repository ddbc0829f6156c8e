"""The pack gauge: its marks agree with their questions and with single runs, and are said in a sentence."""

from dataclasses import replace

import numpy as np
import pytest

from explorer.inputs.origins import with_origins
from explorer.page import make_page, results
from explorer.page.likely import all_runs
from explorer.page.page import CHARGES
from explorer.page.regen import plan_of
from explorer.questions.headroom import words as headroom
from explorer.questions.headroom.results import headroom_of
from explorer.questions.pack_gauge import chart, marks
from explorer.state.state import State
from tests.explorer.pages import page_of

SPECIAL = [
    {"regen": 0.0}, {"pack_temperature": -10.0}, {"pack_temperature": 50.0}, {"charge": 0.0}, {"charge": 100.0},
    {"chemistry": "lfp", "pack_resistance": None}, {"target": 200.0}, {"target": 30.0}, {"headroom_wanted": 20.0},
]  # fmt: skip


def with_tops(**changes):
    """A page that knows how fast it gets from each charge."""
    page = page_of(**changes)
    tops = all_runs(page.build, None, page.duration, (), plan_of(page), ())[2]
    return replace(page, tops=tops)


def test_a_target_between_two_charges():
    """hand-worked: 15 m/s is half way from 10 to 20 m/s, so half way from one of these charges to the next."""
    tops = np.full(len(CHARGES), 20.0)
    tops[:4] = 10.0
    assert marks.reached_between(tops, 15.0) == (pytest.approx((CHARGES[3] + CHARGES[4]) / 2), 1.0)
    tops[-1] = 10.0  # a fuller pack cuts out
    low, high = marks.reached_between(tops, 15.0)
    assert (low, high) == pytest.approx(((CHARGES[3] + CHARGES[4]) / 2, (CHARGES[-2] + 1.0) / 2))
    assert marks.reached_between(tops, 20.5) is None
    assert marks.reached_between(np.full(len(CHARGES), 20.0), 15.0) == (CHARGES[0], 1.0)


@pytest.mark.parametrize(("preset", "target"), [("supermoto", 100.0), ("supermoto", 108.0), ("trail", 62.0)])
def test_the_target_is_reached_from_where_the_gauge_says(preset, target):
    """property: single runs from 1 % of charge above that reach it, from a gap below they do not."""
    page = with_tops(preset=preset, target=target)
    low, _ = marks.reached_between(page.tops, page.target_speed)
    assert 0.05 < low < 0.95
    for away, reached in ((0.01, True), (-0.026, False)):
        alone = page_of(preset, target=target, charge=100 * (low + away))
        assert alone.reaches_target is reached


def test_a_target_that_any_charge_reaches():
    """property: the gauge names the least charge that was looked at, and a single run from there bears it out."""
    page = with_tops(preset="trail", target=30.0)
    assert marks.target(page).text == "30 km/h: within reach even at 10 %"
    assert page_of("trail", target=30.0, charge=10.0).reaches_target


def test_regen_is_allowed_below_what_its_question_says():
    """property: the number printed is that of the verdict of headroom, and so is the stretch."""
    page = page_of(air_temperature=25.0, pack_resistance=52.0)
    today = headroom_of(page).today
    mark = marks.regen(page)
    # 1e-8 of charge: a search on a longer row of currents ends elsewhere inside its tolerance
    assert mark.high == pytest.approx(today.highest_charge, abs=1e-8)
    allowed = page.fmt.at_most("voltage", today.highest_rest_voltage)
    assert allowed in mark.text
    assert allowed in headroom.verdict(page, headroom_of(page))


@pytest.mark.parametrize("changes", SPECIAL, ids=str)
@pytest.mark.parametrize("units", ["metric", "US"])
def test_it_is_one_sentence_whatever_the_pack(changes, units):
    page = with_tops(units=units, **changes)
    rows = marks.of(page)
    said = marks.sentence(page, rows)
    assert said.endswith(".")
    assert said.count(". ") == 0
    assert "nan" not in said
    assert "-0" not in said
    figure = chart.figure(page, rows)
    assert len(figure["data"]) >= 2 + len(rows)
    assert not any(row.low > row.high for row in rows)


def test_it_follows_a_held_slider():
    """property: with nothing changed the estimate is what was known; a faster target moves its mark up at once."""
    state = State.of("supermoto")
    settled = make_page.page_of(state, state.values)
    same, faster = make_page.near(settled, state, [state.values | {"target": speed} for speed in (95.0, 105.0)])
    assert same.tops == pytest.approx(settled.tops, rel=1e-3)
    assert marks.target(faster).low > marks.target(same).low
    (fuller,) = make_page.near(settled, state, [state.values | {"charge": 60.0}])
    assert fuller.tops == pytest.approx(settled.tops, rel=0.01)  # the pack's own curve stays where it is


def test_home_is_marked_once_the_rider_says_how_far_it_is():
    """property: nothing of a home nobody named; from its question's own charge upward once it is."""
    assert marks.home(page_of()) is None
    page = page_of()
    page = replace(page, inputs=with_origins(page.inputs).told({"home_distance": 12.0}))
    answer, mark = results.home_of(page), marks.home(page)
    assert (mark.low, mark.high) == (answer.charge, 1.0)
    assert "12.0 km home: needs" in mark.text
    assert page.fmt.at_least("voltage", answer.rest_voltage) in mark.text
    assert "let go" in marks.home(replace(page, rough=True)).text
