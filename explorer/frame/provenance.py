"""Where values come from: the count at the top of the page, and what leads from one value to the next."""

from __future__ import annotations

import streamlit as st

from explorer.frame import make_it_yours
from explorer.inputs.answers import accepted
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import DEMO, TYPICAL, named, those
from explorer.inputs.spec import InputSpec
from explorer.inputs.typical import filled
from explorer.page import words_of_origins as words
from explorer.state.state import State

_WALK, _PLACE = "origins:walk", "origins:place"


def bar(state: State) -> None:
    """How many values are typical, how many a demo's; the way to make the build one's own, and to each value."""
    values = state.values
    demo = bool(those(values, DEMO))
    with st.container(horizontal=True, vertical_alignment="center", gap="small", key="origins"):
        st.markdown(words.count(values), width="content")
        st.button(
            words.MAKE_IT_YOURS if demo else words.YOUR_FACTS,
            icon=":material/two_wheeler:",
            key="make_it_yours",
            type="primary" if demo else "tertiary",
            on_click=make_it_yours.open_it,
            args=(state,),
        )
        st.button(
            words.ONE_BY_ONE,
            icon=":material/checklist:",
            key="one_by_one",
            type="tertiary",
            on_click=_start,
            args=(state,),
            help=words.ONE_BY_ONE_HELP,
            disabled=not those(values, TYPICAL, DEMO),
        )
    make_it_yours.draw(state)
    if _WALK in st.session_state:
        _walk(state)


def _start(state: State) -> None:
    st.session_state[_WALK] = those(state.values, TYPICAL, DEMO)
    st.session_state[_PLACE] = 0


def _end() -> None:
    st.session_state.pop(_WALK, None)


@st.dialog(words.ONE_BY_ONE, on_dismiss=_end)
def _walk(state: State) -> None:
    """One value that is not given: what stands for it and why, how to measure it, and a place to enter it."""
    keys, place = st.session_state[_WALK], st.session_state[_PLACE]
    key = keys[place]
    spec = INPUTS[key]
    st.caption(f"{place + 1} / {len(keys)}")
    st.markdown(f"**{named(key)}**: {words.stands(state.values, key, state.units, state.phase_as)}")
    st.markdown(words.how(key))
    with st.form(f"walk:{key}", border=False):
        entered = _field(state, spec)
        wrong = st.container()
        with st.container(horizontal=True, gap="small"):
            forward = st.form_submit_button(words.NEXT, type="primary", key="walk:next")
            right = st.form_submit_button(
                words.AS_IT_IS,
                key="walk:right",
                disabled=filled(state.values)[key] is None and spec.kind != "limit",
            )
            back = st.form_submit_button(words.BACK, key="walk:back", disabled=place == 0)
            enough = st.form_submit_button(words.ENOUGH, key="walk:enough", type="tertiary")
    if right:
        state.give({key: filled(state.values)[key]})
    elif entered and not back:
        try:
            state.give({key: _value(state, spec, entered)})
        except ValueError as error:
            wrong.error(f"{spec.label}: {error}")
            return
    if enough or (place + 1 == len(keys) and (forward or right)):
        _end()
        st.rerun()
    if forward or right or back:
        st.session_state[_PLACE] = place - 1 if back else place + 1
        st.rerun(scope="fragment")


def _field(state: State, spec: InputSpec) -> str:
    """What the rider enters; empty where he does not know."""
    key, unit = f"walk:{spec.key}", spec.unit_text(state.units, state.phase_as)
    labels = dict(spec.options)
    if labels:
        return st.selectbox(spec.label, list(labels), None, labels.__getitem__, key=key) or ""
    label = f"{spec.label}, {unit}" if unit and spec.is_number else spec.label
    return st.text_input(label, key=key, help=spec.help or None, max_chars=40)


def _value(state: State, spec: InputSpec, entered: str) -> object:
    """In home units; raises ValueError with a sentence where it is not accepted."""
    if spec.is_number:
        try:
            return accepted(spec, entered, state.units, state.phase_as)
        except ValueError as error:
            raise ValueError(f"{error} It accepts {spec.accepts(state.units)}.") from None
    value, sentence = spec.clean(entered)
    if sentence:
        raise ValueError(sentence)
    return value
