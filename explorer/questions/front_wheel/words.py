"""Front wheel and power levels in words: verdict, derivation, feel in numbers, the tables, the caution."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from explorer.derivations.derivation import Instant, Step, put
from explorer.derivations.motor import drive
from explorer.derivations.road import front_wheel_lift
from explorer.derivations.sources import LOAD_TRANSFER
from explorer.format import joined, tied
from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.questions.front_wheel.results import FEEL_SPEED, FrontAnswer
from physics.limits import LIMITS

CAUTION = (
    "A front wheel in the air neither steers nor brakes, and a light one does little of both. These "
    "marks hold for a smooth, level road, a steady hand and a rider who sits still: a crest, a bump, a "
    "jab of throttle or a shift of weight lifts it sooner. Try a stronger level on closed ground, "
    "upright and in a straight line, building up from light throttle, with the rear brake covered. "
    "Wheelie control is an aid, not a promise. The makers' limits come first; on public roads local law "
    "often forbids wheelies."
)
SIDE_BY_SIDE = "**The levels side by side**"
MARKS = "Throttle marks in numbers"


def verdict(page: Page, answer: FrontAnswer, used: int, seats: dict[str, float]) -> str:
    """What the front wheel does in the level in use, in the others, and what phase limit keeps it down."""
    text = f"**In {_name(answer, used)} {_does(page, answer, used)}** {_more(page, answer, used)}"
    others = [level for level in range(len(answer.marks.levels)) if level != used]
    if others:
        text += " " + _others(answer, others)
    if answer.marks.slips_first[answer.at]:
        text += " On this surface the rear tyre slips before the front can lift."
    return f"{text} {_limits(page, answer, used, seats)}"


def _name(answer: FrontAnswer, level: int) -> str:
    return answer.marks.levels[level].name


def _does(page: Page, answer: FrontAnswer, level: int) -> str:
    light, lift = (answer.marks.least(name)[level] for name in ("light_throttle", "lift_throttle"))
    if np.isfinite(lift):
        return f"the front wheel lifts from {page.fmt('share', lift)} throttle."
    if np.isfinite(light):
        return f"the front wheel goes light from {page.fmt('share', light)} throttle, but stays down."
    return "the front wheel stays planted at full throttle."


def _more(page: Page, answer: FrontAnswer, level: int) -> str:
    marks, fmt = answer.marks, page.fmt
    light, lift = (marks.least(name)[level] for name in ("light_throttle", "lift_throttle"))
    if np.isfinite(lift):
        up_to = _up_to(page, marks.fastest("lift_throttle")[level], marks.speed[-1])
        return f"It can do that {up_to}. From {fmt('share', light)} it carries half its static load or less."
    if np.isfinite(light):
        up_to = _up_to(page, marks.fastest("light_throttle")[level], marks.speed[-1])
        return f"Light means half its static load; that can happen {up_to}."
    return f"It keeps at least {fmt('share', answer.load_left(level))} of its static load."


def _up_to(page: Page, speed: float, fastest: float) -> str:
    return "at any speed shown" if speed >= fastest else f"up to {page.fmt('speed', speed)}"


def _others(answer: FrontAnswer, levels: Sequence[int]) -> str:
    """The other levels, in one sentence, those of a kind together."""
    light, lift = (answer.marks.least(name) for name in ("light_throttle", "lift_throttle"))
    kinds: dict[str, list[str]] = {}
    for level in levels:
        if np.isfinite(lift[level]):
            kind = f"lifts it from {100 * lift[level]:.0f} %"
        elif np.isfinite(light[level]):
            kind = f"makes it light from {100 * light[level]:.0f} %"
        else:
            kind = "keeps it planted"
        kinds.setdefault(kind, []).append(_name(answer, level))
    groups = [f"{joined(names)} {kind if len(names) == 1 else _plural(kind)}" for kind, names in kinds.items()]
    return joined(groups) + "."


def _plural(kind: str) -> str:
    verb, _, rest = kind.partition(" ")
    return f"{verb.removesuffix('s')} {rest}"


def _amperes(page: Page, limit: float) -> str:
    return page.fmt("current", limit) if math.isfinite(limit) else "no limit needed"


def _limits(page: Page, answer: FrontAnswer, used: int, seats: dict[str, float]) -> str:
    seat, limit = page.inputs["posture"], answer.holds[used]
    if not math.isfinite(limit):
        return "The line limit alone keeps the front down; no phase limit is needed for that."
    others = [f"{name} {_amperes(page, value)}" for name, value in seats.items() if name != seat]
    elsewhere = f" ({', '.join(others)})" if others else ""
    return (
        f"For this rider, sitting {seat}, **the front stays down up to {_amperes(page, limit)} peak phase "
        f"current**{elsewhere}."
    )


def feel(page: Page, answer: FrontAnswer) -> str:
    """Snappy and manageable as numbers."""
    fmt, marks = page.fmt, answer.marks
    gains = [fmt.digits("acceleration", value) for value in answer.gain_per_tenth]
    numbers = [level.name.removeprefix("Level ") for level in marks.levels]
    text = (
        f"**Feel:** at {fmt('speed', FEEL_SPEED[page.fmt.system])}, each 10 % of throttle adds {joined(gains)} "
        f"{fmt.unit('acceleration')} in level{'s' if numbers[1:] else ''} {joined(numbers)}. More is snappier."
    )
    room = [
        f"{fmt('share', value)} of throttle travel in {level.name}"
        for level, value in zip(marks.levels, answer.room_to_lift, strict=True)
        if np.isfinite(value)
    ]
    if room:
        text += f" Between light and lifted there is {joined(room)}. Less is harder to control."
    return text


def throttle(page: Page, answer: FrontAnswer, found: NDArray[np.float64]) -> str:
    """The throttle that gives the acceleration wanted, level by level."""
    fmt, wanted = page.fmt, INPUTS["throttle_pull"].si(page.inputs["throttle_pull"])
    parts = [
        f"{fmt('share', value)} in {level.name}"
        if np.isfinite(value)
        else (f"not even at full throttle in {level.name}")
        for level, value in zip(answer.marks.levels, found, strict=True)
    ]
    at = fmt("speed", FEEL_SPEED[fmt.system])
    return f"**Throttle for {fmt('acceleration', wanted)}** at {at}: {joined(parts)}."


def note(page: Page) -> str:
    """How to read the charts."""
    text = (
        "Light: the front carries half its static load. Lifts: it carries nothing. Full output: past "
        "that line more throttle adds nothing. Worked out for a rested pack, a torque throttle, and "
        "nothing holding the front down"
    )
    if page.build.bike.hold_front_down:
        return f"{text}; in the runs in the table below, the rider or wheelie control keeps it down."
    return f"{text}, as in the table below."


def derivation(page: Page) -> list[Step]:
    """Drive that lifts the front wheel from a standstill, and the phase current that gives it."""
    now = Instant(page.build, page.run, 0, 0)
    *before, lift = front_wheel_lift(now, page.fmt)
    current = (lift.value * now.radius / (now.ratio * now.efficiency) + now.iron_torque) / now.torque_per_ampere
    return [
        *before,
        lift,
        *(step for step in drive(now, page.fmt) if step.unit == "N m/A"),
        Step(
            "Phase current for that drive force",
            r"i_q = \frac{1}{k}\left(\frac{F_{lift}\,r}{G\,\eta} + T_{iron}\right)",
            f"({put(lift.value, 5)} × {put(now.radius)} / ({put(now.ratio, 5)} × {put(now.efficiency)}) + "
            f"{put(now.iron_torque)}) / {put(now.torque_per_ampere, 5)}",
            current,
            "A peak",
            "r rolling radius, m; G motor turns for one turn of the wheel; η driveline efficiency; "
            "T_iron drag of iron loss, N m. Against the phase limit that is the throttle at which it "
            "lifts",
            LOAD_TRANSFER,
        ),
    ]


def alt_speed(verdict: str) -> str:
    """What the chart against speed shows."""
    return f"Throttle at which the front goes light and lifts, against speed. {verdict.replace('*', '')}"


def alt_throttle(page: Page) -> str:
    """What the chart against throttle shows."""
    return f"Drive force against throttle at {page.fmt('speed', FEEL_SPEED[page.fmt.system])} for each power level."


def side_by_side(page: Page, answer: FrontAnswer) -> pd.DataFrame:
    """One column for each level, one row for each thing compared."""
    runs, marks, fmt = answer.runs, answer.marks, page.fmt
    levels = range(len(marks.levels))
    target, low = fmt.entered("speed", runs.target_speed), fmt("speed", runs.low_speed)

    def throttle(name: str) -> list[str]:
        least = marks.least(name)
        return [fmt("share", least[level]) if np.isfinite(least[level]) else "never" for level in levels]

    def time(values: NDArray[np.float64]) -> list[str]:
        return [fmt("time", values[level]) if np.isfinite(values[level]) else "not reached" for level in levels]

    def allowance(level: int) -> str:
        if np.isfinite(runs.cut_out_time[level]):
            return f"cuts out at {fmt('time', runs.cut_out_time[level])}"
        return f"{fmt('share', runs.allowance_left[level])} left"

    rows = {
        "Phase limit (peak)": [fmt("current", level.phase_current_limit) for level in marks.levels],
        "Line limit": [fmt("current", level.line_current_limit) for level in marks.levels],
        f"To {low}": time(runs.time_to_low_speed),
        f"To {target}": time(runs.time_to_target),
        "Top speed": [fmt("speed", value) for value in runs.top_speed],
        "Top speed limited by": [LIMITS[limit] for limit in runs.holding_limit],
        "BMS limit left": [allowance(level) for level in levels],
        "Weakest cell above cut-out by": [fmt("cell voltage", value) for value in runs.cell_margin],
        "Hardest pull": [fmt("acceleration", value) for value in runs.highest_acceleration],
        "Throttle where the front goes light": throttle("light_throttle"),
        "Throttle where the front lifts": throttle("lift_throttle"),
        "Phase limit that keeps the front down (peak)": [
            fmt("current", value) if np.isfinite(value) else "any" for value in answer.holds
        ],
        "Phase limit where the front goes light (peak)": [
            fmt("current", value) if np.isfinite(value) else "none" for value in answer.light_holds
        ],
    }
    if (runs.front_time > 0.05).any():
        rows["Front held down for"] = [
            fmt("time", value) if value > 0.05 else "not at all" for value in runs.front_time
        ]
    names = [level.name for level in marks.levels]
    cells = [dict(zip(names, map(tied, row), strict=True)) for row in rows.values()]
    return pd.DataFrame([{"in each level": label} | row for label, row in zip(rows, cells, strict=True)])


def table(page: Page, answer: FrontAnswer, rows: int = 16) -> pd.DataFrame:
    """Marks at some speeds."""
    marks, fmt = answer.marks, page.fmt
    indices = np.unique(np.linspace(0, len(marks.speed) - 1, rows).round().astype(int))
    columns = {f"speed, {fmt.unit('speed')}": fmt.number("speed", marks.speed[indices]).round(0)}
    for row, level in enumerate(marks.levels):
        columns[f"{level.name}: light, % of throttle"] = (100 * marks.light_throttle[row, indices]).round(0)
        columns[f"{level.name}: lifts, % of throttle"] = (100 * marks.lift_throttle[row, indices]).round(0)
        force = fmt.number("force", marks.full_force[row, indices]).round(0)
        columns[f"{level.name}: full throttle, {fmt.unit('force')}"] = force
    return pd.DataFrame(columns)
