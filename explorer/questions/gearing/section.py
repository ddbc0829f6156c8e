"""Gearing: what every sprocket pair would do, the best compromise, and whether the chain still fits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.frame.background_job import latest, watch
from explorer.frame.layout import numbers, say, show_derivation, warn
from explorer.frame.prose import prose
from explorer.page.page import Page
from explorer.questions.gearing import chain, chart, words
from explorer.questions.gearing.results import (
    GearingAnswer,
    every,
    near,
    near_map,
    suggested,
    without_sprockets,
)
from explorer.state.state import current
from physics.studies.gearing import GearingMap, gearing_map
from physics.units import to_si

TITLE = "Which sprockets?"
KEY = "gearing"
SPEEDS = {"metric": (30, 50, 80), "US": (20, 30, 50)}
"""Of which one is chosen, in the rider's unit, whose time is compared."""


def draw(page: Page) -> None:
    """Verdict, map beside compromise, chain, table, cautions."""
    above = st.container(key=f"verdict_{KEY}")
    with st.container(horizontal=True, vertical_alignment="bottom", key=f"{KEY}_controls"):
        view = _choose("gearing_view", words.MAP_SHOWS, words.VIEWS, widget=st.pills)
        speeds = [f"{number} {page.fmt.unit('speed')}" for number in SPEEDS[page.fmt.system]]
        text = _choose(f"gearing_speed_{page.fmt.system}", words.TIME_TO, speeds, 1)
        spread = _choose("gearing_spread", words.PAIRS, (words.NEAR, words.ALL))
    speed = float(to_si(float(text.split()[0]), page.fmt.label("speed")))
    table = _table(page, speed, spread)
    if table is None:
        return
    answer = _answer(page, table)
    verdict = words.verdict(answer, page)
    with above:
        st.markdown(prose(verdict))
        _offer(answer, page)
        show_derivation(KEY, lambda: words.derivation(page))
    with st.grid(min_column_width=320, gap="medium"):
        _map(answer, page, view, verdict)
        _compromise(answer, page, speed)
    st.caption(words.legend(answer))
    say(f"{KEY}_chain", words.chain_words(answer, page))
    chain.edit(page)
    numbers(KEY, lambda: words.pairs_table(answer, page))
    warn(*map(prose, words.cautions(answer, page)))


def _answer(page: Page, table: GearingMap) -> GearingAnswer:
    line, on_bike = page.build.driveline, chain.chain(page)
    here = table.index(line.front_teeth, line.rear_teeth)
    fit = on_bike.fit(table.front_teeth, table.rear_teeth)
    return GearingAnswer(table, here, suggested(table, page.target_speed, here), fit, on_bike)


def _choose(
    key: str, label: str, options: Sequence[str], first: int = 0, widget: Callable[..., Any] = st.segmented_control
) -> str:
    """One of a few, kept while the section is folded."""
    memory = st.session_state.setdefault(f"{KEY}:kept", {})
    if key not in st.session_state:
        st.session_state[key] = memory.get(key, options[first])
    memory[key] = widget(label, list(options), key=key, required=True)
    return memory[key]


def _table(page: Page, speed: float, spread: str) -> GearingMap | None:
    """The map; all pairs are run beside the page."""
    build = without_sprockets(page.build)
    if spread == words.NEAR:
        return near_map(build, *near(page.build), speed, page.duration)

    def work(progress: Callable[[int, int], None], cancelled: Callable[[], bool]) -> GearingMap:
        return gearing_map(build, *every(), speed, page.duration, progress=progress, cancelled=cancelled)

    job, last = latest(KEY, (repr(build), speed, page.duration), work)
    if job.error is not None:
        raise job.error
    if not job.ended:
        front, rear = every()
        watch(job, KEY, words.running(len(front) * len(rear)))
    shown = job if job.result is not None else last
    return shown.result if shown is not None else None


def _offer(answer: GearingAnswer, page: Page) -> None:
    """A button that fits the suggested pair."""
    table, best = answer.table, answer.best
    if best is None or table.ratio[best] == table.ratio[answer.here]:
        return
    front, rear = words.pair(table, best)
    st.button(
        words.try_pair(front, rear),
        key=f"{KEY}_try",
        on_click=current().try_out,
        args=({"front_teeth": float(front), "rear_teeth": float(rear)}, page.inputs),
        help=words.TRY_HELP,
    )


def _map(answer: GearingAnswer, page: Page, view: str, verdict: str) -> None:
    table, shown = answer.table, words.map_view(answer, page, view)
    line = page.build.driveline
    live_chart(
        chart.gearing_map(
            table,
            shown.values,
            shown.texts,
            shown.title,
            (line.front_teeth, line.rear_teeth),
            None if answer.best is None else words.pair(table, answer.best),
            low_is_good=shown.low_is_good,
        ),
        key=f"chart_{KEY}_map",
        height=chart.map_height(table),
        alt=words.map_alt(shown.title, verdict),
    )


def _compromise(answer: GearingAnswer, page: Page, speed: float) -> None:
    if not np.isfinite(answer.table.time_to_speed).any():
        st.caption(words.no_time(speed, page))
        return
    live_chart(
        chart.compromise(answer.table, page.fmt, page.target_speed, answer.here, answer.best),
        key=f"chart_{KEY}_compromise",
        height=chart.COMPROMISE_HEIGHT,
        alt=words.COMPROMISE_ALT,
    )
