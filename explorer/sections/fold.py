"""The folded sections of the page, each under its question. A folded section computes nothing."""

from __future__ import annotations

import streamlit as st

from explorer import sections, words
from explorer.page import Page
from physics.fields import BuildError


def draw_folded(page: Page) -> None:
    """Draw every section that may be folded."""
    for name, module in sections.folded():
        fold = st.expander(
            module.TITLE, expanded=getattr(module, "OPEN", False), key=f"section_{name}", on_change="rerun"
        )
        if fold.open:
            with fold:
                draw_one(module, page)


def draw_one(module, page: Page) -> None:
    """Draw one section; a build it cannot take is explained in its place and the rest of the page stays."""
    try:
        module.draw(page)
    except BuildError as error:
        st.error(" ".join(words.faults(error)))
