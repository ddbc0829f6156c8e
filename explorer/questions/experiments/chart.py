"""Two runs of an experiment on one time axis: speed with the limits of both, pack voltage, or a cell's voltage."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from explorer.charts import parts, ribbon
from explorer.format import UnitFormatter
from physics.simulation.result import RunResult

FloatArray = NDArray[np.float64]

HEIGHT = 430
CELL_HEIGHT = 320
BEFORE = {"dash": "dash", "width": 2.2}
_COLOURS = ("@muted", "@blue")
_LOOKS = (BEFORE, parts.PLAIN)
_DOMAINS = {False: (0.37, [0.165, 0.27], [0.0, 0.105]), True: (0.52, [0.27, 0.41], [0.0, 0.14])}
"""Where the speeds' part ends, and both ribbons', as shares of the height; by whether letters are large."""


def _lines(
    pair: list[tuple[FloatArray, FloatArray]], names: tuple[str, str], hover: str, **more: Any
) -> list[dict[str, Any]]:
    """A line for each of two pairs of time and values."""
    lines = []
    for row, (time, values) in enumerate(pair):
        x, y = parts.thinned(time, values)
        lines.append(parts.line(x, y, names[row], _COLOURS[row], hover=hover, **_LOOKS[row], **more))
    return lines


def _cut_outs(
    runs: RunResult, pair: list[tuple[FloatArray, FloatArray]], hover: str
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Marks on the curves where the pack cuts out, and their words: above the first curve, below the second."""
    marks, notes = [], []
    for row, when in enumerate(runs.cut_out_time):
        if not np.isfinite(when):
            continue
        time, values = pair[row]
        x, y, text = float(when), float(np.interp(when, time, values)), ("cut-out before", "cut-out after")[row]
        mark = parts.points([x], [y], text, _COLOURS[row], "x", hover=hover + f"<extra>{text}</extra>")
        marks.append(mark | {"showlegend": False})
        late = when > 0.6 * runs.time.max()
        notes.append({
            "x": x, "y": y, "text": text, "showarrow": False, "bgcolor": "@background/0.75",
            "xanchor": "right" if late else "left", "xshift": -8 if late else 8,
            "yanchor": ("bottom", "top")[row], "font": {"size": 12, "color": "@text"},
        })  # fmt: skip
    return marks, notes


def speed_figure(
    runs: RunResult,
    names: tuple[str, str],
    fmt: UnitFormatter,
    display: FloatArray | None = None,
    large: bool = False,
) -> dict[str, Any]:
    """Speed against time, and beneath it what holds each run back.

    Parameters
    ----------
    runs : RunResult
        Two rows.
    names : tuple of two str
        What the runs are called.
    fmt : UnitFormatter
        The rider's units.
    display : array, shape (t,), m/s, optional
        What it shows in the second run.
    large : bool
        Whether large letters need room between the parts.

    Returns
    -------
    dict
        "data" and "layout".
    """
    unit, end = fmt.unit("speed"), float(runs.time[-1])
    hover = "%{x:.1f} s: %{y:.1f} " + unit
    each = [runs.one(row) for row in (0, 1)]
    speeds = [(run.time, fmt.number("speed", run.speed[0])) for run in each]
    data = _lines(speeds, names, hover)
    most = float(fmt.number("speed", runs.top_speed).max())
    if display is not None:
        x, y = parts.thinned(runs.time, fmt.number("speed", display))
        data.append(parts.line(x, y, "what the display shows", "@amber", hover=hover, dash="dot", width=2.2))
        most = max(most, float(y.max()))
    (foot, *lanes), notes = _DOMAINS[large], []
    for row, axis in enumerate((2, 3)):
        name = f"{ribbon.NAME}: {names[row]}"
        axes = {"xaxis": f"x{axis}", "yaxis": f"y{axis}"}
        run = each[row]
        data.append(ribbon.trace(run.time, run.limit[0], run.limit_since[0], name=name, **axes))
        notes.append(_row_name(name, lanes[row][1] + 0.005))
    marks, cuts = _cut_outs(runs, speeds, hover)
    lane: dict[str, Any] = {"fixedrange": True, "showticklabels": False, "showgrid": False}
    layout = {
        **parts.LAYOUT,
        "barmode": "overlay",
        "uniformtext": ribbon.ONE_SIZE,
        "xaxis": parts.axis(range=[0, end], anchor="y", showticklabels=False),
        "yaxis": parts.axis(f"speed, {unit}", range=[0, 1.08 * max(most, 1.0)], domain=[foot, 1]),
        "xaxis2": parts.axis(range=[0, end], matches="x", anchor="y2", showticklabels=False),
        "yaxis2": parts.axis(domain=lanes[0], **lane),
        "xaxis3": parts.axis("time, s", range=[0, end], matches="x", anchor="y3"),
        "yaxis3": parts.axis(domain=lanes[1], **lane),
        "annotations": [*notes, *cuts],
        "uirevision": f"{end:g} {unit} {names}",
    }
    return {"data": [*data, *marks], "layout": layout}


def _row_name(name: str, y: float) -> dict[str, Any]:
    return {
        "xref": "paper",
        "x": 0,
        "xanchor": "left",
        "yref": "paper",
        "y": y,
        "yanchor": "bottom",
        "text": name,
        "showarrow": False,
        "font": {"size": 12, "color": "@muted"},
    }


def voltage_figure(runs: RunResult, names: tuple[str, str], fmt: UnitFormatter) -> dict[str, Any]:
    """Loaded voltage of both packs over their speed, on one time axis; parameters as above."""
    unit, end = fmt.unit("speed"), float(runs.time[-1])
    volts = "%{x:.1f} s: %{y:.1f} V"
    each = [runs.one(row) for row in (0, 1)]
    volt_lines = [(run.time, run.pack_voltage[0]) for run in each]
    data = _lines(volt_lines, names, volts)
    for row in (0, 1):
        x, y = parts.thinned(runs.time, runs.rest_voltage[row])
        faint = parts.line(x, y, f"{names[row]}, at rest", _COLOURS[row], hover=volts, dash="dot", width=1.2)
        data.append(faint | {"showlegend": False})
    hover = "%{x:.1f} s: %{y:.1f} " + unit
    speeds = [(run.time, fmt.number("speed", run.speed[0])) for run in each]
    lower = _lines(speeds, names, hover, showlegend=False)
    data += [trace | {"xaxis": "x2", "yaxis": "y2"} for trace in lower]
    marks, cuts = _cut_outs(runs, volt_lines, volts)
    low, high = float(runs.minimum_voltage.min()), float(runs.rest_voltage.max())
    room = 0.06 * max(high - low, 1.0)
    rest = parts.level_name("dotted: at rest", float(runs.rest_voltage[:, 0].max()), above=True)
    layout = {
        **parts.LAYOUT,
        "xaxis": parts.axis(range=[0, end], anchor="y", showticklabels=False),
        "yaxis": parts.axis("pack, V", range=[low - room, high + 2.5 * room], domain=[0.42, 1]),
        "xaxis2": parts.axis("time, s", range=[0, end], matches="x", anchor="y2"),
        "yaxis2": parts.axis(
            f"speed, {unit}",
            domain=[0, 0.34],
            range=[0, 1.1 * max(float(fmt.number("speed", runs.top_speed).max()), 1.0)],
        ),
        "annotations": [rest, *cuts],
        "uirevision": f"{end:g} {unit} {names}",
    }
    return {"data": [*data, *marks], "layout": layout}


def cell_figure(
    pair: list[tuple[FloatArray, FloatArray]], limit: float, names: tuple[str, str], fmt: UnitFormatter
) -> dict[str, Any]:
    """Voltage of the fullest cell while current is pushed back, against its limit.

    Parameters
    ----------
    pair : list of two (array, shape (k,), s; array, shape (k,), V)
        Time since the first current began and the fullest cell's voltage; NaN between two events.
    limit : float, V
        What it must stay below.
    names : tuple of two str
        What the events are called.
    fmt : UnitFormatter
        The rider's units.

    Returns
    -------
    dict
        "data" and "layout".
    """
    data = _lines(pair, names, "%{x:.1f} s: %{y:.3f} V", connectgaps=False)
    volts = np.concatenate([values for _, values in pair])
    low, high = min(float(np.nanmin(volts)), limit), max(float(np.nanmax(volts)), limit)
    room = 0.12 * max(high - low, 0.05)
    end = max(float(time[-1]) for time, _ in pair)
    layout = {
        **parts.LAYOUT,
        "xaxis": parts.axis("time since the current began, s", range=[0, end]),
        "yaxis": parts.axis("fullest cell, V", range=[low - room, high + room]),
        "shapes": [parts.level(limit, colour="@brick")],
        "annotations": [parts.level_name(f"highest allowed {fmt('cell voltage', limit)}", limit, left=True)],
        "uirevision": f"cell {names}",
    }
    return {"data": data, "layout": layout}
