"""Several builds on one time axis: speed above, pack voltage under load below."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.components.palette import SERIES
from explorer.format import UnitFormatter
from explorer.state.names import as_chart_text
from physics.simulation.result import RunResult

HEIGHT = 520
DASHES = ("solid", "dash", "dot", "dashdot", "longdash", "longdashdot", "2px,6px")
_LONGEST = 24


def shortened(name: str) -> str:
    """A name that fits a legend; its end stays, where names of copies differ.

    Examples
    --------
    >>> shortened("Club spare supermoto (invented) (2)")
    'Club spare s…vented) (2)'
    """
    if len(name) <= _LONGEST:
        return name
    half = _LONGEST // 2
    return f"{name[:half]}…{name[1 - half :]}"


def figure(
    runs: RunResult, names: Sequence[str], mine: int, fmt: UnitFormatter, target_speed: float
) -> dict[str, Any]:
    """Speed and voltage of every build; each has a colour and a dash of its own, the one being edited a wider line.

    Parameters
    ----------
    runs : RunResult
        One row for each build.
    names : sequence of str
        As the riders gave them; shown as text.
    mine : int
        Row of the build being edited.
    fmt : UnitFormatter
        The rider's units.
    target_speed : float, m/s
        Drawn as a level.

    Returns
    -------
    dict
        "data" and "layout".
    """
    unit = fmt.unit("speed")
    data: list[dict[str, Any]] = []
    highest, volts = [float(fmt.number("speed", target_speed))], []
    for row, name in enumerate(names):
        shown = as_chart_text(shortened(name))
        look: dict[str, Any] = {
            "dash": DASHES[row % len(DASHES)],
            "width": 3.2 if row == mine else 2.0,
            "legendgroup": str(row),
        }
        colour = f"@{SERIES[row]}" if row < len(SERIES) else "@muted"
        run = runs.one(row)
        time, speed, voltage = parts.thinned(run.time, run.speed[0], run.pack_voltage[0])
        speed = fmt.number("speed", speed)
        data.append(parts.line(time, speed, shown, colour, hover="%{x:.1f} s: %{y:.1f} " + unit, **look))
        data.append(
            parts.line(
                time,
                voltage,
                shown,
                colour,
                hover="%{x:.1f} s: %{y:.1f} V",
                xaxis="x2",
                yaxis="y2",
                showlegend=False,
                **look,
            )
        )
        highest.append(float(np.nanmax(speed)))
        volts += [float(np.nanmin(voltage)), float(np.nanmax(voltage))]
    target, end = highest[0], float(runs.time.max())
    room = 0.08 * max(max(volts) - min(volts), 1.0)
    layout = {
        "margin": parts.MARGIN | {"t": 34 + 20 * (len(names) // 3)},
        "hovermode": "closest",
        "showlegend": True,
        "legend": parts.LEGEND,
        "xaxis": parts.axis(range=[0, end], domain=[0, 1], anchor="y", showticklabels=False),
        "yaxis": parts.axis(f"speed, {unit}", range=[0, 1.1 * max(highest)], domain=[0.42, 1]),
        "xaxis2": parts.axis("time, s", range=[0, end], matches="x", anchor="y2"),
        "yaxis2": parts.axis("pack voltage, V", range=[min(volts) - room, max(volts) + room], domain=[0.0, 0.34]),
        "shapes": [parts.level(target, colour="@text", width=1.2)],
        "annotations": [parts.level_name(f"target {fmt.entered('speed', target_speed)}", target, left=True)],
        "uirevision": f"builds {end:g} {unit}",
    }
    return {"data": data, "layout": layout}
