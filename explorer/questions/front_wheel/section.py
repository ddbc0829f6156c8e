"""Front wheel and power levels: where the front goes light and lifts, feel in numbers, the levels side by side."""

from __future__ import annotations

import numpy as np
import pandas as pd
import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.derivations import parts as why_parts
from explorer.format import tied
from explorer.frame.layout import numbers, show_derivation
from explorer.page.page import Page
from explorer.questions.front_wheel import chart, words
from explorer.questions.front_wheel.results import FEEL_SPEED, FrontAnswer, front_answer, posture_limits
from physics.limits import LIMITS
from physics.units import to_si

TITLE = "At what throttle does the front wheel go light, and lift?"
LOW_SPEED = {"metric": (50, "km/h"), "US": (30, "mph")}


def draw(page: Page) -> None:
    """Verdict, two charts, feel, the levels side by side, caution."""
    low_speed = float(to_si(*LOW_SPEED[page.fmt.system]))
    answer = front_answer(page.build, low_speed, page.target_speed, page.duration)
    used = in_use(page, answer)
    seats = posture_limits(page.inputs, answer.found.levels[used], float(answer.found.speed[-1]))
    said = words.verdict(page, answer, used, seats)
    with st.container(key="verdict_front_wheel"):
        st.markdown(tied(said))
    show_derivation("front_wheel", lambda: why_parts.front(page))
    with st.grid(min_column_width=320, gap="medium"):
        live_chart(
            chart.against_speed(answer.found, page.fmt), key="chart_front_wheel_speed", height=chart.HEIGHT,
            alt=f"Throttle at which the front goes light and lifts, against speed. {said.replace('*', '')}",
        )  # fmt: skip
        live_chart(
            chart.against_throttle(answer.found, answer.throttle, answer.force, answer.at, page.fmt),
            key="chart_front_wheel_throttle", height=chart.HEIGHT,
            alt=f"Drive force against throttle at {page.fmt('speed', FEEL_SPEED)} for each power level.",
        )  # fmt: skip
    st.caption(tied(words.note(page)))
    with st.container(key="verdict_front_wheel_feel"):
        st.markdown(tied(words.feel(page, answer)))
        st.markdown("**The levels side by side**")
    st.table(side_by_side(page, answer), border="horizontal", hide_index=True)
    numbers("front_wheel", lambda: table(page, answer), "Throttle marks in numbers")
    st.warning(words.CAUTION, icon=":material/warning:")


def in_use(page: Page, answer: FrontAnswer) -> int:
    """Place of the level that is ridden."""
    control = page.build.controller
    now = (control.phase_current_limit, control.line_current_limit)
    level = str(page.inputs.get("level", ""))
    for place, one in enumerate(answer.found.levels):
        if one.name.endswith(level) and (one.phase_current_limit, one.line_current_limit) == now:
            return place
    return len(answer.found.levels) - 1


def side_by_side(page: Page, answer: FrontAnswer) -> pd.DataFrame:
    """One column for each level, one row for each thing compared."""
    runs, found, fmt = answer.runs, answer.found, page.fmt
    places = range(len(found.levels))
    target, low = fmt.entered("speed", runs.target_speed), fmt("speed", runs.low_speed)

    def throttle(name):
        least = found.least(name)
        return [fmt("share", least[at]) if np.isfinite(least[at]) else "not at full" for at in places]

    def time(values):
        return [fmt("time", values[at]) if np.isfinite(values[at]) else "not reached" for at in places]

    def cut(at):
        if np.isfinite(runs.cut_out_time[at]):
            return f"cuts out at {fmt('time', runs.cut_out_time[at])}"
        return f"{fmt('share', runs.margin[at])} left"

    rows = {
        "Phase limit (peak)": [fmt("current", level.phase_current_limit) for level in found.levels],
        "Line limit": [fmt("current", level.line_current_limit) for level in found.levels],
        f"To {low}": time(runs.time_to_low_speed),
        f"To {target}": time(runs.time_to_target),
        "Top speed": [fmt("speed", value) for value in runs.top_speed],
        "Holds it at top speed": [LIMITS[limit] for limit in runs.holding_limit],
        "Cut-out allowance": [cut(at) for at in places],
        "Weakest cell above its threshold by": [fmt("cell voltage", value) for value in runs.cell_margin],
        "Strongest pull": [fmt("acceleration", value) for value in runs.highest_acceleration],
        "Front light from this throttle": throttle("light_throttle"),
        "Front lifts from this throttle": throttle("lift_throttle"),
        "Front stays down up to this phase limit (peak)": [
            fmt("current", value) if np.isfinite(value) else "any" for value in answer.holds
        ],
        "Front goes light above this phase limit (peak)": [
            fmt("current", value) if np.isfinite(value) else "none" for value in answer.light_holds
        ],
    }
    if (runs.front_time > 0.05).any():
        rows["Front held down for"] = [
            fmt("time", value) if value > 0.05 else "not at all" for value in runs.front_time
        ]
    names = [level.name for level in found.levels]
    cells = [dict(zip(names, map(tied, row), strict=True)) for row in rows.values()]
    return pd.DataFrame([{"": label} | row for label, row in zip(rows, cells, strict=True)])


def table(page: Page, answer: FrontAnswer, rows: int = 16) -> pd.DataFrame:
    """Marks at some speeds."""
    found, fmt = answer.found, page.fmt
    places = np.unique(np.linspace(0, len(found.speed) - 1, rows).round().astype(int))
    columns = {f"speed, {fmt.unit('speed')}": fmt.number("speed", found.speed[places]).round(0)}
    for at, level in enumerate(found.levels):
        columns[f"{level.name}: light, % of throttle"] = (100 * found.light_throttle[at, places]).round(0)
        columns[f"{level.name}: lifts, % of throttle"] = (100 * found.lift_throttle[at, places]).round(0)
        force = fmt.number("force", found.full_force[at, places]).round(0)
        columns[f"{level.name}: full throttle, {fmt.unit('force')}"] = force
    return pd.DataFrame(columns)
