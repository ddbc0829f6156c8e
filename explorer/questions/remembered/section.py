"""Remembered: what a rider's memories of his rides say of his bike, and what to look at next."""

from __future__ import annotations

from typing import Any

import streamlit as st

from explorer.frame.background_job import latest, watch
from explorer.frame.layout import numbers, say, show, warn
from explorer.frame.prose import prose
from explorer.inputs.to_build import make_build
from explorer.page.page import Page
from explorer.page.tolerances import doubts, left_out, rating
from explorer.questions.remembered import chart, facts, results, words
from explorer.questions.remembered.results import Answer
from explorer.state.memories import WERE, Memory
from explorer.state.state import current
from physics.build import Build
from physics.fitting.recollection import CUT_OUT, HELD
from physics.studies.recollection.predict import rides

TITLE = "What do the numbers I remember say about my bike?"
KEY = "remembered"
WAIT = 1.0
"""Seconds after an entry before bikes are tried: the next one may follow."""


def draw(page: Page) -> None:
    """The answer of the complete rows, then the table they stand in."""
    rows = [row for row in facts.memories() if row.complete]
    if rows:
        _work_out(page, rows)
    else:
        say(f"{KEY}_ask", words.ASK)
    facts.edit(page)
    if sentence := words.waiting(facts.memories()):
        st.caption(sentence)
    if facts.memories():
        st.button(words.CLEAR, icon=":material/delete:", on_click=facts.clear, key=f"{KEY}_clear")
    warn(words.CAUTION)


def _work_out(page: Page, rows: list[Memory]) -> None:
    """Try bikes beside the page; show what was found, or meanwhile what was found before."""
    inputs = results.before_the_facts(page.inputs, st.session_state.get(WERE, {}))
    build = make_build(inputs, page.build.name)
    known = {item.path: item for item in doubts(inputs) if not left_out(inputs, item.path)}
    if any(row.kind in (CUT_OUT, HELD) for row in rows):
        known |= {item.path: item for item in rating(inputs)}
    told = tuple(results.as_fact(row, page) for row in rows)
    looked_at = results.candidates(page)
    unknown = tuple(known.values())
    key = (repr(build), told, unknown, looked_at)
    job, last = latest(KEY, key, results.search(build, told, unknown, looked_at), WAIT)
    if job.error is not None:
        raise job.error
    if not job.ended:
        count = results.SAMPLES * results.TIMES
        watch(job, KEY, words.running(count, len(rides([fact.observable for fact in told]))))
    fresh = job.result is not None
    shown = job if fresh else last
    if shown is not None and shown.result is not None and len(shown.result.found.told) == len(rows):
        _answer(page, shown.result, rows, build, inputs, fresh)
    elif job.ended:
        st.info(words.STOPPED)


def _answer(
    page: Page, answer: Answer, rows: list[Memory], build: Build, inputs: dict[str, Any], fresh: bool
) -> None:
    """Verdict, what next, chart, tables, and the button that uses the values."""
    found, fmt = answer.found, page.fmt
    say(KEY, words.verdict(answer, rows, build, fmt))
    if not found.success:
        return
    if text := words.following(answer, page):
        st.markdown(prose(text))
    changes = results.as_inputs(found, build, inputs)
    if inputs != page.inputs:
        st.caption(words.USED)
    st.button(
        words.APPLY,
        icon=":material/check:",
        type="primary",
        disabled=not fresh or all(page.inputs[key] == value for key, value in changes.items()),
        on_click=_use,
        args=(changes, inputs, page.inputs),
        key=f"{KEY}_apply",
        help=words.APPLY_HELP,
    )
    show(
        KEY,
        figure=chart.figure(
            [words.name(item.name) for item in found.findings],
            found.findings,
            [words.interval(item, fmt) for item in found.findings],
        ),
        height=chart.height(len(found.findings)),
        alt=words.alt(found.findings, fmt),
        note=words.note(found),
        table=lambda: words.table(found, fmt),
    )
    numbers(f"{KEY}_told", lambda: words.facts_table(found, rows, fmt), words.FACTS_AGAINST)


def _use(changes: dict[str, Any], before: dict[str, Any], now: dict[str, Any]) -> None:
    """Put the values into the build, and remember what they were before."""
    st.session_state[WERE] = results.as_they_were(changes, before)
    current().try_out(changes, now)
