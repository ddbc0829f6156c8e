"""Gearing: the map of sprocket pairs with the line between voltage and power, and top speed against time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.studies.gearing import HELD, HELD_BY_VOLTAGE, GearingMap

COMPROMISE_HEIGHT = 470
MOST_WITH_NUMBERS = 200
"""Pairs up to which every cell shows its number."""

_SYMBOLS = {"voltage": "circle", "power": "square", "something else": "diamond"}
_COLOURS = {"voltage": "teal", "power": "amber", "something else": "violet"}


def map_height(table: GearingMap) -> int:
    """Height of the map in pixels."""
    fronts, _ = table.shape
    return 470 if _numbered(table) else 110 + 24 * fronts


def _numbered(table: GearingMap) -> bool:
    return table.front_teeth.size <= MOST_WITH_NUMBERS


def gearing_map(
    table: GearingMap,
    values: ArrayLike,
    texts: Sequence[str],
    title: str,
    chosen: tuple[int, int],
    best: tuple[int, int] | None,
    *,
    low_is_good: bool = False,
) -> dict[str, Any]:
    """The map: one cell for each pair.

    Parameters
    ----------
    table : GearingMap
        The pairs.
    values : array, shape (n,)
        What the colour shows, in the rider's unit; NaN leaves a cell empty.
    texts : sequence of str
        What each cell says.
    title : str
        What is shown, with its unit.
    chosen, best : tuple of (front, rear)
        The build's pair, and the suggested one.
    low_is_good : bool
        Whether the strong colour stands for low values.
    """
    upright = _numbered(table)
    grid = table.on_grid(np.asarray(values, dtype=float))
    words = np.asarray(texts, dtype=object).reshape(table.shape)
    held = np.asarray(HELD, dtype=object)[table.held].reshape(table.shape)
    fronts, rears = np.unique(table.front_teeth), np.unique(table.rear_teeth)
    x, y = (fronts, rears) if upright else (rears, fronts)
    if upright:
        grid, words, held = grid.T, words.T, held.T
    scale = [[0.0, "@blue/0.06"], [1.0, "@blue/0.55"]]
    if low_is_good:
        scale = [[0.0, "@blue/0.55"], [1.0, "@blue/0.06"]]
    pair = "%{x}/%{y}" if upright else "%{y}/%{x}"
    cells: dict[str, Any] = {
        "type": "heatmap",
        "x": x,
        "y": y,
        "z": grid,
        "colorscale": scale,
        "showscale": False,
        "xgap": 1 if upright else 0,
        "ygap": 1 if upright else 0,
        "text": words.tolist(),
        "customdata": held.tolist(),
        "hovertemplate": pair + ": %{text}, limited by %{customdata}<extra>" + title + "</extra>",
    }
    if upright:
        cells |= {"texttemplate": "%{text}", "textfont": {"size": 12, "color": "@text"}}
    data = [cells]
    voltage = table.on_grid((table.held == HELD_BY_VOLTAGE) & table.done)
    data += _border(fronts, rears, voltage, upright)
    shapes = [_frame(chosen, upright, "@text", 2.6, "solid")]
    if best is not None and best != chosen:
        shapes.append(_frame(best, upright, "@brick", 2.2, "dot"))
    count = (fronts.size, rears.size)
    layout = {
        "margin": {"l": 54, "r": 12, "t": 36, "b": 66},
        "hovermode": "closest",
        "title": {"text": title, "x": 0, "xanchor": "left", "xref": "paper", "font": {"size": 14}},
        "xaxis": parts.axis(
            "front sprocket, teeth" if upright else "rear sprocket, teeth",
            fixedrange=True,
            showgrid=False,
            dtick=1 if upright else 5,
            zeroline=False,
            range=[float(x[0]) - 0.5, float(x[-1]) + 0.5],
        ),
        "yaxis": parts.axis(
            "rear sprocket, teeth" if upright else "front sprocket, teeth",
            fixedrange=True,
            showgrid=False,
            dtick=2 if upright else 1,
            zeroline=False,
            range=[float(y[0]) - 0.5, float(y[-1]) + 0.5],
        ),
        "shapes": shapes,
        "showlegend": bool(data[1:]),
        "legend": {"orientation": "h", "x": 0, "y": -0.15 if upright else -0.3, "yanchor": "top"},
        "uirevision": f"map {count} {x[0]} {y[0]}",
    }
    return {"data": data, "layout": layout}


def _border(
    fronts: NDArray[np.float64], rears: NDArray[np.float64], voltage: NDArray[np.bool_], upright: bool
) -> list[dict[str, Any]]:
    """The staircase between the pairs that voltage holds (more reduction) and those that power holds."""
    low, high = rears[0] - 0.5, rears[-1] + 0.5
    edges = []
    for row in range(fronts.size):
        indices = np.flatnonzero(voltage[row])
        edges.append(float(rears[indices[0]] - 0.5) if indices.size else float(high))
    if all(edge <= low for edge in edges) or all(edge >= high for edge in edges):
        return []
    x: list[float | None] = []
    y: list[float | None] = []
    for front, edge in zip(fronts, edges, strict=True):
        inside = low < edge < high
        x += [float(front) - 0.5, *([] if inside else [None]), float(front) + 0.5]
        y += [edge, *([] if inside else [None]), edge]
    x_line, y_line = (x, y) if upright else (y, x)
    return [
        {
            "type": "scatter",
            "mode": "lines",
            "x": x_line,
            "y": y_line,
            "hoverinfo": "skip",
            "name": "voltage-limited above, power-limited below"
            if upright
            else "voltage-limited right, power-limited left",
            "line": {"color": "@amber", "width": 3, "dash": "solid"},
        }
    ]


def _frame(pair: tuple[int, int], upright: bool, colour: str, width: float, dash: str) -> dict[str, Any]:
    x, y = pair if upright else pair[::-1]
    return {
        "type": "rect",
        "xref": "x",
        "yref": "y",
        "x0": x - 0.5,
        "x1": x + 0.5,
        "y0": y - 0.5,
        "y1": y + 0.5,
        "line": {"color": colour, "width": width, "dash": dash},
    }


def compromise(
    table: GearingMap, fmt: UnitFormatter, target_speed: float, chosen: int, best: int | None
) -> dict[str, Any]:
    """Top speed against time to the chosen speed, one mark for each pair; those nothing beats are joined.

    Parameters
    ----------
    table : GearingMap
        The pairs.
    fmt : UnitFormatter
        The rider's units.
    target_speed : float, m/s
        Drawn as a level.
    chosen, best : int
        Indices of the build's pair and of the suggested one.
    """
    unit = fmt.unit("speed")
    speed = fmt.number("speed", table.top_speed)
    names = np.array(
        [f"{front:.0f}/{rear:.0f}" for front, rear in zip(table.front_teeth, table.rear_teeth, strict=True)]
    )
    stays = table.done & np.isnan(table.cut_out_time) & np.isfinite(table.time_to_speed)
    hover = "%{text}: %{y:.1f} " + unit + ", %{x:.2f} s"
    data: list[dict[str, Any]] = []
    line = np.flatnonzero(table.best)
    line = line[np.argsort(table.time_to_speed[line])]
    if line.size:
        joined = parts.line(
            table.time_to_speed[line],
            speed[line],
            "no pair beats these",
            "@muted",
            hover=hover,
            width=1.4,
            text=names[line].tolist(),
            hoverinfo="skip",
        )
        joined.pop("hovertemplate")
        data.append(joined)
    for kind, name in enumerate(HELD):
        mine = np.flatnonzero(stays & (table.held == kind))
        if mine.size:
            data.append(
                _marks(
                    table.time_to_speed[mine],
                    speed[mine],
                    names[mine],
                    f"limited by {name}",
                    hover,
                    {
                        "symbol": _SYMBOLS[name],
                        "size": 7,
                        "color": f"@{_COLOURS[name]}/0.55",
                        "line": {"color": f"@{_COLOURS[name]}", "width": 1},
                    },
                )
            )
    cuts = np.flatnonzero(table.done & ~np.isnan(table.cut_out_time) & np.isfinite(table.time_to_speed))
    if cuts.size:
        marker = {"symbol": "x-thin", "size": 8, "line": {"color": "@muted", "width": 1.6}}
        data.append(_marks(table.time_to_speed[cuts], speed[cuts], names[cuts], "cuts out", hover, marker))
    notes = []
    marked = [(chosen, "yours", "star", "@text")]
    if best is not None and best != chosen:
        marked.insert(0, (best, "suggested", "circle-open", "@brick"))
    for index, text, symbol, colour in marked:
        if not np.isfinite(table.time_to_speed[index]):
            continue
        marker = {"symbol": symbol, "size": 14, "color": colour, "line": {"color": colour, "width": 2}}
        label = f"{text}, {names[index]}"
        one = [table.time_to_speed[index]], [speed[index]], names[[index]]
        data.append(_marks(*one, label, hover, marker) | {"showlegend": False})
        notes.append(_label(one[0][0], float(one[1][0]), label, above=text == "suggested"))
    target = float(fmt.number("speed", target_speed))
    layout = {
        "margin": {"l": 54, "r": 12, "t": 36, "b": 44},
        "hovermode": "closest",
        "title": {
            "text": "Top speed against time",
            "x": 0,
            "xanchor": "left",
            "xref": "paper",
            "font": {"size": 14},
        },
        "xaxis": parts.axis(f"time to {fmt('speed', table.speed)}, s"),
        "yaxis": parts.axis(f"top speed, {unit}"),
        "shapes": [parts.level(target, colour="@text", width=1.2)],
        "annotations": [
            parts.level_name(f"target {fmt.entered('speed', target_speed)}", target, left=True),
            *notes,
        ],
        "legend": {"orientation": "h", "x": 0, "y": -0.16, "yanchor": "top"},
        "uirevision": f"compromise {unit} {table.speed}",
    }
    return {"data": data, "layout": layout}


def _marks(
    x: ArrayLike, y: ArrayLike, names: Iterable[str], name: str, hover: str, marker: dict[str, Any]
) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "markers",
        "x": np.asarray(x, dtype=float),
        "y": np.asarray(y, dtype=float),
        "text": list(names),
        "name": name,
        "marker": marker,
        "hovertemplate": hover + f"<extra>{name}</extra>",
    }


def _label(x: float, y: float, text: str, above: bool) -> dict[str, Any]:
    return {
        "x": x,
        "y": y,
        "text": text,
        "showarrow": True,
        "arrowhead": 0,
        "arrowwidth": 1,
        "arrowcolor": "@muted",
        "ax": -52 if above else 34,
        "ay": -34 if above else 34,
        "font": {"size": 12, "color": "@text"},
        "bgcolor": "@background/0.8",
    }
