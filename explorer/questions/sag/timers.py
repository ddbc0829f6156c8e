"""The protection's trip timers against time: how much of each rule's allowance is used. No Streamlit."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import cursor, parts
from explorer.page.words import UNTOUCHED
from physics.limits import RULES
from physics.simulation.result import RunResult

_HOVER = "%{x:.1f} s: %{y:.0f} %"


def figure(run: RunResult, active: list[str], baseline: RunResult | None = None) -> dict[str, Any]:
    """How much of each allowance is used, against time.

    Parameters
    ----------
    run : RunResult
        One row.
    active : list of str
        Rules that are switched on, of `physics.limits.RULES`.
    baseline : RunResult, optional
        One row; its nearest rule is drawn faintly.
    """
    data: list[dict[str, Any]] = []
    if baseline is not None:
        time, worst = parts.thinned(baseline.time, 100 * baseline.trip_timers[0].max(axis=1))
        data.append(parts.line(time, worst, "baseline, nearest rule", "@muted", hover=_HOVER, **parts.FAINT))
    last = len(run.time)
    if np.isfinite(run.cut_out_time[0]):  # nothing runs any more once the pack has opened
        last = int(np.searchsorted(run.time, run.cut_out_time[0])) + 1
    used = [name for name in active if run.allowance_used[0, RULES.index(name)] >= UNTOUCHED]
    for name in used or active:
        percent = 100 * np.minimum(run.trip_timers[0, :last, RULES.index(name)], 1.0)
        time, percent = parts.thinned(run.time[:last], percent, keep=[int(percent.argmax())])
        data.append(parts.line(time, percent, name, hover=_HOVER, width=2.6, **parts.RULE_LOOKS[name]))
    shapes, notes = [parts.level(100, colour="@text", dash="solid")], [parts.level_name("the pack cuts out", 100)]
    if np.isfinite(run.cut_out_time[0]):
        shape, words = parts.event(run.cut_out_time[0], "cut-out", end=run.time[-1])
        shapes.append(shape)
        notes.append(words | {"y": 0.8})
    end = float(run.time[-1])
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "meta": cursor.RUN,
            "showlegend": True,
            "xaxis": parts.axis("time, s", range=[0, end]),
            "yaxis": parts.axis("BMS limit used, %", range=[0, 115], tickvals=[0, 25, 50, 75, 100]),
            "shapes": shapes,
            "annotations": notes,
            "uirevision": f"clocks {end:g}",
        },
    }
