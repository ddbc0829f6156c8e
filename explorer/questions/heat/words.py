"""Heat in words: the verdicts, held and pull by pull, the derivation, how to read the charts, the numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Instant, Step, put
from explorer.derivations.sources import COPPER, MACHINE, PRACTICE
from explorer.format import UnitFormatter
from explorer.page.page import Page
from physics.limits import RULES
from physics.scenarios.repeated_pulls import CUT_OUT_STOPS, RepeatedPulls
from physics.simulation.thermal import HEATED_PARTS
from physics.studies.full_power import CUT_OUT_FIRST, EMPTY_FIRST, HEAT_LIMITS, FullPower, thresholds

WORKING = "Running the pulls one after another ..."
NOTE_HELD = (
    "Worked out as if the BMS never cut out, so you see the heat even where it would. Heating and cooling rates "
    "are typical, not measured; airflow may cool parts twice as fast."
)
NOTE_PULLS = "Each pull is flat out from a standstill; in between the throttle is shut and everything cools."
SOON = 0.05
"""Seconds within which what ends full power was there from the start."""
_NAMES = {"pack": "pack", "winding": "motor's winding", "case": "motor's case", "controller": "controller"}


def held_verdict(page: Page, held: FullPower) -> str:
    """How long full power lasts, and what ends it."""
    fmt = page.fmt
    status, part = held.status, HEATED_PARTS[held.first_part]
    at = fmt("temperature", held.thresholds[held.first_part])
    if status == HEAT_LIMITS and held.time < SOON:
        does = "the pack may not discharge" if part == "pack" else "the controller already cuts power"
        return f"**No full power today:** the {_NAMES[part]} starts at or above its limit of {at}, so {does}."
    if status == HEAT_LIMITS:
        does = "cuts out" if part == "pack" else "cuts power"
        text = f"**Full power lasts {long(held.time)}:** then the {_NAMES[part]} reaches {at} and {does}."
        second = int(np.argsort(held.times, kind="stable")[1])
        if np.isfinite(held.times[second]):
            text += f" Next is the {_NAMES[HEATED_PARTS[second]]}, after {long(held.times[second])}."
        return text
    if status == CUT_OUT_FIRST:
        start = (
            f"**Heat is not the limit: the {RULES[held.cut_out_rule]} rule trips after "
            f"{long(held.cut_out_time)}.** "
        )
    elif status == EMPTY_FIRST and held.empty_time < SOON:
        start = "**Heat is not the limit: the pack is already empty.** "
    elif status == EMPTY_FIRST:
        start = f"**Heat is not the limit: the pack is empty after {long(held.empty_time)}.** "
    else:
        start = f"**Full power lasts at least {long(held.instants[-1])}.** "
    hottest = fmt("temperature", held.highest[held.first_part])
    if held.fraction[held.first_part] >= 1:
        return f"{start}Past that, the {_NAMES[part]} would reach {at} after {long(held.time)}."
    does = "it cuts out" if part == "pack" else "the controller cuts power"
    return f"{start}The {_NAMES[part]} comes closest to its limit: {hottest}; at {at} {does}."


def pulls_verdict(page: Page, pulls: RepeatedPulls) -> str:
    """How warm the parts are after the last pull, and whether they still climb."""
    fmt, count = page.fmt, int(pulls.pulls[0])
    if int(pulls.status[0]) == CUT_OUT_STOPS:
        rule = RULES[int(pulls.used[0, min(count, pulls.used.shape[1] - 1)].argmax())]
        start = f"**Pull {count + 1} ends in a cut-out on the {rule} rule.** "
    else:
        start = f"**All {count} pulls are fine.** "
    after, limits = pulls.temperatures_after[0], thresholds(page.build)[:, 0]
    last = max(count - 1, 0)
    first = pulls.temperatures_before[0, 0]
    fraction = (after[last] - first) / np.maximum(limits - first, 1.0)
    nearest = int(np.argmax(fraction))
    text = f"{start}After the last, the {_NAMES[HEATED_PARTS[nearest]]} is closest to its limit: "
    text += f"{fmt('temperature', after[last, nearest])} of {fmt('temperature', limits[nearest])}."
    folded = [row for row in (1, 3) if after[last, row] >= limits[row]]
    if folded:
        text += f" Heat in the {' and the '.join(_NAMES[HEATED_PARTS[row]] for row in folded)} already cuts power."
    if last > 0:
        climb = after[last, nearest] - after[last - 1, nearest]
        still = f"still rises by {fmt('temperature difference', climb, 1)} a pull"
        text += f" It {still}." if climb > 0.5 else " It has stopped rising: cooling keeps up."
    return text


def derivation(page: Page) -> list[Step]:
    """Where heat arises in the run, at its highest phase current."""
    build, runs = page.build, page.run
    index = int(np.argmax(runs.phase_current[0]))
    now, m, c = Instant(build, runs, 0, index), build.motor, build.controller
    celsius, amps = now.winding_temperature - 273.15, now.phase_current
    copper = 1.5 * now.winding_resistance * amps**2
    lost = c.fixed_loss + c.loss_per_ampere * amps + c.loss_resistance * amps**2
    return [
        Step(
            "Resistance of the warm winding",
            r"R = R_{20}\,\frac{235 + T}{235 + 20}",
            f"{put(1000 * m.phase_resistance)} × (235 + {put(celsius)}) / (235 + 20)",
            1000 * now.winding_resistance,
            "mΩ",
            "R₂₀ phase resistance at 20 °C, mΩ; T winding temperature, °C",
            COPPER,
        ),
        Step(
            "Heat in the winding at the highest phase current",
            r"P_w = \tfrac{3}{2}\,R\,i^2",
            f"1.5 × {put(1000 * now.winding_resistance)} / 1000 × {put(amps, 5)}²",
            copper,
            "W",
            f"i peak phase current, A, {now.time:.1f} s into the run",
            MACHINE,
            "power",
        ),
        Step(
            "Heat in the controller then",
            r"P_c = P_0 + a\,i + R_c\,i^2",
            f"{put(c.fixed_loss)} + {put(c.loss_per_ampere)} × {put(amps, 5)} + {put(c.loss_resistance)} × "
            f"{put(amps, 5)}²",
            lost,
            "W",
            "P₀ loss with no current, W; a part with current, W/A; R_c part with current squared, ohm",
            PRACTICE,
            "power",
        ),
        Step(
            "How fast that heats the winding at first",
            r"\frac{dT}{dt} = \frac{P_w}{C_w}",
            f"{put(copper, 5)} / {put(m.winding_heat_capacity)}",
            copper / m.winding_heat_capacity,
            "K/s",
            "C_w heat capacity of the winding, J/K. The hotter it is than the case, the more heat flows away",
            PRACTICE,
            digits=2,
        ),
    ]


def alt(verdict: str) -> str:
    """What the chart shows."""
    return f"Temperature of pack, winding, case and controller. {verdict.replace('*', '')}"


def held_table(page: Page, held: FullPower) -> pd.DataFrame:
    """Start, highest, threshold and time to it, part by part."""
    fmt = page.fmt
    return pd.DataFrame(
        [
            {
                "part": _NAMES[part],
                "starts at": fmt("temperature", held.temperatures[row, 0]),
                "highest": fmt("temperature", held.highest[row]),
                "threshold": _limit(fmt, held.thresholds[row]),
                "reaches it after": long(held.times[row]) if np.isfinite(held.times[row]) else "does not",
            }
            for row, part in enumerate(HEATED_PARTS)
        ]
    )


def pulls_table(page: Page, pulls: RepeatedPulls) -> pd.DataFrame:
    """Temperatures before and after every pull."""
    fmt = page.fmt
    rows = []
    for index in range(pulls.charge.shape[1]):
        row = {"pull": index + 1, "charge": fmt("charge", pulls.charge[0, index])}
        for part, name in enumerate(HEATED_PARTS):
            before = fmt.digits("temperature", pulls.temperatures_before[0, index, part])
            row[_NAMES[name]] = f"{before} to {fmt('temperature', pulls.temperatures_after[0, index, part])}"
        row["top speed"] = fmt("speed", pulls.top_speed[0, index])
        rows.append(row)
    return pd.DataFrame(rows)


def _limit(fmt: UnitFormatter, value: float) -> str:
    return fmt("temperature", value) if np.isfinite(value) else "none of its own"


def long(seconds: float) -> str:
    """A time in seconds, or in minutes where it is long.

    Examples
    --------
    >>> long(0.4), long(75.0), long(372.0)
    ('0.4 s', '75 s', '6.2 min')
    """
    if seconds < 9.95:
        return f"{seconds:.1f} s"
    if seconds < 120:
        return f"{seconds:.0f} s"
    minutes = f"{seconds / 60:.1f}".removesuffix(".0")
    return f"{minutes} min"
