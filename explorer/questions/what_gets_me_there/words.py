"""What would get me there, in words: the answer, what each change brings and costs, cautions, and why."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, fastest, put
from explorer.derivations.motor import back_emf
from explorer.derivations.sources import DRAG, FORCE_BALANCE
from explorer.format import UnitFormatter, tied
from explorer.inputs.to_build import make_build
from explorer.page import cautions as page_cautions
from explorer.page import lever_words
from explorer.page.lever_inputs import as_inputs, pair_as_inputs
from explorer.page.page import Page
from explorer.page.words import within
from explorer.questions.what_gets_me_there.results import Ways
from physics.components.air import STANDARD_GRAVITY as GRAVITY
from physics.limits import LIMITS, RULES
from physics.studies.target import Change, Outcome
from physics.studies.target.single_change import CUTS_OUT, NO_ROOM, NOT_SEARCHED, REACHES, SAME_SPEED

YES = "reaches the target"
SEARCHING = "Searching single changes and pairs"
TWO_TOGETHER = "**Two together, each a smaller step than alone**"

# the table of what may be changed
ALLOWED = "What may change, how far, and at what price"
CHANGE, ALLOW, LOW, HIGH, UNIT, PRICE = "change", "allow", "from", "to", "unit", "price"
PRICE_HELP = "What the change costs, in any currency."
ALLOWED_NOTE = (
    "The ranges start from what is plausible for this build. Enter a price to see the cost of the speed gained."
)

IN_HAND = 0.2
"""Share of the cut-out allowance to keep in hand, as the line limit for the day does unless told otherwise."""


def verdict(ways: Ways, page: Page) -> str:
    """The answer in a few sentences."""
    single, fmt = ways.single, page.fmt
    target = fmt.entered("speed", single.goal.speed)
    if single.reached:
        spare = single.present.top_speed - single.goal.speed
        return f"**Nothing needs to change:** it reaches {target} with {fmt('speed', spare, 1)} to spare."
    opened, now = single.present.cut_out_rule >= 0, ""
    if opened and np.isfinite(single.present.time_to_target):
        cut = fmt("time", single.present.cut_out_time)
        now = f"It reaches {target} as it is, but cuts out at {cut}. "
    target = f"{target} {'without a cut-out' if opened else within(page)}"
    return now + _what_it_takes(ways, target, fmt)


def _what_it_takes(ways: Ways, target: str, fmt: UnitFormatter) -> str:
    """Which changes reach the target, or come nearest."""
    single = ways.single
    alone = reaching(single.changes)
    count = len(alone)
    stopped = "" if ways.complete else (" The search was stopped: more may be possible, and less may be enough.")
    if count:
        first = alone[0]
        text = lever_words.change_text(first.lever, first.present, first.value, fmt)
        least = f"{text[:1].lower()}{text[1:]}"
        if count == 1:
            return f"**One change alone reaches {target}:** {least}.{stopped}"
        many = f"**Any one of {count} changes alone reaches {target}.**"
        return f"{many} The smallest step within your limits: {least}.{stopped}"
    text = f"**No single change reaches {target}** within your limits."
    tried = [change for change in single.changes if change.outcome]
    closest = max(tried, key=lambda change: change.speed_gained, default=None)
    if closest is not None and closest.speed_gained > 0:
        what = lever_words.change_text(closest.lever, closest.present, closest.value, fmt)
        gets = cannot(closest, fmt, single.goal.speed)
        text += f" The biggest gain: {what[:1].lower()}{what[1:]}, which {gets}."
    if ways.pairs:
        pair = lever_words.pair_text(ways.pairs[0], fmt)
        text += f" Two together do it: {pair[:1].lower()}{pair[1:]}."
    elif ways.complete:
        text += " No two together do either. Lower the target, or allow more."
    return text + stopped


def chart_alt(verdict: str) -> str:
    """The chart in words."""
    return f"How much of its range each change uses to reach the target on its own. {verdict}"


def no_gain(changes: Sequence[Change]) -> str:
    """Which levers bring nothing."""
    names = ", ".join(lever_words.name(change.lever).lower() for change in changes)
    return f"No gain in top speed within your limits: {names}."


def offer(text: str, brings: str, cost: str) -> str:
    """One change with what it brings and costs, as Markdown."""
    return f"{text}  \n:small[{brings} {cost}]"


def bar_text(change: Change, page: Page) -> str:
    """What stands in the bar of a change."""
    if change.status == REACHES:
        return lever_words.value_text(change.lever, change.value, page.fmt)
    return cannot(change, page.fmt, page.target_speed)


def brings(outcome: Outcome | None, present: Outcome, fmt: UnitFormatter, low_speed: float) -> str:
    """What a change brings and what it costs elsewhere, in one or two sentences."""
    if outcome is None:
        return ""
    limit = LIMITS[outcome.holding_limit]
    sentences = [f"{fmt('speed', outcome.top_speed, 1)}, then limited by {limit}."]
    costs = [
        _later(outcome.time_to_low_speed, present.time_to_low_speed, fmt("speed", low_speed)),
        _margin(outcome.margin, present.margin, fmt),
        _energy(outcome.energy_per_distance, present.energy_per_distance, fmt),
    ]
    return " ".join([*sentences, _capital("; ".join(costs)) + "."])


def _later(after: float, before: float, speed: str) -> str:
    """How much later or sooner a low speed is reached; what is said where one of the two never reaches it."""
    if not np.isfinite(after):
        return f"{speed} {'no longer' if np.isfinite(before) else 'still not'} reached"
    if not np.isfinite(before):
        return f"{speed} after {after:.1f} s, which it does not reach now"
    difference = round(after, 1) - round(before, 1)
    if abs(difference) < 0.05:
        return f"{speed} no sooner or later"
    return f"{speed} {abs(difference):.1f} s {'later' if difference > 0 else 'sooner'}"


def _margin(margin: float, before: float, fmt: UnitFormatter) -> str:
    change = round(100 * margin) - round(100 * before)
    text = f"{fmt('share', margin)} of the BMS limit left"
    text += f" ({'+' if change > 0 else '−'}{abs(change)})" if change else ", as now"
    return f"only {text}, less than the {fmt('share', IN_HAND)} to keep in reserve" if margin < IN_HAND else text


def _energy(energy: float, before: float, fmt: UnitFormatter) -> str:
    change = fmt.difference("energy per distance", energy, before)
    unit = fmt.unit("energy per distance")
    if abs(change) < 0.5:
        return "same energy"
    return f"{abs(change):.0f} {unit} {'more' if change > 0 else 'less'}"


def cannot(change: Change, fmt: UnitFormatter, target: float) -> str:
    """Why a lever cannot do it alone."""
    if change.status == NO_ROOM:
        return "already at the end of your range"
    if change.status == NOT_SEARCHED:
        return "not searched"
    if change.status == CUTS_OUT:
        if change.outcome is None or change.outcome.cut_out_rule < 0:
            return "the pack cuts out"
        there = np.isfinite(change.outcome.time_to_target)
        does = "reaches it, but then the pack" if there else "would be fast enough, but first the pack"
        return f"{does} cuts out ({RULES[change.outcome.cut_out_rule]} rule)"
    if change.outcome is None or does_nothing(change):
        return "adds no speed"
    gets = f"gets to {fmt.apart('speed', change.outcome.top_speed, target)}"
    rule = change.outcome.cut_out_rule
    return gets if rule < 0 else f"{gets} and cuts out ({RULES[rule]} rule)"


def does_nothing(change: Change) -> bool:
    """Whether a lever, inside what is allowed, does not raise the top speed at all."""
    nothing = change.status not in (REACHES, CUTS_OUT, NOT_SEARCHED)
    return nothing and (change.outcome is None or change.speed_gained <= SAME_SPEED)


def cost_text(price_per_speed: float, fmt: UnitFormatter) -> str:
    """Price for each unit of speed gained; empty without a price."""
    if not np.isfinite(price_per_speed):
        return ""
    per = price_per_speed / float(fmt.number("speed", 1.0))
    return f"{per:,.2f} per {fmt.unit('speed')} gained."


def reaching(changes: Sequence[Change]) -> list[Change]:
    """The changes that reach the target alone."""
    return [change for change in changes if change.status == REACHES]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def table(ways: Ways, page: Page) -> pd.DataFrame:
    """Every lever's answer, and the pairs."""
    single, fmt = ways.single, page.fmt
    speed, energy = fmt.unit("speed"), fmt.unit("energy per distance")
    rows = []
    for change in single.changes:
        text = lever_words.change_text(change.lever, change.present, change.value, fmt)
        answer = YES if change.status == REACHES else cannot(change, fmt, single.goal.speed)
        rows.append((text, answer, change.fraction, change.outcome, change.price_per_speed))
    for pair in ways.pairs:
        rows.append((lever_words.pair_text(pair, fmt), YES, pair.fraction, pair.outcome, pair.price_per_speed))

    def of(outcome: Outcome | None, quantity: str, field: str, digits: int) -> float | None:
        return None if outcome is None else round(float(fmt.number(quantity, getattr(outcome, field))), digits)

    per = float(fmt.number("speed", 1.0))
    return pd.DataFrame(
        {
            "change": [text for text, *_ in rows],
            "what it does": [answer for _, answer, *_ in rows],
            "share of its range, %": [round(100 * share) for _, _, share, *_ in rows],
            f"top speed, {speed}": [of(outcome, "speed", "top_speed", 1) for *_, outcome, _ in rows],
            "then limited by": [LIMITS[outcome.holding_limit] if outcome else "" for *_, outcome, _ in rows],
            f"to {fmt('speed', single.goal.low_speed)}, s": [
                of(outcome, "time", "time_to_low_speed", 2) for *_, outcome, _ in rows
            ],
            "BMS limit left, %": [of(outcome, "share", "margin", 0) for *_, outcome, _ in rows],
            "weakest cell above cut-out, V": [
                of(outcome, "cell voltage", "cell_margin", 2) for *_, outcome, _ in rows
            ],
            energy: [of(outcome, "energy per distance", "energy_per_distance", 1) for *_, outcome, _ in rows],
            f"price per {speed}": [round(price / per, 2) if price == price else None for *_, price in rows],
        }
    )


def cautions(ways: Ways, page: Page) -> list[str]:
    """What the changes that are offered ask for."""
    single = ways.single
    offered = [change.lever.key for change in reaching(single.changes)]
    offered += [lever.key for pair in ways.pairs for lever in pair.levers]
    texts = [text for key, text in lever_words.CAUTIONS.items() if key in offered]
    build, inputs = page.build, page.inputs
    speeds = [
        (change.outcome.top_speed, as_inputs(build, inputs, change.lever, change.value))
        for change in reaching(single.changes)
        if change.outcome
    ]
    speeds += [(pair.outcome.top_speed, pair_as_inputs(build, inputs, pair)) for pair in ways.pairs]
    if speeds:
        highest, changed = max(speeds, key=lambda each: each[0])
        texts.append(page_cautions.speed_ratings(make_build(inputs | changed), highest, page.fmt))
    return [tied(text) for text in texts if text]


def derivation(page: Page) -> list[Step]:
    """What the target speed asks for at the wheel, and what the build gives where it is fastest."""
    speed, fmt = page.target_speed, page.fmt
    now, day, bike = fastest(page.build, page.run), page.build.conditions, page.build.bike
    relative = speed + day.headwind
    drag = 0.5 * now.density * bike.drag_area * relative * abs(relative)
    weight = now.mass * GRAVITY * math.cos(day.slope)
    rolling = weight * (bike.rolling_coefficient + bike.rolling_coefficient_speed_squared * speed**2)
    needed = drag + rolling + now.slope_force
    sign = "" if relative >= 0 else "−"
    along = f"({put(speed)} + {put(day.headwind)})" if day.headwind else put(speed)
    climb = f" + {put(now.slope_force)}" if now.slope_force else ""
    at = fmt("speed", speed)
    return [
        Step(
            f"Air drag at {at}",
            r"F_d = \tfrac{1}{2}\,\rho\,C_dA\,(v + w)\,|v + w|",
            f"{sign}0.5 × {put(now.density)} × {put(bike.drag_area)} × {along}²",
            drag,
            "N",
            f"ρ density of the air, kg/m³; CdA drag area, m²; v speed, m/s ({at}); w headwind, m/s",
            DRAG,
            "force",
        ),
        Step(
            "Power the target takes at the wheel",
            r"P = (F_d + F_r + F_s)\,v",
            f"({put(drag, 5)} + {put(rolling)}{climb}) × {put(speed)}",
            needed * speed,
            "W",
            "F_d drag, F_r rolling resistance, F_s weight along a slope, N",
            FORCE_BALANCE,
            "power",
        ),
        Step(
            f"Power at the wheel now, at {fmt('speed', now.speed)}",
            r"P = F\,v",
            f"{put(now.drive_force, 5)} × {put(now.speed)}",
            now.drive_force * now.speed,
            "W",
            f"F drive where the run is fastest, N. What holds it there: {now.limit}",
            FORCE_BALANCE,
            "power",
        ),
        *back_emf(now, fmt),
    ]
