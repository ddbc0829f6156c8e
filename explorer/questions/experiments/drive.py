"""What motor, controller and gearing do in the experiments: which answer holds, and why. No Streamlit."""

from __future__ import annotations

import numpy as np

from explorer.derivations import motor
from explorer.derivations.derivation import Instant, Step
from explorer.questions.experiments.words import (
    ALIKE_TIME,
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
    sags,
    sooner,
    strongest_drive,
    told,
    tops,
)

TORQUE_HOLDS = ("phase current", "winding heat", "controller heat", "throttle")


def launch_or_top(seen: Seen) -> str:
    """Whether it is quicker off the line, faster at the end, both, or neither."""
    earlier, faster = seen.launch_change > 0, seen.top_change > 0
    return {(True, False): "launch", (False, True): "top", (True, True): "both"}.get((earlier, faster), "neither")


def phase_current(seen: Seen) -> str:
    """More phase current."""
    held = seen.time_under(0, "phase current")
    if held > 0.05:
        share = f"The phase limit itself held for {seen.fmt('time', held)} of the first run."
    else:
        share = "The phase limit itself never held in the first run."
    because = told(
        "**Phase current makes torque**, so much for each ampere.", share, strongest_drive(seen),
        limits_on_the_way(seen), limits_at_the_top(seen),
    )  # fmt: skip
    return answered(told(launch(seen), tops(seen), cut_outs(seen)), because)


def drive_workings(seen: Seen) -> list[Step]:
    """Torque and drive where it is strongest."""
    return each(seen, lambda row: motor.drive(_at_strongest(seen, row), seen.fmt))


def _most_of_it(seen: Seen) -> np.ndarray:
    """Time of both runs to nine tenths of the slower one's highest speed, s."""
    return seen.runs.time_to(0.9 * seen.top.min())


def line_outcome(seen: Seen) -> str:
    """A cut-out, a higher speed, the same one sooner, or none of these."""
    if seen.cut(1):
        return "cut"
    if seen.top_change > 0:
        return "faster"
    earlier = -change(*_most_of_it(seen), ALIKE_TIME) > 0
    return "sooner" if earlier and seen.top_change == 0 else "nothing"


def line_current(seen: Seen) -> str:
    """More line current."""
    fmt, runs = seen.fmt, seen.runs
    held = seen.time_under(0, "line current")
    if held > 0.05:
        share = f"The line limit held for {fmt('time', held)} of the first run."
    else:
        drawn = fmt("current", runs.line_current[0].max())
        share = f"The line limit never held in the first run: at most {drawn} were drawn."
    power = (runs.pack_voltage * runs.line_current).max(axis=1)
    way = "" if seen.top.min() < 1 else sooner(fmt, 0.9 * seen.top.min(), _most_of_it(seen))
    because = told(
        f"**Line current times voltage is power.** The most the pack gives: {either(fmt, 'power', *power)}.",
        share, sags(seen), limits_at_the_top(seen),
    )  # fmt: skip
    return answered(told(cut_outs(seen), tops(seen), way), because)


def power_workings(seen: Seen) -> list[Step]:
    """Power at the highest line current."""
    return each(seen, lambda row: motor.power_given(_at_most_current(seen, row), seen.fmt))


def faster_or_slower(seen: Seen) -> str:
    """Faster, about as fast, slower."""
    return {1: "faster", 0: "same", -1: "slower"}[seen.top_change]


def sprocket(seen: Seen) -> str:
    """Taller gearing."""
    before, after = seen.top_limit(0), seen.top_limit(1)
    turns = either(seen.fmt, "motor speed", *(seen.fastest(row).motor_speed for row in (0, 1)))
    if seen.top_change > 0 and before in VOLTAGE_HOLDS:
        rule = (
            "The motor had run out of voltage; turning less for the same speed leaves it voltage to "
            "push current with."
        )
    elif seen.top_change > 0:
        rule = "The motor turns slower at each speed, and here that is worth more than the drive it costs."
    elif "line current" in (before, after) and seen.top_change == 0:
        rule = (
            "Line current times voltage is power, and **gearing makes no power**: the road asks for as "
            "much as before."
        )
    elif after in TORQUE_HOLDS and seen.top_change < 0:
        rule = "Torque is at its limit, and taller gearing makes less drive of the same torque."
    elif after == "speed cap":
        rule = "The controller's cap looks at road speed: no sprocket changes that."
    else:
        rule = "Taller gearing makes less drive of the same torque: it helps where voltage is what runs out."
    because = told(limits_at_the_top(seen), f"The motor's speed there: {turns}.", rule, strongest_drive(seen))
    return answered(told(tops(seen), launch(seen), cut_outs(seen)), because)


def gearing_workings(seen: Seen) -> list[Step]:
    """Motor speed and back-EMF, and the drive, where each is fastest."""

    def steps(row):
        now = seen.fastest(row)
        return [*motor.back_emf(now, seen.fmt), *motor.drive(now, seen.fmt)[1:]]

    return each(seen, steps)


def _copper(now: Instant) -> float:
    return 1.5 * now.winding_resistance * now.phase_current**2


def field_weakening(seen: Seen) -> str:
    """None against some."""
    fmt = seen.fmt
    moments = [seen.fastest(row) for row in (0, 1)]
    used = abs(moments[1].i_d)
    if used < 1:
        text = f"Where it is fastest none of it is used, because {seen.held_by(seen.top_limit(1), 1)} holds there."
    else:
        text = f"Where it is fastest, {fmt('current', used)} peak go into weakening the field."
        if seen.top_limit(0) in VOLTAGE_HOLDS and seen.top_change > 0:
            text += " Before, back-EMF had caught up with the pack's voltage; a weaker field makes less of it."
    heat = either(fmt, "power", *(_copper(now) for now in moments), 2)
    warning = ""
    if seen.top_change > 0:
        warning = (
            "If drive is lost up there, the motor's full back-EMF meets the controller: stay within what its maker "
            "allows."
        )
    because = told(text, f"Heat in the winding there: {heat}.", limits_at_the_top(seen), warning)
    return answered(told(tops(seen), cut_outs(seen)), because)


def weakening_workings(seen: Seen) -> list[Step]:
    """The voltage the motor asks for, where each is fastest."""
    return each(seen, lambda row: motor.at_the_voltage_limit(seen.fastest(row), seen.fmt))


def throttle_outcome(seen: Seen) -> str:
    """About as fast, well over half as fast, about half."""
    share = seen.top[1] / max(seen.top[0], 1e-9) if seen.top[0] > 0.1 else 1.0
    return "same" if share > 0.95 else "between" if share > 0.6 else "half"


def half_throttle(seen: Seen) -> str:
    """Full against half."""
    moments = [seen.fastest(row) for row in (0, 1)]
    asked = [build.controller.throttle * build.controller.phase_current_limit for build in seen.builds]
    currents = either(seen.fmt, "current", *(now.phase_current for now in moments))
    text = (
        f"Phase current asked for: {either(seen.fmt, 'current', *asked)} peak. Used where it is "
        f"fastest: {currents}."
    )
    if seen.top_limit(1) != "throttle":
        text += " At the end of the second run it is not the throttle that holds it back."
    because = told(
        text, strongest_drive(seen), limits_at_the_top(seen),
        "Other controllers read the throttle as speed or as power; there it feels different.",
    )  # fmt: skip
    return answered(told(tops(seen), launch(seen), cut_outs(seen)), because)


def _at_strongest(seen: Seen, row: int) -> Instant:
    return Instant(seen.builds[row], seen.runs, row, int(np.argmax(seen.runs.drive_force[row])))


def _at_most_current(seen: Seen, row: int) -> Instant:
    return Instant(seen.builds[row], seen.runs, row, int(np.argmax(seen.runs.line_current[row])))
