"""Where values come from, in words: the count, the dialogs, and how each value is measured in a garage."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import DEMO, MARKS, TYPICAL, WORDS, named, origin, those
from explorer.inputs.power_levels import LEVELS
from explorer.inputs.typical import because, filled

MAKE_IT_YOURS = "Make it yours"
YOUR_FACTS = "Your facts"
WHAT_YOU_KNOW = (
    "Enter what you know about your bike and leave the rest empty: what you do not know becomes "
    "**typical**, worked out from what you do know, and the answer says how sure it is. Nothing from the "
    "demo is left."
)
UNKNOWN = "such as {}; empty: I don't know"
USE_THESE = "Use these"
ONE_BY_ONE = "One by one"
ONE_BY_ONE_HELP = (
    "Steps through the values you have not given: what is used instead, by which rule, and how to measure it."
)
BACK, NEXT, AS_IT_IS, ENOUGH = "Back", "Next", "It is right", "Enough"
ALL_GIVEN = "Every value that the answer depends on is given."
CAUTION = (
    "Above 60 V DC a touch can kill: read displays, labels and apps, and leave probing to people trained for it. A "
    "wheel turning on the stand can grab you. Measure on closed ground."
)

HOW = {
    "cells": "Read the number before S on the pack's label, or divide nominal volts by 3.7.",
    "capacity": "Read the amp-hours on the label, or ride from full to empty and see what the charger puts back.",
    "chemistry": "Read the label: a full cell is at 4.2 V with nickel cathodes, 3.65 V with iron phosphate.",
    "pack_resistance": "In two steady pulls of ten seconds each, one gentle and one with 50 A more, read the "
    "display's volts and amps at the end; enter both, such as 80.2/20 75.4/120. Or one cell's and how many are in "
    "parallel, from its data sheet: 18 mΩ x 8.",
    "cold_growth": "Measure the pack's resistance on a mild and on a cold day: the one over the other.",
    "continuous_current": "Read the label on the pack or its BMS, or ask the seller in writing.",
    "peak_current": "Read the label on the pack or its BMS, with the time that goes with it.",
    "peak_time": "Ask the pack's maker how long the peak current may flow before the BMS cuts out.",
    "overcurrent_law": "Ask the pack's maker whether it counts by a plain timer or by the square of current.",
    "undervoltage": "Read it in the BMS app or data sheet.",
    "kv": "Rear wheel off the ground on a firm stand, nobody near it, gently to full throttle without "
    "field weakening: motor rpm over pack volts; or enter the speed shown / the volts, such as "
    "140/80, once sprockets and tyre are given. From its data sheet, 28 Nm/240 A: torque / phase current.",
    "motor_resistance": "Half of what a milliohm meter shows between two motor wires, all disconnected; "
    "a plain multimeter cannot read that low.",
    "motor_inductance": "Half of what an LCR meter shows between two motor wires; or the controller's own "
    "identification run.",
    "line": "Read it in the controller's app: the DC limit of the level in use.",
    "phase": "Read it in the controller's app: the phase limit of the level in use, and whether peak or RMS.",
    "front_teeth": "Count them; a dab of paint marks the first.",
    "rear_teeth": "Count them, or turn the wheel once and count the motor's turns: times the front teeth.",
    "tyre": "Read the sidewall (the rim size alone, such as 12-inch, helps too); better, roll the loaded bike ten "
    "turns of the wheel along a tape measure.",
    "bike_mass": "Bathroom scales under one wheel, then the other, with the bike level; enter front / rear, such "
    "as 40/45, which tells where the weight sits too.",
    "rider_mass": "Step on a scale in all your gear.",
    "posture": "Have someone photograph you from the side in your usual riding position.",
    "drag_area": "Coast down from speed on a level road without wind, both ways, and let the phone's GPS log it.",
    "rolling": "Push off at walking speed on level ground and time with a stopwatch how far it rolls, both ways.",
    "efficiency": "Clean and oil the chain and use the usual value: it varies little.",
    "charge": "Let the pack rest for a quarter of an hour, then read its voltage on the display.",
    "air_temperature": "Read a thermometer in the shade where you ride, or the forecast on your phone.",
    "regen": "Read it in the controller's app: the DC limit while braking.",
}
"""By fact: how to measure it with a stopwatch, a scale, a multimeter or a phone. Common practice, no source."""


def how(key: str) -> str:
    """How an input is measured, in a sentence.

    Examples
    --------
    >>> how("line_3")
    "Read it in the controller's app: the DC limit of the level in use."
    """
    stem, _, level = key.rpartition("_")
    return HOW.get(stem if level in LEVELS else key, "")


_WEIGHTS = {"bike_mass": "weight of the bike", "rider_mass": "weight of the rider with gear"}
"""Names of inputs whose labels stand under a heading that says what they are."""


def one_by_one(key: str) -> str:
    """What leads from value to value; it names the fact to measure first where that is known.

    Examples
    --------
    >>> one_by_one(""), one_by_one("bike_mass")
    ('One by one', 'Measure next: weight of the bike')
    """
    if not key:
        return ONE_BY_ONE
    label = _WEIGHTS.get(key, named(key))
    return f"Measure next: {label[0].lower()}{label[1:]}"


def count(values: Mapping[str, Any]) -> str:
    """How many of the facts are typical and how many a demo's.

    Examples
    --------
    >>> from explorer.inputs.origins import OWN, Inputs
    >>> count(Inputs(OWN, {}, {"kv": 75.0}))
    '◐ 26 typical, ○ 0 from the demo'
    """
    return ", ".join(f"{MARKS[one]} {len(those(values, one))} {WORDS[one]}" for one in (TYPICAL, DEMO))


def stands(values: Mapping[str, Any], key: str, system: str, phase_as: str) -> str:
    """A value that is not given: what it is, where it comes from, and by which rule."""
    spec, where = INPUTS[key], origin(values, key)
    held = filled(values)[key]
    value = f"**{spec.text(held, system, phase_as)}**, " if held is not None or spec.kind == "limit" else ""
    text = f"{value}{MARKS[where]} {WORDS[where]}"
    return f"{text}. {because(key)}" if where == TYPICAL else f"{text}: an example, not your bike."
