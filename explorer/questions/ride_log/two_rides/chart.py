"""Two rides over each other: speed, voltage and line current. No Streamlit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.ridelog.side_by_side import Course

HEIGHT = 560
_PANELS = (
    ("speed", "speed", "speed", (0.60, 1.0)),
    ("pack_voltage", "voltage", "voltage", (0.31, 0.55)),
    ("line_current", "current", "line current", (0.0, 0.26)),
)
_LOOKS = (("@blue", "solid", 2.4), ("@amber", "dash", 2.4))


def figure(courses: Sequence[Course], names: Sequence[str], along: str, fmt: UnitFormatter) -> dict[str, Any]:
    """Three panels over one axis.

    Parameters
    ----------
    courses : sequence of Course
        Both.
    names : sequence of str
        What each is called.
    along : {"time", "distance"}
        The axis.
    fmt : UnitFormatter
        The rider's units.
    """
    by_time = along == "time"
    axis_unit = fmt.unit(along)
    end = float(fmt.number(along, max(getattr(course, along)[-1] for course in courses)))
    data: list[dict[str, Any]] = []
    layout: dict[str, Any] = {
        **parts.LAYOUT,
        "uirevision": f"two rides {along} {end:.1f} {axis_unit}",
    }
    for panel, (name, quantity, title, domain) in enumerate(_PANELS, start=1):
        number = "" if panel == 1 else str(panel)
        unit = fmt.unit(quantity)
        hover = f"%{{x:.{1 if by_time else 0}f}} {axis_unit}: %{{y:.1f}} {unit}"
        for course, label, (colour, dash, width) in zip(courses, names, _LOOKS, strict=True):
            values = getattr(course, name)
            if not np.isfinite(values).any():
                continue
            x, y = parts.thinned(fmt.number(along, getattr(course, along)), fmt.number(quantity, values))
            line = parts.line(x, y, label, colour, hover=hover, dash=dash, width=width)
            place = {"xaxis": f"x{number}", "yaxis": f"y{number}", "showlegend": panel == 1}
            data.append(line | place | {"legendgroup": label})
        layout[f"xaxis{number}"] = parts.axis(
            f"{along} since the start, {axis_unit}" if panel == 3 else "",
            range=[0.0, end],
            anchor=f"y{number}",
            showticklabels=panel == 3,
            **({} if panel == 1 else {"matches": "x"}),
        )
        layout[f"yaxis{number}"] = parts.axis(f"{title}, {unit}", domain=list(domain))
    return {"data": data, "layout": layout}
