"""Remembered: what was known of each unknown before the facts, and what is known after them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from explorer.charts import parts
from physics.fitting.recollection import Finding

_ROW, _ROOM = 40, 90
BEFORE, AFTER = "before the facts", "after them"


def height(count: int) -> int:
    """Of the chart, in pixels."""
    return _ROW * count + _ROOM


def figure(names: Sequence[str], findings: Sequence[Finding], texts: Sequence[str]) -> dict[str, Any]:
    """Intervals of each unknown on a scale of its own: 0 to 1 is the interval before the facts.

    Parameters
    ----------
    names : sequence of str
        Of the unknowns, from the top.
    findings : sequence of Finding
        In the same order.
    texts : sequence of str
        Each interval after the facts, in words.
    """
    places = np.arange(len(names), dtype=float)[::-1]
    low, middle, high = (np.array([_scaled(item, end) for item in findings]) for end in ("low", "middle", "high"))
    data = [
        parts.line(
            np.tile([0.0, 1.0, np.nan], len(names)), np.repeat(places + 0.14, 3), BEFORE, "@muted",
            hover="before", dash="dot", width=5, connectgaps=False,
        ),
        parts.line(
            np.column_stack([low, high, np.full(len(names), np.nan)]).ravel(), np.repeat(places - 0.14, 3), AFTER,
            "@blue", hover="after", width=7, connectgaps=False,
        ),
        parts.points(middle, places - 0.14, "most likely", "@blue", "diamond",
                     hover="%{text}<extra></extra>", size=13, text=list(texts)),
    ]  # fmt: skip
    reach = [float(min(0.0, low.min(initial=0.0)) - 0.05), float(max(1.0, high.max(initial=1.0)) + 0.05)]
    layout = {
        "margin": {"l": 8, "r": 18, "t": 34, "b": 44},
        "hovermode": "closest",
        "legend": parts.LEGEND,
        "xaxis": parts.axis(
            "nine in ten; each row has its own scale", range=reach, showticklabels=False, fixedrange=True,
            zeroline=False,
        ),
        "yaxis": {
            "automargin": True,
            "fixedrange": True,
            "showgrid": False,
            "zeroline": False,
            "range": [-0.6, len(names) - 0.4],
            "tickvals": places,
            "ticktext": list(names),
        },
        "uirevision": "remembered",
    }  # fmt: skip
    return {"data": data, "layout": layout}


def _scaled(item: Finding, end: str) -> float:
    width = item.before_high - item.before_low
    return (getattr(item, end) - item.before_low) / width if width > 0 else 0.5
