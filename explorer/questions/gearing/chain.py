"""The chain on the bike: fields for its size, links, sprockets, and the adjusters' room. Kept for the session."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import streamlit as st

from explorer.page.page import Page
from explorer.questions.gearing import words
from explorer.questions.gearing.chain_on_bike import Chain, chain_on_bike
from explorer.state.link_entries import CHAIN
from physics.components.chain import CHAIN_SIZES


def chain(page: Page) -> Chain:
    """The chain as it was entered, or a usual one for the pair that is compared with."""
    return chain_on_bike(page.baseline or page.build, st.session_state.get(CHAIN, {}))


def edit(page: Page) -> None:
    """The fields, folded away."""
    expander = st.expander(words.CHAIN, key="gearing_chain", on_change="rerun")
    if not expander.open:
        return
    now, fmt, label = chain(page), page.fmt, words.CHAIN_FIELDS
    sizes = list(CHAIN_SIZES)
    step, digits = (1.0, 0) if fmt.system == "metric" else (0.05, 2)
    with expander, st.grid(min_column_width=150, gap="small"):
        _field(st.selectbox, now, "size", label["size"], now.size, options=sizes)
        _field(st.number_input, now, "links", label["links"], now.links, min_value=40, max_value=200, step=1)
        _field(st.number_input, now, "front", label["front"], now.front_teeth, min_value=6, max_value=60, step=1)
        _field(st.number_input, now, "rear", label["rear"], now.rear_teeth, min_value=6, max_value=150, step=1)
        for name in ("forward", "back"):
            shown = round(float(fmt.number("length", getattr(now, name))), digits)
            _field(
                st.number_input,
                now,
                name,
                f"{label[name]}, {fmt.unit('length')}",
                shown,
                min_value=0.0,
                step=step,
                max_value=round(float(fmt.number("length", 0.1)), digits),
                format=f"%.{digits}f",
                held=lambda value: float(fmt.si("length", value)),
            )
    if not now.known:
        expander.caption(words.CHAIN_ASSUMED)


def _field(
    widget: Callable[..., Any],
    now: Chain,
    name: str,
    label: str,
    value: Any,
    held: Callable[[Any], Any] = lambda value: value,
    **options: Any,
) -> None:
    """One field; what is entered is kept while the section is folded."""
    key = f"gearing_chain_{name}"
    st.session_state[key] = value

    def entered() -> None:
        start = {"size": now.size, "links": now.links, "front": now.front_teeth, "rear": now.rear_teeth}
        st.session_state[CHAIN] = start | st.session_state.get(CHAIN, {}) | {name: held(st.session_state[key])}

    widget(label, key=key, on_change=entered, **options)
