"""Burst power: can this pack give a power for a time today, and what would it give if it were warmer."""

from __future__ import annotations

import numpy as np
import pandas as pd
import streamlit as st

from explorer.derivations import pack as why_pack
from explorer.format import tied
from explorer.frame import sidebar as inputs
from explorer.frame.layout import numbers, show, show_derivation
from explorer.inputs.catalogue import BURST
from explorer.page import words
from explorer.page.page import Page
from explorer.page.results_plan import BurstAnswer, burst_answer, warming_answer
from explorer.questions.burst_power import chart
from explorer.questions.line_limit.section import asked
from physics.limits import RULES
from physics.scenarios.burst import ENDS
from physics.studies.pre_warming import PreWarming

TITLE = "How much power can the pack give, and for how long?"
_WHY = {
    "peak power of the pack": "the pack's voltage collapses: more than its peak power was asked for",
    "charge": "the pack is empty",
}


def draw(page: Page) -> None:
    """Verdict, its two inputs, power against time, and what pre-warming changes."""
    values = page.inputs
    answer = burst_answer(page.build, 1000.0 * values["burst_power"], float(values["burst_time"]))
    with st.container(key="verdict_burst_answer"):
        st.markdown(tied(verdict(page, answer)))
    show_derivation(
        "burst_power",
        lambda: why_pack.burst(page, 1000.0 * values["burst_power"], float(values["burst_time"])),
    )
    with st.container(key="burst_inputs"):
        inputs.in_place(BURST)
    show(
        "burst_power",
        verdict=warmer(page, answer),
        figure=chart.figure(answer, page.fmt),
        height=chart.HEIGHT,
        alt=f"Largest power of the pack against time. {verdict(page, answer).replace('*', '')}",
        note="Pack and protection alone, with the controller's overshoot; what a motor can use may be less.",
        table=lambda: table(page, answer),
    )
    numbers("burst_warming", lambda: warming(page), "The same pack, pre-warmed")
    st.warning(words.CAUTION_WARMING, icon=":material/warning:")


def verdict(page: Page, answer: BurstAnswer) -> str:
    """Whether it gives that power for that long, and if not, how far."""
    made, fmt = answer.asked, page.fmt
    wanted = f"{fmt('power', made.power[0])} for {fmt('time', made.seconds[0], 0)}"
    most = f"The most it gives for {fmt('time', made.seconds[0], 0)} is {fmt('power', made.largest_power[0])}"
    if made.gives[0]:
        end = ENDS[made.largest_end[0]]
        above = _WHY.get(end, f"the {end} rule cuts out")
        used = int(made.used[0].argmax())
        text = f"**Yes: it gives {wanted}**, with {fmt('current', made.current[0])} and no less than " + (
            f"{fmt('cell voltage', made.minimum_cell_voltage[0])} in the weakest cell"
        )
        if made.used[0, used] >= 0.01:
            text += f", using {fmt('share', made.used[0, used])} of the {RULES[used]} allowance"
        return f"{text}. {most}; beyond that {above}."
    end = ENDS[made.end[0]]
    why = _WHY.get(end, f"the {end} rule cuts out")
    if made.time[0] < 0.05:
        return f"**No: not {wanted}**, not even for a moment: {why}. {most}."
    after = fmt("time", made.time[0])
    return f"**No: not {wanted}.** After {after} {why}. {most}."


def warmer(page: Page, answer: BurstAnswer) -> str:
    """What a pack of 20 degrees C would give, where today's is colder."""
    fmt, seconds = page.fmt, answer.asked.seconds[0]
    today = answer.temperature[answer.today]
    warm = answer.temperature[-1]
    if today >= warm - 2:
        return f"At {fmt('temperature', today)} the pack is warm enough; warming it would gain little."
    at = [np.interp(np.log(seconds), np.log(answer.seconds), row) for row in answer.power]
    gain = at[-1] / max(at[answer.today], 1.0) - 1
    if gain < 0.02:
        warmed, span = fmt("temperature", warm), fmt("time", seconds, 0)
        return f"Warming it to {warmed} would gain next to nothing over {span}."
    return (
        f"Pre-warmed to {fmt('temperature', warm)}, the same pack gives {fmt('power', at[-1])} for "
        f"{fmt('time', seconds, 0)}: {fmt('share', gain)} more than today."
    )


def table(page: Page, answer: BurstAnswer) -> pd.DataFrame:
    """Largest power by time and temperature."""
    fmt = page.fmt
    columns = {"for": [fmt("time", value, 0 if value >= 2 else 1) for value in answer.seconds]}
    for row, temperature in enumerate(answer.temperature):
        name = f"pack {fmt('temperature', temperature)}" + (" (today)" if row == answer.today else "")
        columns[name] = [fmt("power", value) for value in answer.power[row]]
    return pd.DataFrame(columns)


def warming(page: Page) -> pd.DataFrame:
    """What the same bike does with the pack at several temperatures, for the pull of the line limit's section."""
    pull, margin = asked(page)
    made: PreWarming = warming_answer(page.build, pull, float(page.inputs["burst_time"]), margin)
    fmt = page.fmt
    rows = []
    for place, temperature in enumerate(made.temperature):
        limit = float(made.line_limit[place])
        holds = {0.0: "none holds", np.inf: "none needed"}.get(limit) or fmt("current", limit)
        rows.append(
            {
                "pack": fmt("temperature", temperature) + (" (today)" if place == made.today else ""),
                "resistance": fmt("resistance", made.resistance[place]),
                "line limit": holds,
                "top speed": fmt("speed", made.top_speed[place]),
                "weakest cell": fmt("cell voltage", made.minimum_cell_voltage[place]),
                "allowance used": fmt("share", made.used[place].max()),
                f"power for {fmt('time', made.seconds, 0)}": fmt("power", made.burst[place]),
                "heat to warm it": fmt("energy", made.energy[place]) if made.energy[place] > 0 else "",
            }
        )
    return pd.DataFrame(rows)
