"""Charge to, in words: verdict, how to check it, its derivation, the numbers, the caution."""

from __future__ import annotations

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import CHARGE_COUNT, OHM, REST_VOLTAGE
from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.page.regen import FLAT
from explorer.page.tolerances import tolerances
from explorer.questions.charge_to.results import NO_REGEN, OUT_OF_REACH, REGEN, TARGET, Asked, asked_of, plan_of
from physics.components.cell import chemistry
from physics.studies.day.charge_to import (
    CHARGER,
    COLD_CURRENT,
    ENDS_FIRST,
    THERE_ALREADY,
    TOO_COLD,
    TOO_HOT,
    ChargeToAnswer,
)

NOTE = "With everything as entered. The gap between the two voltages closes within minutes of unplugging."
CAUTION = (
    "Use a charger made for the pack, charge through the BMS, where a fire cannot spread, and stay with it. "
    "Never charge a cold, hot, wet, swollen or damaged pack. The makers' instructions for cells, pack and "
    "charger come before any number here."
)


def charges(answer: ChargeToAnswer) -> bool:
    """Whether there is anything to charge, and it is allowed."""
    return answer.status not in (TOO_COLD, TOO_HOT, THERE_ALREADY)


def stop_text(page: Page, answer: ChargeToAnswer) -> str:
    """The reading to stop at, printed on the safe side."""
    towards = page.fmt.at_most if asked_of(page).at_most else page.fmt.at_least
    return towards("voltage", answer.stop_voltage)


def verdict(page: Page, answer: ChargeToAnswer) -> str:
    """The reading to stop at, what it rests at, how long that takes, and what limits it."""
    fmt, asked = page.fmt, asked_of(page)
    if answer.status in (TOO_COLD, TOO_HOT):
        cold = answer.status == TOO_COLD
        bound = fmt("temperature", answer.floor if cold else answer.ceiling)
        at = fmt("temperature", plan_of(page).temperature)
        way = f"**Do not charge at {at}:** the cells may be charged only {'from' if cold else 'up to'} {bound}, and"
        return f"{way} some may be {'colder' if cold else 'hotter'} than entered."
    if answer.status == THERE_ALREADY:
        now = f"**Nothing to charge:** the pack rests at {fmt('voltage', answer.start_voltage)}"
        return f"{now}, and {_wanted(page, asked, answer)}."
    parts = [_lead(page, answer), _why(page, asked, answer), _effort(page, answer), _limits(page, answer)]
    return " ".join(part for part in parts if part)


def _wanted(page: Page, asked: Asked, answer: ChargeToAnswer) -> str:
    volts = page.fmt("voltage", answer.wanted_voltage)
    return {
        REGEN: f"regen is allowed only at {page.fmt.at_most('voltage', answer.wanted_voltage)} or less",
        TARGET: f"{page.fmt.entered('speed', page.target_speed)} needs {volts}",
    }.get(asked.reason, f"you want {volts}")


def _lead(page: Page, answer: ChargeToAnswer) -> str:
    fmt = page.fmt
    rests = f"it rests at {fmt('voltage', answer.rest_voltage)}"
    charge = f" ({fmt('charge', answer.curve.charge[0, -1])} charge)"
    added = fmt("capacity", 3600.0 * answer.charge_added * page.build.pack.capacity_ah)
    if page.build.pack.chemistry in FLAT:
        return f"**Put in {added}:** {rests}{charge}, but go by the amp-hours: volts cannot tell."
    if answer.by_current:
        volts = fmt.at_most("voltage", answer.charger_voltage)
        amps = fmt("current", answer.stop_current, 1)
        return f"**Charge to {volts} and stop when the current has fallen to {amps}: {rests}**{charge}."
    return f"**Charge to {stop_text(page, answer)} on the charger: {rests}**{charge}."


def _why(page: Page, asked: Asked, answer: ChargeToAnswer) -> str:
    fmt = page.fmt
    target = fmt.entered("speed", page.target_speed)
    if asked.reason == REGEN:
        cold = fmt("temperature", float(page.batch["conditions.pack_temperature"][0]))
        return f"Any more would leave no room for regen with the pack at {cold}."
    if asked.reason == TARGET:
        return f"{target} needs that much, with everything as entered."
    if asked.reason == NO_REGEN:
        return "Regen is off that day, so it needs no room."
    if asked.reason == OUT_OF_REACH:
        return f"{target} is out of reach at any charge, so this fills the pack."
    return ""


def duration_text(seconds: float) -> str:
    """A time on the charger.

    Examples
    --------
    >>> duration_text(2700.0), duration_text(8000.0)
    ('45 min', '2 h 13 min')
    """
    minutes = round(seconds / 60.0)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"


def _effort(page: Page, answer: ChargeToAnswer) -> str:
    fmt, curve = page.fmt, answer.curve
    amp_hours = fmt("capacity", 3600.0 * answer.charge_added * page.build.pack.capacity_ah)
    energy = fmt("energy", curve.energy[0, -1])
    text = f"That takes {duration_text(answer.time)} from {fmt('voltage', answer.start_voltage)}"
    falls = curve.current.min() < 0.98 * curve.current.max()
    current = f"{'up to ' if falls else ''}{fmt('current', curve.current.max(), 1)}"
    return f"{text} at {current}: {amp_hours} or {energy} into the pack."


def _limits(page: Page, answer: ChargeToAnswer) -> str:
    fmt, parts = page.fmt, []
    if answer.current_limit != CHARGER:
        most = fmt.at_most("current", answer.current, 1)
        full = fmt("temperature", chemistry(page.build.pack.chemistry).charge_temperature_full)
        cold = (
            f"may be below {full}, and that cold they take only 0.2C, a fifth of the current that fills "
            "them in an hour"
        )
        why = cold if answer.current_limit == COLD_CURRENT else "take no more"
        parts.append(f"Set the charger to {most} at most: the cells {why}.")
    if answer.voltage_lowered:
        held = fmt.at_most("voltage", answer.charger_voltage)
        parts.append(
            f"Set its end voltage no higher than {held}: above that, the fullest cell could go over its limit."
        )
    if answer.status == ENDS_FIRST and asked_of(page).reason != NO_REGEN:
        parts.append(f"It stops there, short of {fmt('voltage', answer.wanted_voltage)} at rest.")
    return " ".join(parts)


def check(page: Page, answer: ChargeToAnswer) -> str:
    """How to check it once it has settled, and how much worse than entered things may be."""
    if not charges(answer):
        return ""
    fmt, most = page.fmt, asked_of(page).at_most
    soon = fmt("voltage", float(answer.curve.settling(60.0)[0]))
    wanted = (fmt.at_most if most else fmt.at_least)("voltage", answer.wanted_voltage)
    if answer.status == ENDS_FIRST:
        return f"A minute after unplugging it still reads {soon}."
    then = f"if it is above {wanted}, use some up" if most else f"if it is below {wanted}, charge some more"
    text = f"A minute after unplugging it still reads {soon}. Read it again after half an hour: {then}."
    half = {item.path: item for item in tolerances(page.inputs)}
    away = fmt("temperature difference", half["conditions.pack_temperature"].half_width)
    if page.build.pack.resistance is None:
        resistance = f"the {'lowest' if most else 'highest'} usual resistance"
    else:
        spread = fmt("share", half["pack.resistance"].half_width)
        resistance = f"{spread} {'less' if most else 'more'} resistance"
    side = "warmer" if most else "colder"
    return f"{text} The reading to stop at allows for {resistance} and a pack {away} {side}."


def derivation(page: Page, answer: ChargeToAnswer) -> list[Step]:
    """Ampere-hours, time, and the reading at which to stop."""
    curve, pack = answer.curve, page.build.pack
    start, end = float(curve.charge[0, 0]), float(curve.charge[0, -1])
    amp_hours = (end - start) * pack.capacity_ah
    mean = amp_hours / max(answer.time / 3600.0, 1e-9)
    rest, rise = answer.rest_voltage, answer.stop_voltage - answer.rest_voltage
    current = max(answer.stop_current, 1e-9)
    return [
        Step(
            "Amp-hours to put in",
            r"Q = (c_1 - c_0)\,C",
            f"({put(end)} − {put(start)}) × {put(pack.capacity_ah)}",
            amp_hours,
            "Ah",
            "c₀, c₁ charge before and after; C capacity, Ah",
            CHARGE_COUNT,
        ),
        Step(
            "Time on the charger",
            r"t = 60\,\frac{Q}{I_m}",
            f"60 × {put(amp_hours)} / {put(mean)}",
            answer.time / 60.0,
            "min",
            "I_m average current, A: constant, or what the outlet allows, then falling at the charger's end "
            "voltage",
            CHARGE_COUNT,
        ),
        Step(
            "Reading to stop at",
            r"U = U_0(c_1) + I\,R",
            f"{put(rest, 5)} + {put(current)} × {put(1000.0 * rise / current)} / 1000",
            answer.stop_voltage,
            "V",
            "U₀ rest voltage, V; I current at that point, A; R the pack's resistance after charging that long, "
            f"mΩ, at the {'least' if asked_of(page).at_most else 'most'} it plausibly may be: conduction, "
            "charge transfer and what has built up on the resistor-capacitor pairs. Left out: warming of the "
            "cells, what settles over an hour and more, the few millivolts by which rest voltage moves with "
            "temperature, and the voltmeter's error",
            f"{OHM}. {REST_VOLTAGE[pack.chemistry]}",
            digits=4,
        ),
    ]


def alt(page: Page, answer: ChargeToAnswer) -> str:
    """What the chart shows."""
    return f"Voltage on the charger and at rest, and current, against time. {answer.message}"


def table(page: Page, answer: ChargeToAnswer) -> pd.DataFrame:
    """The charge in twelve steps."""
    fmt, curve = page.fmt, answer.curve
    capacity = 3600.0 * page.build.pack.capacity_ah
    rows = np.unique(np.linspace(0, curve.time.shape[1] - 1, 13).astype(int))
    return pd.DataFrame(
        [
            {
                "time": duration_text(curve.time[0, row]),
                "charge": fmt("charge", curve.charge[0, row]),
                "put in": fmt("capacity", (curve.charge[0, row] - curve.charge[0, 0]) * capacity),
                "current": fmt("current", curve.current[0, row], 1),
                "reads": fmt("voltage", curve.voltage[0, row]),
                "rests at": fmt("voltage", curve.rest_voltage[0, row]),
            }
            for row in rows
        ]
    )


def on_the_sheet(page: Page, answer: ChargeToAnswer) -> str:
    """The answer in a few words."""
    if answer.status in (TOO_COLD, TOO_HOT):
        return f"not at {page.fmt('temperature', plan_of(page).temperature)}"
    if answer.status == THERE_ALREADY:
        return f"nothing: rests at {page.fmt('voltage', answer.start_voltage)}"
    if page.build.pack.chemistry in FLAT:
        added = page.fmt("capacity", 3600.0 * answer.charge_added * page.build.pack.capacity_ah)
        return f"{added} put in ({page.fmt('charge', answer.curve.charge[0, -1])} charge)"
    amps = INPUTS["charger_current"].text(round(answer.current, 1))
    return (
        f"{stop_text(page, answer)} on the charger at {amps}, rests at {page.fmt('voltage', answer.rest_voltage)}"
    )
