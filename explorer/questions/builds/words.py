"""Builds side by side in words: which is fastest and first, what each does, and in which inputs they differ."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from explorer.format import UnitFormatter, joined
from explorer.inputs.catalogue import AT_THE_SIDE, INPUTS
from explorer.inputs.origins import LEGEND, mark
from explorer.page import cautions as page_cautions
from explorer.page.words import nearest_rule
from explorer.page.words_of_origins import count
from explorer.state.names import as_markdown
from physics.build import Build
from physics.limits import LIMITS
from physics.simulation.result import RunResult

ONLY_ONE = (
    "There is only one build so far. Duplicate it, change the copy, and the two appear here side by side; open "
    "saved builds under “Keep and share”."
)
TABLE = (
    "First what each build does, then the inputs in which they differ; what is not given is marked: "
    f"{LEGEND}. The build you are editing has the widest line; switch builds at the side."
)
TABLE_ALT = "The builds side by side: what they do, then the inputs in which they differ."
ADD = "Duplicate and edit"
BASELINE, BASELINE_HELP = "Baseline", "The build drawn faintly behind this one in the page's charts."
NO_BASELINE, FORMER = "none", "the build as it was"
SAME_DAY, SAME_DAY_HELP = (
    "All on this build's day: its conditions, charge and target", "Off: each build on the day it was saved with.",
)  # fmt: skip


def chart_alt(names: Sequence[str]) -> str:
    """The chart in words."""
    return f"Speed and pack voltage against time for {len(names)} builds: {', '.join(names)}."


def left_out(name: str, faults: Sequence[str]) -> str:
    """Why a build is not shown."""
    return f"“{as_markdown(name)}” is left out: {' '.join(faults)}"


def verdict(names: Sequence[str], runs: RunResult, targets: Sequence[float], fmt: UnitFormatter) -> str:
    """Which build is fastest, which is there first, which cut out or miss.

    Parameters
    ----------
    names : list of str
        Ready for Markdown.
    runs : RunResult
        One row each.
    targets : list of float, m/s
        One each.
    fmt : UnitFormatter
        The rider's units.

    Returns
    -------
    str
    """
    top = np.asarray(runs.top_speed, dtype=float)
    times = runs.time_to(targets)
    cut = np.isfinite(runs.cut_out_time)
    order = np.argsort(-top).tolist()
    fastest, text = order[0], ""
    if float(fmt.number("speed", top[order[0]] - top[order[-1]])) < 0.1:
        text = f"**All are equally fast: {fmt('speed', top[fastest], 1)}.**"
    else:
        text = f"**Fastest is “{names[fastest]}”: {fmt('speed', top[fastest], 1)}**"
        slowest = order[-1]
        text += f"; slowest “{names[slowest]}”, {fmt('speed', top[slowest], 1)}."
    aim = f" to {fmt('speed', targets[0])}" if len(set(targets)) == 1 else ""
    there = np.flatnonzero(np.isfinite(times))
    if there.size == 0:
        text += f" None gets{aim or ' to its target'} within its run."
    else:
        first = int(there[np.argmin(times[there])])
        text += f" Quickest{aim or ' to its target'} is “{names[first]}”, in {fmt('time', times[first])}"
        missing = [f"“{names[row]}”" for row in range(len(names)) if not np.isfinite(times[row])]
        text += f"; {joined(missing)} {'does' if len(missing) == 1 else 'do'} not get there." if missing else "."
    if cut.any():
        those = [f"“{names[row]}”" for row in np.flatnonzero(cut).tolist()]
        text += f" **{joined(those)} cut{'s' if len(those) == 1 else ''} out.**"
    return text


def cautions(builds: dict[str, Build], runs: RunResult, fmt: UnitFormatter) -> list[str]:
    """What each build's speed asks of its parts beyond what they are rated for, one text for each that does."""
    texts = {
        name: page_cautions.speed_ratings(build, float(speed), fmt)
        for (name, build), speed in zip(builds.items(), runs.top_speed, strict=True)
    }
    return [f"“{as_markdown(name)}”: {text}" for name, text in texts.items() if text]


def table(
    inputs: dict[str, dict[str, Any]], runs: RunResult, targets: Sequence[float], fmt: UnitFormatter, phase_as: str
) -> pd.DataFrame:
    """What each build does, and the inputs in which they differ; one column for each build."""
    columns = {}
    for row, (name, values) in enumerate(inputs.items()):
        run = runs.one(row)
        rule, used = nearest_rule(run)
        cut, reached = run.cut_out_time[0], float(run.time_to(targets[row])[0])
        does = {
            "top speed": fmt("speed", run.top_speed[0], 1),
            "time to the target": fmt("time", reached) if np.isfinite(reached) else "not reached",
            "lowest pack voltage": fmt("voltage", run.minimum_voltage[0]),
            "weakest cell, lowest": fmt("cell voltage", run.minimum_cell_voltage[0]),
            "highest line current": fmt("current", run.line_current[0].max()),
            "cut-out": f"{run.cut_out_rule_names()[0]}, {fmt('time', cut)}" if np.isfinite(cut) else "no",
            "closest BMS rule": f"{rule}, {fmt('share', used)} used",
            "charge used": fmt("charge", run.charge[0, 0] - run.charge[0, -1], 1),
            "limited at the end by": LIMITS[int(run.holding_limit[0])],
            "not given": count(values),
        }
        differ = {
            spec.label if key[-2:] not in ("_1", "_2", "_3") else f"{spec.label}, level {key[-1]}": spec.text(
                values[key], fmt.system, phase_as
            )
            + mark(values, key)
            for key, spec in INPUTS.items()
            if spec.group in AT_THE_SIDE and any(other[key] != values[key] for other in inputs.values())
        }
        columns[name] = does | differ
    rows = list(next(iter(columns.values())))
    return pd.DataFrame(
        {"input or result": rows, **{name: [cells[label] for label in rows] for name, cells in columns.items()}}
    )
