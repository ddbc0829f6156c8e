"""Do the parts go together: the verdict, the list, what fuse, cable and connector must carry."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.layout import say, show_derivation, warn
from explorer.frame.prose import prose, table_spelled
from explorer.inputs.part_ratings import PART_RATINGS
from explorer.page.page import Page
from explorer.questions.parts_fit import words
from explorer.questions.parts_fit.results import fit_of

TITLE = "Do the parts go together?"


def draw(page: Page) -> None:
    """Verdict, one list, the duty of what the line current flows through, and their ratings."""
    found = fit_of(page)
    say("parts_fit", words.verdict(page, found))
    show_derivation("parts_fit", lambda: words.derivation(page, found))
    st.table(table_spelled(words.table(page, found)), border="horizontal", hide_index=True)
    st.caption(prose(words.duty(page, found)))
    with st.container(key="parts_fit_inputs"):
        sidebar.in_place(PART_RATINGS)
    warn(words.CAUTION)
