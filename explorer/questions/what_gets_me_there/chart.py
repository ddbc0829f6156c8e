"""How much of what is allowed each change would use up, and how far those get that cannot do it alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from explorer.charts import parts

ROW, ROOM = 30, 96


def height(count: int) -> int:
    """Height of the chart for so many changes, in pixels."""
    return ROW * count + ROOM


def figure(names: Sequence[str], shares: ArrayLike, reaches: ArrayLike, texts: Sequence[str]) -> dict[str, Any]:
    """One bar for each change, the least first.

    Parameters
    ----------
    names : sequence of str
        Of the levers.
    shares : array
        How much of the allowed range is used, 0 to 1.
    reaches : array of bool
        Whether it reaches the target alone.
    texts : sequence of str
        What stands at each bar.
    """
    used, alone = 100 * np.asarray(shares, dtype=float), np.asarray(reaches, dtype=bool)
    kinds = (
        (alone, "reaches the target", "@teal/0.45", "@teal", ""),
        (~alone, "not on its own", "@muted/0.10", "@muted", "/"),
    )
    data = []
    for chosen, legend, fill, edge, pattern in kinds:
        indices = np.flatnonzero(chosen).tolist()
        if indices:
            data.append(
                {
                    "type": "bar",
                    "orientation": "h",
                    "name": legend,
                    "y": [names[i] for i in indices],
                    "x": np.maximum(used[indices], 0.6)
                    if legend != "not on its own"
                    else np.full(len(indices), 100.0),
                    "text": [texts[i] for i in indices],
                    "textposition": "auto",
                    "insidetextanchor": "start",
                    "textangle": 0,
                    "cliponaxis": False,
                    "textfont": {"color": "@text", "size": 12},
                    "marker": {
                        "color": fill,
                        "line": {"color": edge, "width": 1.2},
                        "pattern": {"shape": pattern, "fgcolor": "@muted/0.35", "size": 8, "solidity": 0.1},
                    },
                    "hovertemplate": "%{y}: %{text}<extra></extra>",
                }
            )
    most = 100.0 if not alone.all() else min(100.0, 20 * np.ceil(used.max(initial=1.0) / 20 + 0.4))
    layout = {
        "margin": {"l": 8, "r": 16, "t": 34 if len(data) > 1 else 8, "b": 44},
        "showlegend": len(data) > 1,
        "barmode": "overlay",
        "bargap": 0.28,
        "hovermode": "closest",
        "legend": {"orientation": "h", "x": 0, "y": 1.01, "yanchor": "bottom"},
        "xaxis": parts.axis("share of its range, %", range=[0, most], fixedrange=True),
        "yaxis": {
            "automargin": True,
            "fixedrange": True,
            "categoryorder": "array",
            "categoryarray": list(names)[::-1],
            "showgrid": False,
        },
        "uirevision": "ways",
    }
    return {"data": data, "layout": layout}
