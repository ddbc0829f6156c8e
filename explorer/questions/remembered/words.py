"""Remembered facts in words: what they say of the bike and leave open, which do not go together, what next."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from explorer.format import UnitFormatter, joined, plain_number
from explorer.inputs.power_levels import levels
from explorer.page.page import Page
from explorer.questions.remembered.results import HEIGHT, RADIUS, RATIO, Answer, error_of
from explorer.state.memories import COLDEST, WARMEST, Memory
from physics.build import Build
from physics.build.batch import Batch
from physics.fitting.recollection import (
    CUT_OUT,
    FRONT_LIGHT,
    HELD,
    KINDS,
    LOADED_VOLTAGE,
    TIME_TO_SPEED,
    TOP_SPEED,
    Finding,
    Observable,
    Recollected,
)
from physics.fitting.recollection.findings import LEAST_EFFECTIVE
from physics.studies.recollection import NextFact

WHAT, VALUE, AT, SURE, LEVEL, FRONT, REAR = (
    "what happened", "value", "at", "how sure", "level", "front", "rear",
)  # fmt: skip
AT_HELP = (
    "The speed for a time, the line limit for a cut-out, the current for a voltage; leave blank for the others."
)
SURE_HELP = "Noted: read off and written down. Vague: may be off by twice as much as one you remember."
THEN_HELP = "As it was then. A new fact starts with today's."
TABLE_ALT = "What you remember of your rides, one fact per row."
ASK = (
    "**Write down what you remember of your rides**, one fact per row: a top speed; a time to a speed; the line "
    "limit at which the pack cut out, and after how many seconds; one at which it held; the throttle at which "
    "the front went light; the voltage at a known current. Two or three facts of different kinds already say a "
    "lot about the bike; its state at the time (charge, temperature, level, sprockets) matters as much as the "
    "number."
)
CLEAR, APPLY = "Clear the facts", "Use these values"
APPLY_HELP = (
    "Puts the values these facts give, and how well each is now known, into your build; the old build becomes "
    "the baseline. Undo reverses it, and no fact is counted twice."
)
USED = "Your build already has what the facts gave; “before” means before they were used."
STOPPED = "Stopped before anything was found. Any change starts it again."
CAUTION = (
    "Do not chase facts that can hurt you: never provoke a cut-out, a wheelie or a top speed for one. Ride on a "
    "closed course, within the makers' limits. Leave measuring on a pack above 60 V DC to trained people."
)
FACTS_AGAINST = "Each fact against the bike that fits best"

_NAMES = {
    "bike.drag_area": ("drag area", "area", 2),
    "bike.rolling_coefficient": ("rolling resistance", "share", 1),
    "pack.resistance": ("pack resistance", "resistance", 0),
    "motor.kv_rpm_per_volt": ("motor Kv", "", 1),
    "bike.bike_mass": ("bike weight", "mass", 0),
    "pack.charge_spread": ("weakest-cell charge deficit", "charge", 1),
    "pack.cold_growth": ("pack resistance growth in the cold", "", 2),
    "pack.capacity_ah": ("capacity", "capacity", 1),
    "pack.protection.continuous_current": ("pack's rated current", "current", 0),
    "pack.protection.peak_current": ("pack's rated peak current", "current", 0),
    "motor.phase_resistance": ("motor phase resistance", "resistance", 1),
    "motor.phase_inductance": ("motor phase inductance", "inductance", 0),
    RADIUS: ("rolling radius of the rear tyre", "length", 0),
    RATIO: ("reduction to the wheel", "", 2),
    HEIGHT: ("height of the centre of gravity", "length", 0),
}
_MOST_NAMED = 3
_OUT_OF_REACH = 0.8
"""Chance of being wrong by itself above which no bike that was thought possible gives a fact."""


def kinds(fmt: UnitFormatter) -> dict[str, str]:
    """Kind of fact to what the table calls it, with the units of its numbers."""
    speed = fmt.unit("speed")
    return {
        TOP_SPEED: f"top speed, {speed}",
        TIME_TO_SPEED: f"seconds, to a speed at {speed}",
        CUT_OUT: "cut out after s, at line limit A",
        HELD: "held for s, at line limit A",
        FRONT_LIGHT: "front went light, throttle %",
        LOADED_VOLTAGE: "voltage V, under a current at A",
    }


def condition_columns(fmt: UnitFormatter, by_voltage: bool) -> tuple[str, str]:
    """Headings of charge and temperature."""
    return "at rest, V" if by_voltage else "charge, %", f"pack and air, {fmt.unit('temperature')}"


def fact_text(row: Memory, fmt: UnitFormatter) -> str:
    """A fact in a few words."""
    value, at = (float(number or 0.0) for number in (row.value, row.at))
    return {
        TOP_SPEED: lambda: f"a top speed of {fmt.entered('speed', value)}",
        TIME_TO_SPEED: lambda: f"{fmt.entered('time', value)} to {fmt.entered('speed', at)}",
        CUT_OUT: lambda: f"a cut-out after {fmt.entered('time', value)} at {fmt('current', at)}",
        HELD: lambda: f"{fmt('current', at)} held for {fmt.entered('time', value)}",
        FRONT_LIGHT: lambda: f"a light front at {fmt('share', value)} throttle in level {row.level}",
        LOADED_VOLTAGE: lambda: f"{fmt.entered('voltage', value)} under {fmt('current', at)}",
    }[row.kind]()


def refused(place: int, row: Memory, name: str, fmt: UnitFormatter) -> str:
    """Why a row was left as it was: what was wrong, where, and what is accepted."""
    given = getattr(row, name)
    quantity = {"value": row.quantities[0], "at": row.quantities[1], "temperature": "temperature",
                "charge": "charge"}.get(name, "")  # fmt: skip
    if name in ("value", "at"):
        kind = KINDS[row.kind]
        low, high = (kind.low, kind.high) if name == "value" else (kind.at_low or 0.0, kind.at_high or 0.0)
    elif name == "temperature":
        low, high = COLDEST, WARMEST
    elif name == "charge":
        low, high = 0.0, 1.0
    else:
        return f"Row {place + 1}, {name} sprocket: {given} teeth is not possible. The row was left unchanged."
    ends = f"{fmt.digits(quantity, low)} to {fmt(quantity, high)}"
    where = name if name in ("charge", "temperature") else f"{row.kind}, {name}"
    return (
        f"Row {place + 1}, {where}: {fmt(quantity, given)} was entered; {ends} is accepted. The row was "
        "left unchanged."
    )


def waiting(rows: Sequence[Memory]) -> str:
    """Which rows do not yet say enough."""
    places = [str(place + 1) for place, row in enumerate(rows) if not row.complete and not row.empty]
    if not places:
        return ""
    if len(places) == 1:
        return f"Row {places[0]} is incomplete and counts once it is filled in."
    return f"Rows {joined(places)} are incomplete and count once they are filled in."


def running(samples: int, rides: int) -> str:
    """What is said while the bikes are tried."""
    return f"Trying {samples:,} bikes on {rides} remembered ride{'s' if rides > 1 else ''}"


def name(path: str) -> str:
    """An unknown's name."""
    return _NAMES[path][0] if path in _NAMES else path.rpartition(".")[2].replace("_", " ")


def amount(path: str, value: float, fmt: UnitFormatter, unit: bool = True) -> str:
    """A value of an unknown, with its unit or without."""
    _, quantity, digits = _NAMES.get(path, ("", "", 3))
    if path == "pack.capacity_ah":  # the one number of a pack that is not SI
        value = 3600.0 * value
    if not quantity:
        return plain_number(value, digits) + (" rpm/V" if unit and path == "motor.kv_rpm_per_volt" else "")
    return fmt(quantity, value, digits) if unit else fmt.digits(quantity, value, digits)


def interval(item: Finding, fmt: UnitFormatter) -> str:
    """Value and 90 % interval after the facts."""
    low, high = (amount(item.name, end, fmt, unit=False) for end in (item.low, item.high))
    return f"{amount(item.name, item.middle, fmt)} ({low} to {high})"


def verdict(answer: Answer, rows: Sequence[Memory], build: Build, fmt: UnitFormatter) -> str:
    """What the facts say, or why nothing is concluded; what does not go together first."""
    found = answer.found
    odd = contradictions(found, rows, fmt)
    if not found.success:
        return " ".join([f"**No values yet.** {too_few(found)}", odd]).strip()
    told = sorted((item for item in found.findings if not item.left_open), key=lambda item: item.narrowed)
    present = Batch.of(build)
    parts = [
        f"{name(item.name)} {interval(item, fmt)}, before {amount(item.name, float(present[item.name][0]), fmt)}"
        for item in told
    ]
    if parts:
        many = "Your facts say" if len(rows) > 1 else "Your fact says"
        text = f"**{many}: {parts[0]}.**"
        if parts[1:]:
            text += f" Also {'; '.join(parts[1:_MOST_NAMED])}."
    else:
        text = "**Your facts fit your build as it is, but say little more.**"
    still = [name(item.name) for item in found.findings if item.left_open]
    if still:
        text += f" They do not settle {joined(still)}."
    return f"{odd} {text}".strip()


def too_few(found: Recollected) -> str:
    """Why nothing is concluded."""
    if not found.samples:
        return STOPPED
    return (
        f"Of {found.samples:,} simulated bikes, only about {found.effective:.0f} match your facts; it takes "
        f"{LEAST_EFFECTIVE:.0f} to conclude anything. Choose “vague” where you are not sure, check that day's "
        "charge and settings, or widen the ± under “How sure is this?”."
    )


def contradictions(found: Recollected, rows: Sequence[Memory], fmt: UnitFormatter) -> str:
    """Which facts do not go together, and which is most likely wrong; empty where all do."""
    texts = [fact_text(row, fmt) for row in rows]
    alone = [place for place in found.doubtful if found.told[place].wrong_alone > _OUT_OF_REACH]
    text = ""
    if alone:
        which = joined([texts[place] for place in alone])
        text = (
            f"**Nothing close to your build gives {which}:** it is misremembered, or charge, temperature "
            "or settings were different that day."
        )
    pairs = [pair for pair in found.contradictions if pair.first not in alone and pair.second not in alone]
    if pairs:
        first, second = texts[pairs[0].first], texts[pairs[0].second]
        times = min(1 / pairs[0].ratio, 1000.0)
        text += (
            f" **Two facts contradict each other: {first}, and {second}.** They are {times:.0f} times more likely "
            "to come from two different bikes than from one."
        )
    suspect = [place for place in found.doubtful if place not in alone]
    if suspect:
        text += f" The odd one out is most likely {texts[suspect[0]]}: check that one first."
    return text.strip()


def following(answer: Answer, page: Page) -> str:
    """Which fact to collect next, and why that one."""
    if not answer.following:
        return ""
    best = answer.following[0]
    what = look_at(best.observable, page)
    if best.ratio < 1:
        return (
            f"**No further fact would tell you much.** Even for {what}, the bikes that still fit differ "
            "by less than memory and weather blur it. Measure the rest: see “How sure is this?”."
        )
    spread, noise = (expected(best, page, deviations) for deviations in (best.spread, best.noise))
    return (
        f"**Collect next: {what}.** The bikes that still fit differ there: {expected(best, page)} ± {spread}, "
        f"while memory and weather blur it by only ± {noise}. It would tell you most about the {name(best.about)}."
    )


def look_at(observable: Observable, page: Page) -> str:
    """What to look at, in a few words."""
    fmt, at = page.fmt, float(observable.at or 0.0)
    if observable.kind == TOP_SPEED:
        return f"the top speed in level {_level(observable, page)} on a full pack"
    if observable.kind == TIME_TO_SPEED:
        return f"the seconds to {fmt.entered('speed', at)} on a full pack"
    return f"the voltage of a full pack after ten seconds at {fmt('current', at)}"


def _level(observable: Observable, page: Page) -> str:
    line = dict(observable.conditions)["controller.line_current_limit"]
    return next(
        (level for level in levels(page.inputs) if page.inputs[f"line_{level}"] == line), page.inputs["level"]
    )


def expected(item: NextFact, page: Page, value: float | None = None) -> str:
    """What would be seen, or a deviation of it, in the rider's unit."""
    quantity = {TOP_SPEED: "speed", TIME_TO_SPEED: "time"}.get(item.observable.kind, "voltage")
    return page.fmt(quantity, item.expected if value is None else value, 1)


def alt(findings: Sequence[Finding], fmt: UnitFormatter) -> str:
    """The chart in words."""
    parts = "; ".join(f"{name(item.name)} {interval(item, fmt)}" for item in findings)
    return f"What was known about each unknown before and after the facts: {parts}."


def note(found: Recollected) -> str:
    """How it was worked out."""
    return (
        f"{found.samples:,} bikes drawn from the ± under “How sure is this?”, in stages ever closer to the "
        "facts (adaptive multiple importance sampling after Cornuet and others, 2012), each run for every ride, "
        f"each ride with its own wind, charge and temperature. Effective sample size {found.effective:.0f} "
        "(Kish, 1965). Intervals cover nine in ten. One memory in twenty is assumed to be plain wrong: common "
        "practice, no source. Rides are flat out from a standstill on a level road."
    )


def table(found: Recollected, fmt: UnitFormatter) -> pd.DataFrame:
    """Every unknown before and after the facts."""
    return pd.DataFrame(
        [
            {
                "unknown": name(item.name),
                "most likely": amount(item.name, item.middle, fmt),
                "nine in ten": " to ".join(amount(item.name, end, fmt, False) for end in (item.low, item.high)),
                "before the facts": " to ".join(
                    amount(item.name, end, fmt, False) for end in (item.before_low, item.before_high)
                ),
                "width left, %": round(100 * item.narrowed),
                "left open": "yes" if item.left_open else "no",
            }
            for item in found.findings
        ]
    )


def facts_table(found: Recollected, rows: Sequence[Memory], fmt: UnitFormatter) -> pd.DataFrame:
    """Each fact against what the bikes that fit would have shown."""
    lines = []
    for row, told in zip(rows, found.told, strict=True):
        quantity = row.quantities[0]
        lines.append(
            {
                "fact": fact_text(row, fmt),
                "known to": f"±{fmt(quantity, error_of(row), 1)}",
                "these bikes": _shown(told.middle, quantity, fmt),
                "nine in ten": f"{_shown(told.low, quantity, fmt)} to {_shown(told.high, quantity, fmt)}",
                "chance it is plain wrong": f"{100 * max(told.wrong, told.wrong_alone):.0f} %",
            }
        )
    return pd.DataFrame(lines)


def _shown(value: float, quantity: str, fmt: UnitFormatter) -> str:
    if math.isnan(value):
        return "not at all"
    return "never" if math.isinf(value) or (quantity == "time" and value > 600) else fmt(quantity, value, 1)
