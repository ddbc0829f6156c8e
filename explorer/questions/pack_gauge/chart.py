"""The pack gauge: one bar from empty to full in charge and volts, and under it a strip for each mark."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.page.page import Page
from explorer.questions.pack_gauge.marks import Mark, charge_and_volts, now_text
from physics.components.pack import rest_voltage

ROW = 22
_TOP, _BOTTOM = 22, 36
_TICKS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
_LABEL = {"showarrow": False, "font": {"size": 12, "color": "@text"}, "xref": "x", "yref": "y"}


def height(rows: int) -> int:
    """Height of a gauge with so many marks, pixels."""
    return _TOP + ROW * (rows + 1) + _BOTTOM


def figure(page: Page, rows: list[Mark]) -> dict[str, Any]:
    """The gauge.

    Parameters
    ----------
    page : Page
        Pack and conditions.
    rows : list of Mark
        From top to bottom.

    Returns
    -------
    dict
        "data" and "layout".
    """
    charge, _ = charge_and_volts(page)
    percent = 100.0 * charge
    data = [
        _bar([0.0], [0.0], [100.0], "@panel", "@axis", "pack"),
        _bar([0.0], [0.0], [percent], "@blue/0.45", "@blue", "charge"),
    ]
    right = charge > 0.5
    above = _LABEL | {"y": 0.5, "yanchor": "bottom"}
    notes = [
        above | {"x": percent, "xanchor": "right" if right else "left", "text": f"<b>{now_text(page)}</b>"},
        above
        | {"x": 0 if right else 100, "xanchor": "left" if right else "right", "text": "pack today, empty to full"}
        | {"font": {"size": 12, "color": "@muted"}},
    ]
    for place, row in enumerate(rows, 1):
        low, high = (row.low, row.high) if row.high > row.low else (-1.0, -1.0)  # out of sight
        data.append(_bar([-place], [100 * low], [100 * (high - low)], f"{row.colour}/0.28", row.colour, row.name))
        notes.append(_LABEL | {"x": 0.6, "xanchor": "left", "y": -place, "yanchor": "middle", "text": row.text})
        if row.plan is not None:
            hover = "as you plan: %{x:.0f} %<extra></extra>"
            data.append(
                parts.points([100 * row.plan], [-place], "planned", "@text", "diamond-tall", hover=hover, size=10)
            )
    now = {
        "type": "line", "xref": "x", "x0": percent, "x1": percent, "yref": "y", "y0": 0.6, "y1": -len(rows) - 0.5,
        "line": {"color": "@text", "width": 1.6, "dash": "dot"},
    }  # fmt: skip
    fmt = page.fmt
    pack = page.build.pack
    volts = rest_voltage(pack.chemistry, pack.cells_in_series, np.array(_TICKS))
    ticks = [f"{fmt('charge', tick)}<br>{fmt('voltage', at, 0)}" for tick, at in zip(_TICKS, volts, strict=True)]
    layout = {
        "margin": {"l": 16, "r": 22, "t": 0, "b": _BOTTOM},
        "barmode": "overlay",
        "showlegend": False,
        "hovermode": "closest",
        "xaxis": parts.axis(
            range=[0, 100],
            tickvals=[100 * tick for tick in _TICKS],
            ticktext=ticks,
            fixedrange=True,
            automargin=False,
            showgrid=False,
            zeroline=False,
            tickfont={"size": 11, "color": "@muted"},
        )
        | {"title": {"text": "charge, %", "font": {"size": 1, "color": "@panel/0"}}},  # for the file with its data
        "yaxis": parts.axis(
            range=[-len(rows) - 0.5, 0.5 + _TOP / ROW], visible=False, fixedrange=True, automargin=False
        ),
        "shapes": [now],
        "annotations": notes,
        "uirevision": "gauge",
    }
    return {"data": data, "layout": layout}


def _bar(y: list[float], low: list[float], width: list[float], colour: str, edge: str, name: str) -> dict[str, Any]:
    """One bar; x is where it starts, as a base, and how far it goes."""
    return {
        "type": "bar",
        "orientation": "h",
        "y": y,
        "base": low,
        "x": width,
        "width": 0.78,
        "name": name,
        "marker": {"color": colour, "line": {"color": edge, "width": 1.2}},
        "hovertemplate": f"{name}: from %{{base:.0f}} to %{{x:.0f}} %<extra></extra>",
        "showlegend": False,
    }
