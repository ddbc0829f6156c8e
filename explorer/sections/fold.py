"""The folded sections of the page, each under its question. A folded section computes nothing.

While a slider is being dragged only the live ones follow it; the others show the page as it last stood still, and
catch up when the slider is let go. What they show was worked out before, so they cost little meanwhile.
"""

from __future__ import annotations

import streamlit as st

from explorer import sections, words
from explorer.choices import CHOICES, GROUPS, PROTECTION
from explorer.page import Page
from physics.fields import BuildError

LIVE = ("headroom",)
_SETTLED = "settled_page"


def draw_folded(page: Page, held: str = "") -> None:
    """Draw every section that may be folded.

    Parameters
    ----------
    page : Page
        The page of the inputs as they stand.
    held : str
        Key of the slider that is being dragged, or nothing. One that stands in a section moves all sections.
    """
    choice = CHOICES.get(held.removeprefix("in:"))
    in_section = choice is not None and choice.group not in (*GROUPS, PROTECTION)
    settled = st.session_state.get(_SETTLED, page)
    if not held or in_section:
        settled = st.session_state[_SETTLED] = page
    for name, module in sections.folded():
        fold = st.expander(
            module.TITLE, expanded=getattr(module, "OPEN", False), key=f"section_{name}", on_change="rerun"
        )
        if fold.open:
            with fold:
                draw_one(module, page if name in LIVE else settled)


def draw_one(module, page: Page) -> None:
    """Draw one section; a build it cannot take is explained in its place and the rest of the page stays."""
    try:
        module.draw(page)
    except BuildError as error:
        st.error(" ".join(words.faults(error)))
