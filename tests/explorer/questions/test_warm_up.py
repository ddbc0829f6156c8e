"""The warm-up: what is said on cold, mild and impossible days, its derivation, and the page."""

import re
from functools import cache

import numpy as np
import pytest

from explorer.components.live_chart import pack
from explorer.page import pool
from explorer.questions.warm_up import chart, results, words
from physics.studies.day.outcomes import PAYS
from physics.studies.day.warm_up import GETS_THERE, INDOORS, STEADY
from tests.explorer.derivations.test_derivations import check
from tests.explorer.pages import opened, page_of, rerun, settled, written
from tests.explorer.plain_words import slips, unsaid

DAYS = {
    "does not pay": ("road", "US", {"warm_to": 22.0}),
    "missed": ("supermoto", "metric", {"warm_share": 100.0, "warm_pull": 40.0}),
    "pays": ("supermoto", "metric", {"air_temperature": -5.0, "cold_growth": 4.0, "warm_to": 10.0}),
    "cuts out": ("supermoto", "metric", {"continuous_current": 30.0, "peak_time": 1.0, "warm_to": 9.0}),
    "too cold": ("trail", "US", {"air_temperature": -18.0, "discharge_minimum": 0.0}),
    "empty": ("trail", "metric", {"charge": 12.0, "warm_to": 30.0}),
    "little current": ("trail", "metric", {"warm_current": 2.0, "warm_to": 18.0, "warm_share": 100.0}),
    "warm": ("road", "US", {"warm_to": 0.0}),
    "iron phosphate": ("trail", "metric", {"chemistry": "lfp", "air_temperature": 0.0, "warm_to": 5.0}),
}


@cache
def page_and_found(day):
    """A page and the warm-up of it, as the job beside the page finds it."""
    preset, system, changes = DAYS[day]
    page = page_of(preset, units=system, **changes)
    work = results.warming(page)
    return page, work(lambda *_: None, lambda: False)


def test_a_job_whose_work_was_dropped_comes_to_nothing_only_if_it_was_dropped_itself(monkeypatch):
    """property: a section that was folded meanwhile finds its answer there; a newer move finds nothing older."""
    page, found = page_and_found("warm")
    monkeypatch.setattr(pool.Task, "dropped", True)
    monkeypatch.setattr(results, "_SOON", 0.0)
    work = results.warming(page)
    assert work(lambda *_: None, lambda: False).warm is found.warm
    assert work(lambda *_: None, lambda: True) is None


@pytest.mark.parametrize("day", DAYS)
def test_words_numbers_and_chart(day):
    """property: a verdict for every day, in whole sentences; the printed arithmetic is right; a light chart."""
    page, found = page_and_found(day)
    said = [words.verdict(page.fmt, found), words.effort(page.fmt, found)]
    said.append(words.on_the_sheet(page.fmt, found.plan.current, found.warm))
    for text in said:
        assert not slips(text), text
        assert not unsaid(text), text
        assert not re.search(r"\bnan\b|\binf\b|not known\b(?! well)|no limit", text), text
    for step in words.derivation(found):
        check(step)
    assert 1 <= len(words.table(page.fmt, found)) <= len(words.STARTS)
    if words.rides(found):
        assert len(pack(chart.figure(found, page.fmt), key="a", height=1, alt="")) < 20_000


def test_what_is_said():
    """property: the lead follows from the outcomes; each failure says why; the cost is current times time."""
    page, found = page_and_found("does not pay")
    assert "does not pay today" in words.verdict(page.fmt, found)
    way = found.warm.ways[STEADY]
    assert f"and {40.0 * way.time[0] / 3600.0:.1f} Ah" in words.effort(page.fmt, found)
    page, found = page_and_found("pays")
    assert found.warm.outcomes.pays(1 + found.warm.best) == PAYS
    assert words.verdict(page.fmt, found).startswith("**Riding the pack warm pays today:**")
    for day, part in {
        "cuts out": "the BMS would cut out first",
        "too cold": "it lets the pack discharge only from 32 °F",
        "empty": "the pack is empty first",
        "little current": "loses as much heat as it makes",
    }.items():
        assert part in words.effort(page_and_found(day)[0].fmt, page_and_found(day)[1]), day
    assert "No warm-up needed" in words.verdict(page.fmt, page_and_found("warm")[1])
    page, found = page_and_found("missed")
    assert found.warm.outcomes.pays(1 + INDOORS) == PAYS
    assert "**Kept at 12 °C until the start" in words.verdict(page.fmt, found)
    others = results.other_currents(found)
    assert found.warm.ways[STEADY].status == GETS_THERE
    assert np.interp(40.0, others[0], others[2]) == pytest.approx(found.warm.ways[STEADY].time[0])


def test_on_the_sheet_only_where_it_applies():
    """property: a cold pack that misses its target, or a temperature asked for, brings a line; else none."""
    assert not results.applies(page_of("road"))
    assert results.applies(page_of("road", warm_to=20.0))
    assert results.applies(page_of("supermoto"))


def test_section():
    """It is worked out beside the page, folded it is not, and the tables stand on request."""
    link = {"warm_to": 9, "warm_share": 100, "warm_pull": 40}
    page = settled(opened("warm_up", **link), "warm_up")
    text = written(page)
    assert "Riding the pack warm" in text
    assert "thermometer" in text
    page = rerun(page, "table_warm_up", "table_warm_up_currents")
    frames = [frame.value for frame in page.dataframe]
    assert any("line limit" in frame.columns for frame in frames)
    assert any("on the level" in frame.columns for frame in frames)
    assert "background:warm_up" not in opened().session_state
