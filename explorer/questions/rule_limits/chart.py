"""Power at the shaft and at the wheel against speed, and what is allowed. No Streamlit."""

from __future__ import annotations

from typing import Any

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.studies.day.rule_limits import RuleLimits

HEIGHT = 320


def figure(rule: RuleLimits, allowed: float, fmt: UnitFormatter) -> dict[str, Any]:
    """The most power with the line limit for the shaft.

    Parameters
    ----------
    rule : RuleLimits
        With its curves.
    allowed : float, W
        By the rule.
    fmt : UnitFormatter
        The rider's units.
    """
    unit = fmt.unit("speed")
    speed, level = fmt.number("speed", rule.speed), float(fmt.number("power", allowed))
    hover = f"%{{x:.0f}} {unit}: %{{y:.2f}} kW"
    shaft, wheel = (fmt.number("power", power) for power in (rule.shaft_power, rule.wheel_power))
    return {
        "data": [
            parts.line(speed, shaft, "at the shaft", "@blue", width=2.6, hover=hover),
            parts.line(speed, wheel, "at the wheel", "@teal", dash="longdash", hover=hover),
        ],
        "layout": {
            **parts.LAYOUT,
            "showlegend": True,
            "xaxis": parts.axis(f"speed, {unit}"),
            "yaxis": parts.axis("power, kW", range=[0, 1.2 * max(float(shaft.max()), level)]),
            "shapes": [parts.level(level, colour="@brick", dash="dot")],
            "annotations": [parts.level_name("allowed", level, left=True)],
            "uirevision": f"rule {unit}",
        },
    }
