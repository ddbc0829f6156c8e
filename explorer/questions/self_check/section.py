"""What the controller's own identification should report: the verdict and a small table."""

from __future__ import annotations

import streamlit as st

from explorer.frame.layout import say, show_derivation, warn
from explorer.frame.prose import prose, table_spelled
from explorer.page.page import Page
from explorer.questions.self_check import words

TITLE = "What should my controller measure on the motor?"


def draw(page: Page) -> None:
    """Verdict, the values to compare, caution."""
    found = words.found_of(page)
    say("self_check", words.verdict(page, found))
    if found is None:
        return
    show_derivation("self_check", lambda: words.derivation(page, found))
    st.table(table_spelled(words.table(page, found)), border="horizontal", hide_index=True)
    st.caption(prose(words.NOTE))
    warn(words.CAUTION)
