"""Today's line limit: the highest that survives a pull with margin, over pack temperature and charge."""

from __future__ import annotations

import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.frame import sidebar
from explorer.frame.layout import say, show_derivation, warn
from explorer.frame.prose import prose
from explorer.inputs.catalogue import LINE_LIMIT
from explorer.page.page import Page
from explorer.questions.line_limit import chart, words
from explorer.questions.line_limit.results import limit_of

TITLE = "What line limit is safe from a cut-out today?"


def draw(page: Page) -> None:
    """Verdict, its inputs, the allowance against the limit, the map, and a table to print."""
    with st.spinner(words.WORKING):
        answer = limit_of(page)
    mine = page.build.controller.line_current_limit
    say("line_limit_answer", words.verdict(page, answer))
    show_derivation("line_limit", lambda: words.derivation(page, mine))
    with st.container(key="line_limit_inputs"):
        sidebar.in_place(LINE_LIMIT)
    live_chart(
        chart.ladder_figure(answer, mine),
        key="chart_line_limit_ladder",
        height=chart.LADDER_HEIGHT,
        alt=words.alt_ladder(page, answer),
    )
    live_chart(
        chart.map_figure(answer, mine, page.fmt),
        key="chart_line_limit",
        height=chart.MAP_HEIGHT,
        alt=words.ALT_MAP,
    )
    st.caption(prose(words.NOTE))
    expander = st.expander(words.TABLE, key="table_line_limit", on_change="rerun")
    if expander.open:
        with expander:
            st.table(words.table(page, answer), border="horizontal")
            st.caption(prose(words.about(page)))
    warn(words.CAUTION)
