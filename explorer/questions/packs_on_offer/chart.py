"""The pack's largest power against time, at several pack temperatures, with the rider's question as a point."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.format import UnitFormatter
from explorer.questions.packs_on_offer.results import BurstAnswer

HEIGHT = 370
_OTHERS = (("@teal", "longdash"), ("@amber", "dash"), ("@brick", "dot"), ("@violet", "dashdot"))


def figure(answer: BurstAnswer, fmt: UnitFormatter) -> dict[str, Any]:
    """Power over time on a logarithmic axis.

    Parameters
    ----------
    answer : BurstAnswer
        Curves and question.
    fmt : UnitFormatter
        The rider's units.
    """
    data, others = [], iter(_OTHERS)
    for row, temperature in enumerate(answer.temperature):
        today = row == answer.today
        colour, dash = ("@blue", "solid") if today else next(others)
        name = fmt("temperature", temperature) + (" (today)" if today else "")
        data.append(
            parts.line(
                answer.seconds,
                fmt.number("power", answer.power[row]),
                name,
                colour,
                dash=dash,
                width=3.0 if today else 2.0,
                hover="%{x:.0f} s: %{y:.1f} kW",
            )
        )
    power, seconds = float(fmt.number("power", answer.asked.power[0])), float(answer.asked.seconds[0])
    gives = bool(answer.asked.gives[0])
    hover = f"{power:.1f} kW for {seconds:.0f} s: {'' if gives else 'not '}given<extra></extra>"
    symbol = "diamond" if gives else "x"
    data.append(parts.points([seconds], [power], "wanted", "@text", symbol, hover=hover, size=13))
    top = 1.12 * max(power, float(fmt.number("power", answer.power.max())))
    ticks = [1, 2, 5, 10, 20, 60, 120, 300]
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "xaxis": parts.axis(
                "held for, s",
                type="log",
                range=[float(np.log10(0.9)), float(np.log10(330))],
                tickvals=ticks,
                ticktext=[str(tick) for tick in ticks],
            ),
            "yaxis": parts.axis("maximum power, kW", range=[0, top]),
            "uirevision": "burst",
        },
    }
