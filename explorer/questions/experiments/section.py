"""Experiments: a scene, a guess, one change, two runs, and why. Nothing is run before the guess is made."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import streamlit as st

from explorer.charts import parts
from explorer.components.live_chart import live_chart
from explorer.format import spelled
from explorer.frame.layout import numbers, say, show_derivation, warn
from explorer.frame.prose import prose
from explorer.inputs.presets import STARTS
from explorer.page import cautions
from explorer.page.page import Page
from explorer.page.words import STANDS
from explorer.questions.experiments import chart, force_chart, regen, words
from explorer.questions.experiments.catalogue import BY_KEY, CELL, CUT, EXPERIMENTS, VOLTAGE, Experiment
from explorer.questions.experiments.results import both_runs, braking, forces
from explorer.questions.experiments.two_runs import TwoRuns
from explorer.questions.experiments.words import FORCE
from explorer.state.link_entries import EXPERIMENT, PROJECTOR
from explorer.state.share_link import address
from explorer.state.state import current, whole_link

TITLE = "Experiments: guess first, then look"
KEY = "experiments"
_KEPT = f"{KEY}:kept"
LARGE = 380
"""Height of the chart beside large type, so that it and the verdict stand on 1024 by 768."""
COURSE = 5
"""Experiments after which what was guessed and what came out is shown together; the first so many make a course."""


def draw(page: Page) -> None:
    """One experiment; alone on the page, and large, where a class looks on."""
    key = f"{KEY}_projector"
    if key not in st.session_state:
        st.session_state[key] = bool(st.session_state.get(PROJECTOR))
    st.session_state[PROJECTOR] = st.toggle(words.PROJECTOR, key=key, help=words.PROJECTOR_HELP)
    if st.session_state[PROJECTOR]:
        st.html(Path(__file__).with_name("alone.css"))
    with st.container(key=f"{KEY}_alone" if st.session_state[PROJECTOR] else f"{KEY}_among_others"):
        _draw(page)


def _draw(page: Page) -> None:
    """Choice of experiment, scene, question; after the guess the two runs."""
    linked = st.session_state.get(EXPERIMENT, "")
    first = linked if linked in BY_KEY else EXPERIMENTS[0].key
    memory = st.session_state.setdefault(_KEPT, {"chosen": first, "guesses": {}, "shown": {}, "came": {}})
    with st.container(key=f"{KEY}_intro"):
        st.markdown(words.INTRO)
    if linked and linked not in BY_KEY:
        st.info(words.UNKNOWN)
    chosen = BY_KEY[_choose(memory)]
    if linked:
        st.session_state[EXPERIMENT] = chosen.key
    say(f"{KEY}_scene", chosen.scene(page.inputs, page.fmt))
    guess = _ask(chosen, memory)
    if guess is not None and memory["shown"].get(chosen.key):
        _answer(page, chosen, guess, memory)
        _onward(chosen, memory)
        if len(memory["came"]) >= COURSE:
            say(f"{KEY}_course", words.course(list(memory["came"].values())))
    with st.popover(words.LINK, icon=":material/link:"):
        st.caption(words.LINK_HELP)
        link = whole_link(current()) | {"experiment": chosen.key}  # with the projector where it is on
        st.code(address(link, st.context.url), language=None, wrap_lines=True)


def _choose(memory: dict[str, Any]) -> str:
    """The experiment that is looked at; kept while the section is folded."""
    key = f"{KEY}_choice"
    if key not in st.session_state:
        st.session_state[key] = memory["chosen"]
    titles = {item.key: prose(f"{number}. {item.title}") for number, item in enumerate(EXPERIMENTS, 1)}
    memory["chosen"] = st.selectbox(words.CHOICE, list(titles), format_func=titles.__getitem__, key=key)
    return memory["chosen"]


def _ask(chosen: Experiment, memory: dict[str, Any]) -> str | None:
    """The question, its answers and the button that runs it; the guess stands once it is shown."""
    key = f"{KEY}_guess_{chosen.key}"
    labels = {name: prose(label) for name, label in chosen.answers}
    shown = bool(memory["shown"].get(chosen.key))
    if st.session_state.get(key) is None:
        st.session_state[key] = memory["guesses"].get(chosen.key)
    guess = st.radio(
        words.ask(chosen.question),
        list(labels),
        format_func=labels.__getitem__,
        key=key,
        index=None,
        disabled=shown,
    )
    memory["guesses"][chosen.key] = guess
    if not shown:
        st.button(
            words.RUN,
            type="primary",
            icon=":material/play_arrow:",
            key=f"{KEY}_show_{chosen.key}",
            disabled=guess is None,
            on_click=_reveal,
            args=(chosen.key, memory),
            help=words.RUN_HELP if guess is None else None,
        )
    return guess


def _reveal(key: str, memory: dict[str, Any]) -> None:
    memory["shown"][key] = True


def two_runs(page: Page, chosen: Experiment) -> TwoRuns:
    """Both runs of an experiment on the build of the page; where braking is compared, both events."""
    builds, (first, second) = chosen.builds(page.inputs), chosen.names(page.inputs, page.fmt)
    names = spelled(first, page.fmt.system), spelled(second, page.fmt.system)
    if chosen.chart == CELL:
        before, after = map(braking, builds, chosen.plans)
        return TwoRuns(builds, page.runs, names, page.fmt, (before, after))
    return TwoRuns(builds, both_runs(*builds, page.duration), names, page.fmt)


def _answer(page: Page, chosen: Experiment, guess: str, memory: dict[str, Any]) -> None:
    """Whether the guess holds, the two runs, and why."""
    two, labels = two_runs(page, chosen), dict(chosen.answers)
    if chosen.chart != CELL and 3.6 * two.top.max() < STANDS and not chosen.cuts_out(two):
        st.info(words.STANDS_STILL)
        return
    explanation, right = chosen.explanation(two), chosen.judge(two)
    came = memory["came"]
    came[chosen.key] = (chosen.title, labels[guess], labels[right], right)
    say(KEY, f"{words.judged(labels[guess], labels[right])} {explanation.happened}")
    view = _view(chosen)
    if chosen.guessed is not None and view == FORCE:
        found = forces(*two.builds, force_chart.last_speed(two), force_chart.POINTS)
        shown = (guess, labels[guess])
        figure, height = force_chart.figure(found, two, chosen.guessed, shown, labels[right]), force_chart.HEIGHT
    else:
        figure, height = _figure(chosen, two)
    if st.session_state[PROJECTOR]:
        figure, height = parts.large(figure), LARGE
    key = f"chart_{KEY}_{view if view == FORCE else chosen.chart}"
    live_chart(figure, key=key, height=height, alt=prose(words.alt(two.names, explanation)))
    say(f"{KEY}_because", words.because(explanation))
    if elsewhere := _elsewhere(chosen, right, came):
        say(f"{KEY}_alike", elsewhere)
    show_derivation(KEY, lambda: chosen.derivation(two), words.WHY)
    rows = (regen if chosen.chart == CELL else words).numbers(two)
    numbers(KEY, lambda: words.table(rows, two.names), words.IN_NUMBERS)
    warn(chosen.cautions(two))
    if chosen.chart != CELL:
        faster = int(two.top.argmax())
        warn(cautions.speed_ratings(two.builds[faster], float(two.top[faster]), page.fmt))


def _view(chosen: Experiment) -> str:
    """Which chart is looked at; some have only the one over time."""
    if chosen.guessed is None:
        return ""
    key = f"{KEY}_view"
    st.session_state.setdefault(key, next(iter(words.VIEWS)))
    view = st.segmented_control(
        "View",
        list(words.VIEWS),
        format_func=words.VIEWS.__getitem__,
        key=key,
        required=True,
        label_visibility="collapsed",
    )
    return view or ""


def _elsewhere(chosen: Experiment, right: str, came: dict[str, Any]) -> str:
    """Where an experiment teaches nothing new on this build, that it does on another; else nothing."""
    if not chosen.shows_on:
        return ""
    build = STARTS[chosen.shows_on].name
    if right == CUT:
        return words.hidden(build)
    earlier = came.get(chosen.flips)
    return words.same_lesson(earlier[0], build) if earlier and earlier[3] == right else ""


def _figure(chosen: Experiment, two: TwoRuns) -> tuple[dict[str, Any], int]:
    if chosen.chart == CELL:
        events = regen.events_of(two)
        pair = [(one.time, one.voltage) for one in events]
        return chart.cell_figure(pair, events[0].limit, two.names, two.fmt), chart.CELL_HEIGHT
    if chosen.chart == VOLTAGE:
        return chart.voltage_figure(two.runs, two.names, two.fmt), chart.HEIGHT
    display = None
    if chosen.key == "tyre":
        display = two.runs.speed[1] * (two.fastest(0).radius / two.fastest(1).radius)
    large = st.session_state[PROJECTOR]
    return chart.speed_figure(two.runs, two.names, two.fmt, display, large), chart.HEIGHT


def _onward(chosen: Experiment, memory: dict[str, Any]) -> None:
    """Guess again, or go on to the next."""
    index = EXPERIMENTS.index(chosen)
    with st.container(horizontal=True, vertical_alignment="center", key=f"{KEY}_onward"):
        if index + 1 < len(EXPERIMENTS):
            following = EXPERIMENTS[index + 1]
            st.button(
                prose(words.go_on(following.title)),
                type="primary",
                icon=":material/arrow_forward:",
                key=f"{KEY}_next",
                on_click=_go,
                args=(following.key, memory),
            )
        st.button(
            words.AGAIN,
            icon=":material/replay:",
            key=f"{KEY}_again_{chosen.key}",
            on_click=_again,
            args=(chosen.key, memory),
        )
        st.caption(words.progress(len(memory["shown"]), len(EXPERIMENTS)))


def _go(key: str, memory: dict[str, Any]) -> None:
    st.session_state[f"{KEY}_choice"] = memory["chosen"] = key


def _again(key: str, memory: dict[str, Any]) -> None:
    memory["shown"].pop(key, None)
    memory["guesses"].pop(key, None)
    memory["came"].pop(key, None)
    st.session_state[f"{KEY}_guess_{key}"] = None
