"""Voltage window and pulls: below what rest voltage the target is out of reach, and how many pulls that is."""

from __future__ import annotations

import numpy as np
import pandas as pd
import streamlit as st

from explorer.derivations import pack as why_pack
from explorer.format import tied
from explorer.frame import sidebar as inputs
from explorer.frame.layout import numbers, show, show_derivation
from explorer.inputs.catalogue import PULLS
from explorer.page import words
from explorer.page.page import Page
from explorer.page.results_plan import pulls_answer, window_answer
from explorer.questions.voltage_window import chart
from physics.components.pack import rest_voltage
from physics.limits import LIMITS, RULES
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import CUT_OUT_STOPS, TARGET_MISSED, RepeatedPulls
from physics.studies.voltage_window import ALWAYS_REACHED, NEVER_REACHED, VoltageWindow

TITLE = "Below what voltage is the target out of reach, and how many pulls is that?"
MOST_PULLS = 30
_LONGEST = 60.0


def draw(page: Page) -> None:
    """Verdict, its inputs, the window against rest voltage, the pulls one by one."""
    longest = longest_pull(page)
    window = window_answer(page.build, page.target_speed, longest)
    values = page.inputs
    pull = Pull(longest, page.target_speed, float(values["pulls_hold"]))
    with st.spinner("Riding the pulls one after another ..."):
        pulls = pulls_answer(
            page.build, pull, 60.0 * values["pulls_rest"], MOST_PULLS, float(values["pulls_current"])
        )
    now = resting_now(page)
    with st.container(key="verdict_voltage_window_answer"):
        st.markdown(tied(f"{verdict(page, window, now)} {how_many(page, pulls)}"))
    show_derivation("voltage_window", lambda: why_pack.voltage_window(page))
    with st.container(key="voltage_window_inputs"):
        inputs.in_place(PULLS)
    count = int(pulls.pulls[0])
    show(
        "voltage_window",
        verdict=what_ends_it(page, pulls, window),
        figure=chart.figure(window, now, page.fmt, pulls.rest_voltage[0, :count]),
        height=chart.HEIGHT,
        alt=f"Top speed and time to the target against rest voltage. {verdict(page, window, now)}",
        note="Rest voltage: with no load, settled for minutes."
        + (" Each mark at the foot is the start of a pull." if count else ""),
        table=lambda: table(page, window),
    )
    numbers("voltage_window_pulls", lambda: pulls_table(page, pulls), "Pull by pull")
    st.warning(words.CAUTION_LOW_PACK, icon=":material/warning:")


def longest_pull(page: Page) -> float:
    """How long the target may take to reach, s."""
    return min(max(page.duration, 20.0), _LONGEST)


def resting_now(page: Page) -> float:
    """Rest voltage of the pack at today's charge, V."""
    pack = page.build.pack
    return float(rest_voltage(pack.chemistry, pack.cells_in_series, page.build.conditions.charge))


def verdict(page: Page, window: VoltageWindow, now: float) -> str:
    """The lowest rest voltage, and where today's pack stands."""
    fmt = page.fmt
    target = fmt.entered("speed", page.target_speed)
    if window.status == NEVER_REACHED:
        best = fmt.apart("speed", window.top_speed.max(), page.target_speed)
        held = f"with a full pack, what holds it back is {words.held_by(LIMITS[window.holding_limit[-1]], page)}"
        if window.cut_out_rule[-1] >= 0:
            held = f"a full pack cuts out by its {RULES[window.cut_out_rule[-1]]} rule"
        return f"**{target} is out of reach today at any charge:** {best} is the most; {held}."
    if window.status == ALWAYS_REACHED:
        lowest = fmt("voltage", window.rest_voltage[0])
        return f"**{target} is within reach from any charge today**, down to {lowest}."
    lowest = window.lowest_rest_voltage
    text = f"**{target} is out of reach below {fmt('voltage', lowest)} at rest** " + (
        f"({fmt('charge', window.lowest_charge)} of charge). "
    )
    if now < lowest:
        return f"{text}Today's {fmt('voltage', now)} are too few by {fmt('voltage', lowest - now)}."
    return f"{text}Today's {fmt('voltage', now)} are above that by {fmt('voltage', now - lowest)}."


def how_many(page: Page, pulls: RepeatedPulls) -> str:
    """How many pulls today's charge gives."""
    fmt, values = page.fmt, page.inputs
    count = int(pulls.pulls[0])
    held = f", the target held for {fmt('time', values['pulls_hold'], 0)}"
    if count == 0:
        return ""
    if count == 1:
        return f"That is **1 pull**{held}."
    many = f"{MOST_PULLS} pulls or more" if count >= MOST_PULLS else f"{count} pulls"
    return f"That is **{many}**{held} each time, with {values['pulls_rest']:g} min of rest between."


def what_ends_it(page: Page, pulls: RepeatedPulls, window: VoltageWindow) -> str:
    """What ends the count, and what the pulls do to the pack."""
    fmt, count = page.fmt, int(pulls.pulls[0])
    status = int(pulls.status[0])
    if status == CUT_OUT_STOPS:
        place = min(count, pulls.used.shape[1] - 1)
        rule = RULES[int(pulls.used[0, place].argmax())]
        end = f"Pull {count + 1} ends in a cut-out by the {rule} rule"
    elif status == TARGET_MISSED:
        end = f"Pull {count + 1} no longer reaches the target" if count else "The first pull misses the target"
    else:
        end = f"After {count} pull{'' if count == 1 else 's'} the target is still within reach"
    if not count:
        return f"{end}."
    before, after = pulls.temperatures_before[0, 0, 0], pulls.temperatures_after[0, count - 1, 0]
    text = (
        f"{end}; {fmt('charge', pulls.charge_left[0])} of charge is left by then. The pack goes from "
        f"{fmt('temperature', before)} to {fmt('temperature', after)} on the way"
    )
    last = float(pulls.rest_voltage[0, count - 1])
    if last < window.lowest_rest_voltage - 0.1 and after > before:
        return f"{text}, and so warmed it still reaches the target from {fmt('voltage', last)} at rest."
    return f"{text}: its own heat is counted."


def table(page: Page, window: VoltageWindow) -> pd.DataFrame:
    """The window at every other charge."""
    fmt = page.fmt
    places = range(len(window.charge) - 1, -1, -2)
    return pd.DataFrame(
        [
            {
                "rest, V": f"{window.rest_voltage[place]:.1f}",
                "charge": fmt("charge", window.charge[place]),
                "top speed": fmt("speed", window.top_speed[place]),
                "time to target": _time(page, window.time_to_target[place]),
                "holds it back": LIMITS[window.holding_limit[place]],
                "cut-out": RULES[window.cut_out_rule[place]] if window.cut_out_rule[place] >= 0 else "no",
            }
            for place in places
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
                "pull": place + 1,
                "rest before, V": f"{pulls.rest_voltage[0, place]:.1f}",
                "charge": fmt("charge", pulls.charge[0, place]),
                "time to target": _time(page, pulls.time_to_target[0, place]),
                "weakest cell, V": f"{pulls.minimum_cell_voltage[0, place]:.2f}",
                "allowance used": fmt("share", pulls.used[0, place].max()),
                "pack after": fmt("temperature", hot[place, 0]),
                "winding after": fmt("temperature", hot[place, 1]),
                "controller after": fmt("temperature", hot[place, 3]),
            }
            for place in range(rows)
        ]
    )


def _time(page: Page, value: float) -> str:
    return page.fmt("time", value) if np.isfinite(value) else "not reached"
