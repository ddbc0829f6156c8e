"""The pack under load: sag, or the timers of its protection, and how near it comes to a cut-out."""

from __future__ import annotations

from typing import Any

import streamlit as st

from explorer.frame import drag
from explorer.frame.layout import chart_head, numbers, say, show_derivation
from explorer.page import cautions
from explorer.page.page import Page
from explorer.questions.sag import chart, timer_words, timers, words

TITLE = "The pack under load"
VIEWS = {"sag": "Sag", "timers": "Will it cut out?"}


def draw(page: Page) -> None:
    """Voltage and current, or the trip timers, over the time of the run."""
    view, details = chart_head("sag", VIEWS)
    if details.open:
        with details:
            (_timer_details if view == "timers" else _sag_details)(page)
    drag.chart(PICTURES[view], page)


def _sag_details(page: Page) -> None:
    say("sag", words.verdict(page))
    show_derivation("sag", lambda: words.derivation(page))
    numbers("sag", lambda: words.table(page))
    st.warning(words.CAUTION, icon=":material/warning:")


def _timer_details(page: Page) -> None:
    say("timers", timer_words.verdict(page))
    show_derivation("timers", lambda: timer_words.derivation(page))
    st.caption(timer_words.note(page))
    numbers("timers", lambda: timer_words.table(page))
    st.warning(cautions.CUT_OUT, icon=":material/warning:")


def sag_picture(page: Page) -> dict[str, Any]:
    """Voltages above, line current below."""
    return {
        "figure": chart.figure(page.run, page.build, page.fmt, page.baseline_run),
        "key": "chart_sag",
        "height": chart.HEIGHT,
        "alt": words.alt(page),
    }


def timers_picture(page: Page) -> dict[str, Any]:
    """How much of each rule of the protection is used."""
    return {
        "figure": timers.figure(page.run, timer_words.active(page), page.baseline_run),
        "key": "chart_timers",
        "height": chart.HEIGHT,
        "alt": timer_words.alt(page),
    }


PICTURES = {"sag": sag_picture, "timers": timers_picture}
"""What draws each of VIEWS; both follow a held slider."""
