"""Speedometer: a new constant from readings, what a change of gearing or tyre does to it, the legal band."""

from __future__ import annotations

import numpy as np
import streamlit as st

from explorer.frame import sidebar as inputs
from explorer.frame.layout import numbers, say, show, show_derivation
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.speedometer import MOTOR, REAR_WHEEL, SPEEDOMETER, SPEEDOMETER_READING
from explorer.page.page import Page
from explorer.questions.speedometer import chart, words
from explorer.questions.speedometer import readings as table
from explorer.questions.speedometer.results import instrument, pool
from explorer.state.readings import are_invented, complete
from explorer.state.state import current

TITLE = "Is my speedometer right, and what is its new constant?"
KEY = "speedometer"


def draw(page: Page) -> None:
    """The answer, the readings and inputs, the band, and what a change of parts does."""
    display, readings = instrument(page), complete(table.readings())
    pooled = pool(page, readings)
    say(f"{KEY}_constant", words.new_constant(pooled, display.constant, display.inverse))
    if readings:
        show_derivation(KEY, lambda: words.derivation(*readings[0], display, page.fmt))
    left, right = st.columns(2, gap="medium")
    with left:
        table.edit(page.fmt)
        if readings:
            st.button(words.CLEAR, icon=":material/delete:", on_click=table.clear, key=f"{KEY}_clear")
        if are_invented(table.readings()):
            st.caption(words.INVENTED)
        inputs.in_place(SPEEDOMETER_READING)
    with right:
        _constant(page)
        inputs.in_place(SPEEDOMETER)
    ratio = words.ratio_of(pooled, display.constant, display.inverse)
    indicated, measured = [shown for shown, _ in readings], [true for _, true in readings]
    top, kind = float(page.run.top_speed[0]), page.inputs["speedo_class"]
    text = words.legal(indicated, measured, top, display.at, kind, page.fmt)
    if np.isfinite(ratio):
        text = f"{words.what_it_reads(ratio, top, display.at, page.fmt)}\n\n{text}"
    show(
        KEY,
        verdict=text,
        figure=chart.figure(indicated, measured, pooled.disagrees if pooled else [], ratio, top, kind, page.fmt),
        height=chart.HEIGHT,
        alt=words.alt(text),
        note=words.SOURCE,
        table=lambda: words.readings_table(readings, pooled, display, kind, page.fmt),
    )
    show(f"{KEY}_change", verdict=words.since_the_baseline(page, display), caution=words.CAUTION)
    if display.sensor in (MOTOR, REAR_WHEEL):
        numbers(f"{KEY}_next", lambda: words.other_parts(page.build, display, page.fmt), words.OTHER_PARTS)


def _constant(page: Page) -> None:
    """The box for the constant: a plain number, since no slider would help."""
    spec, state, key = INPUTS["speedo_constant"], current(), "in:speedo_constant"
    st.session_state[key] = float(page.inputs["speedo_constant"])

    def entered() -> None:
        value, sentence = spec.clean(st.session_state[key])
        if value is not None or not sentence:
            state.change(spec.key, value)

    st.number_input(
        spec.label,
        float(spec.low),
        float(spec.high),
        step=1.0,
        format="%g",
        key=key,
        help=spec.help,
        on_change=entered,
    )
