"""Sag: rest and loaded voltage of the pack with the weakest cell and its threshold, and the line current."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import cursor, parts
from explorer.format import UnitFormatter
from physics.build import Build
from physics.simulation.result import RunResult

HEIGHT = 340


def figure(run: RunResult, build: Build, fmt: UnitFormatter, baseline: RunResult | None = None) -> dict[str, Any]:
    """Voltage over current, on one time axis.

    The weakest cell is drawn at its own voltage times the number of cells, so that it can be read against the pack
    and against the under-voltage threshold, which is drawn the same way.

    Parameters
    ----------
    run : RunResult
        One row.
    build : Build
        Whose run it is.
    fmt : UnitFormatter
        The rider's units.
    baseline : RunResult, optional
        One row, drawn faintly.

    Returns
    -------
    dict
        "data" and "layout".
    """
    cells, rules = build.pack.cells_in_series, build.pack.protection
    time, rest, loaded, weakest, current = parts.thinned(
        run.time, run.rest_voltage[0], run.pack_voltage[0], run.weakest_cell_voltage[0], run.line_current[0]
    )
    volts, amps = "%{x:.1f} s: %{y:.1f} V", "%{x:.1f} s: %{y:.0f} A"
    data = [
        parts.area(time, loaded, rest, "@blue/0.10"),
        parts.line(time, rest, "rest", "@muted", hover=volts, dash="dash", width=1.8),
        parts.line(time, loaded, "loaded", "@blue", hover=volts, **parts.PLAIN),
        parts.line(
            time,
            weakest * cells,
            f"weakest cell × {cells}",
            "@violet",
            dash="dashdot",
            width=1.8,
            hover="%{x:.1f} s: %{customdata:.2f} V in the weakest cell",
            customdata=weakest,
        ),
        parts.line(
            time,
            current,
            "line current",
            "@amber",
            hover=f"{amps}, %{{customdata:.1f}} kW",
            customdata=current * loaded / 1000,
            showlegend=False,
            yaxis="y2",
        ),
    ]
    voltages, currents = [rest, loaded, weakest * cells], [current]
    if baseline is not None:
        time, old_volts, old_amps = parts.thinned(baseline.time, baseline.pack_voltage[0], baseline.line_current[0])
        data.append(parts.line(time, old_volts, "baseline, loaded", "@muted", hover=volts, **parts.FAINT))
        faint = parts.line(time, old_amps, "baseline", "@muted", hover=amps, **parts.FAINT)
        data.append(faint | {"yaxis": "y2", "showlegend": False})
        voltages.append(old_volts)
        currents.append(old_amps)

    shapes, notes = [], []
    if rules.cell_undervoltage > 0:
        floor = rules.cell_undervoltage * cells
        voltages.append(np.array([floor]))
        shapes.append(parts.level(floor, colour="@brick"))
        text = f"cut-out: weakest cell below {fmt('cell voltage', rules.cell_undervoltage)}"
        notes.append(parts.level_name(text, floor))
    highest = float(max(np.nanmax(values) for values in currents))
    for name, value, dash in (
        ("continuous", rules.continuous_current, "dash"),
        (f"peak, {fmt('time', rules.peak_time, 0)}", rules.peak_current, "dot"),
    ):
        if np.isfinite(value) and value < 3 * max(highest, 1.0):
            currents.append(np.array([value]))
            shapes.append(parts.level(value, colour="@brick", dash=dash, yref="y2"))
            notes.append(parts.level_name(f"{name} {fmt('current', value)}", value, yref="y2"))
    if np.isfinite(run.cut_out_time[0]):
        shape, words = parts.event(run.cut_out_time[0], "cut-out", end=run.time[-1])
        shapes.append(shape)
        notes.append(words)

    end = float(run.time[-1])
    low = float(min(np.nanmin(values) for values in voltages))
    high = float(max(np.nanmax(values) for values in voltages))
    room = 0.05 * max(high - low, 1.0)
    layout = {
        **parts.LAYOUT,
        "meta": cursor.RUN,
        "xaxis": parts.axis("time, s", range=[0, end], anchor="y2"),
        "yaxis": parts.axis("voltage, V", range=parts.steady(low - room, high + room), domain=[0.42, 1]),
        "yaxis2": parts.axis(
            "line current, A",
            range=parts.steady(0, 1.12 * float(max(np.nanmax(values) for values in currents))),
            domain=[0.0, 0.34],
        ),
        "shapes": shapes,
        "annotations": notes,
        "uirevision": f"sag {end:g} {cells}",
    }
    return {"data": data, "layout": layout}
