"""Charge headroom in words: verdict, the way there, what the plan is enough for, its derivation, the numbers."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.pack import fullest_cell
from explorer.derivations.sources import (
    CHARGE_COUNT,
    CHARGING_RATING,
    CHARGING_WINDOW,
    COLD_CHARGING,
    FORCE_BALANCE,
)
from explorer.format import joined
from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.page.regen import FLAT, plan_of
from explorer.page.tolerances import tolerances
from explorer.questions.headroom.results import cruise, needed
from physics.components.cell import open_circuit_voltage
from physics.components.charging import COLD_CHARGE_RATE
from physics.studies.headroom import CELL_MAXIMUM, NOTHING, OVERVOLTAGE
from physics.studies.headroom_curves import COLD_CURRENT, REGEN, HeadroomAnswer, ride_off_distance

_LONGEST_RIDE = 6 * 3600.0
_TEMPERATURES = {
    "metric": (0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0),
    "US": (32.0, 40.0, 50.0, 60.0, 70.0, 85.0, 105.0),
}
"""Rows of the table, in the rider's unit."""
WORTH_SAYING = 0.02
"""Of charge: what must be gained by knowing the current of a measurement to be worth a sentence."""
_DECIDES = {CELL_MAXIMUM: "cells' maximum voltage", OVERVOLTAGE: "BMS over-voltage limit"}


def is_flat(page: Page) -> bool:
    """Whether the pack's rest voltage hardly tells its charge, so that the answer is in charge."""
    return page.build.pack.chemistry in FLAT


def verdict(page: Page, answer: HeadroomAnswer) -> str:
    """How far below full is needed today, at what current, whether the plan is enough, and how to get there."""
    today = answer.today
    if today.status in (-1, -2):
        return f"**No regen today:** {_outside(page, answer)}"
    if not page.build.controller.regen_current:
        return (
            "**No regen is set (0 A).** Set the regen current under “Controller and motor” to see the "
            "headroom it needs."
        )
    return " ".join(part for part in _parts(page, answer) if part)


def _outside(page: Page, answer: HeadroomAnswer) -> str:
    """Why a pack may not be charged at all at its temperature."""
    fmt, cold = page.fmt, answer.today.status == -1
    bound = answer.floor if cold else answer.ceiling
    text = f"the pack is at {fmt('temperature', answer.pack_temperature)}, and it may be charged only "
    text += f"{'from' if cold else 'up to'} {fmt('temperature', bound)}"
    away = _half_width(page, "conditions.pack_temperature")
    if away:
        text += f", as its cells may be {fmt('temperature difference', away)} "
        text += "colder than entered" if cold else "hotter than entered"
    return text + "."


def _parts(page: Page, answer: HeadroomAnswer) -> Iterator[str]:
    today = answer.today
    if today.status == -3:
        yield f"**No regen {_before(page, answer)}:** even a nearly empty pack would go over its limit."
        yield "Use the brakes, or plan a shorter descent." if answer.by_descent else "Lower the current."
    elif today.binding == NOTHING:
        lead = f"{_lower(page, answer)}{'; it' if _lower(page, answer) else 'Regen'} may start from a full pack"
        yield f"**{lead}:** 0 V below full, {_before(page, answer)}."
    else:
        decides = f"{_before(page, answer)}: the {_DECIDES[str(today.binding)]} sets it."
        yield f"**{_lead(page, answer)}**{_where(page, answer)}, {decides}"
    yield why_less_current(page, answer)
    if today.status == -3:
        yield measuring_helps(page, answer)
        return
    yield other_way_down(page, answer)
    if is_flat(page):
        yield volts_cannot_tell(page)
    else:
        yield _planned(page, float(today.volts_below_full), page.headroom_wanted)
    yield way_there(page, answer)
    yield measuring_helps(page, answer)


def _lower(page: Page, answer: HeadroomAnswer) -> str:
    """To what the regen current must be lowered; empty where it need not be."""
    if answer.current_limit == REGEN:
        return ""
    return f"Lower regen to {current_text(page, answer.allowed_current)}"


def _lead(page: Page, answer: HeadroomAnswer) -> str:
    fmt, today, lower = page.fmt, answer.today, _lower(page, answer)
    if is_flat(page):
        what = f"tart at {fmt.at_most('charge', today.highest_charge)} charge or less"
        return f"{lower} and s{what}" if lower else f"S{what}"
    what = f"tart {fmt.at_least('voltage', today.volts_below_full)} below full"
    return f"{lower} and s{what}" if lower else f"S{what}"


def _where(page: Page, answer: HeadroomAnswer) -> str:
    fmt, today = page.fmt, answer.today
    if is_flat(page):
        missing = fmt.at_least("capacity", amp_seconds_below(page, answer))
        return f", {missing} or {fmt.at_least('energy', today.energy_below_full)} below full"
    return (
        f", at {fmt.at_most('voltage', today.highest_rest_voltage)} or less at rest "
        f"({fmt.at_most('charge', today.highest_charge)} charge)"
    )


def amp_seconds_below(page: Page, answer: HeadroomAnswer) -> float:
    """Charge below full that is needed today, A s."""
    return float(answer.today.charge_below_full) * page.build.pack.capacity_ah * 3600.0


def _before(page: Page, answer: HeadroomAnswer) -> str:
    """Before what the pack must rest so low."""
    fmt, plan = page.fmt, plan_of(page)
    current = current_text(page, float(answer.today.current))
    at = f"with the pack at {fmt('temperature', answer.pack_temperature)}"
    if answer.by_descent:
        return f"for {fmt('distance', plan.descent_height)} of descent at {current} of regen, {at}"
    if plan.stop_speed > 0:
        stops = f"{plan.events} stops in a row" if plan.events > 1 else "one stop"
        return f"for {stops} from {fmt('speed', plan.stop_speed)} at {current} of regen, {at}"
    each = fmt("time", plan.duration, 0)
    times = f"{plan.events} events of {each} in a row" if plan.events > 1 else f"one event of {each}"
    return f"for {times} at {current} of regen, {at}"


def current_text(page: Page, current: float) -> str:
    """A current that may be set: never printed higher than it is."""
    return page.fmt.at_most("current", current, 0 if current >= 10 else 1)


def why_less_current(page: Page, answer: HeadroomAnswer) -> str:
    """That the cells take less than the regen current, and why; empty where they take it."""
    if answer.current_limit == REGEN:
        return ""
    fmt, pack = page.fmt, page.build.pack
    control = page.build.controller
    regen, more = fmt("current", control.regen_current), fmt("share", control.overshoot)
    text = f"{regen}{f' plus {more} overshoot is' if control.overshoot else ' is'} "
    text += "more than the cells may be charged with"
    if answer.current_limit == COLD_CURRENT:
        full = fmt("temperature", answer.full)
        text += f" this cold: below {full} they take only 0.2C, a fifth of the current that fills them in an hour"
        return text + ", unless their maker allows less."
    rating = fmt("current", float(page.batch["pack.charge_current"][0]))
    if pack.charge_current is None:
        typical = f"{rating} is typical for {INPUTS['capacity'].text(pack.capacity_ah)}"
        return f"{text}: {typical}. Enter the cell maker's figure if you have it."
    return f"{text} ({rating})."


def other_way_down(page: Page, answer: HeadroomAnswer) -> str:
    """What a planned descent needs where it does not decide; empty where it does, or none is planned."""
    height = page.fmt("distance", plan_of(page).descent_height)
    if answer.by_descent or plan_of(page).descent_height <= 0:
        return ""
    if answer.descent is None:
        return f"The {height} descent gives nothing back at that slope and speed."
    return f"The {height} descent needs less than that."


def _planned(page: Page, below: float, wanted: float) -> str:
    fmt = page.fmt
    if wanted < below:
        return f"Your planned {fmt('voltage', wanted)} is {fmt.at_least('voltage', below - wanted)} short."
    return (
        f"Your planned {fmt('voltage', wanted)} is enough, with {fmt.at_most('voltage', wanted - below)} to spare."
    )


def volts_cannot_tell(page: Page) -> str:
    """Why the answer is in charge for this chemistry."""
    pack = page.build.pack
    low, high = pack.cells_in_series * open_circuit_voltage(pack.chemistry, np.array([0.4, 0.9]))
    return (
        "Go by amp-hours here, not volts: between 40 and 90 % charge an iron-phosphate pack's rest voltage "
        f"moves by only {page.fmt('voltage', high - low)}."
    )


def measuring_helps(page: Page, answer: HeadroomAnswer) -> str:
    """What is not known of the resistance, and what knowing it would change; empty where that is little."""
    fmt, guessed, measured, pack = page.fmt, answer.series, answer.measured, page.build.pack
    if measured is None or not measured.allowed:
        return ""
    gain = guessed.charge_below_full - measured.charge_below_full
    text = "The pack's resistance has not been measured, so the highest usual value is assumed"
    known = "if it turns out to be typical"
    if pack.resistance is not None:
        if gain < WORTH_SAYING:
            return ""
        pull = fmt("current", float(page.batch["pack.resistance_current"][0]))
        text = f"You have not entered the current the resistance was measured at, so {pull} is assumed, to be safe"
        known = f"if it was {fmt('current', pack.capacity_ah)}"
    if not guessed.allowed:
        return f"{text}; {known}, regen is allowed."
    if is_flat(page):
        less = fmt.at_most("charge", gain) + " charge"
    else:
        less = fmt.at_most("voltage", guessed.volts_below_full - measured.volts_below_full)
    return f"{text}; {known}, you need {less} less."


def way_there(page: Page, answer: HeadroomAnswer) -> str:
    """How far the pack is from that now, and what rides it off."""
    fmt = page.fmt
    if is_flat(page):
        now = f"Today the pack is at {fmt('charge', page.build.conditions.charge)} charge"
    else:
        now = f"Today the pack rests at {fmt('voltage', answer.rest_voltage_now)}"
    energy = float(answer.today.energy_to_ride_off)
    if energy <= 0:
        return f"{now}: low enough."
    if now.endswith(f" {fmt('voltage', answer.today.highest_rest_voltage)}"):
        return f"{now}: use up the last {fmt('energy', energy, 1)} first."
    asked = INPUTS["ride_off_speed"].si(page.inputs["ride_off_speed"])
    per_metre, steady = cruise(page, asked)
    distance, time = ride_off_distance(answer, per_metre, steady)
    text = f"{now}: use up {fmt('energy', energy)} first"
    if time > _LONGEST_RIDE or not np.isfinite(distance):
        return f"{text}. On this slope and in this wind, riding hardly uses any charge."
    return f"{text}, about {fmt('road distance', distance)} at {fmt('speed', steady)} ({_minutes(time)})."


def _half_width(page: Page, path: str) -> float:
    return next((item.half_width for item in tolerances(page.inputs) if item.path == path), 0.0)


def holds_when(page: Page) -> str:
    """How much worse than entered things may be for the answer to hold."""
    fmt, parts = page.fmt, []
    resistance, colder = _half_width(page, "pack.resistance"), _half_width(page, "conditions.pack_temperature")
    charge = _half_width(page, "conditions.charge") + _half_width(page, "pack.charge_spread")
    if page.build.pack.resistance is not None and resistance:
        parts.append(f"{fmt('share', resistance)} more resistance")
    if colder:
        parts.append(f"a pack {fmt('temperature difference', colder)} colder")
    if charge:
        parts.append(f"the fullest cell {fmt('share', charge, 1)} fuller")
    if plan_of(page).stop_speed > 0:
        parts.append("stops that put back as much as they can")
    if page.build.controller.overshoot:
        parts.append(f"{fmt('share', page.build.controller.overshoot)} current overshoot")
    together = ", all at once" if parts[1:] else ""
    return f"This still holds with {joined(parts)}{together}." if parts else ""


def rule_of_thumb(page: Page, answer: HeadroomAnswer) -> str:
    """Where the planned number of volts is enough, and where it is not; and how far the answer holds."""
    if not page.build.controller.regen_current:
        return ""
    holds = holds_when(page) if answer.today.allowed else ""
    enough = "" if is_flat(page) else _enough_for(page, answer)
    return " ".join(part for part in (enough, holds) if part)


def _enough_for(page: Page, answer: HeadroomAnswer) -> str:
    fmt, wanted, control = page.fmt, page.headroom_wanted, page.build.controller
    most = float(page.batch["pack.charge_current"][0]) / (1.0 + control.overshoot)
    warm_regen = current_text(page, min(control.regen_current, most))
    warm = answer.temperature >= max(answer.floor, answer.full)
    warm &= answer.temperature <= answer.ceiling
    short = np.flatnonzero(warm & ~(answer.volts_by_temperature <= wanted))
    first = short[-1] + 1 if short.size else int(np.argmax(warm))
    from_there = warm[first:].any() if first < warm.size else False
    plan = f"Your planned {fmt('voltage', wanted)} is enough"
    if answer.today.status in (-1, -2):
        if not from_there:
            return f"Your planned {fmt('voltage', wanted)} is not enough for {warm_regen} at any temperature shown."
        last = answer.temperature[warm][-1]
        between = f"{fmt('temperature', answer.temperature[first])} to {fmt('temperature', last)}"
        return f"{plan} for {warm_regen} with the pack at {between}."
    enough = answer.volts_by_current <= wanted
    if enough.all():
        text = f"{plan} for any regen current up to {fmt('current', answer.current[-1])}"
    elif enough[1:].any():
        text = f"{plan} for up to {current_text(page, answer.current[enough][-1])} of regen"
    else:
        text = f"{plan} for no regen current at all"
    text += " at today's pack temperature"
    if from_there:
        return f"{text}, and for {warm_regen} at {fmt('temperature', answer.temperature[first])} and above."
    return f"{text}, but not for {warm_regen} at any temperature shown."


def derivation(page: Page, answer: HeadroomAnswer) -> list[Step]:
    """The fullest cell at the end of the last event from the highest charge allowed, or why none is."""
    now, status = answer.pack_temperature - 273.15, int(answer.today.status)
    if status in (-1, -2):
        bound = (answer.floor if status == -1 else answer.ceiling) - 273.15
        warm, cold = (bound, now) if status == -1 else (now, bound)
        return [
            Step(
                "How far the pack is outside its charging window",
                r"\Delta T = T_{warm} - T_{cold}",
                f"{put(warm)} − {put(cold)}",
                warm - cold,
                "°C",
                f"the {'lowest' if status == -1 else 'highest'} temperature at which the pack may be charged, "
                "allowing for the error in the one entered, and the pack's own, °C",
                CHARGING_WINDOW,
            )
        ]
    steps = fullest_cell(page.build, answer.event, float(answer.today.highest_charge))
    if plan_of(page).stop_speed > 0 and not answer.by_descent:
        steps = [_stop(page, answer), *steps]
    return steps if answer.current_limit == REGEN else [_allowed_current(page, answer), *steps]


def _stop(page: Page, answer: HeadroomAnswer) -> Step:
    """How long the full current takes to push in what one stop returns."""
    current, time = float(answer.event.current), float(answer.event.duration)
    return Step(
        "One stop, as time at full regen current",
        r"t = \frac{Q}{I}",
        f"{put(current * time)} / {put(current)}",
        time,
        "s",
        f"I regen current, A; Q the most a stop from {put(plan_of(page).stop_speed * 3.6, 3)} km/h on regen "
        "alone can put back, A s: its power over the rest voltage at half charge (a fuller pack takes less), "
        "summed over the stop, with weight, drag, rolling resistance and wind off by as much as they plausibly "
        "may be. In a real stop the current fades; counting all of it at full current is the safe side",
        f"{FORCE_BALANCE}; {CHARGE_COUNT}",
    )


def _allowed_current(page: Page, answer: HeadroomAnswer) -> Step:
    """The most regen that may be set for the cells' sake."""
    over, capacity = page.build.controller.overshoot, page.build.pack.capacity_ah
    rating = float(page.batch["pack.charge_current"][0])
    cold = answer.current_limit == COLD_CURRENT and COLD_CHARGE_RATE * capacity <= rating
    top = f"{put(COLD_CHARGE_RATE)} × {put(capacity)}" if cold else put(rating)
    return Step(
        "Maximum regen the cells take",
        r"I = \frac{0.2\,C}{1 + o}" if cold else r"I = \frac{I_c}{1 + o}",
        f"{top} / (1 + {put(over)})",
        answer.allowed_current,
        "A",
        ("C capacity, Ah, over an hour" if cold else "I_c what the cells may be charged with, A")
        + "; o the controller's overshoot",
        COLD_CHARGING if cold else CHARGING_RATING,
    )


def _below(page: Page) -> str:
    return "Charge below full" if is_flat(page) else "Volts below full"


def alt_current(page: Page, answer: HeadroomAnswer) -> str:
    """What the chart against regen current shows."""
    return f"{_below(page)} needed, against regen current. {answer.today.message}"


def alt_temperature(page: Page) -> str:
    """What the chart against pack temperature shows."""
    return f"{_below(page)} needed, against pack temperature."


def table(page: Page) -> pd.DataFrame:
    """How far below full for some temperatures and currents."""
    currents = np.array([5.0, 10.0, 20.0, 40.0, 60.0, 80.0])
    shown = np.array(_TEMPERATURES[page.fmt.system])
    kelvin = page.fmt.si("temperature", shown)
    answer = needed(page, currents[None, :], kelvin[:, None])
    rows = []
    for index, temperature in enumerate(kelvin):
        row = {f"pack, {page.fmt.unit('temperature')}": page.fmt.digits("temperature", temperature)}
        for column, current in enumerate(currents):
            at = (index, column)
            if answer.status[at] == 3:
                text = "too much"
            elif answer.status[at] < 0:
                text = "no regen"
            elif is_flat(page):
                text = page.fmt.at_least("charge", answer.charge_below_full[at])
            else:
                text = page.fmt.at_least("voltage", answer.volts_below_full[at])
            row[page.fmt("current", current)] = text
        rows.append(row)
    return pd.DataFrame(rows)


def _minutes(time: float) -> str:
    return f"{time / 60:.0f} min" if time >= 90 else f"{time:.0f} s"
