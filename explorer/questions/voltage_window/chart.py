"""Top speed and time to the target against rest voltage. No Streamlit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.studies.voltage_window import VoltageWindow

HEIGHT = 430


def figure(
    window: VoltageWindow, rest_now: float, fmt: UnitFormatter, starts: Sequence[float] | NDArray[np.float64] = ()
) -> dict[str, Any]:
    """Top speed above, time to the target below, over one axis of rest voltage.

    Parameters
    ----------
    window : VoltageWindow
        The window.
    rest_now : float, V
        Rest voltage today.
    fmt : UnitFormatter
        The rider's units.
    starts : sequence of float, V
        Rest voltages at which the pulls of a charge start.
    """
    volts, unit = window.rest_voltage, fmt.unit("speed")
    two = bool(window.reached.any())
    speed = fmt.number("speed", window.top_speed)
    time = np.where(window.reached, window.time_to_target, np.nan)
    charge = 100 * window.charge
    data: list[dict[str, Any]] = [
        parts.line(
            volts,
            speed,
            "top speed",
            "@blue",
            width=2.6,
            customdata=charge,
            hover="%{x:.1f} V (%{customdata:.0f} %): %{y:.0f} " + unit,
        ),
    ]
    if two:
        data.append(
            parts.line(
                volts,
                time,
                "time to target",
                "@amber",
                dash="longdash",
                width=2.6,
                xaxis="x2",
                yaxis="y2",
                customdata=charge,
                hover="%{x:.1f} V (%{customdata:.0f} %): %{y:.1f} s",
            )
        )
    cut = window.cut_out_rule >= 0
    if cut.any():
        hover = "%{x:.1f} V: cuts out<extra></extra>"
        data.append(parts.points(volts[cut], speed[cut], "cuts out in the run", "@brick", "x", hover=hover))
    now, hover = np.interp(rest_now, volts, speed), f"today, %{{x:.1f}} V: %{{y:.0f}} {unit}<extra></extra>"
    data.append(parts.points([rest_now], [now], "today", "@text", "diamond", hover=hover))
    target = float(fmt.number("speed", window.target_speed))
    shapes = [parts.level(target, colour="@text", width=1.2)]
    notes = [parts.level_name(f"target {fmt.entered('speed', window.target_speed)}", target, left=True)]
    if np.isfinite(window.lowest_rest_voltage):
        shape, words = parts.event(window.lowest_rest_voltage, f"{fmt('voltage', window.lowest_rest_voltage)}")
        shapes.append(shape)
        notes.append(words | {"y": 0.44, "yanchor": "bottom"})
    if len(starts) and two:
        hover = "a pull starts at %{x:.1f} V<extra></extra>"
        feet = parts.points(starts, np.zeros(len(starts)), "starts of pulls", "@teal", "line-ns-open", hover=hover)
        feet["marker"]["line"]["color"] = "@teal"
        data.append(feet | {"xaxis": "x2", "yaxis": "y2"})
    ends = [float(volts[0]), float(volts[-1])]
    slowest = float(np.nanmax(time)) if np.isfinite(time).any() else 1.0
    title = "rest voltage of the pack, V"
    layout = {
        **parts.LAYOUT,
        "showlegend": True,
        "xaxis": parts.axis(range=ends, showticklabels=False) if two else parts.axis(title, range=ends),
        "yaxis": parts.axis(
            f"top speed, {unit}", range=[0, 1.12 * float(max(speed.max(), target))], domain=[0.44 if two else 0, 1]
        ),
        "shapes": shapes,
        "annotations": notes,
        "uirevision": f"window {ends} {unit} {two}",
    }
    if two:
        layout["xaxis2"] = parts.axis(title, range=ends, matches="x", anchor="y2")
        layout["yaxis2"] = parts.axis("to target, s", range=[0, 1.15 * slowest], domain=[0.0, 0.34])
    return {"data": data, "layout": layout}
