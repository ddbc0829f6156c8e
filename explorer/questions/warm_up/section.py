"""Warm-up: how long at what current or how many gentle pulls, what charge that costs, and whether it pays."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.background_job import latest, watch
from explorer.frame.layout import numbers, say, show, show_derivation, warn
from explorer.inputs.day import WARM_UP
from explorer.page.page import Page
from explorer.page.tolerances import tolerances
from explorer.questions.warm_up import chart, results, words

TITLE = "Does it pay to warm the pack up, and how?"
KEY = "warm_up"
_MOMENT = 0.05  # s, for a job that finds all there that was asked for ahead


def draw(page: Page) -> None:
    """Verdict, its inputs, pack temperature and top speed against the minutes of a warm-up."""
    key = (page.build, results.plan_of(page), page.pull, page.pull_margin, tolerances(page.inputs))
    job, last = latest(KEY, key, results.warming(page), wait=0.0)
    job.join(_MOMENT)
    if job.error is not None:
        raise job.error
    if not job.ended:
        watch(job, KEY, words.WORKING, stops=False)
    shown = job if job.result is not None else last
    found: results.Found | None = shown.result if shown is not None else None
    if found is not None:
        say("warm_up_answer", words.verdict(page.fmt, found))
        show_derivation(KEY, lambda: words.derivation(found))
    with st.container(key="warm_up_inputs"):
        sidebar.in_place(WARM_UP)
    if found is not None:
        drawn = words.rides(found)
        show(
            KEY,
            verdict=words.effort(page.fmt, found),
            figure=chart.figure(found, page.fmt) if drawn else None,
            height=chart.HEIGHT,
            alt=words.alt(page.fmt, found),
            note=words.NOTE if drawn else "",
            table=lambda: words.table(page.fmt, found),
        )
        if drawn:
            numbers(
                "warm_up_currents",
                lambda: words.currents_table(page.fmt, found, results.other_currents(found)),
                words.CURRENTS,
            )
    warn(words.CAUTION)
