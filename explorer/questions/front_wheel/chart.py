"""Front wheel: throttle at which it goes light and lifts, against speed, and force against throttle."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from explorer.charts import parts
from explorer.format import UnitFormatter, spelled
from physics.studies.force import FrontWheel

HEIGHT = 380
COLOURS = ("teal", "amber", "blue", "violet", "olive", "brick")
"""One for each power level, from the mildest."""

_KINDS = (
    ("used_throttle", "full output", "dot", 1.8),
    ("light_throttle", "front light", "dash", 2.2),
    ("lift_throttle", "front lifts", "solid", 2.8),
)
_MARGIN = {"l": 54, "r": 14, "t": 40, "b": 110}
_LEGEND = {"orientation": "h", "x": 0, "y": -0.24, "yanchor": "top"}


def against_speed(marks: FrontWheel, fmt: UnitFormatter) -> dict[str, Any]:
    """Throttle at which the front goes light and lifts, and past which there is no more, for each level.

    Parameters
    ----------
    marks : FrontWheel
        The marks.
    fmt : UnitFormatter
        The rider's units.
    """
    unit, speed = fmt.unit("speed"), fmt.number("speed", marks.speed)
    data, kinds = [], set()
    for attribute, kind, dash, width in _KINDS:
        for row, level in enumerate(marks.levels):
            values = 100 * getattr(marks, attribute)[row]
            if attribute == "used_throttle":
                values = np.where(marks.full_force[row] > 0, values, np.nan)
                values = np.where(values < 99.5, values, np.nan)
            if not np.isfinite(values).any():
                continue
            kinds.add(kind)
            hover = f"{kind} at %{{y:.0f}} % of throttle, %{{x:.0f}} {unit}"
            data.append(
                parts.line(speed, values, level.name, f"@{_colour(row)}", hover=hover, dash=dash, width=width)
                | {"showlegend": False, "meta": {"column": f"{level.name}, {kind}"}}
            )
    keys = [(level.name, f"@{_colour(row)}", "solid", 5.0) for row, level in enumerate(marks.levels)]
    keys += [(kind, "@text", dash, width) for _, kind, dash, width in _KINDS if kind in kinds]
    data += [_key(*key) for key in keys]
    layout = _layout("Throttle where the front goes light, and lifts") | {
        "xaxis": parts.axis(f"speed, {unit}", range=[0, float(speed[-1])]),
        "yaxis": parts.axis("throttle, %", range=[0, 104]),
        "uirevision": f"front wheel {unit} {speed[-1]:.0f}",
    }
    return {"data": data, "layout": layout}


def against_throttle(
    marks: FrontWheel, throttle: NDArray[np.float64], force: NDArray[np.float64], at: int, fmt: UnitFormatter
) -> dict[str, Any]:
    """Drive force against throttle at one speed, with the forces at which the front goes light and lifts.

    Parameters
    ----------
    marks : FrontWheel
        The marks.
    throttle : array, shape (t,)
        0 to 1.
    force : array, shape (levels, t), N
        At one speed.
    at : int
        Which of the speeds of `marks` that is.
    fmt : UnitFormatter
        The rider's units.
    """
    unit = fmt.unit("force")
    shown, percent = fmt.number("force", np.asarray(force)), 100 * np.asarray(throttle, dtype=float)
    hover = "%{x:.0f} % of throttle: %{y:.0f} " + unit
    data = [
        parts.line(percent, shown[row], level.name, f"@{_colour(row)}", hover=hover, **_LOOKS[row % len(_LOOKS)])
        for row, level in enumerate(marks.levels)
    ]
    light, lift = (float(fmt.number("force", values[at])) for values in (marks.light_force, marks.lift_force))
    forces = [(light, "front light", "dash"), (lift, "front lifts", "solid")]
    if marks.slips_first[at]:
        slips = spelled("rear tyre slips", fmt.system)
        forces.append((float(fmt.number("force", marks.slip_force[at])), slips, "dot"))
    top = 1.12 * max(float(np.nanmax(shown)), *(value for value, *_ in forces))
    layout = _layout(f"Pull against throttle at {fmt('speed', marks.speed[at])}") | {
        "xaxis": parts.axis("throttle, %", range=[0, 100]),
        "yaxis": parts.axis(f"drive force, {unit}", range=[min(0.0, float(np.nanmin(shown))), top]),
        "shapes": [parts.level(value, colour="@text", dash=dash, width=1.4) for value, _, dash in forces],
        "annotations": [parts.level_name(text, value, left=True) for value, text, _ in forces],
        "uirevision": f"throttle {unit} {top:.0f}",
    }
    return {"data": data, "layout": layout}


_LOOKS: tuple[dict[str, Any], ...] = (
    {"dash": "dot", "width": 2.4},
    {"dash": "dash", "width": 2.4},
    {"dash": "solid", "width": 2.6},
    {"dash": "dashdot", "width": 2.4},
    {"dash": "longdash", "width": 2.4},
)


def _colour(level: int) -> str:
    return COLOURS[level % len(COLOURS)]


def _key(name: str, colour: str, dash: str, width: float) -> dict[str, Any]:
    """A line that stands in the legend alone."""
    return {
        "type": "scatter",
        "mode": "lines",
        "x": [None],
        "y": [None],
        "name": name,
        "hoverinfo": "skip",
        "line": {"color": colour, "dash": dash, "width": width},
    }


def _layout(title: str) -> dict[str, Any]:
    return {
        "margin": _MARGIN,
        "hovermode": "closest",
        "title": {"text": title, "x": 0, "xanchor": "left", "xref": "paper", "font": {"size": 14}},
        "showlegend": True,
        "legend": _LEGEND,
    }
