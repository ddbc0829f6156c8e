"""What pack and road do in the experiments: which answer holds, and why. No Streamlit."""

from __future__ import annotations

import numpy as np

from explorer.derivations import motor, pack, road
from explorer.derivations.derivation import Instant, Step, put
from explorer.derivations.sources import SPEEDOMETER
from explorer.questions.experiments.words import (
    ALIKE_SPEED,
    VOLTAGE_HOLDS,
    Seen,
    answered,
    change,
    cut_outs,
    each,
    either,
    launch,
    limits_at_the_top,
    limits_on_the_way,
    lost,
    sags,
    told,
    tops,
)
from physics.build.batch import Batch
from physics.components.pack import resistance_now
from physics.studies.speedometer import constant_after_change, reading_after_change


def resistances(seen: Seen) -> np.ndarray:
    """The packs' ten-second resistances at the start, ohm."""
    made = []
    for build in seen.builds:
        own, cells = Batch.of(build), build.pack
        made.append(
            float(
                resistance_now(
                    own["pack.resistance"][0], cells.chemistry, own["conditions.pack_temperature"][0],
                    build.conditions.charge, growth=cells.resistance_growth,
                )
            )
        )  # fmt: skip
    return np.array(made)


def sag_outcome(seen: Seen) -> str:
    """Less deep, alike, deeper by up to half, deeper by more."""
    ratio = seen.deepest_sag[1] / max(seen.deepest_sag[0], 1e-9)
    return "less" if ratio < 0.95 else "same" if ratio <= 1.05 else "more" if ratio <= 1.5 else "much"


def cold_pack(seen: Seen) -> str:
    """Warm against cold."""
    fmt, ohms, runs = seen.fmt, resistances(seen), seen.runs
    ratio = seen.deepest_sag[1] / max(seen.deepest_sag[0], 1e-9)
    text = f"Cold, its resistance is {ohms[1] / ohms[0]:.2f} times as high: {either(fmt, 'resistance', *ohms)}."
    current = runs.line_current.max(axis=1)
    if ratio < 0.97 * ohms[1] / ohms[0] and change(*current, 0.01) < 0:
        text += (
            f" The sag grows by less, {ratio:.2f} times, for less current flows: "
            f"{either(fmt, 'current', *current)}."
        )
    else:
        text += f" The sag is {ratio:.2f} times as deep."
    gain = runs.pack_temperature[1, -1] - runs.pack_temperature[1, 0]
    rise = fmt("temperature difference", gain, 1)
    warms = f"The cold pack warms itself by {rise} on the way." if gain > 0.1 else ""
    return answered(told(sags(seen), tops(seen), cut_outs(seen)), told(text, limits_at_the_top(seen), warms))


def cold_workings(seen: Seen) -> list[Step]:
    """Resistance and sag of both packs."""

    def steps(row):
        deepest = pack.deepest(seen.builds[row], seen.runs, row)
        return [*pack.resistance(seen.builds[row]), *pack.sagging(deepest)]

    return each(seen, steps)


def speed_lost(seen: Seen) -> str:
    """Next to none, up to a tenth, more."""
    share = lost(seen)
    return "none" if share < 0.01 else "some" if share <= 0.1 else "much"


def half_empty(seen: Seen) -> str:
    """Full against half empty."""
    fmt, runs = seen.fmt, seen.runs
    rest = runs.rest_voltage[:, 0]
    text = f"At rest the pack stands at {fmt('voltage', rest[0])} with 95 %, at {fmt('voltage', rest[1])} with 40 %"
    text += f": {100 * (1 - rest[1] / rest[0]):.0f} % less."
    if seen.top_limit(1) in VOLTAGE_HOLDS:
        text += " Voltage sets how fast the motor can turn, and at the end of the second run it is what holds."
    elif seen.top_change == 0:
        text += (
            f" That does not reach the speed at the end, because {seen.held_by(seen.top_limit(1), 1)} holds there."
        )
    return answered(told(tops(seen), cut_outs(seen)), told(text, sags(seen), limits_at_the_top(seen)))


def voltage_workings(seen: Seen) -> list[Step]:
    """Rest voltage, sag and back-EMF where each is fastest."""

    def steps(row):
        now = seen.fastest(row)
        return [pack.rest(now), *pack.sagging(now), *motor.back_emf(now, seen.fmt)]

    return each(seen, steps)


def _shares(seen: Seen) -> tuple[float, float]:
    """By what share the low speed comes later, and the highest is lower."""
    later = seen.low_time[1] / seen.low_time[0] - 1 if seen.low_speed > 0 else 0.0
    return float(later), lost(seen)


def time_or_top(seen: Seen) -> str:
    """Which suffers more in percent; alike within half a percent point."""
    later, slower = _shares(seen)
    if abs(later - slower) <= 0.005 or max(later, slower) <= 0.005:
        return "neither"
    return "time" if later > slower else "top"


def heavier_rider(seen: Seen) -> str:
    """More mass."""
    later, slower = _shares(seen)
    fmt, machine = seen.fmt, seen.runs.machine
    parts = []
    if seen.low_speed > 0:
        parts.append(f"the time to {fmt('speed', seen.low_speed)} grows by {_percent(later)}")
    parts.append(f"the highest speed falls by {_percent(slower)}")
    moments = [seen.fastest(row) for row in (0, 1)]
    rolling = either(fmt, "force", *(now.rolling_force + now.slope_force for now in moments))
    which = "rolling resistance and slope" if moments[0].slope_force else "rolling resistance"
    mass = f"{100 * (machine.inertia[1] / machine.inertia[0] - 1):.0f} %"
    because = told(
        f"Mass has to be speeded up: {mass} more of it, wheels and rotor counted. Where the bike is fastest "
        f"it counts "
        f"only through {which}: {rolling}. Drag does not ask what the bike weighs.",
        limits_on_the_way(seen),
    )
    happened = told(f"In percent: {', '.join(parts)}.", launch(seen), tops(seen), cut_outs(seen))
    return answered(happened, because)


def _percent(share: float) -> str:
    return f"{100 * share + 0.0:.1f} %".replace("-0.0", "0.0").replace("-", "−")


def mass_workings(seen: Seen) -> list[Step]:
    """Forces and what is left to gain speed with, at the low speed."""

    def steps(row):
        place = int(np.argmax(seen.runs.speed[row] >= max(seen.low_speed, 0.1)))
        now = Instant(seen.builds[row], seen.runs, row, place)
        return [*road.resistances(now, seen.fmt), *road.left_over(now, seen.fmt)]

    return each(seen, steps)


def speed_gained(seen: Seen) -> str:
    """By less than 3 %, 3 to 10 %, more."""
    gain = -lost(seen)
    return "little" if gain < 0.03 else "some" if gain <= 0.1 else "much"


def tuck(seen: Seen) -> str:
    """Upright against tucked."""
    fmt, speed = seen.fmt, float(seen.top[0])
    areas = [build.bike.drag_area for build in seen.builds]
    moved = speed + seen.runs.machine.headwind
    drag = seen.runs.machine.drag_factor * moved * np.abs(moved)
    forces = either(fmt, "force", *np.abs(drag))
    text = f"Drag area: {either(fmt, 'area', *areas)}."
    if np.min(drag) < 0:
        text += f" At {fmt('speed', speed)} the wind still comes from behind and pushes: {forces}."
        why_more = "Tucked, you give it less to push on."
    else:
        power = either(fmt, "power", *(drag * speed))
        text += f" At {fmt('speed', speed)}, drag: {forces}; the power against it: {power}."
        why_more = "Drag grows with the square of the speed of the air, the power against it faster still."
    if seen.top_limit(1) in VOLTAGE_HOLDS:
        why_more += " Tucked, voltage is what runs out: taller gearing could use what the tuck saves."
    because = told(text, why_more, limits_at_the_top(seen))
    return answered(told(tops(seen), launch(seen), cut_outs(seen)), because)


def drag_workings(seen: Seen) -> list[Step]:
    """Drag and rolling resistance where each is fastest."""
    return each(seen, lambda row: road.resistances(seen.fastest(row), seen.fmt))


def wind_outcome(seen: Seen) -> str:
    """What share of the wind's speed is lost: a third, two thirds, more."""
    wind = seen.builds[1].conditions.headwind - seen.builds[0].conditions.headwind
    share = (seen.top[0] - seen.top[1]) / wind
    return "little" if share < 1 / 3 else "middle" if share <= 2 / 3 else "much"


def headwind(seen: Seen) -> str:
    """More wind against it."""
    fmt = seen.fmt
    moments = [seen.fastest(row) for row in (0, 1)]
    wind = seen.builds[1].conditions.headwind - seen.builds[0].conditions.headwind
    gone = max(seen.top[0] - seen.top[1], 0.0)
    share = f"It loses {gone / wind:.0%}".replace("%", " %") + " of the wind's speed."
    speeds = either(fmt, "speed", *(now.speed + now.build.conditions.headwind for now in moments))
    text = f"What counts for drag is the speed of the air past you: {speeds} where it is fastest."
    drags = f"Drag there: {either(fmt, 'force', *(now.drag_force for now in moments))}."
    if moments[0].drag_force < 0:
        drags += " Below zero, the wind pushes."
    kept = ""
    if gone > 0 and change(*(now.speed * now.drive_force for now in moments), 0.01) == 0:
        kept = "The power at the wheel is the same in both; a slower bike makes more drive of it."
    return answered(told(tops(seen), share, cut_outs(seen)), told(text, drags, kept, limits_at_the_top(seen)))


def which_sags_less(seen: Seen) -> str:
    """The bigger pack, the better one, or alike."""
    return {1: "better", 0: "same", -1: "bigger"}[-change(*seen.deepest_sag, 0.03)]


def pack_or_resistance(seen: Seen) -> str:
    """More amp-hours (first run) against less resistance (second)."""
    fmt, runs = seen.fmt, seen.runs
    used = runs.charge[:, 0] - runs.charge[:, -1]
    sag = [fmt("voltage", value) for value in seen.deepest_sag]
    text = (
        f"At its deepest, the pack with more amp-hours sags by {sag[0]}, the one with less resistance by {sag[1]}."
    )
    lasting = ""
    if not (seen.cut(0) or seen.cut(1)):
        lasting = (
            f"The pull takes {100 * used[0]:.1f} % of the bigger pack's charge and {100 * used[1]:.1f} % of "
            "the other's: amp-hours decide how many such pulls there are."
        )
    ends = ("With more amp-hours", "With less resistance")
    cuts = told(
        *(
            f"{ends[row]} the pack **cuts out** after {fmt('time', runs.cut_out_time[row])}."
            for row in (0, 1)
            if seen.cut(row)
        )
    )
    speeds = [fmt("speed", value, 1) for value in seen.top]
    alike = change(*seen.top, ALIKE_SPEED) == 0
    fast = f"Both are about as fast: {speeds[0]} and {speeds[1]}." if alike else (
        f"The highest speed: {speeds[0]} with more amp-hours, {speeds[1]} with less resistance."
    )  # fmt: skip
    return answered(told(cuts, text), told("Sag is current times resistance.", lasting, fast))


def sag_workings(seen: Seen) -> list[Step]:
    """Sag where it is deepest."""
    return each(seen, lambda row: pack.sagging(pack.deepest(seen.builds[row], seen.runs, row)))


def _radii(seen: Seen) -> np.ndarray:
    return np.array([seen.fastest(row).radius for row in (0, 1)])


def display(seen: Seen) -> float:
    """What the display shows where the second run is fastest, m/s."""
    old, new = _radii(seen)
    return float(reading_after_change(float(seen.top[1]), "wheel", old, new))


def display_outcome(seen: Seen) -> str:
    """The display shows the true speed, too much or too little."""
    return {1: "much", 0: "right", -1: "little"}[change(seen.top[1], display(seen), 0.001)]


def tyre(seen: Seen) -> str:
    """A smaller tyre under an untouched speedometer."""
    fmt, (old, new) = seen.fmt, _radii(seen)
    shown, true = fmt("speed", display(seen), 1), fmt("speed", seen.top[1], 1)
    constant = constant_after_change(1000.0, "wheel", old, new)
    turns = either(fmt, "motor speed", *(seen.fastest(row).motor_speed for row in (0, 1)))
    happened = (
        f"At a true {true} the display shows {shown}: the smaller tyre turns more often on the same road. "
        f"A constant of 1,000 that was right before would have to be {constant:.0f}."
    )
    gears = f"A smaller tyre is shorter gearing as well. The motor's speed where it is fastest: {turns}."
    because = told(gears, limits_at_the_top(seen))
    return answered(told(happened, tops(seen), launch(seen), cut_outs(seen)), because)


def tyre_workings(seen: Seen) -> list[Step]:
    """What the display shows, and motor speed in both runs."""
    old, new = _radii(seen)
    true = float(seen.fmt.number("speed", seen.top[1]))
    shown = float(seen.fmt.number("speed", display(seen)))
    return [
        Step(
            "What the display shows", r"v_{shown} = v\,\frac{r_{old}}{r_{new}}",
            f"{put(true, 5)} × {put(old, 5)} / {put(new, 5)}", shown, seen.fmt.unit("speed"),
            f"v true speed, {seen.fmt.unit('speed')}; r rolling radius, m", SPEEDOMETER, digits=4,
        ),
        *each(seen, lambda row: motor.back_emf(seen.fastest(row), seen.fmt)),
    ]  # fmt: skip
