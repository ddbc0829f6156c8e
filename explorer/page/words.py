"""Prose that the top of the page and several questions share: the answer, what holds the bike back, faults."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.format import UnitFormatter, a_number, plain_number, with_minus
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import TYPICAL, origin
from explorer.inputs.spec import quoted
from explorer.page.page import Page, once
from physics.build import Controller
from physics.build.fields import BuildError
from physics.limits import LIMITS, RULES
from physics.simulation.ratings import rating_use
from physics.simulation.result import SETTLED_ACCELERATION, RunResult

TITLE = "Headroom"
STANDS = 0.5
"""km/h below which a bike counts as standing."""
WHAT_IT_IS = (
    "What your small electric motorcycle will do today: how fast, how soon, what holds it back, and "
    "whether the pack cuts out."
)
REST_VOLTAGE = (
    "Measured with no load, after a few minutes at rest. On the flat part of an iron-phosphate pack it "
    "says little about charge."
)
COLD_GROWTH = (
    "Measure the pack's resistance twice in the same way: same charge, same current, ten seconds into it. Give "
    "the cells hours to settle at each temperature."
)
COLD_GROWTH_REFUSED = "The two temperatures are too close: at least 5 °C (9 °F) must lie between them."
UNTOUCHED = 0.005
"""Fraction of an allowance below which a rule of the protection counts as untouched: it would be printed as 0 %."""
SHARE = "The address of this page holds your builds: copy it to keep or share them."

_HELD = {
    "throttle": "part throttle",
    "phase current": "the phase limit",
    "line current": "the line limit",
    "voltage": "pack voltage under load",
    "field weakening": "the field-weakening current",
    "front wheel": "keeping the front wheel down",
    "rear grip": "rear tyre grip",
    "winding heat": "motor heat",
    "controller heat": "controller heat",
    "low-voltage cutback": "the controller's low-voltage cutback",
    "speed cap": "the controller's speed cap",
    "cut-out": "the cut-out",
}
_WHY = {
    "phase current": "Phase current sets torque, whatever the speed.",
    "line current": "Line current sets the power the motor may draw from the pack.",
    "voltage": "The motor's back-EMF, which rises with speed, has caught up with it.",
    "field weakening": "More of it would let the motor spin faster, at the cost of heat.",
    "front wheel": "Any more drive would lift it.",
    "rear grip": "Any more drive would spin the wheel.",
    "low-voltage cutback": "The pack has sagged that far.",
}


def cold_growth_found(growth: float) -> str:
    """What two measured resistances come to."""
    return f"**{growth:.2f} times** as much at 0 °C (32 °F) as at 25 °C (77 °F)."


def cold_growth_outside(growth: float) -> str:
    """Two measured resistances that no cell shows."""
    return (
        f"That would be {growth:.2g} times as much at 0 °C as at 25 °C; the page accepts "
        f"{INPUTS['cold_growth'].accepts()}. Check which day was colder, and that charge and current were alike."
    )


def held_by(limit: str, controller: Controller, fmt: UnitFormatter) -> str:
    """A limit in words, with its setting where it has one."""
    settings = {
        "throttle": fmt("share", controller.throttle),
        "phase current": f"{fmt('current', controller.phase_current_limit)} peak",
        "line current": fmt("current", controller.line_current_limit),
        "field weakening": f"{fmt('current', controller.field_weakening_current)} peak",
        "speed cap": fmt("speed", controller.speed_cap),
    }
    if limit == "throttle" and controller.throttle >= 1.0:
        return "the throttle ramp"
    return _HELD[limit] + (f" ({settings[limit]})" if limit in settings else "")


def limit_at_the_top(run: RunResult) -> str:
    """The limit that holds where the run is fastest under power."""
    fastest = (
        int(np.argmax(run.speed_under_power[0])) or run.speed.shape[1] - 1
    )  # it never moves: what holds to the end
    return LIMITS[int(run.limit[0, max(fastest - 1, 0)])]


def limit_on_the_way(run: RunResult, until: float) -> str:
    """The limit that holds longest until a moment, s; where that is not known, the one at the top."""
    time, limit = run.time, run.limit[0]
    if not np.isfinite(until):
        return limit_at_the_top(run)
    spent = np.zeros(len(LIMITS))
    before = time[:-1] < until
    np.add.at(spent, limit[:-1][before], np.diff(time)[before])
    return LIMITS[int(spent.argmax())]


@once
def headline(page: Page) -> tuple[str, str]:
    """The answer in one sentence.

    Returns
    -------
    tuple of (str, str)
        "reaches", "misses" or "cuts out", and the sentence.
    """
    run, fmt = page.run, page.fmt
    target, top = fmt.entered("speed", page.target_speed), float(run.top_speed[0])
    reached, cut = page.reached, float(run.cut_out_time[0])
    if np.isfinite(cut) and not np.isfinite(reached):
        speed = fmt("speed", np.interp(cut, run.time, run.speed[0]), speed_digits(page, top))
        return "cuts out", f"Misses {target}: the pack cuts out after {fmt('time', cut)}, at {speed}."
    if np.isfinite(cut):
        return "cuts out", (
            f"Reaches {target} after {fmt('time', reached)}, but the pack cuts out at {fmt('time', cut)} "
            f"and leaves you coasting."
        )
    if np.isfinite(reached):
        where = fmt("distance", run.distance_at(page.target_speed)[0])
        after = f"Reaches {target} after {fmt('time', reached)} and {where}"
        if round(float(fmt.number("speed", top - page.target_speed))) < 1:
            return "reaches", f"{after}, with nothing to spare."
        goes_on = "tops out at" if run.settled[0] else "is still gaining at"
        return "reaches", f"{after}, and {goes_on} {top_speed(page)}."
    if top * 3.6 < STANDS:
        return "misses", f"Misses {target}: it does not get moving."
    return "misses", _misses(page, target) if page.longer_run is None else _still_gaining(page, target)


def _still_gaining(page: Page, target: str) -> str:
    """What becomes of a run that is still gaining at its end, short of the target."""
    longer, fmt = page.longer_run, page.fmt
    assert longer is not None
    now, end = top_speed(page), fmt("time", page.duration, 0)
    if np.isfinite(page.reached_later):
        later = fmt("time", page.reached_later)
        return f"Not yet at {target} after {end}: {now}, and still gaining. It would get there after {later}."
    if longer.cut_out_acceleration[0] >= SETTLED_ACCELERATION:
        cut = fmt("time", page.duration + longer.cut_out_time[0])
        return f"Misses {target}: {now} after {end}, and the pack would cut out first, after {cut}."
    return _misses(page, target)


def speed_digits(page: Page, speed: float) -> int:
    """Digits with which a run's speed, m/s, is printed: one where it is near the target, or the target has one."""
    fmt = page.fmt
    close = abs(float(fmt.number("speed", page.target_speed - speed))) < 9.95
    return 1 if close or "." in fmt.entered("speed", page.target_speed) else 0


def top_speed(page: Page) -> str:
    """The run's top speed, printed alike wherever the first screen names it."""
    top = float(page.run.top_speed[0])
    return page.fmt("speed", top, speed_digits(page, top))


def _misses(page: Page, target: str) -> str:
    """By how much a run misses the target, by what it does in the end."""
    fmt, now = page.fmt, float(page.run.top_speed[0])
    top = now if page.longer_run is None else max(now, float(page.longer_run.top_speed[0]))
    digits = speed_digits(page, top)
    short = plain_number(fmt.difference("speed", page.target_speed, top, digits), digits)
    settles, at_end = fmt("speed", top, digits), fmt("speed", now, digits)
    more = "" if at_end == settles else f" ({at_end} after {fmt('time', page.duration, 0)})"
    return f"Misses {target} by {short} {fmt.unit('speed')}: it tops out at {settles}{more}."


def time_to_target(page: Page) -> str:
    """When the target is reached, in a few words."""
    if np.isfinite(page.reached):
        return page.fmt("time", page.reached)
    return "not yet" if np.isfinite(page.reached_later) else "not reached"


def within(page: Page) -> str:
    """The length of the run, which every question gives the bike to reach its target."""
    return f"within {page.fmt('time', page.duration, 0)}"


def what_holds(page: Page) -> str:
    """What holds the bike back, and why."""
    if np.isfinite(page.run.cut_out_time[0]):
        return cut_out(page)
    top = limit_at_the_top(page.run)
    end = held_by(top, page.build.controller, page.fmt)
    if page.reaches_target:
        way = limit_on_the_way(page.run, page.reached)
        then = ", and at the end" if way == top else f"; at the end, {end}"
        text = (
            f"{_capital(held_by(way, page.build.controller, page.fmt))} holds it back for most of the pull{then}."
        )
    else:
        text = f"At the end it is held back by {end}."
    return f"{text} {_WHY.get(top, '')}".strip()


def cut_out(page: Page) -> str:
    """Why, when and where the pack cut out; empty where it did not."""
    run, fmt = page.run, page.fmt
    if not np.isfinite(run.cut_out_time[0]):
        return ""
    rule = run.cut_out_rule_names()[0]
    return (
        f"The {rule} rule trips at {fmt('time', run.cut_out_time[0])}, with "
        f"{fmt('current', run.cut_out_current[0])} line current, {fmt('voltage', run.cut_out_voltage[0])} at "
        f"the pack and {fmt('cell voltage', run.cut_out_cell_voltage[0])} in the weakest cell."
    )


def nearest_rule(run: RunResult) -> tuple[str, float]:
    """The protection rule that comes closest to opening, and the fraction of its allowance that is used."""
    used = np.nanmax(run.trip_timers[0], axis=0)
    rule = int(np.argmax(used))
    return RULES[rule], float(min(used[rule], 1.0))


def pack_stays_closed(page: Page) -> str:
    """How near the pack comes to a cut-out, in one sentence; how it cut out, where it did."""
    run = page.run
    if np.isfinite(run.cut_out_time[0]):
        return cut_out(page)
    return f"No cut-out: {allowance(page)}."


def allowance(page: Page) -> str:
    """How much of the nearest rule's allowance the run uses, and the volts left to the under-voltage rule."""
    run, fmt, rules = page.run, page.fmt, page.build.pack.protection
    if np.isfinite(run.cut_out_time[0]):
        return "cuts out"
    rule, used = nearest_rule(run)
    text = (
        f"{fmt('share', used)} of the {rule} limit used"
        if used >= UNTOUCHED
        else ("the run stays inside every BMS limit")
    )
    if rules.cell_undervoltage <= 0:
        return text
    return f"{text}, {volts_left(run.minimum_cell_voltage[0] - rules.cell_undervoltage, fmt)}"


def margin(page: Page) -> str:
    """The rider's margin in words."""
    if not page.pull_margin:
        return "with no margin: everything exactly as entered"
    return f"with {a_number(page.fmt('share', page.pull_margin))} margin for error"


def volts_left(volts: float, fmt: UnitFormatter) -> str:
    """What is left to the under-voltage rule, or by how much its threshold is passed while its time runs."""
    amount = fmt("cell voltage", abs(volts), 3 if abs(volts) < 0.05 else 2)
    side = f"at least {amount} above" if volts >= 0 else f"down to {amount} below"
    return f"the weakest cell {side} its threshold"


@once
def past_rating(page: Page) -> str:
    """Whether the run passes a current rating of the pack, protection or not; empty where it does not."""
    fmt, use = page.fmt, rating_use(page.batch, page.run)
    current = f"{fmt('current', use.current[0])}, including the controller's overshoot"
    if use.passes_peak[0]:
        return (
            f"**Above the pack's rating:** this run draws up to {current}; its peak current is "
            f"{fmt('current', use.peak_current[0])}.{_enter_yours(page, 'peak_current')}"
        )
    if use.passes_continuous[0]:
        return (
            f"**Above the pack's rating:** this run draws up to {current}, and stays above the "
            f"continuous current of {fmt('current', use.continuous_current[0])} for "
            f"{fmt('time', use.time_above[0])}; peaks may last {fmt('time', use.peak_time[0])}."
            f"{_enter_yours(page, 'continuous_current')}"
        )
    return ""


def _enter_yours(page: Page, key: str) -> str:
    """What to do about a limit that is typical."""
    return " That is a typical rating: enter your pack's." if origin(page.inputs, key) == TYPICAL else ""


def weakest_cell(page: Page) -> str:
    """How low the weakest cell goes, and at what voltage the pack cuts out."""
    fmt, rules = page.fmt, page.build.pack.protection
    text = f"The weakest cell drops to {fmt('cell voltage', page.run.minimum_cell_voltage[0])}"
    if rules.cell_undervoltage <= 0:
        return f"{text}."
    threshold = fmt("cell voltage", rules.cell_undervoltage)
    return f"{text}; the pack cuts out once it is below {threshold} for {rules.undervoltage_delay:g} s."


def changes(before: dict[str, Any], now: dict[str, Any], system: str, phase_as: str) -> str:
    """What differs between two sets of inputs, in one sentence."""
    parts = [
        " ".join(
            (
                spec.label[:1].lower() + spec.label[1:],
                spec.text(before[key], system, phase_as),
                "→",
                spec.text(now[key], system, phase_as),
            )
        )
        for key, spec in INPUTS.items()
        if before[key] != now[key]
    ]
    if not parts:
        return "This build is now the baseline. Change something and both are drawn."
    more = f", and {len(parts) - 6} more" if len(parts) > 6 else ""
    return "Changed from the baseline: " + "; ".join(parts[:6]) + more + "."


def not_a_build(error: BuildError) -> str:
    """What the page says where the inputs make no build."""
    return " ".join([*faults(error), "Until that is fixed, the page shows the last build that worked."])


_TOGETHER = {
    "bike.centre_of_gravity_to_rear_axle": "Centre of gravity of bike and rider ahead of the rear axle, m",
    "bike.centre_of_gravity_height": "Centre of gravity of bike and rider above the road, m",
}
"""Labels of fields that several inputs make."""


def faults(error: BuildError) -> list[str]:
    """What is wrong with a build, one plain sentence each, in the page's own labels."""
    labels = _TOGETHER | {spec.path: spec.label for spec in INPUTS.values() if spec.path}
    sentences = []
    for fault in error.faults:
        label = labels.get(fault.field, fault.field.split(".")[-1].replace("_", " ").capitalize())
        got = f"{fault.got:.4g}" if _plain(fault.got) else quoted(fault.got)
        accepts = fault.accepts
        for path, other in labels.items():
            accepts = accepts.replace(path.split(".")[-1] + ",", f"“{other.lower()}”,")
        sentences.append(with_minus(f"“{label}” is {got}; it accepts {accepts}."))
    return sentences


def _plain(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
