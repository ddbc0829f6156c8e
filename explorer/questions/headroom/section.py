"""Charge headroom: how far below full the pack must rest before anything may push current back into it."""

from __future__ import annotations

from typing import Any

import streamlit as st

from explorer.frame import drag, sidebar
from explorer.frame.layout import say, show, show_derivation
from explorer.inputs.catalogue import HEADROOM
from explorer.page import cautions
from explorer.page.page import Page
from explorer.questions.headroom import chart, words
from explorer.questions.headroom.results import headroom_of

TITLE = "How many volts below full before regen or wheelie control?"


def draw(page: Page) -> None:
    """Verdict, its three inputs, the curve against current and the curve against temperature."""
    drag.words("headroom_words", lambda now: say("headroom_answer", words.verdict(now, headroom_of(now))), page)
    show_derivation("headroom", lambda: words.derivation(page, headroom_of(page)))
    with st.container(key="headroom_inputs"):
        sidebar.in_place(HEADROOM)
    with st.grid(min_column_width=320, gap="medium"):
        drag.chart(against_current, page)
        drag.chart(against_temperature, page)
    drag.words("headroom_rule", lambda now: say("headroom", words.rule_of_thumb(now, headroom_of(now))), page)
    show("headroom", table=lambda: words.table(page), caution=cautions.COLD_CHARGE)


def against_current(page: Page) -> dict[str, Any]:
    """The curve against regen current."""
    answer = headroom_of(page)
    return {
        "figure": chart.against_current(answer, page.build, page.headroom_wanted, page.fmt),
        "key": "chart_headroom_current",
        "height": chart.HEIGHT,
        "alt": words.alt_current(page, answer),
    }


def against_temperature(page: Page) -> dict[str, Any]:
    """The curve against pack temperature."""
    answer = headroom_of(page)
    return {
        "figure": chart.against_temperature(answer, page.build, page.headroom_wanted, page.fmt),
        "key": "chart_headroom_temperature",
        "height": chart.HEIGHT,
        "alt": words.alt_temperature(page),
    }
