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
from explorer.page.tolerances import UNKNOWNS, tolerances
from explorer.page.words import within
from physics.studies.uncertainty import FACTOR, Chance, Likely, Sensitivity, Tolerance, unmeasured_cold_growth

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
    "sure_cold_growth": "growth of resistance in the cold",
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
    "sure_cold_growth": "measure the pack's resistance on a mild and on a cold day, and enter both under the pack",
}

BAND_OF, DOUBT_IN = "Band of", "Doubt in"
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
    "Chances count only the unknowns named here, not a worn part, a wrong setting, a crest or traffic. A rare "
    "cut-out still leaves you without drive where it happens: keep a margin. Measure at a closed place; leave "
    "measuring inside a pack to trained people."
)


def name(index: int) -> str:
    """An unknown's name, by its index among the tolerances."""
    return NAMES[list(UNKNOWNS)[index]]


def running(count: int) -> str:
    """What is said while the builds are run."""
    return f"Running {count:,} builds that differ a little from yours"


def band_alt(title: str) -> str:
    """The band in words."""
    return f"Band of {title} against time: nine in ten runs lie inside."


def doubt_alt(outcome: str, ranked: Sensitivity) -> str:
    """What brings the doubt, the three largest."""
    first = ranked.first[outcome]
    order = ", ".join(f"{name(index)} {100 * first[index]:.0f} %" for index in ranked.order(outcome)[:3])
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
        text += f", and take {fmt.digits('time', first)} to {fmt('time', last)} to {target}"
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
        return f"All but certain {what}: all of {chance.of:,} runs do, a chance above {_percent(chance.low)}."
    if not chance.count:
        return f"Next to no chance {what}: none of {chance.of:,} runs does, a chance below {_percent(chance.high)}."
    digits = 0 if chance.low > 0.01 and chance.high < 0.99 else 1
    ends = f"{100 * chance.low:.{digits}f} to {100 * chance.high:.{digits}f} %"
    return f"The chance {what} is about {_percent(chance.estimate)} (sampling error: {ends})."


def _percent(fraction: float) -> str:
    digits = 0 if 0.0095 <= fraction <= 0.9905 else 1
    return f"{100 * fraction:.{digits}f} %"


def _cut_out(likely: Likely) -> str:
    chance = likely.cuts_out
    if not chance.count:
        return f"The pack cuts out in none of them: a chance below {_percent(chance.high)}."
    if chance.count == chance.of:
        return "The pack cuts out in all of them."
    between = f"{100 * chance.low:.1f} to {100 * chance.high:.1f} %"
    return f"**The pack cuts out in about {_percent(chance.estimate)} of them** (sampling error: {between})."


def next_measurement(page: Page, likely: Likely, ranked: Sensitivity | None) -> str:
    """What to measure next, what it would bring, and how."""
    if ranked is None:
        return "The ranking was stopped: what to measure next is not known."
    speed = _most(ranked, "top_speed")
    if speed is None:
        if any(item.half_width for item in ranked.tolerances):
            return "None of the unknowns moves the top speed."
        return "Nothing is left in doubt: every unknown is set to ±0."
    index, rival = speed
    low, _, high = likely.top_speed
    half = (high - low) / 2
    left = half * (1 - float(np.clip(ranked.first["top_speed"][index], 0, 1))) ** 0.5
    unit = page.fmt.unit("speed")
    percent = 100 * ranked.first["top_speed"][index]
    text = (
        f"**Measure next: {name(index)}.** It brings about {percent:.0f} % of the doubt in top speed. Known "
        f"exactly, it would shrink ±{page.fmt.number('speed', half):.1f} {unit} to "
        f"±{page.fmt.number('speed', left):.1f} {unit}. How: {_HOW[list(UNKNOWNS)[index]]}."
    )
    if rival is not None:
        text += f" The {name(rival)} may matter as much."
    cell = _most(ranked, "minimum_cell_voltage")
    if cell is not None:
        where = "the same" if cell[0] == index else f"the {name(cell[0])}"
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


def counted(inputs: dict[str, Any]) -> str:
    """What ± means, and which typical values count as less well known than the slider says."""
    text = (
        "± holds the true value 95 times in 100; air temperature, and a pack resistance that was never measured, "
        "lie anywhere inside it. Unknowns are taken to be independent of each other."
    )
    if inputs["drag_area"] is None and inputs["sure_drag"] < TYPICAL_DRAG:
        text += f" The drag area is a typical value, so it counts as ±{TYPICAL_DRAG:.0f} %."
    if inputs["pack_resistance"] is None and inputs["sure_resistance"] < TYPICAL_RESISTANCE:
        text += f" The pack's resistance is a typical value, so it counts as ±{TYPICAL_RESISTANCE:.0f} %."
    if inputs["cold_growth"] is None:
        text += (
            " How resistance grows in the cold is a typical value, so it counts as what cells of the kind show: up "
            f"to {unmeasured_cold_growth(inputs['chemistry']).half_width:.0%} more.".replace("%", " %")
        )
    return text


def title(outcome: str) -> str:
    """Of the chart of what brings the doubt."""
    return f"What brings the doubt in {_TITLES[outcome]}"


def note(likely: Likely, ranked: Sensitivity | None) -> str:
    """How it was worked out."""
    count = f"{likely.count:,}"
    text = f"{count} runs, each with every unknown drawn anew (Sobol' points, the same ones every time)."
    if ranked is None:
        return text
    return (
        f"{text} A bar is the share of the spread that would go if that unknown alone were known exactly "
        f"(first-order Sobol' index after Saltelli and others, 2010, from {ranked.runs:,} more runs); "
        "the thin line through its end is its 95 % interval."
    )


_QUANTITIES = {
    "bike.bike_mass": "mass",
    "conditions.air_temperature": "temperature difference",
    "conditions.pack_temperature": "temperature difference",
    "conditions.headwind": "wind",
    "conditions.charge": "charge",
    "pack.charge_spread": "charge",
}


def table(page: Page, ranked: Sensitivity | None) -> pd.DataFrame:
    """Every unknown: how well it is known, and what it brings."""
    known = ranked.tolerances if ranked is not None else tolerances(page.inputs)
    columns: dict[str, Any] = {
        "unknown": [name(index) for index in range(len(known))],
        "known to": [_half_width(item, page.fmt) for item in known],
        "shape": [item.shape for item in known],
    }
    if ranked is None:
        return pd.DataFrame(columns)
    for label, outcome in OUTCOMES.items():
        columns[f"doubt in {label.lower()}, %"] = _whole_percent(ranked.first[outcome])
        columns[f"alone or with others, {label.lower()}, %"] = _whole_percent(ranked.total[outcome])
    return pd.DataFrame(columns).iloc[np.array(ranked.order("top_speed"))]


def _whole_percent(fraction: NDArray[np.float64]) -> NDArray[np.float64]:
    return (100 * np.clip(fraction, 0, 1)).round(0)


def _half_width(item: Tolerance, fmt: UnitFormatter) -> str:
    if item.shape == FACTOR:
        return f"÷ or × {1 + item.half_width:.2g}"
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
            "k runs of which it holds; n runs, each of a build drawn from what is known of every number",
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
