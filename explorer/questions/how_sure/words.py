"""How sure the prediction is, in words: chances, what to measure next and how, the caution."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from explorer.derivations.derivation import Step
from explorer.derivations.sources import SAMPLING
from explorer.format import UnitFormatter
from explorer.inputs.how_sure import TYPICAL_DRAG, TYPICAL_RESISTANCE
from explorer.page.page import Page
from explorer.page.tolerances import typical_facts, with_saturation
from explorer.page.words import within
from explorer.page.words_of_origins import how
from physics.studies.uncertainty import (
    FACTOR,
    ONE_SIDED,
    Chance,
    Likely,
    Sensitivity,
    Tolerance,
    unmeasured_cold_growth,
)

NAMES = {
    "bike.drag_area": "drag area",
    "bike.rolling_coefficient": "rolling resistance",
    "pack.resistance": "pack resistance",
    "motor.kv_rpm_per_volt": "motor Kv",
    "bike.bike_mass": "weight",
    "conditions.air_temperature": "air temperature",
    "conditions.pack_temperature": "pack temperature",
    "conditions.headwind": "wind",
    "conditions.charge": "charge",
    "pack.charge_spread": "weakest-cell charge deficit",
    "pack.cold_growth": "resistance growth in the cold",
    "pack.lead_resistance": "leads and connectors",
    "controller.modulation": "maximum motor voltage",
    "motor.magnet_weakening": "magnets weakening with heat",
    "motor.saturation_current": "torque falling off at high current",
    "motor.inductance_saturation_current": "inductance falling at high current",
    "pack.capacity_ah": "capacity",
    "pack.protection.continuous_current": "pack's rated current",
    "pack.protection.peak_current": "pack's rated peak current",
    "driveline.primary_ratio": "gearing",
    "motor.phase_resistance": "motor resistance",
    "motor.phase_inductance": "motor inductance",
    "bike.rolling_radius": "tyre size",
    "controller.line_current_limit": "line limit",
    "controller.phase_current_limit": "phase limit",
}

_HOW = {
    "bike.drag_area": "drag_area",
    "bike.rolling_coefficient": "rolling",
    "pack.resistance": "pack_resistance",
    "motor.kv_rpm_per_volt": "kv",
    "bike.bike_mass": "bike_mass",
    "conditions.air_temperature": "air_temperature",
    "conditions.charge": "charge",
    "conditions.pack_temperature": "Read the pack's own sensor after it has stood for hours.",
    "conditions.headwind": "Ride both ways and take the mean, or wait for calm.",
    "pack.charge_spread": "Read every cell's voltage in the BMS app, rested, at a low charge.",
    "pack.cold_growth": "cold_growth",
    "pack.lead_resistance": "Compare the controller's volts with those in the BMS app during a pull: the "
    "difference over the amps.",
    "controller.modulation": (
        "Check the controller's manual for whether it overmodulates or holds some voltage back."
    ),
    "motor.magnet_weakening": "Check the motor's data sheet for its magnets: neodymium or samarium-cobalt.",
    "motor.saturation_current": "Compare the launch at half and at full phase limit: twice the current, less than "
    "twice the acceleration.",
    "motor.inductance_saturation_current": "Ask the motor's maker: it takes a test bench.",
}
"""How an unknown that is not typical is measured: the sentence, or the input whose sentence it is."""

_WORTH_A_WORD = 0.03
"""Share of the doubt below which a typical value is not worth measuring next."""

LEFT_OUT = (
    " Leads, maximum motor voltage, magnets and saturation that you have not entered count as unknown, within what "
    "most bikes have. The band on the run leaves out saturation, which costs up to a tenth of the torque at the "
    "phase limit."
)
BAND_OF, DOUBT_IN = "Band of", "Uncertainty in"
CURVES = {
    "Speed": ("speed", "speed", "speed"),
    "Pack": ("pack_voltage", "voltage", "pack voltage"),
    "Weakest cell": ("weakest_cell_voltage", "cell voltage", "weakest cell"),
    "Line current": ("line_current", "current", "line current"),
    "Winding": ("winding_temperature", "temperature", "winding"),
}
"""What is chosen from: curve of the run, quantity of the UnitFormatter, title."""
STOPPED = "Stopped before anything was run. Any change starts it again."

OUTCOMES = {"Top speed": "top_speed", "Weakest cell": "minimum_cell_voltage"}
_TITLES = {"top_speed": "top speed", "minimum_cell_voltage": "the weakest cell's lowest voltage"}

CAUTION = (
    "These chances cover only the unknowns named here, not a worn part, a wrong setting, a crest or traffic. "
    "Even a rare cut-out leaves you without drive wherever it happens: keep a margin. Measure on closed ground; "
    "leave measuring inside a pack to trained people."
)


def name(item: Tolerance) -> str:
    """An unknown's name."""
    return NAMES[item.path]


def measured_by(page: Page, item: Tolerance) -> str:
    """How an unknown is measured in a garage, in a sentence."""
    typical = typical_facts(page.inputs, item.path)
    text = _HOW.get(item.path, "")
    return how(typical[0]) if typical else how(text) or text


def running(count: int) -> str:
    """What is said while the builds are run."""
    return f"Running {count:,} builds slightly different from yours"


def band_alt(title: str) -> str:
    """The band in words."""
    return f"Band of {title} against time: nine runs in ten are inside it."


def doubt_alt(outcome: str, ranked: Sensitivity) -> str:
    """What brings the doubt, the three largest."""
    first = ranked.first[outcome]
    known = ranked.tolerances
    order = ", ".join(f"{name(known[index])} {100 * first[index]:.0f} %" for index in ranked.order(outcome)[:3])
    return f"{title(outcome)}: {order}."


def verdict(page: Page, likely: Likely) -> str:
    """Chances, and where nine in ten runs lie."""
    fmt = page.fmt
    low, _, high = likely.top_speed
    target = fmt.entered("speed", page.target_speed)
    text = (
        f"**{_chance(likely.reaches, f'to reach {target} {within(page)}')}** Nine in ten runs top out "
        + between(fmt.digits("speed", low), fmt("speed", high))
    )
    first, _, last = likely.time_to_target
    if math.isfinite(last):
        text += f", and take {fmt.digits('time', first)} to {fmt('time', last)} to reach {target}"
    elif math.isfinite(first):
        text += f"; {target} takes {fmt('time', first)} or more in all but one run in twenty"
    text += f". {_cut_out(likely)}"
    if not likely.complete:
        text += f" Stopped after {likely.count:,} samples."
    return text


def between(low: str, high: str) -> str:
    """A range in words; one value where both ends print alike.

    Examples
    --------
    >>> between("70", "72 km/h"), between("0", "0 km/h")
    ('between 70 and 72 km/h', 'at 0 km/h')
    """
    return f"at {high}" if high.split()[0] == low else f"between {low} and {high}"


def _chance(chance: Chance, what: str) -> str:
    """A chance with its sampling error, as a rider would say it."""
    if chance.count == chance.of:
        return f"Almost certain {what}: all {chance.of:,} runs do, so the chance is above {_percent(chance.low)}."
    if not chance.count:
        return (
            f"Next to no chance {what}: none of {chance.of:,} runs does, so the chance is below "
            f"{_percent(chance.high)}."
        )
    digits = 0 if chance.low > 0.01 and chance.high < 0.99 else 1
    ends = f"{100 * chance.low:.{digits}f} to {100 * chance.high:.{digits}f} %"
    return f"The chance {what} is about {_percent(chance.estimate)} (sampling error: {ends})."


def _percent(fraction: float) -> str:
    digits = 0 if 0.0095 <= fraction <= 0.9905 else 1
    return f"{100 * fraction:.{digits}f} %"


def _cut_out(likely: Likely) -> str:
    chance = likely.cuts_out
    if not chance.count:
        return f"The pack cuts out in none of them, so the chance is below {_percent(chance.high)}."
    if chance.count == chance.of:
        return "The pack cuts out in all of them."
    between = f"{100 * chance.low:.1f} to {100 * chance.high:.1f} %"
    return f"**The pack cuts out in about {_percent(chance.estimate)} of them** (sampling error: {between})."


def next_measurement(page: Page, likely: Likely, ranked: Sensitivity | None) -> str:
    """What to measure next, what it would bring, and how."""
    if ranked is None:
        return "The ranking was stopped, so there is no advice on what to measure next."
    speed = _most(ranked, "top_speed")
    if speed is None:
        if any(item.half_width for item in ranked.tolerances):
            return "None of the unknowns changes the top speed."
        return "Nothing is uncertain: every unknown is set to ±0."
    index, rival = speed
    first, known = np.clip(ranked.first["top_speed"], 0, 1), ranked.tolerances
    typical = _typical(page, ranked)
    if typical and typical[0] != index:
        index, rival = typical[0], None if first[index] < _WORTH_A_WORD else index
    low, _, high = likely.top_speed
    half = (high - low) / 2
    left = half * (1 - float(first[index])) ** 0.5
    unit = page.fmt.unit("speed")
    what = f"{name(known[index])}, so far typical" if index in typical else name(known[index])
    text = (
        f"**Measure next: {what}.** It accounts for about {100 * first[index]:.0f} % of the uncertainty in top "
        f"speed; knowing it exactly would shrink ±{page.fmt.number('speed', half):.1f} {unit} to "
        f"±{page.fmt.number('speed', left):.1f} {unit}. How: {measured_by(page, known[index])}"
    )
    if rival is not None:
        more = first[rival] > first[index]
        text += f" The {name(known[rival])} {'matters even more' if more else 'may matter as much'}."
    cell = _most(ranked, "minimum_cell_voltage")
    if cell is not None:
        where = "the same" if cell[0] == index else f"the {name(known[cell[0]])}"
        part = 100 * ranked.first["minimum_cell_voltage"][cell[0]]
        text += f" For the weakest cell's lowest voltage it is {where} ({part:.0f} %)."
    return text


def _typical(page: Page, ranked: Sensitivity) -> list[int]:
    """The unknowns that are typical and worth measuring next, the one that matters most first."""
    first, known = ranked.first["top_speed"], ranked.tolerances
    return [
        one
        for one in ranked.order("top_speed")
        if first[one] > _WORTH_A_WORD and typical_facts(page.inputs, known[one].path)
    ]


def next_fact(page: Page, ranked: Sensitivity | None) -> str:
    """The input whose typical value is to be measured next; empty where there is none worth it."""
    found = [] if ranked is None else _typical(page, ranked)
    return typical_facts(page.inputs, ranked.tolerances[found[0]].path)[0] if ranked and found else ""


def _most(ranked: Sensitivity, outcome: str) -> tuple[int, int | None] | None:
    """The unknown that matters most, and the next one where their intervals overlap; None where nothing varies."""
    if not ranked.first[outcome].any():
        return None
    order = ranked.order(outcome)
    if len(order) < 2 or ranked.high[outcome][order[1]] < ranked.low[outcome][order[0]]:
        return order[0], None
    return order[0], order[1]


def counted(inputs: dict[str, Any]) -> str:
    """What ± means, and which typical values count as less well known than the slider says."""
    text = (
        "The true value lies within ± 95 times in 100; air temperature, and a pack resistance you never "
        "measured, may be anywhere inside it. Unknowns are assumed to be independent of each other."
    )
    if inputs["drag_area"] is None and inputs["sure_drag"] < TYPICAL_DRAG:
        text += f" The drag area is a typical value, so it counts as ±{TYPICAL_DRAG:.0f} %."
    if inputs["pack_resistance"] is None and inputs["sure_resistance"] < TYPICAL_RESISTANCE:
        text += f" The pack's resistance is a typical value, so it counts as ±{TYPICAL_RESISTANCE:.0f} %."
    if inputs["cold_growth"] is None:
        text += (
            " How resistance grows in the cold is a typical value, so it counts as whatever cells of that "
            f"chemistry show: up to {unmeasured_cold_growth(inputs['chemistry']).half_width:.0%} more.".replace(
                "%", " %"
            )
        )
    return text + LEFT_OUT


def title(outcome: str) -> str:
    """Of the chart of what brings the doubt."""
    return f"What makes {_TITLES[outcome]} uncertain"


def note(likely: Likely, ranked: Sensitivity | None) -> str:
    """How it was worked out."""
    count = f"{likely.count:,}"
    text = f"{count} runs, each with every unknown drawn afresh (Sobol' points, the same every time)."
    if ranked is None:
        return text
    return (
        f"{text} A bar is the share of the spread that would vanish if only that unknown were known exactly "
        f"(first-order Sobol' index after Saltelli and others, 2010, from {ranked.runs:,} more runs); the thin "
        "line through its end is its 95 % interval."
    )


_QUANTITIES = {
    "bike.bike_mass": "mass",
    "conditions.air_temperature": "temperature difference",
    "conditions.pack_temperature": "temperature difference",
    "conditions.headwind": "wind",
    "conditions.charge": "charge",
    "pack.charge_spread": "charge",
}

_ONE_SIDED = {
    "pack.lead_resistance": "up to 4 mΩ",
    "motor.magnet_weakening": "up to 0.11 %/K",
    "motor.saturation_current": "from {} up",
    "motor.inductance_saturation_current": "from {} up",
}
"""How well what nobody entered is known: `physics.studies.uncertainty.tolerance.LEFT_OUT`."""


def table(page: Page, ranked: Sensitivity | None) -> pd.DataFrame:
    """Every unknown: how well it is known, and what it brings."""
    known = ranked.tolerances if ranked is not None else with_saturation(page.build, page.inputs)
    columns: dict[str, Any] = {
        "unknown": [name(item) for item in known],
        "known to": [_half_width(item, page.fmt) for item in known],
        "shape": [item.shape for item in known],
    }
    if ranked is None:
        return pd.DataFrame(columns)
    for label, outcome in OUTCOMES.items():
        columns[f"uncertainty in {label.lower()}, %"] = _whole_percent(ranked.first[outcome])
        columns[f"alone or with others, {label.lower()}, %"] = _whole_percent(ranked.total[outcome])
    return pd.DataFrame(columns).iloc[np.array(ranked.order("top_speed"))]


def _whole_percent(fraction: NDArray[np.float64]) -> NDArray[np.float64]:
    return (100 * np.clip(fraction, 0, 1)).round(0)


def _half_width(item: Tolerance, fmt: UnitFormatter) -> str:
    if item.shape == FACTOR:
        return f"÷ or × {1 + item.half_width:.2g}"
    if item.shape == ONE_SIDED:
        return _ONE_SIDED[item.path].format(fmt("current", item.half_width))
    quantity = "share" if item.relative else _QUANTITIES[item.path]
    return f"±{fmt.number(quantity, item.half_width):.3g} {fmt.unit(quantity)}"


def derivation(chance: Chance) -> list[Step]:
    """A chance from samples, with the end of its 95 % interval that has a closed form where all or none do."""
    count, of = chance.count, chance.of
    steps = [
        Step(
            "Chance, as the share of runs",
            r"p = \frac{k}{n}",
            f"{count} / {of}",
            count / of,
            "",
            "k runs in which it happens; n runs, each of a build drawn from what is known about every value",
            SAMPLING,
        )
    ]
    if count in (0, of):
        end = 0.025 ** (1 / of)
        steps.append(
            Step(
                "At least" if count else "At most",
                r"p_{low} = 0.025^{1/n}" if count else r"p_{high} = 1 - 0.025^{1/n}",
                f"{'' if count else '1 − '}exp(ln(0.025) / {of})",
                end if count else 1 - end,
                "",
                "end of the 95 % interval",
                SAMPLING,
                digits=4,
            )
        )
    return steps
