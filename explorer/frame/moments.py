"""The row of moments under the first screen, and the questions of the one that is open.

One is open at a time: the page stays short, and what is not open computes nothing.
"""

from __future__ import annotations

from contextlib import suppress
from types import ModuleType

import streamlit as st

from explorer.frame import layout
from explorer.page.page import Page
from explorer.state import link_entries
from physics.build.fields import BuildError

KEY = "moment"
"""Key of the row: the name of the open moment, or None."""
_TAPS = "moment_taps"
_ASKED, _WHO = "moment_asked", "moment_of"
# It stays in the page, as a browser may see nothing of a run that another follows at once; each tap acts once.
# A smooth scroll goes to where its aim lay when it began, so it is repeated whenever the page has come to rest at
# another height, until the rider acts.
_SCROLL = """<script>
(() => {
  if (window.headroomTap === TAP) return;
  window.headroomTap = TAP;
  let resting;
  const go = () => document.querySelector(".st-key-moments")?.scrollIntoView({ behavior: "smooth" });
  const resized = new ResizeObserver(() => { clearTimeout(resting); resting = setTimeout(go, 150); });
  const stop = () => { resized.disconnect(); clearTimeout(resting); };
  for (const act of ["wheel", "pointerdown", "keydown", "click"]) addEventListener(act, stop, { capture: true });
  resized.observe(document.querySelector("[data-testid=stMainBlockContainer]"));
  go();
})();
</script>"""


def opened() -> str | None:
    """The name of the moment that is open."""
    return st.session_state.get(KEY)


def ahead(page: Page, moments: tuple[tuple[str, tuple[ModuleType, ...]], ...]) -> None:
    """Ask for what the unfolded questions of the open moment will want, and for nothing older any more.

    Parameters
    ----------
    page, moments
        As `draw` takes them.
    """
    asked, who = [], st.session_state.setdefault(_WHO, object())
    for question in reversed(dict(moments).get(opened() or "", ())):  # the longest work stands last
        if hasattr(question, "ahead") and layout.unfolded(question):
            with suppress(BuildError):  # it says so where it is drawn
                asked += question.ahead(page)
    for older in set(st.session_state.get(_ASKED, ())).difference(asked):
        older.drop(who)
    for one in asked:
        one.begin(who)
    st.session_state[_ASKED] = asked


def draw(page: Page, moments: tuple[tuple[str, tuple[ModuleType, ...]], ...]) -> None:
    """The row, and under it each question of the open moment, folded, with one caution for all that are unfolded.

    Parameters
    ----------
    page : Page
        What the questions are given.
    moments : tuple of (str, tuple of modules)
        Names and questions, in order.
    """
    if link_entries.EXPERIMENT in st.session_state and KEY not in st.session_state:
        _open(moments, "experiments")
    with st.container(key="moments"):
        chosen = st.segmented_control(
            "Questions for the moment",
            [name for name, _ in moments],
            key=KEY,
            label_visibility="collapsed",
            width="stretch",
            on_change=_tapped,
        )
        if chosen and _TAPS in st.session_state:  # within the row: below it, every later part would be made anew
            st.html(_SCROLL.replace("TAP", str(st.session_state[_TAPS])), unsafe_allow_javascript=True)
    with st.container(key="moment_questions"):
        layout.draw_folded(page, dict(moments).get(chosen or "", ()))


def _open(moments: tuple[tuple[str, tuple[ModuleType, ...]], ...], name: str) -> None:
    """Open the moment of a question that a link asks for, and the question."""
    for moment, questions in moments:
        if any(question.__name__.endswith(f".{name}") for question in questions):
            st.session_state[KEY] = moment
            st.session_state[f"section_{name}"] = True


def _tapped() -> None:
    st.session_state[_TAPS] = st.session_state.get(_TAPS, 0) + 1
