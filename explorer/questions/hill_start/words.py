"""Hill start in words: the verdict, when it holds, its derivation, the numbers, the caution."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import FORCE_BALANCE, LOAD_TRANSFER, MACHINE
from explorer.page.page import Page
from explorer.questions.hill_start.results import passenger_of
from physics.components.air import STANDARD_GRAVITY
from physics.studies.day.hill_start import DRIVE, ENDS, HillStart

CAUTION = (
    "A bike that stops on a steep hill rolls back or tips over backwards. Try slopes on closed ground, from gentle "
    "ones up, with both brakes covered and nobody behind. Do not hold the bike on the motor: use the brakes. A "
    "passenger only where the makers' instructions and local law allow one; kerbs can bend rims and damage tyres."
)
NOTE = (
    "Every input is taken as bad as it plausibly may be. On the steepest slope it barely moves off, so plan on "
    "less."
)


def used(page: Page, hill: HillStart) -> int:
    """Index of the level in use."""
    now = page.build.controller.phase_current_limit, page.build.controller.line_current_limit
    for row, level in enumerate(hill.levels):
        same = (level.phase_current_limit, level.line_current_limit) == now
        if same and level.name.endswith(str(page.inputs["level"])):
            return row
    return len(hill.levels) - 1


def slope(angle: float) -> str:
    """A slope in percent, rounded down.

    Examples
    --------
    >>> slope(0.2), slope(1.2)
    ('20 %', '100 % or more')
    """
    if angle >= math.pi / 4:
        return "100 % or more"
    return f"{math.floor(100.0 * math.tan(max(angle, 0.0)) + 1e-9):.0f} %"


def seconds(time: float) -> str:
    """A time that heat allows, rounded down.

    Examples
    --------
    >>> seconds(12.9), seconds(400.0), seconds(math.inf)
    ('12 s', '6 min', 'half an hour or more')
    """
    if not math.isfinite(time):
        return "half an hour or more"
    return f"{math.floor(time):.0f} s" if time < 120 else f"{math.floor(time / 60):.0f} min"


def verdict(page: Page, hill: HillStart) -> str:
    """The steepest slope in the level in use, for how long, and the kerb."""
    row = used(page, hill)
    name, angle = hill.levels[row].name, float(hill.angle[row, 0])
    if angle <= 0:
        return f"**In {name} it may not even start on the level:** {ENDS[hill.end[row, 0]]}."
    text = f"**In {name} it starts on slopes up to {slope(angle)}:** on anything steeper, {ENDS[hill.end[row, 0]]}."
    time, still = (float(values[row, 0]) for values in (hill.time, hill.still_time))
    if still <= 0:
        text += " Motor or controller is so hot that it cuts power at once."
    elif math.isfinite(still):
        text += f" At full throttle, heat cuts power after {seconds(time)} at a crawl"
        text += f", or after {seconds(still)} standing still."
    else:
        text += " Heat is not the limit."
    return f"{text} From a standstill both wheels climb a kerb of up to {_kerb(page, float(hill.kerb[row, 0]))}."


def _kerb(page: Page, height: float) -> str:
    digits = 1 if page.fmt.system == "US" else 0
    return page.fmt.at_most("length", height, digits)


def holds_when(page: Page, hill: HillStart) -> str:
    """The other levels, and what would help."""
    row = used(page, hill)
    others = [
        f"{level.name} {slope(float(hill.angle[index, 0]))}"
        for index, level in enumerate(hill.levels)
        if index != row
    ]
    text = f"Other levels: {', '.join(others)}. " if others else ""
    ends = int(hill.end[row, 0])
    with_whom = "with the passenger" if page.inputs["hill_passenger"] else "with the rider alone"
    if ends == DRIVE:
        text += "A larger rear sprocket or a higher phase limit would climb more. "
    else:
        text += "More drive would not help. "
    return text + f"Worked out {with_whom}, sitting {page.inputs['posture']} and still."


def derivation(page: Page, hill: HillStart) -> list[Step]:
    """Force over weight, the slope at which the front lifts, and how fast the winding heats."""
    row, motor = used(page, hill), page.build.motor
    stance = passenger_of(page).on(page.batch).stance()
    mass, force, current = float(np.asarray(stance.mass)[0]), float(hill.force[row, 0]), float(hill.current[row, 0])
    along, height = (float(value[0]) for value in stance.tilted(0.0))
    steps = [
        Step(
            "Drive force over weight",
            r"\sin s + c\cos s = \frac{F}{m g}",
            f"{put(force, 5)} / ({put(mass, 5)} × {put(STANDARD_GRAVITY, 6)})",
            force / (mass * STANDARD_GRAVITY),
            "",
            "s slope, rad; c rolling resistance over load; F drive force at full throttle, at a crawl, as "
            "entered, N; m mass, kg; a headwind counts as force. Left out: a run-up, loose ground, a rider who "
            "moves",
            FORCE_BALANCE,
        ),
        Step(
            "Slope at which the front wheel lifts",
            r"\tan s = \frac{b'}{h'}",
            f"{put(along)} / {put(height)}",
            along / height,
            "",
            "b' centre of gravity ahead of the rear axle, h' its height, m, both with the fork topped out; a "
            "headwind makes it less",
            LOAD_TRANSFER,
        ),
    ]
    if not motor.torque_table:
        heat = motor.winding_heat_capacity
        steps.append(
            Step(
                "How fast that heats the winding, at first",
                r"\frac{dT}{dt} = \frac{3\,R\,i^2}{2\,C}",
                f"1.5 × {put(motor.phase_resistance)} × {put(current, 5)}² / {put(heat)}",
                1.5 * motor.phase_resistance * current**2 / heat,
                "K/s",
                "R phase resistance at 20 °C, ohm; i peak phase current, A; C heat capacity of winding, J/K. The "
                "resistance grows as it warms; heat then flows to the case. Standing quite still, one phase may "
                "take twice its share, which is counted",
                MACHINE,
                digits=2,
            )
        )
    return steps


def alt(page: Page, hill: HillStart) -> str:
    """What the chart shows."""
    return f"Steepest slope that starts against rear teeth. {verdict(page, hill).replace('*', '')}"


def table(page: Page, hill: HillStart) -> pd.DataFrame:
    """Slope, and seconds standing still, for each pair and level."""
    order = np.lexsort((hill.rear_teeth[1:], hill.front_teeth[1:])) + 1
    order = order if order.size else np.array([0])
    rows = []
    for pair in order:
        cells = {
            level.name: f"{slope(float(hill.angle[row, pair]))}, {seconds(float(hill.still_time[row, pair]))}"
            for row, level in enumerate(hill.levels)
        }
        name = f"{hill.front_teeth[pair]} / {hill.rear_teeth[pair]}"
        rows.append({"sprockets": name} | cells | {"kerb": _kerb(page, float(hill.kerb[used(page, hill), pair]))})
    return pd.DataFrame(rows)


def on_the_sheet(page: Page, hill: HillStart) -> str:
    """The slope and the time in a few words."""
    row = used(page, hill)
    if hill.angle[row, 0] <= 0:
        return "maybe not even the level"
    return f"up to {slope(float(hill.angle[row, 0]))}, for {seconds(float(hill.still_time[row, 0]))}"
