"""Today's line limit: the highest that survives a pull with margin, over pack temperature and charge."""

from __future__ import annotations

import numpy as np
import pandas as pd
import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.derivations import pack as why_pack
from explorer.format import tied
from explorer.frame import sidebar as inputs
from explorer.frame.layout import show_derivation
from explorer.inputs.catalogue import LINE_LIMIT
from explorer.page import words
from explorer.page.page import Page
from explorer.page.results_plan import LimitAnswer, limit_answer
from explorer.questions.line_limit import chart
from explorer.state.names import as_markdown
from physics.limits import RULES
from physics.scenarios.pull import Pull
from physics.studies.line_limit import NO_LIMIT_NEEDED, NONE_SURVIVES

TITLE = "What line limit is safe from a cut-out today?"


def draw(page: Page) -> None:
    """Verdict, its inputs, the allowance against the limit, the map, and a table to print."""
    pull, margin = asked(page)
    with st.spinner("Trying line limits ..."):
        answer = limit_answer(page.build, pull, margin)
    mine = page.build.controller.line_current_limit
    with st.container(key="verdict_line_limit_answer"):
        st.markdown(tied(verdict(page, answer)))
    show_derivation("line_limit", lambda: why_pack.line_limit(page, mine))
    with st.container(key="line_limit_inputs"):
        inputs.in_place(LINE_LIMIT)
    live_chart(
        chart.ladder_figure(answer, mine, margin), key="chart_line_limit_ladder", height=chart.LADDER_HEIGHT,
        alt=f"Allowance used today against the line limit. {at_mine(page, answer)}",
    )  # fmt: skip
    live_chart(
        chart.map_figure(answer, mine, page.fmt), key="chart_line_limit", height=chart.MAP_HEIGHT,
        alt="Highest line limit over pack temperature and charge; the frame is today.",
    )  # fmt: skip
    st.caption(
        tied(
            "Highest line limit, A, that leaves your margin; framed: today. “free”: the pull never draws enough "
            "to need one. “none”: even the lowest limit would cut out. A limit that holds here also holds in a "
            "warmer or fuller pack."
        )
    )
    fold = st.expander("Table to print", key="table_line_limit", on_change="rerun")
    if fold.open:
        with fold:
            st.table(table(page, answer), border="horizontal")
            st.caption(tied(about(page, pull, margin)))
    st.warning(words.CAUTION_LINE_LIMIT, icon=":material/warning:")


def asked(page: Page) -> tuple[Pull, float]:
    """The pull and the margin the rider entered."""
    values = page.inputs
    hold = values["pull_hold"]
    target = None if hold is None else page.target_speed
    return Pull(float(values["pull_time"]), target, float(hold or 0.0)), values["pull_margin"] / 100.0


def verdict(page: Page, answer: LimitAnswer) -> str:
    """The limit for today, for what pull, what comes above it, and what the build's own does."""
    limits, fmt = answer.limits, page.fmt
    pull, margin = asked(page)
    status, limit = limits.status[answer.row, answer.column], limits.limit[answer.row, answer.column]
    rule = limits.rule[answer.row, answer.column]
    where = f"with the pack at {fmt('temperature', limits.temperature[answer.row])} and " + (
        f"{fmt('charge', limits.charge[answer.column])} of charge"
    )
    mine = at_mine(page, answer)
    if status == NONE_SURVIVES:
        return (
            f"**No line limit is low enough today** for {described(page, pull)} {where}: even at the lowest, the "
            f"{RULES[rule]} rule leaves less than your margin or cuts out. {mine}"
        )
    if status == NO_LIMIT_NEEDED:
        drawn = fmt("current", limits.largest_current[answer.row, answer.column])
        return (
            f"**No line limit is needed today** for {described(page, pull)} {where}: with the limit off the bike "
            f"would draw {drawn} at most, which leaves {fmt('share', margin)} or more of every allowance. {mine}"
        )
    return (
        f"**Today, {fmt('current', limit)} or less.** {where[:1].upper()}{where[1:]}, that leaves "
        f"{fmt('share', margin)} or more of every allowance in {described(page, pull)}; above it, the "
        f"{RULES[rule]} rule is the first to leave less. {mine}"
    )


def described(page: Page, pull: Pull) -> str:
    """A pull in words."""
    fmt = page.fmt
    if pull.target_speed is None:
        return f"{fmt('time', pull.duration, 0)} flat out"
    return f"a pull to {fmt.entered('speed', pull.target_speed)}, held for {fmt('time', pull.hold, 0)}"


def at_mine(page: Page, answer: LimitAnswer) -> str:
    """What the build's own limit does today."""
    fmt, margin = page.fmt, asked(page)[1]
    worst = int(np.argmax(answer.used_now))
    used = float(answer.used_now[worst])
    mine = fmt("current", page.build.controller.line_current_limit)
    if used >= 1:
        return f"Your {mine} **would cut out** in that pull, by the {RULES[worst]} rule."
    if used > 1 - margin:
        text = f"Your {mine} is **marginal**: it uses {fmt('share', used)} of the {RULES[worst]} allowance"
        return f"{text}, more than your margin leaves."
    limits = answer.limits
    if page.build.controller.line_current_limit > limits.limit[answer.row, answer.column]:
        return (
            f"Your {mine} would hold at just this temperature and charge, with {fmt('share', used)} of the "
            f"{RULES[worst]} allowance used, but not in every warmer or fuller pack."
        )
    if used < 0.005:
        return f"Your {mine} **holds**: it uses none of any allowance."
    return f"Your {mine} **holds**: it uses {fmt('share', used)} of the {RULES[worst]} allowance."


def table(page: Page, answer: LimitAnswer) -> pd.DataFrame:
    """Line limits by pack temperature and charge, as texts."""
    limits, fmt = answer.limits, page.fmt
    columns = {}
    for column, charge in enumerate(limits.charge):
        mark = " (today)" if column == answer.column else ""
        columns[fmt("charge", charge) + mark] = [chart.cell_text(value) for value in limits.limit[:, column]]
    index = [
        fmt("temperature", value) + (" (today)" if row == answer.row else "")
        for row, value in enumerate(limits.temperature)
    ]
    return pd.DataFrame(columns, index=pd.Index(index, name="pack"))


def about(page: Page, pull: Pull, margin: float) -> str:
    """What the table is for, in a line."""
    return (
        f"{as_markdown(page.build.name)}. Highest line limit, A, for {described(page, pull)}, with "
        f"{page.fmt('share', margin)} of every allowance left over; columns: charge at the start."
    )
