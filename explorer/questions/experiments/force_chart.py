"""Force against speed of both builds of an experiment: what was guessed as a band, and what came out as a mark."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import force, parts
from explorer.questions.experiments.chart import BEFORE
from explorer.questions.experiments.guessed import Scale
from explorer.questions.experiments.two_runs import TwoRuns
from physics.studies.force import ForceAgainstSpeed

HEIGHT = 430
POINTS = 81
_COLOURS, _LOOKS = ("@muted", "@blue"), (BEFORE, {"dash": "solid", "width": 4.0})
_MARKS = ("circle", "diamond")
_ABOVE, _BEYOND = 1.25, 1.18
"""Height over the greatest force, and speeds beyond the faster of the runs."""


def last_speed(two: TwoRuns) -> float:
    """End of the axis, m/s."""
    end = parts.steady(0.0, float(two.fmt.number("speed", _BEYOND * max(float(two.top.max()), 1.0))))[1]
    return end / float(two.fmt.number("speed", 1.0))


def figure(
    found: ForceAgainstSpeed, two: TwoRuns, scale: Scale, guess: tuple[str, str], answer: str
) -> dict[str, Any]:
    """Both envelopes, their road loads and runs, the guess and what came out.

    Parameters
    ----------
    found : ForceAgainstSpeed
        Two rows, before and after.
    two : TwoRuns
        The runs.
    scale : Scale
        Where answers stand.
    guess : tuple of (key, label)
        A key that is not on the scale is a cut-out: anywhere on the way.
    answer : str
        Label of the answer that holds.

    Returns
    -------
    dict
        "data" and "layout".
    """
    fmt, per_force = two.fmt, float(two.fmt.number("force", 1.0))
    most = float(np.nanmax(found.force))
    if scale.of_force:
        most = max(most, *scale.borders(two))
    top = parts.steady(0.0, _ABOVE * most * per_force)[1]
    end = float(fmt.number("speed", found.speed[-1]))
    data, notes = [], []
    same_road = np.allclose(found.road_load[0], found.road_load[1], rtol=1e-3)
    for row, name in enumerate(two.names):
        mass, colour = float(found.mass[row]), _COLOURS[row]
        called = ("the run before", "runs, with sag")[row]
        way = force.path(two.runs.one(row), called, colour, fmt, dash="dot", width=1.6, showlegend=row == 1)
        envelope = force.forward(found.force[row])
        data.append(force.curve(found.speed, envelope, name, colour, mass, fmt, **_LOOKS[row]))
        data.append(way)
        if row == 0 or not same_road:
            road, called = found.road_load[row], "road load" if same_road else f"road load, {name}"
            line = {"dash": ("dash", "solid")[row] if not same_road else "solid", "width": 1.4}
            data.append(force.curve(found.speed, road, called, "@text", mass, fmt, showlegend=False, **line))
            notes.append(_at(end * 0.3, float(np.interp(0.3, found.speed / found.speed[-1], road)) * per_force,
                             called, end, above=row == 1 or same_road))  # fmt: skip
    for row in (0, 1):
        mark, words = _came(two, scale, row, answer, end)
        data.append(mark)
        notes += words
    shape, said = _band(two, scale, guess, end, top)
    layout = {
        **parts.LAYOUT,
        "margin": parts.MARGIN | {"r": 56},
        **force.axes(end, top, float(found.mass[1]), fmt),
        "shapes": [shape],
        "annotations": [said, *notes],
        "uirevision": f"guess {end:g} {top:g} {two.names}",
    }
    return {"data": [*data, force.RIGHT_AXIS], "layout": layout}


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _at(x: float, y: float, text: str, end: float, above: bool = True) -> dict[str, Any]:
    """Words beside a point, towards the middle of the chart."""
    late = x > 0.5 * end
    return {
        "x": x,
        "y": y,
        "text": text,
        "showarrow": False,
        "xanchor": "right" if late else "left",
        "xshift": -9 if late else 9,
        "yanchor": "bottom" if above else "top",
        "bgcolor": "@background/0.75",
        "font": {"size": 12, "color": "@text"},
    }


def _came(
    two: TwoRuns, scale: Scale, row: int, answer: str, end: float
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Where a run got to, or where its pack cut out."""
    fmt, run, colour = two.fmt, two.runs.one(row), _COLOURS[row]
    if two.cut(row):
        when = float(two.runs.cut_out_time[row])
        text, symbol = f"cut-out {('before', 'after')[row]}", "x"
        speed, place = float(np.interp(when, run.time, run.speed[0])), np.searchsorted(run.time, when) - 1
    else:
        symbol, text = _MARKS[row], f"came out: {_lower(answer)}" if row == 1 and not two.cut(0) else ""
        place = np.argmax(run.drive_force[0] if scale.of_force else run.speed_under_power[0])
        speed = float(run.speed[0, place] if scale.of_force else two.top[row])
    x, y = float(fmt.number("speed", speed)), float(fmt.number("force", run.drive_force[0, max(int(place), 0)]))
    hover = f"{two.names[row]}: %{{x:.1f}} {fmt.unit('speed')}, %{{y:.0f}} {fmt.unit('force')}<extra></extra>"
    mark = parts.points([x], [y], text or two.names[row], colour, symbol, hover=hover, size=13, showlegend=False)
    above = scale.of_force or row == 0  # below the road load no curve is in the way
    words = _at(x, y, f"<b>{text}</b>", end, above) | {"yshift": 8 if above else -20}
    return mark, [words] if text else []


def _band(
    two: TwoRuns, scale: Scale, guess: tuple[str, str], end: float, top: float
) -> tuple[dict[str, Any], dict[str, Any]]:
    """The range guessed, as a band across the chart, and its words."""
    key, label = guess
    across = scale.of_force and key in scale.answers
    low, high = scale.span(two, key) if key in scale.answers else (0.0, float(two.top.max()))
    quantity, most = ("force", top) if across else ("speed", end)
    start, stop = (min(float(two.fmt.number(quantity, edge)), most) for edge in (low, min(high, 1e9)))
    value, along = ("y", "x") if across else ("x", "y")
    shape = {
        "type": "rect",
        "layer": "below",
        f"{value}ref": value,
        f"{value}0": start,
        f"{value}1": stop,
        f"{along}ref": "paper",
        f"{along}0": 0,
        f"{along}1": 1,
        "fillcolor": "@amber/0.22",
        "line": {"color": "@amber", "width": 1.4, "dash": "dash"},
    }
    words = {"text": f"your guess: {_lower(label)}", "showarrow": False,
             "bgcolor": "@background/0.75", "font": {"size": 12, "color": "@text"}}  # fmt: skip
    if across:
        return shape, words | {"xref": "paper", "x": 1, "xanchor": "right", "y": stop, "yanchor": "top"}
    middle = (start + stop) / 2
    x, anchor = (
        (start, "left") if middle < 0.35 * end else (stop, "right") if middle > 0.65 * end else (middle, "center")
    )
    return shape, words | {"yref": "paper", "y": 1, "yanchor": "top", "x": x, "xanchor": anchor}
