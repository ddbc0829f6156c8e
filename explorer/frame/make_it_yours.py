"""“Make it yours”: one dialog with the dozen questions a rider can answer; what he leaves open becomes typical."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from explorer.inputs.answers import LONGEST_ENTRY, questions, read, texts
from explorer.inputs.origins import OWN, Inputs
from explorer.inputs.to_build import make_build
from explorer.page import words_of_origins as words
from explorer.page.words import faults
from explorer.state.link_entries import READINGS
from explorer.state.readings import are_invented
from explorer.state.state import State
from physics.build.fields import BuildError

_OPEN, _SAID = "own:open", "own:said"


def open_it(state: State) -> None:
    """Open the dialog in the run that follows, with what is known already filled in."""
    st.session_state[_OPEN] = True
    known = texts(state.values, state.units, state.phase_as)
    for question in questions(state.values):
        st.session_state[_key(question.name)] = known.get(question.name, "")


def draw(state: State, lead: Callable[[State], None]) -> None:
    """The dialog, while it is open. It is drawn in each run of the page, so that none of them closes it.

    Parameters
    ----------
    state : State
        Of the session.
    lead : callable
        Begins to lead from value to value; reached from here too, as a phone has no room for it at the top.
    """
    for sentence in st.session_state.pop(_SAID, ()):
        st.toast(sentence, duration="long")
    if st.session_state.get(_OPEN):
        _dialog(state, lead)


def tell(said: list[str]) -> None:
    """Show, in the run that follows, what a rule made of an entry."""
    st.session_state[_SAID] = said


def _key(name: str) -> str:
    return f"own:{name}"


def _closed() -> None:
    st.session_state[_OPEN] = False


@st.dialog(words.MAKE_IT_YOURS, width="medium", on_dismiss=_closed)
def _dialog(state: State, lead: Callable[[State], None]) -> None:
    if not st.session_state[_OPEN]:  # left by its own button
        st.rerun()
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.markdown(words.count(state.values), width="content")
        st.button(words.ONE_BY_ONE, key="own:walk", type="tertiary", on_click=_leave, args=(state, lead))
    st.markdown(words.WHAT_YOU_KNOW)
    with st.form("own", enter_to_submit=False, border=False):
        with st.grid(min_column_width=230, gap="small"):
            for question in questions(state.values):
                st.text_input(
                    question.label(state.units, state.phase_as),
                    key=_key(question.name),
                    placeholder=words.UNKNOWN.format(question.example),
                    max_chars=LONGEST_ENTRY,
                    help=question.help or None,
                )
        wrong = st.container()
        used = st.form_submit_button(words.USE_THESE, type="primary", key="own:use")
    if used:
        for sentence in _take(state):
            wrong.error(sentence)


def _leave(state: State, lead: Callable[[State], None]) -> None:
    _closed()
    lead(state)


def _take(state: State) -> list[str]:
    """Use the answers and close; where one cannot be used, say so and leave all of them as they stand."""
    answers = {question.name: st.session_state[_key(question.name)] for question in questions(state.values)}
    given, wrong, said = read(answers, state.values, state.units, state.phase_as)
    if not wrong:
        try:
            make_build(Inputs(OWN, {}, given))
        except BuildError as error:
            return faults(error)
        state.make_own(given)
        if READINGS not in st.session_state or are_invented(st.session_state[READINGS]):
            st.session_state[READINGS] = []
        _closed()
        tell(said)
        st.rerun()
    return list(wrong.values())
