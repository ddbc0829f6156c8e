"""The warm-up in words: the verdict, how sure the minutes are, its derivation, the numbers, the caution."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import CHARGE_COUNT, HEAT_BALANCE
from explorer.format import UnitFormatter
from explorer.questions.warm_up.results import Found
from physics.arrays import Floats
from physics.build.batch import Batch
from physics.components.pack import rest_voltage
from physics.limits import PACK_TEMPERATURE, RULES
from physics.simulation.plant import PackModel
from physics.studies.day.outcomes import COSTS, PAYS, Outcomes
from physics.studies.day.warm_up import (
    CUTS_OUT,
    EMPTY_FIRST,
    GETS_THERE,
    INDOORS,
    LOSSES,
    MOST_PULLS,
    MOST_TIME,
    NOT_DRAWN,
    PULLS,
    STEADY,
    TARGET,
    TOO_LONG,
    USUAL,
    WARM_ALREADY,
    WarmUp,
    Way,
)

WORKING = "Warming the pack up"
CURRENTS = "Steady riding at other currents"
NOTE = (
    "Below: how fast the run gets if it starts then, with the charge that is left, and motor and controller as "
    "warm as the warm-up leaves them."
)
CAUTION = (
    "Warm up on closed ground, within the temperatures that the makers of cells and pack allow, and go by the "
    "pack's own thermometer rather than by the minute. Keep a pack warm only as its maker says: indoors, slowly "
    "and evenly, never with a flame or heat gun, and never on a heater unattended. Smell, smoke or a swollen pack: "
    "stop, get away, and leave it to trained people."
)
STARTS = ("as it is", "after steady riding", "after gentle pulls", "kept warm beforehand")


def rides(found: Found) -> bool:
    """Whether there is anything to warm up, and a way of riding that warms at all."""
    warm = found.warm
    curves = [way.curve for way in warm.ways]
    some = any(curve is not None and np.isfinite(curve.temperature[0]).sum() > 1 for curve in curves)
    return warm.ways[STEADY].status != WARM_ALREADY and some


def verdict(fmt: UnitFormatter, found: Found) -> str:
    """Whether it pays, and what keeping the pack warm beforehand would do."""
    warm, now, wanted = found.warm, fmt("temperature", found.warm.now), fmt("temperature", found.warm.temperature)
    if warm.ways[STEADY].status == WARM_ALREADY:
        than = (
            "as warm as makers' ratings assume"
            if warm.reason == USUAL
            else (f"no colder than the {wanted} you want")
        )
        return f"**No warm-up needed: the pack is at {now}**, {than}."
    best = warm.best
    if best is None:
        return f"**Riding does not warm the pack to {wanted} today.** {_indoors(fmt, found)}".strip()
    told = f"with the pack at {wanted} and {fmt('charge', warm.outcomes.charge[1 + best])} charge it"
    told = f"{told} {_result(fmt, found, 1 + best)}; as it is, at {now}, it {_result(fmt, found, 0, 1 + best)}."
    lead = _lead(fmt, found, best)
    told = told if lead.endswith(":**") else told[0].upper() + told[1:]
    return f"{lead} {told} {_indoors(fmt, found)}".strip()


def _lead(fmt: UnitFormatter, found: Found, best: int) -> str:
    """The verdict in a few words: speed first, then the line limit that is safe."""
    pays = found.warm.outcomes.pays(1 + best)
    if pays == PAYS:
        return "**Riding the pack warm pays today:**"
    now, then = (min(float(found.limits[row]), _set(found)) for row in (0, 1 + best))
    if then > now:
        gains = "costs speed today, but gains" if pays == COSTS else "gains no speed today, but"
        before = fmt("current", now) if now > 0 else "none"
        return (
            f"**Riding the pack warm {gains} a higher line limit:** {fmt('current', then)} is safe from a cut-out "
            f"then, {before} now."
        )
    if pays == COSTS:
        return "**Riding the pack warm does not pay today:** it costs more than it gains."
    return "**Riding the pack warm changes next to nothing today.**"


def _set(found: Found) -> float:
    return float(found.build.controller.line_current_limit)


def _result(fmt: UnitFormatter, found: Found, row: int, other: int = 0) -> str:
    """What the run does from one start, with digits that tell it from another."""
    outcomes = found.warm.outcomes
    target, time = fmt.entered("speed", found.plan.target_speed), float(outcomes.time_to_target[row])
    if math.isfinite(time):
        return f"reaches {target} after {fmt('time', time)}"
    top = float(outcomes.top_speed[row])
    apart = found.plan.target_speed if math.isfinite(outcomes.time_to_target[other]) else outcomes.top_speed[other]
    return f"gets to {fmt('speed', top, 1)}" if abs(apart - top) < 3.0 else f"gets to {fmt('speed', top)}"


def effort(fmt: UnitFormatter, found: Found) -> str:
    """What each way takes, why so warm, and how far off that may be."""
    warm = found.warm
    if warm.ways[STEADY].status == WARM_ALREADY:
        return ""
    wanted = fmt("temperature", warm.temperature)
    parts = [
        {
            TARGET: f"{wanted} is about the coldest at which it could reach "
            f"{fmt.entered('speed', found.plan.target_speed)}.",
            USUAL: f"{wanted} is where makers rate their cells.",
        }.get(warm.reason, "")
    ]
    there = [row for row in (STEADY, PULLS) if warm.ways[row].status == GETS_THERE]
    if there:
        ways = ", or ".join(f"{_takes(fmt, found, row)} and {_cost(fmt, found, row)}" for row in there)
        parts.append(f"From {fmt('temperature', warm.now)} that takes {ways}.")
    parts += [_failure(fmt, found, row) for row in (STEADY, PULLS) if row not in there]
    return " ".join(part for part in (*parts, _doubt(found), _limit(fmt, found)) if part)


def _takes(fmt: UnitFormatter, found: Found, row: int) -> str:
    """How long one way is."""
    way = found.warm.ways[row]
    minutes = duration(float(way.time[0]))
    if row == STEADY:
        return f"{minutes} at {fmt('current', found.plan.current)} ({fmt('speed', way.speed)} on the level)"
    count = int(way.pulls[0])
    each = f"{'pull' if count == 1 else 'pulls'} up to {fmt('speed', way.speed)}"
    return f"{count} gentle {each} ({minutes})"


def duration(seconds: float) -> str:
    """Minutes, with half ones where they are few.

    Examples
    --------
    >>> duration(209.0), duration(930.0), duration(20.0)
    ('3.5 min', '16 min', '0.5 min')
    """
    minutes = seconds / 60.0
    if minutes >= 10:
        return f"{minutes:.0f} min"
    return f"{max(round(2 * minutes) / 2, 0.5):g} min"


def _cost(fmt: UnitFormatter, found: Found, row: int) -> str:
    """Charge that one way takes, Ah."""
    taken = found.build.conditions.charge - found.warm.ways[row].charge
    return fmt("capacity", 3600.0 * taken * found.build.pack.capacity_ah)


def _failure(fmt: UnitFormatter, found: Found, row: int) -> str:
    """Why one way does not get there."""
    way, rules = found.warm.ways[row], found.build.pack.protection
    current = fmt("current", found.plan.current)
    name = f"At a steady {current}" if row == STEADY else "In gentle pulls"
    warmest = f"{fmt('temperature', way.warmest)} at most"
    if way.status == NOT_DRAWN:
        most = fmt.at_most("current", found.warm.most_current)
        return f"No steady speed on the level draws {current}: {most} is the most."
    if way.status == CUTS_OUT and way.rule == PACK_TEMPERATURE:
        if found.warm.now < rules.discharge_temperature_minimum:
            bound = f"only from {fmt('temperature', rules.discharge_temperature_minimum)}"
        else:
            bound = f"only up to {fmt('temperature', rules.discharge_temperature_maximum)}"
        return f"{name} the BMS cuts out: it lets the pack discharge {bound}."
    return {
        CUTS_OUT: f"{name} the BMS would cut out first: the {RULES[way.rule]} rule.",
        EMPTY_FIRST: f"{name} the pack is empty first: it gets to {warmest}.",
        LOSSES: f"{name} the pack loses as much heat as it makes: it gets to {warmest}.",
        TOO_LONG: (
            f"{name} it takes more than {duration(MOST_TIME)}."
            if row == STEADY
            else f"It would take more than {MOST_PULLS} gentle pulls."
        ),
    }[way.status]


def _indoors(fmt: UnitFormatter, found: Found) -> str:
    """What keeping the pack warm beforehand does."""
    outcomes, row = found.warm.outcomes, 1 + INDOORS
    wanted, heat = fmt("temperature", found.warm.temperature), fmt("energy", found.warm.heat)
    allowed = found.build.pack.protection.discharge_temperature_maximum
    if found.warm.temperature > allowed:
        return f"Do not warm it so far by other means: the BMS cuts out above {fmt('temperature', allowed)}."
    start = f"Kept at {wanted} until the start ({heat} of heat, no charge), it"
    if outcomes.pays(row) != PAYS:
        return f"{start} would be no faster than as it is." if found.warm.best is None else ""
    text = f"**{start} {_result(fmt, found, row)}.**"
    return text if found.warm.best is not None else f"{text} As it is, it {_result(fmt, found, 0, row)}."


def _doubt(found: Found) -> str:
    """How far off the minutes may be."""
    best = found.warm.best
    if best is None:
        return ""
    time = found.warm.ways[best].time
    some = time[np.isfinite(time)]
    low, high = duration(float(some.min())), duration(float(some.max()))
    span = f"about {low}" if low == high else f"{low.removesuffix(' min')} to {high}"
    span = span if some.size == time.size else f"{low} or more, or never get there"
    name = "Steady riding" if best == STEADY else "In gentle pulls it"
    return (
        f"{name} may take {span}, as resistance and cooling are only roughly known: go by the pack's own "
        "thermometer, and stop there."
    )


def _limit(fmt: UnitFormatter, found: Found) -> str:
    """What the line limit does where riding warm makes it lower."""
    best = found.warm.best
    now, then = (min(float(found.limits[row]), _set(found)) for row in (0, 1 + (best or 0)))
    if best is None or not then < now:
        return ""
    left = f"{fmt('current', then)}" if then > 0 else "none"
    return f"The line limit that is safe from a cut-out falls from {fmt('current', now)} to {left}."


def derivation(found: Found) -> list[Step]:
    """Heat in the pack, the temperature it settles at, the time, and the charge."""
    warm, build, way = found.warm, found.build, found.warm.ways[STEADY]
    current, air = found.plan.current, build.conditions.air_temperature
    batch = Batch.of(build)
    capacity, loss = (float(batch[f"pack.{name}"][0]) for name in ("heat_capacity", "thermal_conductance"))
    middle = 0.5 * (warm.now + warm.temperature)
    heat, ohms = _heat(batch, current, middle)
    above = heat / loss if loss > 0 else math.inf
    steps = [
        Step(
            "Heat in the cells, halfway to the temperature wanted",
            r"P = I\,(E - U) = R\,I^2",
            f"{put(1000 * ohms, 5)} / 1000 × {put(current, 5)}²",
            heat,
            "W",
            f"I current, A; R all the pack's resistance built up, at {middle - 273.15:.0f} °C and today's charge, "
            "mΩ. Left out: reversible heat, a middle warmer than the skin, and wind",
            HEAT_BALANCE,
        )
    ]
    if loss > 0:
        steps.append(
            Step(
                "How far above the air it would settle at that heat",
                r"\Delta T = \frac{P}{G}",
                f"{put(heat, 5)} / {put(loss, 5)}",
                above,
                "K",
                "G path of heat to the air, W/K, typical of the pack's size",
                HEAT_BALANCE,
            )
        )
    start, end = warm.now - air, warm.temperature - air
    if loss > 0 and above > end > start and way.status == GETS_THERE:
        steps.append(
            Step(
                "How long that takes at this resistance",
                r"t = \frac{C}{G}\,\ln\frac{\Delta T - \theta_0}{\Delta T - \theta}",
                f"{put(capacity, 5)} / {put(loss, 5)} × ln(({put(above, 5)} − {put(start, 5)}) / "
                f"({put(above, 5)} − {put(end, 5)}))",
                capacity / loss * math.log((above - start) / (above - end)),
                "s",
                "C heat capacity of the cells, J/K; θ₀, θ pack above air now and as wanted, K. Taken in steps "
                "of 15 s, with resistance that falls as it warms and builds up at first: "
                f"{way.time[0]:.0f} s",
                HEAT_BALANCE,
            )
        )
    if way.status == GETS_THERE:
        taken = build.conditions.charge - way.charge
        steps.append(
            Step(
                "Charge it takes",
                r"\Delta c = \frac{I\,t}{3600\,C_{Ah}}",
                f"{put(current, 5)} × {put(float(way.time[0]), 6)} / (3600 × {put(build.pack.capacity_ah)})",
                taken,
                "",
                "C_Ah capacity, Ah",
                CHARGE_COUNT,
            )
        )
    return steps


def _heat(batch: Batch, current: float, temperature: float) -> tuple[float, float]:
    """Heat at a current with all resistance built up, W, and that resistance, ohm."""
    amps = np.array([current])
    volts = PackModel(batch).pulse_resistance(batch["conditions.charge"], np.array([temperature]), amps, 1e6)
    return float(volts[0]) * current**2, float(volts[0])


def alt(fmt: UnitFormatter, found: Found) -> str:
    """What the chart shows."""
    return f"Pack temperature and top speed against minutes of warm-up. {verdict(fmt, found).replace('*', '')}"


def table(fmt: UnitFormatter, found: Found) -> pd.DataFrame:
    """One row for each start of the run."""
    outcomes = found.warm.outcomes
    rows = []
    starts = 1 if found.warm.ways[STEADY].status == WARM_ALREADY else len(STARTS)
    for row in range(starts):
        if math.isfinite(outcomes.top_speed[row]):
            rows.append({"run": STARTS[row]} | _row(fmt, found, outcomes, row))
    return pd.DataFrame(rows)


def _row(fmt: UnitFormatter, found: Found, outcomes: Outcomes, row: int) -> dict[str, str]:
    pack, limit = found.build.pack, float(found.limits[row])
    rest = rest_voltage(pack.chemistry, pack.cells_in_series, outcomes.charge[row])
    time = float(outcomes.time_to_target[row])
    target = fmt.entered("speed", found.plan.target_speed)
    return {
        "pack": fmt("temperature", outcomes.temperature[row]),
        "charge": fmt("charge", outcomes.charge[row]),
        "rests at": fmt("voltage", float(rest)),
        "resistance": fmt("resistance", outcomes.resistance[row]),
        "top speed": fmt("speed", outcomes.top_speed[row], 1),
        f"{target} after": fmt("time", time) if math.isfinite(time) else "not reached",
        "weakest cell": fmt("cell voltage", outcomes.minimum_cell_voltage[row]),
        "BMS limit used": fmt("share", outcomes.used[row]),
        "line limit": {0.0: "none holds", math.inf: "none needed"}.get(limit) or fmt("current", limit),
    }


def currents_table(fmt: UnitFormatter, found: Found, others: tuple[Floats, Floats, Floats, Floats]) -> pd.DataFrame:
    """Speed, minutes and charge at other currents."""
    rows = []
    for current, speed, time, charge in zip(*others, strict=True):
        taken = 3600.0 * (found.build.conditions.charge - charge) * found.build.pack.capacity_ah
        there = math.isfinite(time) and math.isfinite(charge)
        rows.append(
            {
                "current": fmt("current", current),
                "on the level": fmt("speed", speed),
                f"to {fmt('temperature', found.warm.temperature)}": duration(time) if there else "never",
                "takes": fmt("capacity", taken) if there else "",
            }
        )
    return pd.DataFrame(rows)


def on_the_sheet(fmt: UnitFormatter, plan_current: float, warm: WarmUp) -> str:
    """The way that pays in a few words, or that none does."""
    wanted = fmt("temperature", warm.temperature)
    if warm.ways[STEADY].status == WARM_ALREADY:
        return "not needed"
    kept = f"keep the pack at {wanted} until the start"
    if warm.best is None or warm.outcomes.pays(1 + warm.best) != PAYS:
        ridden = "does not pay by riding" if warm.best is not None else "not by riding"
        return f"{ridden}: {kept}" if warm.outcomes.pays(1 + INDOORS) == PAYS else ridden
    way: Way = warm.ways[warm.best]
    if warm.best == STEADY:
        how = f"{duration(float(way.time[0]))} at {fmt('current', plan_current)}"
    else:
        how = f"{int(way.pulls[0])} gentle pull{'' if way.pulls[0] == 1 else 's'}"
    return f"{how} to {wanted}"
