"""Experiments: a scene, a guess, one change, two runs, and why. Nothing is run before the guess is made."""

from __future__ import annotations

import numpy as np
import pandas as pd
import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.format import tied
from explorer.frame.layout import numbers, show_derivation
from explorer.page import words
from explorer.page.page import Page
from explorer.questions.experiments import chart
from explorer.questions.experiments import regen as experiment_regen
from explorer.questions.experiments import words as experiment_words
from explorer.questions.experiments.catalogue import BY_KEY, CELL, EXPERIMENTS, VOLTAGE, Experiment
from explorer.questions.experiments.results import both_events, both_runs
from explorer.questions.experiments.words import Seen

TITLE = "Experiments: guess first, then look"
_INTRO = (
    "For newcomers and for teaching. Each changes **one thing** on the build of this page, so the answers are your "
    "bike's own: change the build, and an answer may turn round."
)
_KEPT = "experiments:kept"


def draw(page: Page) -> None:
    """InputSpec of experiment, scene, question; after the guess the two runs."""
    kept = st.session_state.setdefault(_KEPT, {"chosen": EXPERIMENTS[0].key, "guesses": {}, "shown": {}})
    st.markdown(_INTRO)
    chosen = BY_KEY[_choose(kept)]
    with st.container(key="verdict_experiments_scene"):
        st.markdown(tied(chosen.scene(page.inputs, page.fmt)))
    guess = _ask(chosen, kept)
    if kept["shown"].get(chosen.key):
        answer(page, chosen, guess)
        _onward(chosen, kept)


def _choose(kept: dict) -> str:
    """The experiment that is looked at; kept while the section is folded."""
    if "experiments_choice" not in st.session_state:
        st.session_state["experiments_choice"] = kept["chosen"]
    titles = {item.key: f"{place}. {item.title}" for place, item in enumerate(EXPERIMENTS, 1)}
    kept["chosen"] = st.selectbox("Experiment", list(titles), format_func=titles.get, key="experiments_choice")
    return kept["chosen"]


def _ask(chosen: Experiment, kept: dict) -> str | None:
    """The question, its answers and the button that runs it; the guess stands once it is shown."""
    key, labels = f"experiments_guess_{chosen.key}", dict(chosen.options)
    shown = bool(kept["shown"].get(chosen.key))
    if st.session_state.get(key) is None:
        st.session_state[key] = kept["guesses"].get(chosen.key)
    guess = st.radio(
        f"**Your guess:** {chosen.question}", list(labels), format_func=labels.get, key=key, index=None,
        disabled=shown,
    )  # fmt: skip
    kept["guesses"][chosen.key] = guess
    if not shown:
        st.button(
            "Run both", type="primary", icon=":material/play_arrow:", key=f"experiments_show_{chosen.key}",
            disabled=guess is None, on_click=_reveal, args=(chosen.key, kept),
            help="Guess first." if guess is None else None,
        )  # fmt: skip
    return guess


def _reveal(key: str, kept: dict) -> None:
    kept["shown"][key] = True


def seen_in(page: Page, chosen: Experiment) -> Seen:
    """Both runs of an experiment on the build of the page."""
    builds = chosen.builds(page.inputs)
    names, extra = chosen.names(page.inputs, page.fmt), {}
    if chosen.chart == CELL:
        extra["events"] = both_events(*builds)
        return Seen(builds, page.runs, names, page.fmt, extra)
    return Seen(builds, both_runs(*builds, page.duration), names, page.fmt, extra)


def answer(page: Page, chosen: Experiment, guess: str | None) -> None:
    """Whether the guess holds, the two runs, and why."""
    seen, labels = seen_in(page, chosen), dict(chosen.options)
    if chosen.chart != CELL and 3.6 * seen.top.max() < words.STANDS:
        st.info("On this build and this day the bike does not get moving in either run. Change one of them first.")
        return
    right = chosen.outcome(seen)
    happened, because = chosen.explain(seen).split("\n\n")
    figure, height = _figure(chosen, seen)
    with st.container(key="verdict_experiments"):
        st.markdown(tied(f"{_judged(guess, right, labels)} {happened}"))
    live_chart(
        figure, key=f"chart_experiments_{chosen.chart}", height=height,
        alt=f"Both runs, {seen.names[0]} and {seen.names[1]}. {happened}".replace("*", ""),
    )  # fmt: skip
    with st.container(key="verdict_experiments_because"):
        st.markdown(tied(f"**Why:** {because}"))
    label = "Show me why: equations and sources"
    show_derivation("experiments", lambda: chosen.workings(seen), label)
    numbers("experiments", lambda: table(chosen, seen), "Both runs in numbers")
    if chosen.caution:
        st.warning(chosen.caution, icon=":material/warning:")


def _judged(guess: str | None, right: str, labels: dict[str, str]) -> str:
    """How the guess did."""
    if guess == right:
        return f":primary[:material/check_circle:] **You guessed right: {_lower(labels[right])}.**"
    return (
        f":primary[:material/lightbulb:] **Not what you guessed.** You said: {_lower(labels[guess])}. "
        f"On this build it is: **{_lower(labels[right])}.**"
    )


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _figure(chosen: Experiment, seen: Seen) -> tuple[dict, int]:
    if chosen.chart == CELL:
        found = seen.extra["events"]
        return chart.cell_figure(found.time, found.voltage, found.limit, seen.names, seen.fmt), chart.CELL_HEIGHT
    if chosen.chart == VOLTAGE:
        return chart.voltage_figure(seen.runs, seen.names, seen.fmt), chart.HEIGHT
    shown = None
    if chosen.key == "tyre":
        radii = [seen.fastest(row).radius for row in (0, 1)]
        shown = seen.runs.speed[1] * np.divide(*radii)
    return chart.speed_figure(seen.runs, seen.names, seen.fmt, shown), chart.HEIGHT


def table(chosen: Experiment, seen: Seen) -> pd.DataFrame:
    """Both runs in numbers."""
    rows = (experiment_regen if chosen.chart == CELL else experiment_words).numbers(seen)
    return pd.DataFrame(rows, columns=["", *_apart(seen.names)])


def _apart(names: tuple[str, str]) -> list[str]:
    return list(names) if names[0] != names[1] else [f"{names[0]}, before", f"{names[1]}, after"]


def _onward(chosen: Experiment, kept: dict) -> None:
    """Guess again, or go on to the next."""
    place = EXPERIMENTS.index(chosen)
    with st.container(horizontal=True, vertical_alignment="center", key="experiments_onward"):
        if place + 1 < len(EXPERIMENTS):
            following = EXPERIMENTS[place + 1]
            st.button(
                f"Next: {following.title}", type="primary", icon=":material/arrow_forward:", key="experiments_next",
                on_click=_go, args=(following.key, kept),
            )  # fmt: skip
        st.button(
            "Guess again", icon=":material/replay:", key=f"experiments_again_{chosen.key}", on_click=_again,
            args=(chosen.key, kept),
        )  # fmt: skip
        st.caption(f"{len(kept['shown'])} of {len(EXPERIMENTS)} done")


def _go(key: str, kept: dict) -> None:
    st.session_state["experiments_choice"] = kept["chosen"] = key


def _again(key: str, kept: dict) -> None:
    kept["shown"].pop(key, None)
    kept["guesses"].pop(key, None)
    st.session_state[f"experiments_guess_{key}"] = None
