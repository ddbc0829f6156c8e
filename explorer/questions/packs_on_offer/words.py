"""Burst power in words: verdict, what a warmer pack gives, its derivation, the numbers, the caution."""

from __future__ import annotations

import numpy as np
import pandas as pd

from explorer.derivations import pack
from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import CONTROLLER, PEAK_POWER
from explorer.page.page import Page
from explorer.questions.packs_on_offer.results import BurstAnswer
from physics.components import pack as components
from physics.limits import RULES
from physics.scenarios.burst import ENDS

NOTE = "Pack and BMS only, controller overshoot included; the motor may not be able to use it all."
CAUTION = (
    "Warm a pack only as its maker allows: slowly, evenly, never with a flame or heat gun, and never unattended. "
    "Smell, smoke or a swollen pack: stop, get away, and leave it to trained people."
)
_ROUNDS = 30
_WHY = {
    "peak power of the pack": "the pack's voltage collapses: that is more than its peak power",
    "charge": "the pack is empty",
}


LITTLE = 100.0
"""W below which a pack gives so little that a percentage of it says nothing."""


def verdict(page: Page, answer: BurstAnswer) -> str:
    """Whether it gives that power for that long, and if not, how far."""
    burst, fmt = answer.asked, page.fmt
    wanted = f"{fmt('power', burst.power[0])} for {fmt('time', burst.seconds[0], 0)}"
    most = f"The most it gives for {fmt('time', burst.seconds[0], 0)} is {fmt('power', burst.largest_power[0])}"
    if burst.gives[0]:
        end = ENDS[burst.largest_end[0]]
        above = _WHY.get(end, f"the {end} rule trips")
        used = int(burst.used[0].argmax())
        text = f"**Yes: it gives {wanted}**, at {fmt('current', burst.current[0])} and no less than " + (
            f"{fmt('cell voltage', burst.minimum_cell_voltage[0])} in the weakest cell"
        )
        if burst.used[0, used] >= 0.01:
            text += f", using {fmt('share', burst.used[0, used])} of the {RULES[used]} limit"
        return f"{text}. {most}; beyond that {above}."
    end = ENDS[burst.end[0]]
    why = _WHY.get(end, f"the {end} rule trips")
    if burst.time[0] < 0.05:
        return f"**No: not {wanted}**, not even for a moment: {why}. {most}."
    after = fmt("time", burst.time[0])
    return f"**No: not {wanted}.** After {after}, {why}. {most}."


def warmer(page: Page, answer: BurstAnswer) -> str:
    """What a pack of 20 degrees C would give, where today's is colder."""
    fmt, seconds = page.fmt, answer.asked.seconds[0]
    today = answer.temperature[answer.today]
    warm = answer.temperature[-1]
    rules = page.build.pack.protection
    if today > rules.discharge_temperature_maximum:
        most = fmt("temperature", rules.discharge_temperature_maximum)
        return f"At {fmt('temperature', today)} the pack is too hot: the BMS lets it discharge only up to {most}."
    if today >= warm - 2:
        return f"At {fmt('temperature', today)} the pack is warm enough; pre-warming would gain little."
    at = [np.interp(np.log(seconds), np.log(answer.seconds), row) for row in answer.power]
    if at[answer.today] < LITTLE:
        least = fmt("temperature", rules.discharge_temperature_minimum)
        cold = (
            f": the BMS lets it discharge only from {least}" if today < rules.discharge_temperature_minimum else ""
        )
        return (
            f"At {fmt('temperature', today)} it gives next to nothing{cold}. Pre-warmed to "
            f"{fmt('temperature', warm)}, it gives {fmt('power', at[-1])} for {fmt('time', seconds, 0)}."
        )
    gain = at[-1] / at[answer.today] - 1
    if gain < 0.02:
        warmed, span = fmt("temperature", warm), fmt("time", seconds, 0)
        return f"Pre-warming to {warmed} would gain next to nothing over {span}."
    return (
        f"Pre-warmed to {fmt('temperature', warm)}, the same pack gives {fmt('power', at[-1])} for "
        f"{fmt('time', seconds, 0)}; as it is, {fmt('power', at[answer.today])}."
    )


def alt(page: Page, answer: BurstAnswer) -> str:
    """What the chart shows."""
    return f"Maximum pack power against time. {verdict(page, answer).replace('*', '')}"


def derivation(page: Page, power: float, seconds: float) -> list[Step]:
    """Current at a power, and the pack's largest power, so many seconds in at today's resistance."""
    build, chemistry = page.build, page.build.pack.chemistry
    full = float(components.rest_voltage(chemistry, build.pack.cells_in_series, build.conditions.charge))
    resistance = pack.resistance_by_current(build, seconds)
    peak = full / (2 * resistance(1000.0))
    for _ in range(_ROUNDS):  # resistance falls as current grows
        peak = full / (2 * resistance(peak))
    least = resistance(peak)
    most = full * full / (4 * least)
    current = power / full
    for _ in range(_ROUNDS):
        at = resistance(current)
        current = float(np.nan_to_num(components.current_for_power(full, at, power), nan=peak))
    steps = [
        *pack.resistance(build, min(current, peak)),
        Step(
            f"The most such a pack can give after {seconds:g} s, whatever its BMS allows",
            r"P_{most} = \frac{U_0^2}{4 R}",
            f"{put(full, 5)}² / (4 × {put(1000 * least)} / 1000)",
            most,
            "W",
            "U₀ rest voltage, V; R resistance after that time at that current, mΩ. That is at half the rest "
            "voltage, far below what cells allow",
            PEAK_POWER,
            "power",
        ),
    ]
    if power < 0.99 * most:
        steps.append(
            Step(
                "Current at the power you want",
                r"I = \frac{U_0 - \sqrt{U_0^2 - 4 R P}}{2 R}",
                f"({put(full, 6)} − √({put(full, 6)}² − 4 × {put(1000 * at, 5)} / 1000 × {put(power, 6)})) / "
                f"(2 × {put(1000 * at, 5)} / 1000)",
                current,
                "A",
                "P power, W. Falling charge and warming of the pack shift it a little on the way",
                CONTROLLER,
            )
        )
        steps += pack.overcurrent(build, current * (1 + build.controller.overshoot))
    return steps


def table(page: Page, answer: BurstAnswer) -> pd.DataFrame:
    """Largest power by time and temperature."""
    fmt = page.fmt
    columns = {"for": [fmt("time", value, 0 if value >= 2 else 1) for value in answer.seconds]}
    for row, temperature in enumerate(answer.temperature):
        name = f"pack {fmt('temperature', temperature)}" + (" (today)" if row == answer.today else "")
        columns[name] = [fmt("power", value) for value in answer.power[row]]
    return pd.DataFrame(columns)
