"""The run: speed against time, and under it, on the same time axis, the limit that holds at each moment."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import cursor, parts, ribbon
from explorer.format import UnitFormatter
from physics.simulation.result import RunResult

HEIGHT = 340


def figure(
    run: RunResult,
    fmt: UnitFormatter,
    target_speed: float,
    baseline: RunResult | None = None,
    band: tuple | None = None,
    rough: bool = False,
) -> dict[str, Any]:
    """Speed against time with the ribbon of limits.

    Parameters
    ----------
    run : RunResult
        One row.
    fmt : UnitFormatter
        The rider's units.
    target_speed : float, m/s
        Drawn as a level.
    baseline : RunResult, optional
        One row, drawn faintly.
    band : tuple of (time, low, high), optional
        Seconds and m/s: between what speeds the run is likely to be.
    rough : bool
        Whether the band is an estimate.

    Returns
    -------
    dict
        "data" and "layout".
    """
    unit = fmt.unit("speed")
    hover = "%{x:.1f} s: %{y:.1f} " + unit
    data: list[dict[str, Any]] = []
    if band is not None:
        name = "likely, roughly" if rough else "likely"
        time, low, high = parts.thinned(*band)
        data += parts.between(time, fmt.number("speed", low), fmt.number("speed", high), name, "@blue/0.18")
    if baseline is not None:
        time, speed = parts.thinned(baseline.time, fmt.number("speed", baseline.speed[0]))
        data.append(parts.line(time, speed, "baseline", "@muted", hover=hover, **parts.FAINT))
    time, *pack, speed = parts.thinned(*cursor.readings(run), fmt.number("speed", run.speed[0]))
    read = f"{hover}<br>{cursor.READ.format(0, 1, 2)}"
    numbers = np.column_stack(pack)
    data.append(parts.line(time, speed, "this build", "@blue", hover=read, customdata=numbers, **parts.PLAIN))

    target = float(fmt.number("speed", target_speed))
    shapes = [parts.level(target, colour="@text", width=1.2)]
    early = run.cut_out_time[0] < 0.3 * run.time[-1]  # its word would lie on that of the target
    notes = [parts.level_name(f"target {fmt.entered('speed', target_speed)}", target, left=not early)]
    reached = float(run.time_to(target_speed)[0])
    if np.isfinite(reached):
        hover = f"{target:.0f} {unit} after {reached:.1f} s<extra></extra>"
        point = parts.points([reached], [target], "target reached", "@blue", "diamond", hover=hover)
        data.append(point | {"showlegend": False, "cliponaxis": True})
    if np.isfinite(run.cut_out_time[0]):
        shape, words = parts.event(run.cut_out_time[0], "cut-out", end=run.time[-1])
        shapes.append(shape)
        notes.append(words)
    data.append(ribbon.trace(run.time, run.limit[0], run.limit_since[0]))

    several = baseline is not None or band is not None
    end = float(run.time[-1])
    highest = [target, *(np.nanmax(trace["y"]) for trace in data if trace["type"] == "scatter")]
    layout = {
        "margin": parts.MARGIN | ({} if several else {"t": 12}),
        "barmode": "overlay",
        "hovermode": "closest",
        "meta": cursor.RUN,
        "uniformtext": ribbon.ONE_SIZE,
        "showlegend": several,
        "legend": parts.LEGEND,
        "xaxis": parts.axis("time, s", range=[0, end], anchor="y2"),
        "yaxis": parts.axis(f"speed, {unit}", range=parts.steady(0, 1.06 * float(max(highest))), domain=[0.27, 1]),
        "yaxis2": parts.axis(domain=[0.0, 0.12], fixedrange=True, visible=False),
        "shapes": shapes,
        "annotations": [*notes, _ribbon_name()],
        "uirevision": f"run {end:g} {unit}",
    }
    return {"data": data, "layout": layout}


def _ribbon_name() -> dict[str, Any]:
    return {
        "xref": "paper",
        "x": 0,
        "xanchor": "left",
        "yref": "paper",
        "y": 0.135,
        "yanchor": "bottom",
        "text": ribbon.NAME,
        "showarrow": False,
        "font": {"size": 12, "color": "@muted"},
    }
