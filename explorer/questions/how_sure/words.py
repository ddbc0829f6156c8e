"""How sure the prediction is, in words: chances, what to measure next and how, the caution."""

from __future__ import annotations

import math

import numpy as np

from explorer.inputs.how_sure import TYPICAL_DRAG, TYPICAL_RESISTANCE
from explorer.page.page import Page
from explorer.page.tolerances import UNKNOWNS
from explorer.questions.how_sure.results import Sure
from physics.studies.uncertainty import Chance, Likely, Sensitivity

NAMES = {
    "sure_drag": "drag area",
    "sure_rolling": "rolling resistance",
    "sure_resistance": "pack resistance",
    "sure_kv": "motor's speed constant",
    "sure_weight": "weight",
    "sure_air": "air temperature",
    "sure_pack_temperature": "pack temperature",
    "sure_wind": "wind",
    "sure_charge": "charge",
    "sure_weakest": "weakest cell's lag",
}

_HOW = {
    "sure_drag": "coast down from speed on a calm day, both ways, and fit the log below",
    "sure_rolling": "coast down at walking to cycling speed, both ways, at the tyre pressure you ride with",
    "sure_resistance": "log voltage and current over a steady pull: the drop after ten seconds over the current",
    "sure_kv": "compare the motor's speed without load with the voltage, the way its maker describes",
    "sure_weight": "put the bike with its rider in gear on scales, wheel by wheel",
    "sure_air": "read a thermometer in the shade where you ride",
    "sure_pack_temperature": "read the pack's own sensor after it has stood for hours",
    "sure_wind": "ride both ways and take the mean, or wait for calm",
    "sure_charge": "let the pack rest, then read its voltage",
    "sure_weakest": "read every cell's voltage, rested, at a low charge",
}

OUTCOMES = {"Top speed": "top_speed", "Weakest cell": "minimum_cell_voltage"}
_SAID = {"top_speed": "top speed", "minimum_cell_voltage": "the weakest cell's lowest voltage"}

CAUTION = (
    "Chances count only the unknowns named here, not a worn part, a wrong setting, a crest or traffic. A rare "
    "cut-out still leaves you without drive where it happens: keep a margin. Measure at a closed place; leave "
    "measuring inside a pack to trained people."
)


def name(place: int) -> str:
    """An unknown's name, by its place among the tolerances."""
    return NAMES[list(UNKNOWNS)[place]]


def verdict(page: Page, sure: Sure) -> str:
    """Chances, and where nine in ten runs lie."""
    found, fmt = sure.likely, page.fmt
    low, _, high = found.top_speed
    target = fmt.entered("speed", page.target_speed)
    text = f"**{_chance(found.reaches, 'to reach ' + target)}** Nine in ten runs top out " + between(
        fmt.digits("speed", low), fmt("speed", high)
    )
    first, _, last = found.time_to_target
    if math.isfinite(last):
        text += f", and take {fmt.digits('time', first)} to {fmt('time', last)} to {target}"
    elif math.isfinite(first):
        text += f"; {target} takes {fmt('time', first)} or more in all but one run in twenty"
    text += f". {_cut_out(found)}"
    if not found.complete:
        text += f" Stopped after {found.count:,} samples."
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
        return f"All but certain {what}: all of {chance.of:,} runs do, a chance above {_percent(chance.low)}."
    if not chance.count:
        return f"Next to no chance {what}: none of {chance.of:,} runs does, a chance below {_percent(chance.high)}."
    digits = 0 if chance.low > 0.01 and chance.high < 0.99 else 1
    ends = f"{100 * chance.low:.{digits}f} to {100 * chance.high:.{digits}f} %"
    return f"The chance {what} is about {_percent(chance.estimate)} (sampling error: {ends})."


def _percent(share: float) -> str:
    digits = 0 if 0.0095 <= share <= 0.9905 else 1
    return f"{100 * share:.{digits}f} %"


def _cut_out(found: Likely) -> str:
    chance = found.cuts_out
    if not chance.count:
        return f"The pack cuts out in none of them: a chance below {_percent(chance.high)}."
    if chance.count == chance.of:
        return "The pack cuts out in all of them."
    between = f"{100 * chance.low:.1f} to {100 * chance.high:.1f} %"
    return f"**The pack cuts out in about {_percent(chance.estimate)} of them** (sampling error: {between})."


def next_measurement(page: Page, sure: Sure) -> str:
    """What to measure next, what it would bring, and how."""
    ranked = sure.sensitivity
    if ranked is None:
        return "The ranking was stopped: what to measure next is not known."
    speed = _most(ranked, "top_speed")
    if speed is None:
        if any(item.half_width for item in ranked.tolerances):
            return "None of the unknowns moves the top speed."
        return "Nothing is left in doubt: every unknown is set to ±0."
    place, rival = speed
    low, _, high = sure.likely.top_speed
    half = (high - low) / 2
    left = half * (1 - float(np.clip(ranked.first["top_speed"][place], 0, 1))) ** 0.5
    unit = page.fmt.unit("speed")
    share = 100 * ranked.first["top_speed"][place]
    text = (
        f"**Measure next: {name(place)}.** It brings about {share:.0f} % of the doubt in top speed. Known exactly, "
        f"it would shrink ±{page.fmt.number('speed', half):.1f} {unit} to "
        f"±{page.fmt.number('speed', left):.1f} {unit}. How: {_HOW[list(UNKNOWNS)[place]]}."
    )
    if rival is not None:
        text += f" The {name(rival)} may matter as much."
    cell = _most(ranked, "minimum_cell_voltage")
    if cell is not None:
        where = "the same" if cell[0] == place else f"the {name(cell[0])}"
        part = 100 * ranked.first["minimum_cell_voltage"][cell[0]]
        text += f" For the weakest cell's lowest voltage it is {where} ({part:.0f} %)."
    return text


def _most(ranked: Sensitivity, outcome: str) -> tuple[int, int | None] | None:
    """The unknown that matters most, and the next one where their intervals overlap; None where nothing varies."""
    if not ranked.first[outcome].any():
        return None
    order = ranked.order(outcome)
    if len(order) < 2 or ranked.high[outcome][order[1]] < ranked.low[outcome][order[0]]:
        return order[0], None
    return order[0], order[1]


def counted(inputs: dict) -> str:
    """What ± means, and which typical values count as less well known than the slider says."""
    text = (
        "± holds the true value 95 times in 100; air temperature, and a pack resistance that was never measured, "
        "lie anywhere inside it. Unknowns are taken to be independent of each other."
    )
    if inputs["drag_area"] is None and inputs["sure_drag"] < TYPICAL_DRAG:
        text += f" The drag area is a typical value, so it counts as ±{TYPICAL_DRAG:.0f} %."
    if inputs["pack_resistance"] is None and inputs["sure_resistance"] < TYPICAL_RESISTANCE:
        text += f" The pack's resistance is a typical value, so it counts as ±{TYPICAL_RESISTANCE:.0f} %."
    return text


def title(outcome: str) -> str:
    """Of the chart of shares."""
    return f"What brings the doubt in {_SAID[outcome]}"


def note(sure: Sure) -> str:
    """How it was worked out."""
    count = f"{sure.likely.count:,}"
    text = f"{count} runs, each with every unknown drawn anew (Sobol' points, the same ones every time)."
    if sure.sensitivity is None:
        return text
    return (
        f"{text} A bar is the share of the spread that would go if that unknown alone were known exactly "
        f"(first-order Sobol' index after Saltelli and others, 2010, from {sure.sensitivity.runs:,} more runs); "
        "the thin line through its end is its 95 % interval."
    )
