"""The way home in words: verdict, how far it holds, its derivation, the numbers, the caution."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import CHARGE_COUNT, FORCE_BALANCE
from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.page.tolerances import with_case
from explorer.questions.way_home.results import distance_of, rest_voltage_now
from physics.scenarios.repeated_pulls import RepeatedPulls
from physics.studies.day.way_home import PEAK, PULLING_AWAY, STOP_EVERY, WayHome

PULLS = "What is left after each pull"
CAUTION = (
    "A cut-out takes the drive away at once, in traffic too. Ride gently, and push it the rest of the way "
    "rather than reset the BMS. Local law says where the bike may be ridden at all."
)


def speed_of(page: Page) -> float:
    """The speed on the way home, m/s."""
    return INPUTS["home_speed"].si(page.inputs["home_speed"])


def verdict(page: Page, home: WayHome) -> str:
    """The voltage to turn back at, where today's pack stands, and how far it goes."""
    fmt = page.fmt
    way, speed = fmt("road distance", distance_of(page)), fmt.entered("speed", speed_of(page))
    if not home.reachable:
        if home.ranges[-1] <= 0:
            text = f"**{speed} is too fast for the way home today:** even a full pack could cut out"
            if home.ranges_entered[-1] <= 0:
                return f"{text}."
            return f"{text} if things are worse than entered, within what you know."
        most = fmt.at_most("road distance", home.ranges[-1])
        return f"**{way} home is too far at {speed}:** a full pack is good for {most}."
    back = fmt.at_least("voltage", home.rest_voltage)
    charge = fmt.at_least("charge", home.charge)
    text = f"**Turn back at {back} at rest** ({charge} charge): from there you get the {way} home at {speed}."
    now = f"Today's {fmt('voltage', rest_voltage_now(page))}"
    if page.build.conditions.charge < home.charge:
        return f"{text} {now} is not enough: it gets you {fmt.at_most('road distance', home.range_now)}."
    goes = fmt.at_most("road distance", home.range_now)
    entered = fmt("road distance", home.range_entered)
    return f"{text} {now} gets you {goes} at worst, {entered} as entered; {_taken(page, home)}."


def _taken(page: Page, home: WayHome) -> str:
    """The mean power, and what it takes over the distance."""
    per = page.fmt("energy per distance", home.energy_per_metre)
    return f"the ride takes {page.fmt('power', home.power)} or {per}"


def holds_when(page: Page, home: WayHome) -> str:
    """Which worse case decides, and what is kept in reserve."""
    if not home.reachable:
        return ""
    case = with_case(home.case, page.fmt) or "with everything as entered"
    keep = page.fmt("voltage", home.reserve_voltage)
    return (
        f"This holds {case}. Below {keep} at rest the weakest cell can no longer give twice that power for ten "
        "seconds, so that much is kept in reserve."
    )


def derivation(page: Page, home: WayHome) -> list[Step]:
    """What the way takes, and how far today's charge goes."""
    if not (home.energy_per_metre > 0 and math.isfinite(home.current)):
        return []
    pack, speed = page.build.pack, speed_of(page)
    rest = rest_voltage_now(page)
    left = "Left out: warming of the pack on the way, bends, and wasted power"
    steps = [
        Step(
            "Energy for the way home",
            r"e = e_v + s\,\frac{m_e v^2}{2\,\eta\,d}",
            f"{put(_steady(page, home))} + {put(_share(page))} × {put(_mass(page))} × {put(speed)}² / "
            f"(2 × {put(PULLING_AWAY)} × {put(STOP_EVERY)})",
            home.energy_per_metre,
            "J/m",
            "e_v energy from the cells at the steady speed, where drive and road load balance, J/m; s "
            "stop-and-go share; mₑ mass with wheels and rotor, kg; v speed, m/s; η of pulling away, d from stop "
            "to stop, m: common practice, no source",
            FORCE_BALANCE,
        ),
        Step(
            "Average current",
            r"I = \frac{e\,v}{U_0}",
            f"{put(home.energy_per_metre)} × {put(speed)} / {put(rest)}",
            home.current,
            "A",
            "U₀ rest voltage today, V",
            CHARGE_COUNT,
        ),
    ]
    if home.range_entered > 0 and home.reachable:
        mean = (page.build.conditions.charge - _entered_reserve(home)) * pack.capacity_ah * 3600.0 * speed
        mean /= home.range_entered
        steps.append(
            Step(
                "How far today's charge goes, as entered",
                r"x = \frac{3600\,(c - c_r)\,C\,v}{I_m}",
                f"3600 × ({put(page.build.conditions.charge)} − {put(_entered_reserve(home))}) × "
                f"{put(pack.capacity_ah)} × {put(speed)} / {put(mean)}",
                home.range_entered,
                "m",
                "C capacity, Ah; I_m average current on the way down, A; c_r charge at which the weakest cell "
                f"can just give {PEAK:g} times the power for ten seconds with all its resistance built up. "
                f"{left}",
                CHARGE_COUNT,
            )
        )
    return steps


def _share(page: Page) -> float:
    return INPUTS["home_stops"].si(page.inputs["home_stops"])


def _mass(page: Page) -> float:
    return float(page.batch.stance().equivalent_mass[0])


def _steady(page: Page, home: WayHome) -> float:
    stops = _share(page) * _mass(page) * speed_of(page) ** 2 / (2 * PULLING_AWAY * STOP_EVERY)
    return home.energy_per_metre - stops


def _entered_reserve(home: WayHome) -> float:
    """The lowest charge that bears the way, as entered."""
    some = np.flatnonzero(home.ranges_entered > 0)
    return float(home.charges[max(some[0] - 1, 0)]) if some.size else 1.0


def alt(page: Page, home: WayHome) -> str:
    """What the chart shows."""
    return f"Range on the way home against rest voltage. {verdict(page, home)}"


def table(page: Page, home: WayHome) -> pd.DataFrame:
    """Range from every tenth of charge."""
    fmt = page.fmt
    return pd.DataFrame(
        [
            {
                "rest, V": f"{home.rest_voltages[row]:.1f}",
                "charge": fmt("charge", home.charges[row]),
                "range at worst": fmt.at_most("road distance", home.ranges[row]),
                "range as entered": fmt("road distance", home.ranges_entered[row]),
            }
            for row in range(home.charges.size - 1, -1, -5)
        ]
    )


def pulls_table(page: Page, home: WayHome, pulls: RepeatedPulls) -> pd.DataFrame:
    """After each pull: rest voltage, range, and whether the way home is still safe."""
    fmt = page.fmt
    count = int(pulls.pulls[0])
    charges = [*pulls.charge[0, 1:count], pulls.charge_left[0]] if count else []
    rows = []
    for number, charge in enumerate(charges, start=1):
        reach = float(np.interp(charge, home.charges, home.ranges))
        rows.append(
            {
                "after pull": number,
                "rest, V": f"{np.interp(charge, home.charges, home.rest_voltages):.1f}",
                "charge": fmt("charge", charge),
                "range at worst": fmt.at_most("road distance", reach),
                "home": "safe" if charge >= home.charge else "not safe",
            }
        )
    return pd.DataFrame(rows, columns=["after pull", "rest, V", "charge", "range at worst", "home"])


def on_the_sheet(page: Page, home: WayHome) -> str:
    """The answer in a few words."""
    way = f"{page.fmt('road distance', distance_of(page))} at {page.fmt.entered('speed', speed_of(page))}"
    if not home.reachable:
        return f"out of reach: {way}"
    return f"{page.fmt.at_least('voltage', home.rest_voltage)} for {way}"
