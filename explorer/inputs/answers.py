"""The dozen questions that make a build the rider's own, and what their answers mean. No Streamlit here.

Every question may be left open. An answer that cannot be used gives a sentence: what was entered, where, and what
is accepted; nothing is guessed in its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from explorer.format import with_minus
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.entries import Context, read_entry
from explorer.inputs.origins import OWN, Inputs
from explorer.inputs.spec import InputSpec, quoted
from explorer.inputs.to_build import charge_of
from explorer.inputs.typed import accepted, number
from explorer.inputs.typical import fitted_tyre
from physics.components.cell import chemistry
from physics.components.tyre import ACCEPTED_CODES, parse_tyre

REST = "rest"
"""The question for the rest voltage; the charge is what is held."""
LONGEST_ENTRY = 60
"""Characters."""
_OTHER_FACTS = ("continuous_current", "kv", "bike_mass")
"""Questions that take other facts too; what these need is asked by the others."""


@dataclass(frozen=True)
class Question:
    """One question.

    Attributes
    ----------
    keys : tuple of str
        Inputs it gives, or REST. Of several, it takes their numbers with strokes between them.
    ask, example, help : str
        Label, an answer to go by, and where the answer is found.
    also : tuple of str
        Inputs that it takes too, each with its unit behind it; see `explorer.inputs.entries`.
    """

    keys: tuple[str, ...]
    ask: str
    example: str
    help: str = ""
    also: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Its key among the answers."""
        return self.keys[0]

    @property
    def specs(self) -> tuple[InputSpec, ...]:
        """Its inputs; none for the rest voltage."""
        return tuple(INPUTS[key] for key in self.keys if key != REST)

    def label(self, system: str, phase_as: str) -> str:
        """What is asked, with the unit."""
        unit = "V" if self.name == REST else self.specs[0].unit_text(system, phase_as)
        if self.name == "kv":
            unit = f"{unit} or {'mph' if system == 'US' else 'km/h'} / V"
        return f"{self.ask}, {unit}" if unit and self.name not in ("cells", "tyre", "front_teeth") else self.ask


QUESTIONS = (
    Question(("cells",), "Cells in series", "20", "Cell groups from pack minus to plus: the number before the S."),
    Question(("capacity",), "Capacity", "20", "On the pack's label. Watt-hours over nominal volts is amp-hours."),
    Question(
        ("continuous_current", "peak_current", "peak_time"),
        "Pack current rating, continuous / peak",
        "200/250",
        "On the pack's or BMS label. The continuous current alone will do; 200/250/10 says how many seconds the "
        "peak may last. Add the resistance if you know it: 45 mΩ; or one cell's, 18 mΩ x 8 in parallel (mΩ AC if "
        "the sheet means the impedance at 1 kHz); or what today's display shows in two steady pulls of ten "
        "seconds: 80.2 V/20 A 75.4 V/120 A.",
        also=("pack_resistance",),
    ),
    Question(("line_1",), "Line limit", "180", "In the controller's app: DC limit of the level you ride in."),
    Question(("phase_1",), "Phase limit", "450", "In the controller's app: phase limit of the same level."),
    Question(
        ("kv",), "Motor Kv, or stand speed / volts", "75 or 140/80",
        "Unloaded motor rpm over pack volts. Or, rear wheel clear of the ground at full throttle, no field "
        "weakening: the speed shown / the pack's volts meanwhile, with sprockets and tyre below. Or the motor's "
        "own speed, 6000 rpm/80; its torque / phase current, 28 Nm/240 A; the pull at the tyre / phase current, "
        "350 N/200 A. Add its mass or power if you know it: 10 kg, 6 kW or 11 kW peak.",
        also=("motor_mass", "motor_power"),
    ),
    Question(("front_teeth", "rear_teeth"), "Sprockets, front / rear", "12/56", "Count the teeth of both."),
    Question(("tyre",), "Rear tyre", "90/90-12", "As on the sidewall, a measured 480 mm, or the rim: 12-inch."),
    Question(
        ("bike_mass",), "Bike, ready to ride", "85 or 40/45",
        "Without the rider. Or the weight on each wheel, front / rear, with the bike level: that tells where its "
        "weight sits too. The wheelbase may follow: 40/45, 1280 mm.",
    ),
    Question(("rider_mass",), "Rider with gear", "85"),
    Question((REST,), "Rest voltage now", "81.0", "On the display, a quarter of an hour after riding."),
    Question(("air_temperature",), "Air temperature", "15"),
)  # fmt: skip
"""In the order in which they are asked, of a bike with one power level."""


def questions(before: Inputs) -> tuple[Question, ...]:
    """What is asked of a build: the limits are those of the power level that its own bike rides in.

    Examples
    --------
    >>> [question.name for question in questions(Inputs(OWN, {}, {"line_3": 180.0}))][3:5]
    ['line_3', 'phase_3']
    """
    level = Inputs(OWN, {}, before.as_given)["level"]

    def at_level(question: Question) -> Question:
        if question.name not in ("line_1", "phase_1"):
            return question
        return replace(question, keys=(question.name.replace("1", level),))

    return tuple(map(at_level, QUESTIONS))


def texts(values: Inputs, system: str, phase_as: str) -> dict[str, str]:
    """The answers that the rider has given already, as he would enter them; by the questions' names.

    Examples
    --------
    >>> texts(Inputs(OWN, {}, {"front_teeth": 12.0, "rear_teeth": 50.0, "kv": 75.0}), "metric", "peak")
    {'kv': '75', 'front_teeth': '12/50'}
    """
    found = {}
    for question in questions(values):
        shown = "/".join(_plain(spec, values, system, phase_as) for spec in question.specs).rstrip("/")
        more = [
            f"{text} {INPUTS[key].unit_text(system)}"
            for key in question.also if (text := _plain(INPUTS[key], values, system, phase_as))
        ]  # fmt: skip
        if shown or more:
            found[question.name] = ", ".join([shown, *more] if shown else more)
    return found


def _plain(spec: InputSpec, values: Inputs, system: str, phase_as: str) -> str:
    value = values[spec.key]
    if spec.key not in values.given or value is None:
        return ""
    return f"{spec.shown(value, system, phase_as):.6g}" if spec.is_number else str(value)


def read(
    answers: Mapping[str, str], before: Inputs, system: str, phase_as: str
) -> tuple[dict[str, Any], dict[str, str], list[str]]:
    """What some answers give.

    Parameters
    ----------
    answers : mapping of str to str
        By the questions' names, in the rider's units; empty or left out where he does not know.
    before : Inputs
        The build as it stands: what was given in it and is not asked here stays given.
    system, phase_as : str
        The rider's units.

    Returns
    -------
    tuple of (dict, dict, list of str)
        All that is given then, in home units; a sentence for each answer that cannot be used, by question; and one
        for each value that a rule made of an answer.

    Examples
    --------
    >>> given, wrong, _ = read({"cells": "20", "front_teeth": "12/x"}, Inputs(OWN, {}, {}), "metric", "peak")
    >>> given
    {'cells': 20.0}
    >>> wrong["front_teeth"]
    'Sprockets, front / rear: “x” is not a number. It accepts 9 to 20 / 25 to 80, or nothing if you do not know.'
    """
    asking = questions(before)
    asked = {key for question in asking for key in (*question.keys, *question.also)}
    # "no such limit" is given too, and cannot be entered here
    given = {key: value for key, value in before.as_given.items() if key not in asked or value is None}
    wrong: dict[str, str] = {}
    for question in asking:
        entered = " ".join(str(answers.get(question.name) or "").split())
        if entered and question.name != REST and question.name not in _OTHER_FACTS:
            try:
                given |= (
                    _tyre(entered) if question.name == "tyre" else _numbers(question, entered, system, phase_as)
                )
            except ValueError as error:
                wrong[question.name] = f"{question.ask}: {error}"
    rest = str(answers.get(REST) or "").strip()
    if rest and "cells" not in wrong:
        try:
            given |= {"charge": _charge(rest, given)}
        except ValueError as error:
            wrong[REST] = f"Rest voltage now: {error}"
    elif not rest and "charge" in before.given:
        given["charge"] = before["charge"]
    said: list[str] = []
    for question in asking:
        entered = " ".join(str(answers.get(question.name) or "").split())
        if entered and question.name in _OTHER_FACTS:
            try:
                found = read_entry(question.name, entered, Context(Inputs(OWN, {}, given), system, phase_as))
                if found.plain:
                    given |= _numbers(question, found.plain, system, phase_as)
                given |= found.given
                said += found.said
            except ValueError as error:
                wrong[question.name] = f"{question.ask}: {error}"
    _above(given, wrong)
    return given, wrong, said


def _numbers(question: Question, entered: str, system: str, phase_as: str) -> dict[str, float]:
    parts = entered.split("/") if len(question.keys) > 1 else [entered]
    accepts = " / ".join(_range(spec, system, phase_as) for spec in question.specs)
    rule = f"It accepts {accepts}, or nothing if you do not know."
    try:
        if len(parts) > len(question.keys):
            raise ValueError(f"{quoted(entered, 20)} has too many numbers.")
        pairs = zip(question.specs, parts, strict=False)
        return {spec.key: accepted(spec, part, system, phase_as) for spec, part in pairs if part.strip()}
    except ValueError as error:
        raise ValueError(f"{error} {rule}") from None


def _range(spec: InputSpec, system: str, phase_as: str) -> str:
    low, high, _ = spec.bounds(system, phase_as)
    unit = "" if spec.key in ("front_teeth", "rear_teeth", "cells") else spec.unit_text(system, phase_as)
    return with_minus(f"{low:g} to {high:g} {unit}".strip())


def _tyre(entered: str) -> dict[str, str]:
    tyre, _ = INPUTS["tyre"].clean(entered)
    try:
        parse_tyre(fitted_tyre(tyre or entered))
    except ValueError:
        rim = 'or a rim size alone such as "12-inch"'
        raise ValueError(f"{quoted(entered)} cannot be read. It accepts {ACCEPTED_CODES}, {rim}.") from None
    return {"tyre": tyre or entered}


def _above(given: dict[str, Any], wrong: dict[str, str]) -> None:
    """The peak current is at least the continuous one."""
    steady, peak = given.get("continuous_current"), given.get("peak_current")
    if steady is not None and peak is not None and peak < steady:
        wrong["continuous_current"] = (
            f"Pack current rating, continuous / peak: the peak, {peak:g} A, is below the continuous current, "
            f"{steady:g} A. It accepts continuous first and peak second, such as 200/250."
        )


def _charge(entered: str, given: Mapping[str, Any]) -> float:
    """The charge in percent that has a rest voltage."""
    voltage = number(entered, "V")
    if "cells" not in given:
        raise ValueError("it gives the charge only together with the cells in series: enter them above.")
    values = Inputs(OWN, {}, given)
    kind, cells = chemistry(values["chemistry"]), values["cells"]
    low, high = kind.voltage_minimum * cells, kind.voltage_maximum * cells
    if not low - 0.05 <= voltage <= high + 0.05:
        raise ValueError(
            with_minus(f"{voltage:g} V does not fit {cells:g} cells of {kind.name}, which rest at ")
            + f"{low:.1f} to {high:.1f} V."
        )
    return INPUTS["charge"].clamp(charge_of(values, voltage))
