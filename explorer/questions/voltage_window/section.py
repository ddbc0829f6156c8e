"""Voltage window and pulls: below what rest voltage the target is out of reach, and how many pulls that is."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.layout import numbers, say, show, show_derivation, warn
from explorer.inputs.catalogue import PULLS
from explorer.page import cautions
from explorer.page.page import Page
from explorer.questions.voltage_window import chart, results, words

TITLE = "How low can the pack get and still reach the target, and how many pulls is that?"


def draw(page: Page) -> None:
    """Verdict, its inputs, the window against rest voltage, the pulls one by one."""
    window, now = results.window_of(page), results.resting_now(page)
    with st.spinner(words.WORKING):
        pulls = results.pulls_of(page)
    count = int(pulls.pulls[0])
    say("voltage_window_answer", f"{words.verdict(page, window, now)} {words.how_many(page, pulls)}")
    show_derivation("voltage_window", lambda: words.derivation(page))
    with st.container(key="voltage_window_inputs"):
        sidebar.in_place(PULLS)
    show(
        "voltage_window",
        verdict=words.what_ends_it(page, pulls, window),
        figure=chart.figure(window, now, page.fmt, pulls.rest_voltage[0, :count]),
        height=chart.HEIGHT,
        alt=words.alt(page, window, now),
        note=words.note(count),
        table=lambda: words.table(page, window),
    )
    numbers("voltage_window_pulls", lambda: words.pulls_table(page, pulls), words.PULLS)
    warn(words.CAUTION, cautions.speed_ratings(page.build, page.target_speed, page.fmt))
