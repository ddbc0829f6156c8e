"""Charge headroom in words: verdict, the way there, what the plan is enough for, its derivation, the numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.pack import fullest_cell
from explorer.derivations.sources import CHARGING_WINDOW
from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.questions.headroom.results import cruise
from physics.studies.headroom import CELL_MAXIMUM, NOTHING, OVERVOLTAGE
from physics.studies.headroom_curves import HeadroomAnswer, needed, ride_off_distance

ALT_TEMPERATURE = "Volts below full that are needed, against pack temperature."
_LONGEST_RIDE = 6 * 3600.0
_DECIDES = {CELL_MAXIMUM: "cells' highest voltage", OVERVOLTAGE: "protection's over-voltage rule"}


def verdict(page: Page, answer: HeadroomAnswer) -> str:
    """The volts that are needed today, whether the plan is enough, and how to get there."""
    fmt, today, wanted = page.fmt, answer.today, page.headroom_wanted
    regen = fmt("current", page.build.controller.regen_current)
    at = f"{regen} of regen with the pack at {fmt('temperature', answer.pack_temperature)}"
    if today.status in (-1, -2):
        how, bound = ("from", answer.floor) if today.status == -1 else ("up to", answer.ceiling)
        now = fmt("temperature", answer.pack_temperature)
        only = f"{how} {fmt('temperature', bound)}"
        return f"**No regen today:** the pack is at {now}, and may be charged only {only}."
    if not page.build.controller.regen_current:
        return "**No regen is set (0 A).** Set the regen current under “Controller and motor” to see what it needs."
    if today.status == -3:
        return f"**No regen at {regen}:** it would lift even a nearly empty pack too high. Lower the current."
    below = float(today.volts_below_full)
    if today.binding == NOTHING:
        text = f"**0 V below full: with {at}, regen may start from a full pack.**"
    else:
        text = (
            f"**Rest {fmt('voltage', below)} below full**, at "
            f"{fmt('voltage', today.highest_rest_voltage)} or less ({fmt('charge', today.highest_charge)} of "
            f"charge), before {at}: the {_DECIDES[str(today.binding)]} decides."
        )
    if wanted < below:
        text += f" The {fmt('voltage', wanted)} you plan are too few by {fmt('voltage', below - wanted)}."
    else:
        spare = fmt("voltage", wanted - below)
        text += f" The {fmt('voltage', wanted)} you plan are enough, with {spare} to spare."
    text += " " + way_there(page, answer)
    if today.status == 3:
        text += " **So cold, the cells take only a reduced charging current:** see the cell maker's figure."
    return text


def way_there(page: Page, answer: HeadroomAnswer) -> str:
    """How far the pack is from that now, and what rides it off."""
    fmt = page.fmt
    now = f"Today the pack rests at {fmt('voltage', answer.rest_voltage_now)}"
    energy = float(answer.today.energy_to_ride_off)
    if energy <= 0:
        return f"{now}: low enough."
    if now.endswith(f" {fmt('voltage', answer.today.highest_rest_voltage)}"):
        return f"{now}: ride off a last {fmt('energy', energy, 1)} first."
    asked = INPUTS["ride_off_speed"].si(page.inputs["ride_off_speed"])
    per_metre, steady = cruise(page, asked)
    distance, time = ride_off_distance(answer, per_metre, steady)
    text = f"{now}: ride off {fmt('energy', energy)} first"
    if time > _LONGEST_RIDE or not np.isfinite(distance):
        return f"{text}. On this slope and in this wind, riding takes hardly anything from the pack."
    return f"{text}, which is {fmt('road distance', distance)} at {fmt('speed', steady)}, or {_minutes(time)}."


def rule_of_thumb(page: Page, answer: HeadroomAnswer) -> str:
    """Where the planned number of volts is enough, and where it is not."""
    fmt, wanted = page.fmt, page.headroom_wanted
    warm = answer.temperature[np.nan_to_num(answer.volts_by_temperature, nan=np.inf) <= wanted]
    regen = fmt("current", page.build.controller.regen_current)
    if answer.today.status in (-1, -2):
        if not warm.size:
            return f"No temperature drawn lets {regen} in with the {fmt('voltage', wanted)} you plan."
        between = f"{fmt('temperature', warm[0])} to {fmt('temperature', warm[-1])}"
        return f"The {fmt('voltage', wanted)} you plan are enough for {regen} with a pack of {between}."
    enough = answer.volts_by_current <= wanted
    if enough.all():
        most = f"any regen current up to {fmt('current', answer.current[-1])}"
    elif enough.any():
        most = f"up to {fmt('current', answer.current[enough][-1])} of regen"
    else:
        most = "no regen current at all"
    if not page.build.controller.regen_current:
        return ""
    text = f"The {fmt('voltage', wanted)} you plan are enough for {most} at today's pack temperature"
    if warm.size:
        text += f", and for {regen} from {fmt('temperature', warm[0])} up."
    else:
        text += f", and for {regen} at none of the temperatures drawn."
    return text


def derivation(page: Page, answer: HeadroomAnswer) -> list[Step]:
    """The fullest cell at the end of one event from the highest charge that is allowed, or why none is."""
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
                f"the {'lowest' if status == -1 else 'highest'} temperature at which the pack may be charged, and "
                "the pack's own, °C",
                CHARGING_WINDOW,
            )
        ]
    event = float(page.inputs["event_duration"])
    return fullest_cell(page.build, float(answer.today.highest_charge), answer.pack_temperature, event)


def alt_current(answer: HeadroomAnswer) -> str:
    """What the chart against regen current shows."""
    return f"Volts below full that are needed, against regen current. {answer.today.message}"


def table(page: Page) -> pd.DataFrame:
    """Volts below full for some temperatures and currents."""
    currents = np.array([10.0, 20.0, 40.0, 60.0, 80.0, 120.0])
    celsius = np.array([-10.0, 0.0, 5.0, 10.0, 20.0, 30.0, 40.0])
    kelvin = celsius + 273.15
    answer = needed(page.build, currents[None, :], kelvin[:, None], float(page.inputs["event_duration"]))
    rows = []
    for index, temperature in enumerate(kelvin):
        row = {f"pack, {page.fmt.unit('temperature')}": page.fmt.digits("temperature", temperature)}
        for column, current in enumerate(currents):
            allowed = answer.status[index, column] > 0
            row[page.fmt("current", current)] = (
                f"{answer.volts_below_full[index, column]:.1f} V" if allowed else "no regen"
            )
        rows.append(row)
    return pd.DataFrame(rows)


def _minutes(time: float) -> str:
    return f"{time / 60:.0f} min" if time >= 90 else f"{time:.0f} s"
