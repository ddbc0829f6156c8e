"""Voltage window and pulls in words: verdict, what ends the count, its derivation, the numbers, the caution."""

from __future__ import annotations

import numpy as np
import pandas as pd

from explorer.derivations import motor, pack
from explorer.derivations.derivation import Instant, Step, fastest
from explorer.page import words
from explorer.page.page import Page
from explorer.questions.voltage_window import results
from physics.limits import LIMITS, RULES
from physics.scenarios.repeated_pulls import CUT_OUT_STOPS, TARGET_MISSED, RepeatedPulls
from physics.studies.voltage_window import ALWAYS_REACHED, NEVER_REACHED, VoltageWindow

WORKING = "Running the pulls one after another ..."
PULLS = "Pull by pull"
CAUTION = (
    "Count the ride back too: an emptier pack sags deeper and cuts out sooner, and a cut-out takes your drive "
    "away at once. Let the pack cool as its maker says before you charge it."
)


def verdict(page: Page, window: VoltageWindow, now: float) -> str:
    """The lowest rest voltage, and where today's pack stands."""
    fmt = page.fmt
    target, within = fmt.entered("speed", page.target_speed), words.within(page)
    if window.status == NEVER_REACHED:
        best = fmt.apart("speed", window.top_speed.max(), page.target_speed)
        limit = words.held_by(LIMITS[window.holding_limit[-1]], page.build.controller, fmt)
        held = f"with a full pack it is held back by {limit}"
        if window.cut_out_rule[-1] >= 0:
            held = f"a full pack cuts out on the {RULES[window.cut_out_rule[-1]]} rule"
        return f"**{target} is out of reach {within} today at any charge:** the best is {best}; {held}."
    if window.status == ALWAYS_REACHED:
        emptiest = fmt("voltage", window.rest_voltage[0])
        return f"**{target} is reached {within} from any charge today**, down to {emptiest}.{_then(page)}"
    lowest, highest = window.lowest_rest_voltage, window.highest_rest_voltage
    text = f"**{target} {within} takes at least {fmt('voltage', lowest)} at rest** " + (
        f"({fmt('charge', window.lowest_charge)} charge)"
    )
    if highest < window.rest_voltage[-1]:
        text += f", **and at most {fmt('voltage', highest)}**: any fuller and the pack cuts out first"
    today = f"{text}. Today's {fmt('voltage', now)}"
    if page.reaches_target and lowest < now <= highest:
        return f"{today} is {abs(fmt.difference('voltage', now, lowest)):.1f} V above that.{_then(page)}"
    if page.reaches_target:
        return f"{today} reaches it.{_then(page)}"
    if now < lowest:
        return f"{today} is {abs(fmt.difference('voltage', now, lowest)):.1f} V short."
    return f"{today} is too high."


def _then(page: Page) -> str:
    """That the pack cuts out once the target is passed, where it does."""
    if not np.isfinite(page.run.cut_out_time[0]):
        return ""
    return f" But the pack cuts out later in the run, at {page.fmt('time', page.run.cut_out_time[0])}."


def how_many(page: Page, pulls: RepeatedPulls) -> str:
    """How many pulls today's charge gives."""
    fmt, values = page.fmt, page.inputs
    count = int(pulls.pulls[0])
    held = f", the target held for {fmt('time', values['pulls_hold'], 0)}"
    if count == 0:
        return ""
    if count == 1:
        return f"That leaves **1 pull**{held}."
    many = f"{results.MOST_PULLS} pulls or more" if count >= results.MOST_PULLS else f"{count} pulls"
    return f"That leaves **{many}**{held} each time, with {values['pulls_rest']:g} min of rest in between."


def what_ends_it(page: Page, pulls: RepeatedPulls, window: VoltageWindow) -> str:
    """What ends the count, and what the pulls do to the pack."""
    fmt, count = page.fmt, int(pulls.pulls[0])
    status = int(pulls.status[0])
    if status == CUT_OUT_STOPS:
        failed = min(count, pulls.used.shape[1] - 1)
        rule = RULES[int(pulls.used[0, failed].argmax())]
        end = f"Pull {count + 1} cuts out on the {rule} rule"
    elif status == TARGET_MISSED:
        end = f"Pull {count + 1} no longer reaches the target" if count else "The first pull misses the target"
    else:
        end = f"After {count} pull{'' if count == 1 else 's'} the target is still within reach"
    if not count:
        return f"{end}."
    before, after = pulls.temperatures_before[0, 0, 0], pulls.temperatures_after[0, count - 1, 0]
    text = (
        f"{end}; {fmt('charge', pulls.charge_left[0])} charge is left by then. The pack goes from "
        f"{fmt('temperature', before)} to {fmt('temperature', after)} over the pulls"
    )
    last = float(pulls.rest_voltage[0, count - 1])
    if last < window.lowest_rest_voltage - 0.1 and after > before:
        return f"{text}, and that warm it still reaches the target from {fmt('voltage', last)} at rest."
    return f"{text}; that warmth is included."


def derivation(page: Page) -> list[Step]:
    """The voltage the motor's speed asks for, and the sag that comes on top."""
    runs = page.run
    if np.isfinite(page.reached):
        now = Instant(page.build, runs, 0, int(np.argmax(runs.speed[0] >= page.target_speed)))
    else:
        now = fastest(page.build, runs)
    return [*motor.back_emf(now, page.fmt), pack.rest(now), *pack.sagging(now)]


def alt(page: Page, window: VoltageWindow, now: float) -> str:
    """What the chart shows."""
    return f"Top speed and time to the target against rest voltage. {verdict(page, window, now)}"


def note(count: int) -> str:
    """How to read the chart."""
    text = "Rest voltage: no load, settled for a few minutes."
    return text + (" Each mark along the bottom is the start of a pull." if count else "")


def table(page: Page, window: VoltageWindow) -> pd.DataFrame:
    """The window at every other charge."""
    fmt = page.fmt
    indices = range(len(window.charge) - 1, -1, -2)
    return pd.DataFrame(
        [
            {
                "rest, V": f"{window.rest_voltage[index]:.1f}",
                "charge": fmt("charge", window.charge[index]),
                "top speed": fmt("speed", window.top_speed[index]),
                "time to target": _time(page, window.time_to_target[index]),
                "holds it back": LIMITS[window.holding_limit[index]],
                "cut-out": RULES[window.cut_out_rule[index]] if window.cut_out_rule[index] >= 0 else "no",
            }
            for index in indices
        ]
    )


def pulls_table(page: Page, pulls: RepeatedPulls) -> pd.DataFrame:
    """Every pull: where it starts, what it does, how warm things get."""
    fmt = page.fmt
    rows = min(int(pulls.pulls[0]) + 1, pulls.charge.shape[1])
    hot = pulls.temperatures_after[0]
    return pd.DataFrame(
        [
            {
                "pull": index + 1,
                "rest before, V": f"{pulls.rest_voltage[0, index]:.1f}",
                "charge": fmt("charge", pulls.charge[0, index]),
                "time to target": _time(page, pulls.time_to_target[0, index]),
                "weakest cell, V": f"{pulls.minimum_cell_voltage[0, index]:.2f}",
                "BMS limit used": fmt("share", pulls.used[0, index].max()),
                "pack after": fmt("temperature", hot[index, 0]),
                "winding after": fmt("temperature", hot[index, 1]),
                "controller after": fmt("temperature", hot[index, 3]),
            }
            for index in range(rows)
        ]
    )


def _time(page: Page, value: float) -> str:
    return page.fmt("time", value) if np.isfinite(value) else "not reached"
