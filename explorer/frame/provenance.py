"""Where values come from: the count at the top of the page, and what leads from one value to the next."""

from __future__ import annotations

from typing import Any

import streamlit as st

from explorer.frame import make_it_yours
from explorer.frame.prose import prose
from explorer.inputs.answers import LONGEST_ENTRY
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.entries import Context, Entry, read_entry
from explorer.inputs.origins import DEMO, TYPICAL, named, those
from explorer.inputs.spec import InputSpec
from explorer.inputs.typed import accepted
from explorer.inputs.typical import filled
from explorer.page import words_of_origins as words
from explorer.state.state import State

NEXT_FACT = "origins:next"
"""Key of the input that would narrow the answer most, in the session once the ranking is done."""
_WALK, _PLACE, _WRONG = "origins:walk", "origins:place", "origins:wrong"


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
            words.one_by_one(measure_next(state)),
            icon=":material/checklist:",
            key="one_by_one",
            type="tertiary",
            on_click=_start,
            args=(state,),
            help=words.ONE_BY_ONE_HELP,
            disabled=not those(values, TYPICAL, DEMO),
        )
    make_it_yours.draw(state, _start)
    if _WALK in st.session_state:
        _walk(state)


def _start(state: State) -> None:
    if open_ones := those(state.values, TYPICAL, DEMO):
        if (first := measure_next(state)) in open_ones:
            open_ones = [first, *(key for key in open_ones if key != first)]
        st.session_state[_WALK] = open_ones
        st.session_state[_PLACE], st.session_state[_WRONG] = 0, ""


def measure_next(state: State) -> str:
    """The fact that would narrow the answer most, where that has been worked out and it is still typical."""
    key = st.session_state.get(NEXT_FACT, "")
    return key if key in those(state.values, TYPICAL) else ""


def _end() -> None:
    st.session_state.pop(_WALK, None)


@st.dialog(words.ONE_BY_ONE, on_dismiss=_end)
def _walk(state: State) -> None:
    """One value that is not given: what stands for it and why, how to measure it, and a place to enter it."""
    if _WALK not in st.session_state:  # ended by one of its own buttons
        st.rerun()
    keys, place = st.session_state[_WALK], st.session_state[_PLACE]
    spec = INPUTS[keys[place]]
    as_it_is = filled(state.values)[spec.key]
    st.caption(f"{place + 1} / {len(keys)}")
    st.markdown(f"**{named(spec.key)}**: {words.stands(state.values, spec.key, state.units, state.phase_as)}")
    st.markdown(words.how(spec.key))
    st.caption(words.CAUTION)
    with st.form(f"walk:{spec.key}", border=False):
        _field(state, spec)
        if st.session_state[_WRONG]:
            st.error(prose(st.session_state[_WRONG]))
        with st.container(horizontal=True, gap="small"):
            for label, key, by, off in (
                (words.NEXT, "next", 1, False),
                (words.AS_IT_IS, "right", 1, as_it_is is None and spec.kind != "limit"),
                (words.BACK, "back", -1, place == 0),
                (words.ENOUGH, "enough", len(keys), False),
            ):
                held = {spec.key: as_it_is} if key == "right" else None
                st.form_submit_button(
                    label,
                    key=f"walk:{key}",
                    type="primary" if key == "next" else "secondary",
                    disabled=off,
                    on_click=_step,
                    args=(state, spec, by, held),
                )


def _step(state: State, spec: InputSpec, by: int, held: dict[str, Any] | None) -> None:
    """Take over what was entered, or hold a value as it is, and go on; what cannot be used is said and stays."""
    entered = st.session_state.get(f"walk:{spec.key}") or ""
    try:
        found = Entry(given=held or {}) if held or not entered else _read(state, spec, entered)
    except ValueError as error:
        st.session_state[_WRONG] = f"{spec.label}: {error}"
        return
    state.give(found.given)
    make_it_yours.tell(found.said)
    st.session_state[_WRONG] = ""
    st.session_state[_PLACE] += by
    if st.session_state[_PLACE] >= len(st.session_state[_WALK]):
        _end()


def _field(state: State, spec: InputSpec) -> None:
    """Where the rider enters it; empty where he does not know."""
    key, unit = f"walk:{spec.key}", spec.unit_text(state.units, state.phase_as)
    labels = dict(spec.options)
    if labels:
        st.selectbox(spec.label, list(labels), None, labels.__getitem__, key=key)
        return
    label = f"{spec.label}, {unit}" if unit and spec.is_number else spec.label
    st.text_input(label, key=key, help=spec.help or None, max_chars=LONGEST_ENTRY)


def _read(state: State, spec: InputSpec, entered: str) -> Entry:
    """What was typed; raises ValueError with a sentence where it is not accepted."""
    entry = read_entry(spec.key, entered, Context(state.values, state.units, state.phase_as))
    if entry.plain:
        entry.give(spec.key, _value(state, spec, entry.plain))
    return entry


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
