"""What pack and road do in the experiments: which answer holds, and why. No Streamlit."""

from __future__ import annotations

import numpy as np

from explorer.derivations import motor, pack, road
from explorer.derivations.derivation import Instant, Step, put
from explorer.derivations.sources import SPEEDOMETER
from explorer.format import plain_number
from explorer.questions.experiments.two_runs import ALIKE_SPEED, FloatArray, TwoRuns, change
from explorer.questions.experiments.words import (
    VOLTAGE_HOLDS,
    Explanation,
    each,
    either,
    launch,
    limits_at_the_top,
    limits_on_the_way,
    paragraph,
    sags,
    tops,
)
from physics.studies.speedometer import constant_after_change, reading_after_change


def resistances(two: TwoRuns) -> FloatArray:
    """The packs' ten-second resistances at the start, at the current of the deepest sag, ohm."""
    ohms = []
    for row, build in enumerate(two.builds):
        ohms.append(pack.resistance_today(build, pack.deepest(build, two.runs, row).line_current))
    return np.array(ohms)


def sag_outcome(two: TwoRuns) -> str:
    """Less deep, alike, deeper by up to half, deeper by more."""
    ratio = two.deepest_sag[1] / max(two.deepest_sag[0], 1e-9)
    return "less" if ratio < 0.95 else "same" if ratio <= 1.05 else "more" if ratio <= 1.5 else "much"


def cold_pack(two: TwoRuns) -> Explanation:
    """Warm against cold."""
    fmt, ohms, runs = two.fmt, resistances(two), two.runs
    ratio = two.deepest_sag[1] / max(two.deepest_sag[0], 1e-9)
    text = f"Cold, its resistance is {ohms[1] / ohms[0]:.2f} times as high: {either(fmt, 'resistance', ohms)}."
    current = runs.line_current.max(axis=1)
    if ratio < 0.97 * ohms[1] / ohms[0] and change(current, 0.01) < 0:
        text += (
            f" The sag grows by less, {ratio:.2f} times, because less current flows: "
            f"{either(fmt, 'current', current)}."
        )
    else:
        text += f" The sag is {ratio:.2f} times as deep."
    gain = runs.pack_temperature[1, -1] - runs.pack_temperature[1, 0]
    rise = fmt("temperature difference", gain, 1)
    warms = f"The cold pack warms itself by {rise} during the run." if gain > 0.1 else ""
    return Explanation(paragraph(sags(two), tops(two)), paragraph(text, limits_at_the_top(two), warms))


def cold_derivation(two: TwoRuns) -> list[Step]:
    """Resistance and sag of both packs."""

    def steps(row: int) -> list[Step]:
        deepest = pack.deepest(two.builds[row], two.runs, row)
        return [*pack.resistance(two.builds[row], deepest.line_current), *pack.sagging(deepest)]

    return each(two, steps)


def speed_lost(two: TwoRuns) -> str:
    """Next to none, up to a tenth, more."""
    fraction = two.lost
    return "none" if fraction < 0.01 else "some" if fraction <= 0.1 else "much"


def half_empty(two: TwoRuns) -> Explanation:
    """Full against half empty."""
    fmt, runs = two.fmt, two.runs
    rest = runs.rest_voltage[:, 0]
    text = f"At rest the pack is at {fmt('voltage', rest[0])} with 95 %, at {fmt('voltage', rest[1])} with 40 %"
    text += f": {100 * (1 - rest[1] / rest[0]):.0f} % less."
    if two.top_limit(1) in VOLTAGE_HOLDS:
        text += " Voltage sets how fast the motor can spin, and at the end of the second run it is the limit."
    elif two.top_change == 0:
        text += f" That does not change top speed, because {two.held_by(two.top_limit(1), 1)} is the limit there."
    return Explanation(tops(two), paragraph(text, sags(two), limits_at_the_top(two)))


def voltage_derivation(two: TwoRuns) -> list[Step]:
    """Rest voltage, sag and back-EMF where each is fastest."""

    def steps(row: int) -> list[Step]:
        now = two.fastest(row)
        return [pack.rest(now), *pack.sagging(now), *motor.back_emf(now, two.fmt)]

    return each(two, steps)


def _lost_fractions(two: TwoRuns) -> tuple[float, float]:
    """By what fraction the low speed comes later, and the highest is lower."""
    later = two.low_time[1] / two.low_time[0] - 1 if two.low_speed > 0 else 0.0
    return float(later), two.lost


def time_or_top(two: TwoRuns) -> str:
    """Which suffers more in percent; alike within half a percent point."""
    later, slower = _lost_fractions(two)
    if abs(later - slower) <= 0.005 or max(later, slower) <= 0.005:
        return "neither"
    return "time" if later > slower else "top"


def heavier_rider(two: TwoRuns) -> Explanation:
    """More mass."""
    later, slower = _lost_fractions(two)
    fmt, machine = two.fmt, two.runs.machine
    parts = []
    if two.low_speed > 0:
        parts.append(f"the time to {fmt('speed', two.low_speed)} grows by {_percent(later)}")
    parts.append(f"the highest speed falls by {_percent(slower)}")
    instants = [two.fastest(row) for row in (0, 1)]
    rolling = either(fmt, "force", (now.rolling_force + now.slope_force for now in instants))
    which = "rolling resistance and slope" if instants[0].slope_force else "rolling resistance"
    mass = f"{100 * (machine.inertia[1] / machine.inertia[0] - 1):.0f} %"
    because = paragraph(
        f"Mass has to be accelerated: {mass} more of it, wheels and rotor included. At top speed it only "
        f"counts through {which}: {rolling}. Drag does not care what the bike weighs.",
        limits_on_the_way(two),
    )
    happened = paragraph(f"In percent: {', '.join(parts)}.", launch(two), tops(two))
    return Explanation(happened, because)


def _percent(fraction: float) -> str:
    return f"{plain_number(100 * fraction, 1)} %"


def mass_derivation(two: TwoRuns) -> list[Step]:
    """Forces and what is left to gain speed with, at the low speed."""

    def steps(row: int) -> list[Step]:
        index = int(np.argmax(two.runs.speed[row] >= max(two.low_speed, 0.1)))
        now = Instant(two.builds[row], two.runs, row, index)
        return [*road.resistances(now, two.fmt), *road.left_over(now, two.fmt)]

    return each(two, steps)


def hill_outcome(two: TwoRuns) -> str:
    """Up to half as long again, longer, or hardly moving at all."""
    if two.low_speed <= 0 or not np.isfinite(two.low_time[1]):
        return "never"
    return "little" if two.low_time[1] <= 1.5 * two.low_time[0] else "much"


def hill_start(two: TwoRuns) -> Explanation:
    """The flat against a hill."""
    fmt, runs = two.fmt, two.runs
    weight = fmt("force", runs.slope_force[1].max())
    because = paragraph(
        f"The hill pulls back with {weight}, at any speed; the strongest drive is "
        f"{fmt('force', runs.drive_force[1].max())}. What is left accelerates the bike.",
        limits_on_the_way(two),
        "A motor held at its phase limit while hardly moving turns nearly all that power into heat.",
    )
    return Explanation(paragraph(launch(two), tops(two)), because)


def speed_gained(two: TwoRuns) -> str:
    """By less than 3 %, 3 to 10 %, more."""
    gain = -two.lost
    return "little" if gain < 0.03 else "some" if gain <= 0.1 else "much"


def tuck(two: TwoRuns) -> Explanation:
    """Upright against tucked."""
    fmt, speed = two.fmt, float(two.top[0])
    areas = [build.bike.drag_area for build in two.builds]
    moved = speed + two.runs.machine.headwind
    drag = two.runs.machine.drag_factor * moved * np.abs(moved)
    forces = either(fmt, "force", np.abs(drag))
    text = f"Drag area: {either(fmt, 'area', areas)}."
    if np.min(drag) < 0:
        text += f" At {fmt('speed', speed)} you still have a tailwind pushing you: {forces}."
        why_more = "Tucked, you give it less to push on."
    else:
        power = either(fmt, "power", (drag * speed))
        text += f" At {fmt('speed', speed)}, drag: {forces}; the power against it: {power}."
        why_more = "Drag grows with the square of airspeed, and the power it takes grows faster still."
    if two.top_limit(1) in VOLTAGE_HOLDS:
        why_more += " Tucked, voltage runs out: taller gearing could use what the tuck saves."
    because = paragraph(text, why_more, limits_at_the_top(two))
    return Explanation(paragraph(tops(two), launch(two)), because)


def drag_derivation(two: TwoRuns) -> list[Step]:
    """Drag and rolling resistance where each is fastest."""
    return each(two, lambda row: road.resistances(two.fastest(row), two.fmt))


def wind_outcome(two: TwoRuns) -> str:
    """What fraction of the wind's speed is lost: a third, two thirds, more."""
    wind = two.builds[1].conditions.headwind - two.builds[0].conditions.headwind
    fraction = (two.top[0] - two.top[1]) / wind
    return "little" if fraction < 1 / 3 else "middle" if fraction <= 2 / 3 else "much"


def headwind(two: TwoRuns) -> Explanation:
    """More wind against it."""
    fmt = two.fmt
    instants = [two.fastest(row) for row in (0, 1)]
    wind = two.builds[1].conditions.headwind - two.builds[0].conditions.headwind
    gone = max(two.top[0] - two.top[1], 0.0)
    loss = f"It loses {gone / wind:.0%}".replace("%", " %") + " of the wind's speed."
    speeds = either(fmt, "speed", (now.speed + now.build.conditions.headwind for now in instants))
    text = f"Drag depends on airspeed: {speeds} at its fastest."
    drags = f"Drag there: {either(fmt, 'force', (now.drag_force for now in instants))}."
    if instants[0].drag_force < 0:
        drags += " Negative: the wind pushes."
    same_power = ""
    if gone > 0 and change((now.speed * now.drive_force for now in instants), 0.01) == 0:
        same_power = "The power at the wheel is the same in both; a slower bike turns it into more drive."
    because = paragraph(text, drags, same_power, limits_at_the_top(two))
    return Explanation(paragraph(tops(two), loss), because)


def which_sags_less(two: TwoRuns) -> str:
    """The bigger pack, the better one, or alike."""
    return {1: "better", 0: "same", -1: "bigger"}[-change(two.deepest_sag, 0.03)]


def pack_or_resistance(two: TwoRuns) -> Explanation:
    """More amp-hours (first run) against less resistance (second)."""
    fmt, runs = two.fmt, two.runs
    used = runs.charge[:, 0] - runs.charge[:, -1]
    sag = [fmt("voltage", value) for value in two.deepest_sag]
    text = (
        f"At its deepest, the pack with more amp-hours sags by {sag[0]}, the one with less resistance by {sag[1]}."
    )
    lasting = (
        f"The pull takes {100 * used[0]:.1f} % of the bigger pack's charge and {100 * used[1]:.1f} % "
        "of the other's: amp-hours decide how many such pulls you get."
    )
    speeds = [fmt("speed", value, 1) for value in two.top]
    alike = change(two.top, ALIKE_SPEED) == 0
    fast = (
        f"Both are about equally fast: {speeds[0]} and {speeds[1]}."
        if alike
        else (f"The highest speed: {speeds[0]} with more amp-hours, {speeds[1]} with less resistance.")
    )
    return Explanation(text, paragraph("Sag is current times resistance.", lasting, fast))


def sag_derivation(two: TwoRuns) -> list[Step]:
    """Sag where it is deepest."""
    return each(two, lambda row: pack.sagging(pack.deepest(two.builds[row], two.runs, row)))


def _radii(two: TwoRuns) -> FloatArray:
    return np.array([two.fastest(row).radius for row in (0, 1)])


def display(two: TwoRuns) -> float:
    """What the display shows where the second run is fastest, m/s."""
    old, new = _radii(two)
    return float(reading_after_change(float(two.top[1]), "wheel", old, new))


def display_outcome(two: TwoRuns) -> str:
    """The display shows the true speed, too much or too little."""
    return {1: "much", 0: "right", -1: "little"}[change((two.top[1], display(two)), 0.001)]


def tyre(two: TwoRuns) -> Explanation:
    """A smaller tyre under an untouched speedometer."""
    fmt, (old, new) = two.fmt, _radii(two)
    shown, true = fmt("speed", display(two), 1), fmt("speed", two.top[1], 1)
    constant = constant_after_change(1000.0, "wheel", old, new)
    turns = either(fmt, "motor speed", (two.fastest(row).motor_speed for row in (0, 1)))
    happened = (
        f"At a true {true} it shows {shown}: the smaller tyre turns more often over the same road. A "
        f"constant of 1,000 that was right before would have to be {constant:.0f}."
    )
    gears = f"A smaller tyre also gears the bike down. Motor speed at its fastest: {turns}."
    because = paragraph(gears, limits_at_the_top(two))
    return Explanation(paragraph(happened, tops(two), launch(two)), because)


def tyre_derivation(two: TwoRuns) -> list[Step]:
    """What the display shows, and motor speed in both runs."""
    old, new = _radii(two)
    true = float(two.fmt.number("speed", two.top[1]))
    shown = float(two.fmt.number("speed", display(two)))
    return [
        Step(
            "What the display shows",
            r"v_{shown} = v\,\frac{r_{old}}{r_{new}}",
            f"{put(true, 5)} × {put(old, 5)} / {put(new, 5)}",
            shown,
            two.fmt.unit("speed"),
            f"v true speed, {two.fmt.unit('speed')}; r rolling radius, m",
            SPEEDOMETER,
            digits=4,
        ),
        *each(two, lambda row: motor.back_emf(two.fastest(row), two.fmt)),
    ]
