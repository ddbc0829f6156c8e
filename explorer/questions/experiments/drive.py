"""What motor, controller and gearing do in the experiments: which answer holds, and why. No Streamlit."""

from __future__ import annotations

import numpy as np

from explorer.derivations import motor
from explorer.derivations.derivation import Instant, Step
from explorer.questions.experiments.two_runs import ALIKE_TIME, FloatArray, TwoRuns, change
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
    sooner,
    strongest_drive,
    tops,
)

TORQUE_HOLDS = ("phase current", "winding heat", "controller heat", "throttle")


def launch_or_top(two: TwoRuns) -> str:
    """Whether it is quicker off the line, faster at the end, both, or neither."""
    earlier, faster = two.launch_change > 0, two.top_change > 0
    return {(True, False): "launch", (False, True): "top", (True, True): "both"}.get((earlier, faster), "neither")


def phase_current(two: TwoRuns) -> Explanation:
    """More phase current."""
    held = two.time_under(0, "phase current")
    if held > 0.05:
        holding = f"The phase limit was what held it back for {two.fmt('time', held)} of the first run."
    else:
        holding = "The phase limit was never what held it back in the first run."
    because = paragraph(
        "**Phase current makes torque**: so much per amp.",
        holding,
        strongest_drive(two),
        limits_on_the_way(two),
        limits_at_the_top(two),
    )
    return Explanation(paragraph(launch(two), tops(two)), because)


def drive_derivation(two: TwoRuns) -> list[Step]:
    """Torque and drive where it is strongest."""
    return each(two, lambda row: motor.drive(_at_strongest(two, row), two.fmt))


def _most_of_it(two: TwoRuns) -> FloatArray:
    """Time of both runs to nine tenths of the slower one's highest speed, s."""
    return two.runs.time_to(0.9 * two.top.min())


def line_outcome(two: TwoRuns) -> str:
    """A higher speed, the same one sooner, or neither."""
    if two.top_change > 0:
        return "faster"
    earlier = -change(_most_of_it(two), ALIKE_TIME) > 0
    return "sooner" if earlier and two.top_change == 0 else "nothing"


def line_current(two: TwoRuns) -> Explanation:
    """More line current."""
    fmt, runs = two.fmt, two.runs
    held = two.time_under(0, "line current")
    if held > 0.05:
        holding = f"The line limit held it back for {fmt('time', held)} of the first run."
    else:
        drawn = fmt("current", runs.line_current[0].max())
        holding = f"The line limit never held it back in the first run: it drew at most {drawn}."
    power = (runs.pack_voltage * runs.line_current).max(axis=1)
    way = "" if two.top.min() < 1 else sooner(fmt, 0.9 * two.top.min(), _most_of_it(two))
    because = paragraph(
        f"**Line current times voltage is power.** The most the pack gives: {either(fmt, 'power', power)}.",
        holding,
        sags(two),
        limits_at_the_top(two),
    )
    return Explanation(paragraph(tops(two), way), because)


def power_derivation(two: TwoRuns) -> list[Step]:
    """Power at the highest line current."""
    return each(two, lambda row: motor.power_given(_at_most_current(two, row), two.fmt))


def faster_or_slower(two: TwoRuns) -> str:
    """Faster, about as fast, slower."""
    return {1: "faster", 0: "same", -1: "slower"}[two.top_change]


def sprocket(two: TwoRuns) -> Explanation:
    """Taller gearing."""
    before, after = two.top_limit(0), two.top_limit(1)
    turns = either(two.fmt, "motor speed", (two.fastest(row).motor_speed for row in (0, 1)))
    if two.top_change > 0 and before in VOLTAGE_HOLDS:
        rule = (
            "The motor had run out of voltage; spinning slower at the same road speed leaves it voltage to push "
            "current with."
        )
    elif two.top_change > 0:
        rule = "The motor spins slower at each road speed, and here that is worth more than the drive it costs."
    elif "line current" in (before, after) and two.top_change == 0:
        rule = (
            "Line current times voltage is power, and **gearing makes no power**: the road load is the same as "
            "before."
        )
    elif after in TORQUE_HOLDS and two.top_change < 0:
        rule = "Torque is at its limit, and taller gearing turns it into less drive."
    elif after == "speed cap":
        rule = "The controller's cap is on road speed: no sprocket changes that."
    else:
        rule = "Taller gearing turns the same torque into less drive: it helps where voltage runs out."
    because = paragraph(limits_at_the_top(two), f"The motor's speed there: {turns}.", rule, strongest_drive(two))
    return Explanation(paragraph(tops(two), launch(two)), because)


def gearing_derivation(two: TwoRuns) -> list[Step]:
    """Motor speed and back-EMF, and the drive, where each is fastest."""

    def steps(row: int) -> list[Step]:
        now = two.fastest(row)
        return [*motor.back_emf(now, two.fmt), *motor.drive(now, two.fmt)[1:]]

    return each(two, steps)


def _copper(now: Instant) -> float:
    return 1.5 * now.winding_resistance * now.phase_current**2


def field_weakening(two: TwoRuns) -> Explanation:
    """None against some."""
    fmt = two.fmt
    instants = [two.fastest(row) for row in (0, 1)]
    used = abs(instants[1].i_d)
    if used < 1:
        text = f"At its fastest none of it is used, because {two.held_by(two.top_limit(1), 1)} is the limit there."
    else:
        text = f"At its fastest, {fmt('current', used)} peak goes into weakening the field."
        if two.top_limit(0) in VOLTAGE_HOLDS and two.top_change > 0:
            text += " Before, back-EMF had caught up with the pack's voltage; a weaker field makes less of it."
    heat = either(fmt, "power", (_copper(now) for now in instants), 2)
    warning = ""
    if two.top_change > 0:
        warning = (
            "If the controller shuts down up there, the motor's full back-EMF hits it: stay within what "
            "its maker allows."
        )
    because = paragraph(text, f"Heat in the winding there: {heat}.", limits_at_the_top(two), warning)
    return Explanation(tops(two), because)


def weakening_derivation(two: TwoRuns) -> list[Step]:
    """The voltage the motor asks for, where each is fastest."""
    return each(two, lambda row: motor.at_the_voltage_limit(two.fastest(row), two.fmt))


def _hardest(two: TwoRuns) -> float:
    """The second run's strongest drive over the first's."""
    before, after = two.runs.drive_force.max(axis=1)
    return float(after / max(before, 1e-9))


def pull_outcome(two: TwoRuns) -> str:
    """Harder by half as well, by less, or hardly."""
    ratio = _hardest(two)
    return "all" if ratio >= 1.45 else "less" if ratio > 1.03 else "none"


def saturation(two: TwoRuns) -> Explanation:
    """Half as much phase current again, into iron that saturates."""
    fmt, instants = two.fmt, [_at_strongest(two, row) for row in (0, 1)]
    currents = either(fmt, "current", (now.phase_current for now in instants))
    lost = [f"{100 * (1 - now.flux_share):.0f} %" for now in instants]
    because = paragraph(
        "Saturated iron adds less torque for each extra amp. At the hardest pull the phase current goes "
        f"{currents} peak, and torque per amp is down {lost[0]} before and {lost[1]} after."
        if "before and after" not in currents
        else f"At the hardest pull the phase current is {currents}: the phase limit is not what holds there.",
        "Heat in the winding still rises with the square of the current.",
        limits_on_the_way(two),
    )
    return Explanation(paragraph(strongest_drive(two), launch(two), tops(two)), because)


def throttle_outcome(two: TwoRuns) -> str:
    """About as fast, well over half as fast, about half."""
    fraction = two.top[1] / max(two.top[0], 1e-9) if two.top[0] > 0.1 else 1.0
    return "same" if fraction > 0.95 else "between" if fraction > 0.6 else "half"


def half_throttle(two: TwoRuns) -> Explanation:
    """Full against half."""
    instants = [two.fastest(row) for row in (0, 1)]
    asked = [build.controller.throttle * build.controller.phase_current_limit for build in two.builds]
    currents = either(two.fmt, "current", (now.phase_current for now in instants))
    text = (
        f"Phase current the throttle asks for: {either(two.fmt, 'current', asked)} peak. Used at its fastest: "
        f"{currents}."
    )
    if two.top_limit(1) != "throttle":
        text += " At the end of the second run the throttle is not what holds it back."
    because = paragraph(
        text,
        strongest_drive(two),
        limits_at_the_top(two),
        "Some controllers treat the throttle as a speed or power command; those feel different.",
    )
    return Explanation(paragraph(tops(two), launch(two)), because)


def _at_strongest(two: TwoRuns, row: int) -> Instant:
    return Instant(two.builds[row], two.runs, row, int(np.argmax(two.runs.drive_force[row])))


def _at_most_current(two: TwoRuns, row: int) -> Instant:
    return Instant(two.builds[row], two.runs, row, int(np.argmax(two.runs.line_current[row])))
