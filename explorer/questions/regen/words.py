"""Regen in words: what may be set now, what one stop does, its derivation, the numbers, the caution."""

from __future__ import annotations

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import CHARGE_COUNT, FORCE_BALANCE, OHM
from explorer.page.page import Page
from explorer.page.regen import FLAT, off_below, stop_speed
from physics.scenarios.regen_braking import HOLDS, LOSSES
from physics.studies.day.regen import LAMP_MAY, LAMP_MUST, RegenAnswer

SET = "What to set at each voltage"
LAMP = (
    f"For cars, UN Regulation No. 13-H allows regen to switch on the brake light above {LAMP_MAY} m/s² and "
    f"requires it above {LAMP_MUST} m/s² (from memory); for your bike, check local law."
)
CAUTION = (
    "Regen is charging: keep to the cell maker's currents and temperatures, and never loosen a protection limit "
    "for it. It acts on the rear wheel alone and can lock it on a wet or loose road or in a bend; with a full "
    "or cold pack, or after a cut-out, it is gone at once. The brakes alone must always be able to stop the "
    "bike. Whether regen must switch on the brake light is for local law to say."
)


def verdict(page: Page, answer: RegenAnswer) -> str:
    """What may be set now, and from what voltage down there is more."""
    fmt, control = page.fmt, page.build.controller
    if answer.too_cold or answer.too_hot:
        why = "cold" if answer.too_cold else "hot"
        return f"**No regen today:** the pack may be too {why} to charge."
    now = f"At today's {fmt('charge', page.build.conditions.charge)} charge,"
    most = float(answer.current.max())
    if answer.current_now <= 0:
        text = f"**{now} set no regen (0 A).**"
    else:
        text = f"**{now} set {_amps(page, answer.current_now)} of regen at most.**"
    if most <= 0:
        return f"{text} No voltage allows any, as planned."
    rows = np.flatnonzero(answer.current > answer.current_now)
    if rows.size:
        rows = np.sort(rows[np.unique(answer.current[rows], return_index=True)[1]])  # from where each is allowed
        some = np.unique(np.linspace(0, rows.size - 1, min(3, rows.size)).astype(int))
        listed = [f"{_amps(page, answer.current[row])} at {_where(page, answer, row)}" for row in rows[some]]
        text += f" At a lower rest voltage you can set more: {', '.join(listed)}."
    if control.regen_current > most:
        text += f" The cells take {_amps(page, most)} at most today; {_amps(page, control.regen_current)} is set."
    return text


def _where(page: Page, answer: RegenAnswer, row: int) -> str:
    """A rest voltage of the table; in charge where volts hardly tell it."""
    if page.build.pack.chemistry in FLAT:
        return f"{page.fmt.at_most('charge', answer.charge[row])} charge"
    return page.fmt("voltage", answer.rest_voltage[row], 0)


def _amps(page: Page, current: float) -> str:
    return page.fmt.at_most("current", current, 0 if current >= 10 and current == round(current) else 1)


def stop(page: Page, answer: RegenAnswer) -> str:
    """What one stop by regen does, and what is left to the brakes."""
    fmt, slowed = page.fmt, answer.stop
    speed = fmt("speed", stop_speed(page))
    if answer.set_current <= 0:
        return (
            f"Without regen the brakes do all the work in a stop from {speed}, with a little help from drag "
            "and tyres."
        )
    if not slowed.slows[0]:
        return f"From {speed}, {_amps(page, answer.set_current)} of regen does not slow the bike on this slope."
    end = fmt("speed", max(off_below(page), 0.0))
    text = (
        f"From {speed} down to {end}, {_amps(page, answer.set_current)} of regen slows the bike at "
        f"{fmt('acceleration', slowed.deceleration[0].min(), 1)} to "
        f"{fmt('acceleration', slowed.deceleration[0].max(), 1)}, in {fmt('distance', slowed.distance[0, -1])} "
        f"and {fmt('time', slowed.time[0, -1])}, and puts back {fmt('energy', slowed.energy['cells'][0], 1)}, "
        f"{fmt('share', slowed.returned_share[0])} of the kinetic energy; the fullest cell rises to "
        f"{fmt('cell voltage', slowed.peak_cell_voltage[0])}"
    )
    if answer.stop_charge < page.build.conditions.charge - 1e-9:
        text += f", from {fmt('charge', answer.stop_charge)} charge, where that current is allowed"
    share = fmt("share", answer.brakes_share)
    return (
        f"{text}. In a hard stop at {fmt('acceleration', answer.hard, 1)} the brakes must do {share} of the work."
    )


def derivation(page: Page, answer: RegenAnswer) -> list[Step]:
    """Where the energy of motion goes, and what comes back."""
    slowed = answer.stop
    if answer.set_current <= 0 or not slowed.slows[0]:
        return []
    start, end = float(slowed.speed[0, 0]), float(slowed.speed[0, -1])
    mass = float(page.batch.stance().equivalent_mass[0])
    kinetic = float(slowed.kinetic[0])
    lost = {name: float(slowed.energy[name][0]) for name in LOSSES if name != "cells"}
    road = sum(lost.pop(name) for name in ("drag", "rolling", "slope"))
    return [
        Step(
            "Kinetic energy given up",
            r"W = \tfrac{1}{2}\,m_e\,(v_0^2 - v_1^2)",
            f"0.5 × {put(mass, 6)} × ({put(start, 6)}² − {put(end, 6)}²)",
            kinetic,
            "J",
            "mₑ mass with wheels and rotor, kg; v₀, v₁ speed at the start and where regen ends, m/s",
            FORCE_BALANCE,
            "energy",
        ),
        Step(
            "What the cells take in",
            r"W_c = W - W_{road} - W_{drive} - W_{pack}",
            f"{put(kinetic, 6)} − {put(road, 6)} − {put(sum(lost.values()) - lost['pack'], 6)} − "
            f"{put(lost['pack'], 6)}",
            float(slowed.energy["cells"][0]),
            "J",
            "W_road goes to drag, tyres and slope, W_drive to chain, iron, winding and controller, W_pack to "
            "the pack's resistance, J. Left out: saturation, field weakening, tyre slip, warming, and a "
            "controller that cuts regen by itself at high voltage",
            f"{FORCE_BALANCE}; {OHM}",
            "energy",
        ),
        Step(
            "Share put back",
            r"\eta = \frac{W_c}{W}",
            f"{put(float(slowed.energy['cells'][0]), 6)} / {put(kinetic, 6)}",
            float(slowed.returned_share[0]),
            "",
            "W kinetic energy given up, W_c what the cells take in, J",
            CHARGE_COUNT,
        ),
    ]


def alt(page: Page, answer: RegenAnswer) -> str:
    """What the chart shows."""
    return f"Deceleration under regen and current into the pack, against speed. {verdict(page, answer)}"


def table(page: Page, answer: RegenAnswer) -> pd.DataFrame:
    """The most regen at each rest voltage."""
    return pd.DataFrame(
        [
            {
                "rest, V": f"{answer.rest_voltage[row]:.0f}",
                "charge": page.fmt("charge", answer.charge[row]),
                "max. regen": _amps(page, answer.current[row]) if answer.current[row] > 0 else "none",
            }
            for row in range(answer.current.size)
        ]
    )


def stop_table(page: Page, answer: RegenAnswer) -> pd.DataFrame:
    """The stop at a dozen speeds."""
    fmt, slowed = page.fmt, answer.stop
    rows = np.unique(np.linspace(0, slowed.speed.shape[1] - 1, 12).astype(int))
    return pd.DataFrame(
        [
            {
                "speed": fmt("speed", slowed.speed[0, row]),
                "deceleration": fmt("acceleration", slowed.deceleration[0, row]),
                "line": fmt("current", slowed.line_current[0, row]),
                "phase, peak": fmt("current", slowed.phase_current[0, row]),
                "fullest cell": fmt("cell voltage", slowed.cell_voltage[0, row]),
                "held by": HOLDS[slowed.holds[0, row]],
            }
            for row in rows
        ]
    )


def on_the_sheet(page: Page, answer: RegenAnswer) -> str:
    """What may be set at some voltages, in a few words."""
    if answer.too_cold or answer.too_hot or not answer.current.any():
        return "none today"
    rows = np.flatnonzero(answer.current > 0)
    some = rows[np.unique(np.linspace(0, rows.size - 1, 4).astype(int))]
    first = [row for row in some if answer.current[row] < answer.current.max()][:2]
    unique = dict.fromkeys(
        int(np.flatnonzero(answer.current == answer.current[row])[0]) for row in [*first, some[-1]]
    )
    return ", ".join(f"{_amps(page, answer.current[row])} at {_where(page, answer, row)}" for row in unique)
