"""What the pack reads on the charger, and what it would rest at, against time. No Streamlit."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.studies.day.charge_to import ChargeToAnswer

HEIGHT = 360


def figure(answer: ChargeToAnswer, fmt: UnitFormatter) -> dict[str, Any]:
    """Reading and rest voltage above, the current below, over one axis of time.

    Parameters
    ----------
    answer : ChargeToAnswer
        The charge.
    fmt : UnitFormatter
        The rider's units.
    """
    curve = answer.curve
    minutes = curve.time[0] / 60.0
    charge = 100.0 * curve.charge[0]
    minutes, reading, rest, current, charge = parts.thinned(
        minutes, curve.voltage[0], curve.rest_voltage[0], curve.current[0], charge
    )
    data = [
        parts.line(
            minutes, reading, "on the charger", "@blue", width=2.6, customdata=charge,
            hover="%{x:.0f} min (%{customdata:.0f} %): reads %{y:.1f} V",
        ),
        parts.line(
            minutes, rest, "settled, at rest", "@teal", dash="dash", customdata=charge,
            hover="%{x:.0f} min (%{customdata:.0f} %): rests at %{y:.1f} V",
        ),
        parts.line(
            minutes, current, "current", "@amber", dash="longdash", xaxis="x2", yaxis="y2",
            hover="%{x:.0f} min: %{y:.1f} A",
        ),
        parts.points(
            [minutes[-1]], [rest[-1]], "settles to", "@teal", "diamond",
            hover="settles to %{y:.1f} V<extra></extra>",
        ),
    ]  # fmt: skip
    end = max(float(minutes[-1]), 1.0)
    low, high = float(min(rest[0], reading[0])), float(max(reading.max(), answer.stop_voltage))
    title = "time on the charger, min"
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "showlegend": True,
            "xaxis": parts.axis(range=[0, 1.02 * end], showticklabels=False),
            "yaxis": parts.axis("pack voltage, V", range=parts.steady(low, high + 0.2, steps=4), domain=[0.44, 1]),
            "xaxis2": parts.axis(title, range=[0, 1.02 * end], matches="x", anchor="y2"),
            "yaxis2": parts.axis("A", range=[0, 1.15 * float(np.max(current)) + 0.1], domain=[0.0, 0.32]),
            "shapes": [parts.level(answer.stop_voltage, colour="@text", dash="dot")],
            "annotations": [parts.level_name("stop at this reading", answer.stop_voltage, left=True, above=False)],
            "uirevision": "charge to",
        },
    }
