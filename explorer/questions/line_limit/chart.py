"""Today's line limit: its map over pack temperature and charge, and the allowance used against the limit."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.format import UnitFormatter
from explorer.page.words import UNTOUCHED
from explorer.questions.line_limit.results import LimitAnswer
from explorer.questions.line_limit.words import cell_text
from physics.limits import RULES
from physics.studies.limit_use import BINDS

MAP_HEIGHT = 360
LADDER_HEIGHT = 330
_SCALE = [[0.0, "@brick/0.75"], [0.35, "@amber/0.6"], [0.7, "@teal/0.45"], [1.0, "@teal/0.14"]]


def map_figure(answer: LimitAnswer, mine: float, fmt: UnitFormatter) -> dict[str, Any]:
    """Line limit over pack temperature (upwards) and charge (to the right), with today's cell framed.

    Parameters
    ----------
    answer : LimitAnswer
        The map.
    mine : float, A
        The build's own line limit: where the map's colours turn.
    fmt : UnitFormatter
        The rider's units.
    """
    limits = answer.limits
    charge = [fmt("charge", value) for value in limits.charge]
    warmth = [fmt("temperature", value) for value in limits.temperature]
    top = 1.4 * mine
    shade = np.minimum(np.where(np.isinf(limits.limit), top, limits.limit), top)
    rules = [[BINDS[rule] if rule >= 0 else "none" for rule in row] for row in limits.rule]
    text = [[cell_text(value) for value in row] for row in limits.limit]
    heat = {
        "type": "heatmap",
        "x": charge,
        "y": warmth,
        "z": shade,
        "zmin": 0.0,
        "zmax": top,
        "colorscale": _SCALE,
        "showscale": False,
        "xgap": 2,
        "ygap": 2,
        "text": text,
        "texttemplate": "%{text}",
        "meta": {"column": "highest line limit, A", "texts": True},
        "textfont": {"size": 13, "color": "@text"},
        "customdata": rules,
        "hovertemplate": "pack %{y}, charge %{x}: %{text}<br>above it: %{customdata}<extra></extra>",
    }
    frame = {
        "type": "rect",
        "xref": "x",
        "yref": "y",
        "x0": answer.column - 0.5,
        "x1": answer.column + 0.5,
        "y0": answer.row - 0.5,
        "y1": answer.row + 0.5,
        "line": {"color": "@text", "width": 3},
    }
    return {
        "data": [heat],
        "layout": {
            "margin": parts.MARGIN | {"t": 12, "l": 64},
            "xaxis": parts.axis("charge at the start", type="category", showgrid=False),
            "yaxis": parts.axis("pack", type="category", showgrid=False),
            "shapes": [frame],
            "uirevision": "limit map",
        },
    }


def ladder_figure(answer: LimitAnswer, mine: float) -> dict[str, Any]:
    """Allowance used today against the line limit, rule by rule.

    Parameters
    ----------
    answer : LimitAnswer
        The ladder.
    mine : float, A
        The build's own line limit.
    """
    data = []
    for rule, used in zip(RULES, 100 * answer.used.T, strict=True):
        if used.max() >= 100 * UNTOUCHED:
            hover = "%{x:.0f} A: %{y:.0f} %"
            data.append(parts.line(answer.tried, used, rule, hover=hover, width=2.6, **parts.RULE_LOOKS[rule]))
    if len(answer.limits.cases) > 1:
        name, hover = "closest rule, with your margin", "%{x:.0f} A: %{y:.0f} %"
        data.append(parts.line(answer.tried, 100 * answer.used_worse, name, "@muted", hover=hover, dash="dot"))
    worst, hover = 100 * answer.mine.used[0, 0].max(), "your %{x:.0f} A: %{y:.0f} %<extra></extra>"
    data.append(parts.points([mine], [worst], "your limit", "@text", "diamond", hover=hover, size=12))
    shapes, notes = [parts.level(100, colour="@text", dash="solid")], [parts.level_name("cuts out", 100, left=True)]
    limit, last = float(answer.limits.limit[answer.row, answer.column]), float(answer.tried[-1])
    if answer.tried[0] <= limit <= last:
        shape, words = parts.event(limit, "highest today", end=last)
        shapes.append(shape)
        notes.append(words | {"y": 0.8})
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "showlegend": True,
            "xaxis": parts.axis("line limit, A", range=[float(answer.tried[0]), last]),
            "yaxis": parts.axis("BMS limit used, %", range=[0, 115], tickvals=[0, 25, 50, 75, 100]),
            "shapes": shapes,
            "annotations": notes,
            "uirevision": f"limit ladder {answer.tried[-1]:.0f}",
        },
    }
