"""Front wheel and power levels: where the front goes light and lifts, feel in numbers, the levels side by side."""

from __future__ import annotations

import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.frame import sidebar
from explorer.frame.layout import numbers, say, show_derivation, warn
from explorer.frame.prose import prose
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.day import THROTTLE
from explorer.page.page import Page
from explorer.questions.front_wheel import chart, words
from explorer.questions.front_wheel.results import FEEL_SPEED, front_answer_of, posture_limits, throttle_for

TITLE = "At what throttle does the front wheel go light, and lift?"


def draw(page: Page) -> None:
    """Verdict, two charts, feel, the levels side by side, caution."""
    feel_speed = FEEL_SPEED[page.fmt.system]
    answer = front_answer_of(page)
    marks, used = answer.marks, answer.level_in_use(page.inputs, page.build.controller)
    seats = posture_limits(page.inputs, marks.levels[used], float(marks.speed[-1]))
    wanted = INPUTS["throttle_pull"].si(page.inputs["throttle_pull"])
    verdict = words.verdict(page, answer, used, seats)
    say("front_wheel", verdict)
    show_derivation("front_wheel", lambda: words.derivation(page))
    with st.grid(min_column_width=320, gap="medium"):
        live_chart(
            chart.against_speed(marks, page.fmt),
            key="chart_front_wheel_speed",
            height=chart.HEIGHT,
            alt=words.alt_speed(verdict),
        )
        live_chart(
            chart.against_throttle(marks, answer.throttle, answer.force, answer.at, page.fmt),
            key="chart_front_wheel_throttle",
            height=chart.HEIGHT,
            alt=words.alt_throttle(page),
        )
    st.caption(prose(words.note(page)))
    with st.container(key="verdict_front_wheel_feel"):
        st.markdown(prose(words.feel(page, answer)))
        st.markdown(prose(words.throttle(page, answer, throttle_for(page.build, wanted, feel_speed))))
    with st.container(key="front_wheel_inputs"):
        sidebar.in_place(THROTTLE)
    st.markdown(words.SIDE_BY_SIDE)
    st.table(words.side_by_side(page, answer), border="horizontal", hide_index=True)
    numbers("front_wheel", lambda: words.table(page, answer), words.MARKS)
    warn(words.CAUTION)
