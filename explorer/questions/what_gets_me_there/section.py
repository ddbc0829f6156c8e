"""What would it take: the smallest single changes that reach the target, and the best pairs, one click each."""

from __future__ import annotations

from typing import Any

import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.derivations.saving import saving
from explorer.frame.background_job import Job, latest, watch
from explorer.frame.layout import numbers, say, show_derivation, warn
from explorer.frame.offer import offer, show_saved
from explorer.frame.prose import prose
from explorer.page import lever_words, saved_words
from explorer.page.lever_inputs import as_inputs, pair_as_inputs
from explorer.page.lever_inputs import levers as page_levers
from explorer.page.page import Page
from explorer.page.pool import Task
from explorer.page.tolerances import tolerances
from explorer.questions.what_gets_me_there import chart, words
from explorer.questions.what_gets_me_there.allowed import allowed, edit_allowed
from explorer.questions.what_gets_me_there.results import Ways, Worse, mixed, search
from physics.studies.target import Change, Goal, PairChange, saving_levers
from physics.studies.target.single_change import REACHES

TITLE = "What would get me to my target?"
KEY = "what_gets_me_there"
LOW_SPEED = {"metric": 50.0, "US": 30.0}
"""The speed whose time says what a change costs, in the rider's unit."""


def ahead(page: Page) -> list[Task]:
    """Begin the search while the page above is drawn."""
    _job(page)
    return []


def _job(page: Page) -> tuple[Job, Job | None]:
    levers, prices = allowed(page)
    goal = Goal(page.target_speed, page.duration, float(page.fmt.si("speed", LOW_SPEED[page.fmt.system])))
    worse = Worse(page.pull_margin, tolerances(page.inputs), page_levers(page.build, page.inputs, saving_levers))
    key = (repr(page.build), goal, levers, prices, worse)
    return latest(KEY, key, search(page.build, goal, levers, prices, worse))


def draw(page: Page) -> None:
    """Search beside the page; show what was found, or meanwhile what was found before."""
    job, last = _job(page)
    if job.error is not None:
        raise job.error
    if not job.ended:
        watch(job, KEY, words.SEARCHING)
    shown = job if job.result is not None else last
    if shown is not None and shown.result is not None:
        _answer(page, shown.result, fresh=shown is job)
    edit_allowed(page)


def _answer(page: Page, ways: Ways, fresh: bool) -> None:
    """Verdict, chart, changes in words with a button each, table, cautions."""
    verdict = words.verdict(ways, page)
    say(KEY, verdict)
    show_derivation(KEY, lambda: words.derivation(page))
    if ways.single.reached:
        return
    _bars(page, ways, verdict)
    _singles(page, ways, fresh)
    _pairs(page, ways, fresh)
    numbers(KEY, lambda: words.table(ways, page))
    if ways.saved is not None:
        saved = ways.saved
        show_saved(
            KEY,
            saved,
            page,
            verdict=saved_words.verdict(saved, page),
            derivation=lambda: saving(saved),
            changes=lambda one: as_inputs(page.build, page.inputs, one.lever, one.value),
            before=page.inputs,
            fresh=fresh,
        )
    warn(*words.cautions(ways, page))


def _bars(page: Page, ways: Ways, verdict: str) -> None:
    changes = [change for change in ways.single.changes if not words.does_nothing(change)]
    idle = [change for change in ways.single.changes if words.does_nothing(change)]
    if changes:
        live_chart(
            chart.figure(
                [prose(lever_words.name(change.lever)) for change in changes],
                [change.fraction for change in changes],
                [change.status == REACHES for change in changes],
                [words.bar_text(change, page) for change in changes],
            ),
            key=f"chart_{KEY}",
            height=chart.height(len(changes)),
            alt=words.chart_alt(verdict),
        )
    if idle:
        st.caption(prose(words.no_gain(idle)))


def _singles(page: Page, ways: Ways, fresh: bool) -> None:
    for kind, heading in lever_words.KINDS.items():
        changes = [change for change in words.reaching(ways.single.changes) if change.lever.kind == kind]
        if changes:
            st.markdown(f"**{heading}**")
        for change in changes:
            text = lever_words.change_text(change.lever, change.present, change.value, page.fmt)
            inputs = as_inputs(page.build, page.inputs, change.lever, change.value)
            _offer(page, ways, change.lever.key, text, change, inputs, fresh)


def _pairs(page: Page, ways: Ways, fresh: bool) -> None:
    if ways.pairs:
        st.markdown(words.TWO_TOGETHER)
    for pair in mixed(ways.pairs):
        inputs = pair_as_inputs(page.build, page.inputs, pair)
        key = "+".join(lever.key for lever in pair.levers)
        _offer(page, ways, key, lever_words.pair_text(pair, page.fmt), pair, inputs, fresh)


def _offer(
    page: Page,
    ways: Ways,
    key: str,
    text: str,
    found: Change | PairChange,
    inputs: dict[str, Any],
    fresh: bool,
) -> None:
    """One change in words, and a button that makes it."""
    single = ways.single
    brings = words.brings(found.outcome, single.present, page.fmt, single.goal.low_speed)
    cost = words.cost_text(found.price_per_speed, page.fmt)
    offer(KEY, key, words.offer(text, brings, cost), inputs, page.inputs, fresh=fresh)
