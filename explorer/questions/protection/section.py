"""Will it cut out: how much of each allowance of the pack's protection the run uses, tripped or not."""

from __future__ import annotations

from explorer.frame.layout import show
from explorer.page import cautions
from explorer.page.page import Page
from explorer.questions.protection import chart, words

TITLE = "Will it cut out?"


def draw(page: Page) -> None:
    """Verdict, the trip timers against time, and what came nearest to each threshold."""
    active = words.active(page)
    show(
        "protection",
        verdict=words.verdict(page),
        derivation=lambda: words.derivation(page),
        figure=chart.figure(page.run, active, page.baseline_run) if active else None,
        height=chart.HEIGHT,
        alt=words.alt(page),
        note=words.note(page),
        table=lambda: words.table(page),
        caution=cautions.CUT_OUT,
    )
