"""Sag: what the pack's voltage does under load, and how near the weakest cell comes to the cut-out."""

from __future__ import annotations

from typing import Any

from explorer.frame import drag
from explorer.frame.layout import say, show, show_derivation
from explorer.page.page import Page
from explorer.questions.sag import chart, words

TITLE = "Sag"


def draw(page: Page) -> None:
    """Voltage and current over the time of the run."""
    drag.words("sag_words", lambda newest: say("sag", words.verdict(newest)), page)
    show_derivation("sag", lambda: words.derivation(page))
    drag.chart(picture, page)
    show("sag", table=lambda: words.table(page), caution=words.CAUTION)


def picture(page: Page) -> dict[str, Any]:
    """Voltages above, line current below."""
    return {
        "figure": chart.figure(page.run, page.build, page.fmt, page.baseline_run),
        "key": "chart_sag",
        "height": chart.HEIGHT,
        "alt": words.alt(page),
    }
