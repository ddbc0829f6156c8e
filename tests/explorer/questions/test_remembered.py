"""Remembered facts, as Streamlit runs them: the table, the link, the verdict, using the values."""

from dataclasses import replace

import pytest

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.page.tolerances import doubts
from explorer.questions.remembered import chart, facts, results, words
from explorer.state import link_entries
from explorer.state.memories import MEMORIES, NOTED, VAGUE, WERE, Memory
from explorer.state.state import from_link
from physics.fitting.recollection import (
    CUT_OUT,
    HELD,
    LOADED_VOLTAGE,
    TIME_TO_SPEED,
    TOP_SPEED,
    Finding,
    Recollected,
)
from physics.fitting.recollection.findings import Contradiction, Told
from tests.explorer.pages import opened, page_of, rerun, settled, state_of, written

KEY = "remembered"
PINNED = {"charge": 0.95, "temperature": 279.15, "level": "3", "front": 12, "rear": 56}
WARM = PINNED | {"temperature": 298.15}
SAGS = [Memory(LOADED_VOLTAGE, 92.5, 150.0, NOTED, **WARM), Memory(TOP_SPEED, 115 / 3.6, **PINNED)]


@pytest.fixture
def small(monkeypatch):
    """Few samples: what is tested here is the page, not its precision."""
    monkeypatch.setattr(results, "SAMPLES", 2048)
    monkeypatch.setattr(results, "TIMES", 2)


def test_without_facts_it_asks_and_computes_nothing():
    page = opened(KEY)
    assert "Write down what you remember" in written(page)
    assert f"background:{KEY}" not in page.session_state


def test_facts_find_values_that_are_used_and_not_counted_twice(small):
    """property: the resistance comes out apart from the one entered; using it makes the former build the baseline,
    and leaves the answer as it was, since it goes on from what was known before; so does the link."""
    page = settled(opened(KEY, pack_resistance="off", kept={MEMORIES: list(SAGS)}), KEY)
    text = written(page)
    assert "**Your facts say: pack resistance" in text
    assert "They do not settle" in text
    assert "**Collect next: " in text or "**No further fact would tell you much.**" in text
    assert "nan" not in text.lower().split()
    before = state_of(page).values
    page.button(key=f"{KEY}_apply").click().run()
    assert not page.exception
    state = state_of(page)
    assert state.baseline == before
    after = state.values
    assert after.origin("pack_resistance") == "given"
    assert before["pack_resistance"] is None
    assert after["sure_resistance"] < 60
    assert len(page.session_state[f"background:{KEY}"].jobs) == 1
    told = next(part.value for part in page.markdown if "Your facts say" in part.value)
    assert told.replace("\u00a0", " ") in text
    assert page.button(key=f"{KEY}_apply").disabled
    link = {key: "".join(value) for key, value in page.query_params.items()}
    again = from_link(link).values
    kept, _ = link_entries.read(link)
    assert [row.kind for row in kept[MEMORIES]] == [LOADED_VOLTAGE, TOP_SPEED]
    prior = results.before_the_facts(again, kept[WERE])
    assert doubts(prior) == doubts(before)
    assert prior.given == before.given
    assert repr(make_build(prior)) == repr(make_build(before))
    state.undo()
    assert state.values["pack_resistance"] is None
    assert told.replace("\u00a0", " ") in written(settled(rerun(page), KEY))


def test_tables_and_both_systems(small):
    """property: every table can be unfolded, in both systems, with a fact that nothing gives among the others."""
    wrong = Memory(TOP_SPEED, 60.0, **PINNED | {"charge": 1.0})
    events = [Memory(HELD, 10.0, 150.0, **PINNED), Memory(TIME_TO_SPEED, 6.0, 20.0, VAGUE, **PINNED)]
    page = opened(KEY, units="US", charge_as="rest voltage", kept={MEMORIES: [*SAGS, *events, wrong]})
    page = rerun(settled(page, KEY), f"table_{KEY}", f"table_{KEY}_told")
    text = written(page)
    assert "**Nothing close to your build gives a top speed of 134" in text
    assert len(page.dataframe) >= 2
    assert "km/h" not in text[text.index("Nothing close to your build") : text.index("Do not chase")]


def test_what_is_entered_is_kept_or_refused_in_a_sentence():
    """hand-worked: a new fact begins with today's 95 %, 6 degrees, level 3 and 12 to 56 teeth; 60 mph are 26.8 m/s;
    a top speed of 900 km/h is left out, and with it nothing else."""
    page = page_of("supermoto")
    what = words.kinds(page.fmt)
    rows, refused = facts.take([], {0: {words.WHAT: what[TOP_SPEED]}}, page, False)
    assert not refused
    assert replace(rows[0], charge=0.95) == Memory(TOP_SPEED, **PINNED)
    assert rows[0].charge == pytest.approx(0.95)
    assert words.waiting(rows).startswith("Row 1 is incomplete")
    rows, refused = facts.take(rows, {0: {words.VALUE: 900.0}}, page, False)
    assert (rows[0].value, len(refused)) == (None, 1)
    assert refused[0] == (
        "Row 1, top speed, value: 900 km/h was entered; 4 to 432 km/h is accepted. The row was left unchanged."
    )
    rows, refused = facts.take(rows, {0: {words.VALUE: 115.0}, 2: {words.VALUE: 6.0}}, page, False)
    assert rows[0].value == pytest.approx(115 / 3.6)
    assert (rows[2].kind, rows[2].value) == ("", 6.0)
    rows, _ = facts.take(rows, {2: {words.WHAT: what[CUT_OUT], words.AT: 200.0}}, page, False)
    assert (rows[2].value, rows[2].at, rows[2].complete) == (6.0, 200.0, True)
    american = page_of("supermoto", units="US")
    rows, refused = facts.take(rows, {0: {words.VALUE: 60.0, words.FRONT: 99}}, american, False)
    assert "front sprocket: 99 teeth" in refused[0]
    assert rows[0].value == pytest.approx(115 / 3.6)
    rows, _ = facts.take(rows, {0: {words.VALUE: 60.0}}, american, False)
    assert rows[0].value == pytest.approx(26.8224)
    charge, _ = words.condition_columns(page.fmt, True)
    rows, refused = facts.take(rows, {0: {charge: 100.8}}, page, True)
    assert (rows[0].charge, refused) == (pytest.approx(1.0), [])
    rows, _ = facts.take(rows, {2: {words.WHAT: None, words.VALUE: None, words.AT: None}}, page, False)
    assert len(rows) == 1


def test_contradictions_in_words():
    """hand-worked: one in fifty; the fact that fits least is named."""
    told = tuple(Told(0.0, 0.0, 0.0, 0.1, wrong) for wrong in (0.2, 0.9))
    found = Recollected(1, "", (), told, (Contradiction(0, 1, 0.02),), 100, 50.0, None, None)
    text = words.contradictions(found, SAGS, page_of().fmt)
    assert (
        "Two facts contradict each other: 92.5 V under 150 A, and a top speed of 115 km/h.** They are 50 times more"
        in text
    )
    assert text.endswith("The odd one out is most likely a top speed of 115 km/h: check that one first.")
    few = Recollected(-1, "", (), told, (), 4096, 20.0, None, None)
    said = words.verdict(results.Answer(few, ()), SAGS, page_of().build, page_of().fmt)
    assert said.startswith(
        "**No values yet.** Of 4,096 simulated bikes, only about 20 match your facts; it takes 200"
    )


def test_values_as_inputs():
    """hand-worked: half of a 90 % interval of 3.29 milliohm at 47 is 1 deviation, so two are 4.3 %; a balance
    point 10 mm higher with the rider on, 200 kg for 118, is the bike's own 17 mm higher; what is open stays."""
    values = PRESETS["supermoto"].values()
    build = make_build(values)
    height = build.bike.centre_of_gravity_height + 0.01
    findings = (
        Finding("pack.resistance", 0.0453551, 0.047, 0.0486449, 0.03, 0.05, 0.07),
        Finding(results.HEIGHT, height - 0.01, height, height + 0.01, 0.5, 0.6, 0.7),
        Finding("bike.drag_area", 0.4, 0.5, 0.6, 0.4, 0.5, 0.6),
    )
    found = Recollected(1, "", findings, (), (), 1, 1.0, None, None)
    assert results.as_inputs(found, build, values) == {
        "pack_resistance": 47.0,
        "sure_resistance": 4.3,
        "bike_height": values["bike_height"] + 17.0,
    }
    assert {*results.as_inputs(found, build, values)} <= set(INPUTS)


def test_chart_draws_each_unknown_on_its_own_scale():
    """hand-worked: 2 to 3 within 1 to 5 is 0.25 to 0.5."""
    figure = chart.figure(["a"], [Finding("a", 2.0, 2.5, 3.0, 1.0, 3.0, 5.0)], ["2.5"])
    assert list(figure["data"][1]["x"][:2]) == [0.25, 0.5]
    assert list(figure["data"][0]["x"][:2]) == [0.0, 1.0]
