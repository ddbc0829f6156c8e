"""The named builds side by side: on one chart and in one table."""

from __future__ import annotations

import numpy as np
import pandas as pd
import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.format import tied
from explorer.inputs.catalogue import AT_THE_SIDE, INPUTS, TODAY
from explorer.inputs.to_build import make_build
from explorer.page import words
from explorer.page import words_of_keeping as words_keep
from explorer.page.page import Page
from explorer.questions.builds import chart
from explorer.questions.builds.results import runs_of
from explorer.state.names import LONGEST_NAME, as_markdown
from explorer.state.state import State, current
from physics.build.fields import BuildError
from physics.limits import LIMITS
from physics.simulation.result import RunResult

TITLE = "How do my builds compare?"
KEY = "builds"
NOTHING, AS_HELD = "none", "the build as it was"


def draw(page: Page) -> None:
    """Verdict, the chart, the table; with one build alone, how to make another."""
    state = current()
    held = everyone(state, page)
    if len(held) < 2:
        with st.container(key=f"verdict_{KEY}"):
            st.markdown(words_keep.ONLY_ONE)
        _add(state)
        return
    same_day = st.session_state.setdefault(f"{KEY}:kept", True)
    if same_day:
        held = {name: on_the_day_of(page.inputs, values) for name, values in held.items()}
    made, faults = made_builds(held)
    mine = list(made).index(state.name) if state.name in made else -1
    runs = runs_of(tuple(made.values()), page.duration) if made else None
    with st.container(key=f"verdict_{KEY}"):
        if runs is not None:
            targets = [INPUTS["target"].si(held[name]["target"]) for name in made]
            st.markdown(tied(words_keep.verdict([as_markdown(name) for name in made], runs, targets, page.fmt)))
        for sentence in faults:
            st.markdown(sentence)
    with st.container(horizontal=True, vertical_alignment="bottom", key="builds_controls"):
        _add(state)
        _behind(state, [name for name in made if name in state.builds and name != state.name])
    _day(same_day)
    if runs is None:
        return
    live_chart(
        chart.figure(runs, list(made), mine, page.fmt, page.target_speed), key=f"chart_{KEY}",
        height=chart.HEIGHT, alt=f"Speed and pack voltage against time for {len(made)} builds: {', '.join(made)}.",
    )  # fmt: skip
    frame = table(page, {name: held[name] for name in made}, runs, targets, state.phase_as)
    st.dataframe(
        frame, hide_index=True, height="content", key="builds_table",
        alt="The builds side by side: what they do, then the inputs in which they differ.",
        column_config={"": st.column_config.TextColumn(pinned=True)},
    )  # fmt: skip
    st.caption(words_keep.TABLE)


def everyone(state: State, page: Page) -> dict[str, dict]:
    """Every named build, and the baseline where it is none of them."""
    found = {name: page.inputs if name == state.name else values for name, values in state.builds.items()}
    if state.baseline is not None and state.baseline not in found.values():
        found[f"{state.baseline_name} (baseline)" if state.baseline_name in found else state.baseline_name] = (
            state.baseline
        )
    return found


def on_the_day_of(mine: dict, values: dict) -> dict:
    """The inputs of a build on the day, with the charge and for the target, of another."""
    return values | {key: mine[key] for key, spec in INPUTS.items() if spec.group == TODAY}


def made_builds(held: dict[str, dict]) -> tuple[dict, list[str]]:
    """The builds that can be made, and a sentence for each that cannot."""
    made, faults = {}, []
    for name, values in held.items():
        try:
            made[name] = make_build(values, name)
        except BuildError as error:
            faults.append(f"“{as_markdown(name)}” is left out: {' '.join(words.faults(error))}")
    return made, faults


def table(page: Page, held: dict[str, dict], runs: RunResult, targets, phase_as: str) -> pd.DataFrame:
    """What each build does, and the inputs in which they differ; one column for each build."""
    fmt = page.fmt
    columns = {}
    for row, (name, values) in enumerate(held.items()):
        run = runs.one(row)
        rule, used = words.nearest_rule(run)
        cut, reached = run.cut_out_time[0], float(run.time_to(targets[row])[0])
        does = {
            "top speed": fmt("speed", run.top_speed[0], 1),
            "time to the target": fmt("time", reached) if np.isfinite(reached) else "not reached",
            "lowest pack voltage": fmt("voltage", run.minimum_voltage[0]),
            "weakest cell, lowest": fmt("cell voltage", run.minimum_cell_voltage[0]),
            "highest line current": fmt("current", run.line_current[0].max()),
            "cut-out": f"{run.cut_out_rule_names()[0]}, {fmt('time', cut)}" if np.isfinite(cut) else "no",
            "nearest rule": f"{rule}, {fmt('share', used)} used",
            "charge used": fmt("charge", run.charge[0, 0] - run.charge[0, -1], 1),
            "holds it back at the end": LIMITS[int(run.holding_limit[0])],
        }
        differ = {
            spec.label if key[-2:] not in ("_1", "_2", "_3") else f"{spec.label}, level {key[-1]}":
                spec.text(values[key], fmt.system, phase_as)
            for key, spec in INPUTS.items()
            if spec.group in AT_THE_SIDE and any(other[key] != values[key] for other in held.values())
        }  # fmt: skip
        columns[name] = does | differ
    rows = list(next(iter(columns.values())))
    return pd.DataFrame({"": rows, **{name: [cells[label] for label in rows] for name, cells in columns.items()}})


def _add(state: State) -> None:
    st.button(
        "Go on with a copy", icon=":material/content_copy:", key="builds_add", on_click=state.add,
        args=(state.name[: LONGEST_NAME - 4],), disabled=state.full, help=words_keep.COPY,
    )  # fmt: skip


def _behind(state: State, others: list[str]) -> None:
    """Which other build is drawn behind this one in all charts of the page."""
    if not others:
        return
    key, options = "builds_behind", [NOTHING, *others]
    st.session_state[key] = NOTHING
    if state.baseline is not None:
        same = [name for name in others if state.builds[name] == state.baseline]
        st.session_state[key] = same[0] if same else AS_HELD
        options += [] if same else [AS_HELD]

    def chosen():
        name = st.session_state[key]
        if name == NOTHING:
            state.clear_baseline()
        elif name in state.builds:
            state.set_baseline(state.builds[name], name)

    st.selectbox(
        "Baseline", options, key=key, on_change=chosen, width=320,
        help="The build drawn faintly behind this one in the charts of the page.",
    )  # fmt: skip


def _day(same: bool) -> None:
    key = "builds_same_day"
    st.session_state[key] = same
    st.toggle(
        "All on this build's day: its conditions, charge and target", key=key,
        on_change=lambda: st.session_state.update({f"{KEY}:kept": st.session_state[key]}),
        help="Off: each build on the day it was saved with.",
    )  # fmt: skip
