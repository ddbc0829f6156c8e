"""The named builds side by side: on one chart and in one table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.frame.layout import warn
from explorer.frame.prose import prose
from explorer.inputs.catalogue import INPUTS, TODAY
from explorer.inputs.to_build import make_build
from explorer.page.page import Page
from explorer.page.words import faults
from explorer.page.words_of_keeping import COPY
from explorer.questions.builds import chart, words
from explorer.questions.builds.results import runs_of
from explorer.state.names import LONGEST_NAME, as_markdown
from explorer.state.state import State, current
from physics.build import Build
from physics.build.fields import BuildError

TITLE = "How do my builds compare?"
KEY = "builds"


def draw(page: Page) -> None:
    """Verdict, the chart, the table; with one build alone, how to make another."""
    state = current()
    inputs = everyone(state, page)
    if len(inputs) < 2:
        with st.container(key=f"verdict_{KEY}"):
            st.markdown(words.ONLY_ONE)
        _add(state)
        return
    same_day = st.session_state.setdefault(f"{KEY}:kept", True)
    if same_day:
        inputs = {name: on_the_day_of(page.inputs, values) for name, values in inputs.items()}
    builds, left_out = sound_builds(inputs)
    names, targets = list(builds), [INPUTS["target"].si(inputs[name]["target"]) for name in builds]
    runs = runs_of(tuple(builds.values()), page.duration) if builds else None
    with st.container(key=f"verdict_{KEY}"):
        if runs is not None:
            st.markdown(prose(words.verdict([as_markdown(name) for name in names], runs, targets, page.fmt)))
        for sentence in left_out:
            st.markdown(sentence)
    with st.container(horizontal=True, vertical_alignment="bottom", key="builds_controls"):
        _add(state)
        _behind(state, [name for name in names if name in state.builds and name != state.name])
    _day(same_day)
    if runs is None:
        return
    mine = names.index(state.name) if state.name in builds else -1
    live_chart(
        chart.figure(runs, names, mine, page.fmt, page.target_speed),
        key=f"chart_{KEY}",
        height=chart.HEIGHT,
        alt=words.chart_alt(names),
    )
    st.dataframe(
        words.table({name: inputs[name] for name in names}, runs, targets, page.fmt, state.phase_as),
        hide_index=True,
        height="content",
        key="builds_table",
        alt=words.TABLE_ALT,
        column_config={"": st.column_config.TextColumn(pinned=True)},
    )
    st.caption(words.TABLE)
    warn(*map(prose, words.cautions(builds, runs, page.fmt)))


def everyone(state: State, page: Page) -> dict[str, dict[str, Any]]:
    """The inputs of every named build, and of the baseline where it is none of them."""
    units = state.units
    inputs = {
        name: page.inputs if name == state.name else values.in_units(units) for name, values in state.builds.items()
    }
    baseline = state.baseline and state.baseline.in_units(units)
    if baseline is not None and baseline not in inputs.values():
        taken = state.baseline_name in inputs
        inputs[f"{state.baseline_name} (baseline)" if taken else state.baseline_name] = baseline
    return inputs


def on_the_day_of(mine: dict[str, Any], values: dict[str, Any]) -> dict[str, Any]:
    """The inputs of a build on the day, with the charge and for the target, of another."""
    return values | {key: mine[key] for key, spec in INPUTS.items() if spec.group == TODAY}


def sound_builds(inputs: dict[str, dict[str, Any]]) -> tuple[dict[str, Build], list[str]]:
    """The builds that can be made, and a sentence for each that cannot."""
    builds, left_out = {}, []
    for name, values in inputs.items():
        try:
            builds[name] = make_build(values, name)
        except BuildError as error:
            left_out.append(words.left_out(name, faults(error)))
    return builds, left_out


def _add(state: State) -> None:
    st.button(
        words.ADD,
        icon=":material/content_copy:",
        key="builds_add",
        on_click=state.add,
        args=(state.name[: LONGEST_NAME - 4],),
        disabled=state.full,
        help=COPY,
    )


def _behind(state: State, others: Sequence[str]) -> None:
    """Which other build is drawn behind this one in all charts of the page."""
    if not others:
        return
    key, options = "builds_behind", [words.NO_BASELINE, *others]
    st.session_state[key] = words.NO_BASELINE
    if state.baseline is not None:
        same = [name for name in others if state.builds[name] == state.baseline]
        st.session_state[key] = same[0] if same else words.FORMER
        options += [] if same else [words.FORMER]

    def chosen() -> None:
        name = st.session_state[key]
        if name == words.NO_BASELINE:
            state.clear_baseline()
        elif name in state.builds:
            state.set_baseline(state.builds[name], name)

    st.selectbox(
        words.BASELINE,
        options,
        key=key,
        on_change=chosen,
        width=320,
        help=words.BASELINE_HELP,
    )


def _day(same: bool) -> None:
    key = "builds_same_day"
    st.session_state[key] = same
    st.toggle(
        words.SAME_DAY,
        key=key,
        on_change=lambda: st.session_state.update({f"{KEY}:kept": st.session_state[key]}),
        help=words.SAME_DAY_HELP,
    )
