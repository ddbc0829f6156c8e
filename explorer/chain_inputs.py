"""The chain on the bike: size, links, on which sprockets, the adjusters' room. Kept for the session."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import streamlit as st

from explorer.page import Page
from physics.build import Build
from physics.chain import CHAIN_SIZES, chain_size
from physics.chain_fit import ChainFit, chain_fit
from physics.chain_length import centre_distance, chain_length

USUAL_DISTANCE = 0.56
"""From front sprocket to axle, m, where the rider has not counted links; common practice, no source."""

_KEPT = "gearing:chain"


@dataclass(frozen=True)
class Chain:
    """The chain on the bike.

    Attributes
    ----------
    size : str
        Its size number.
    links : int
        Its length.
    front_teeth, rear_teeth : int
        The sprockets it runs on now.
    forward, back : float, m
        Room the adjusters leave.
    known : bool
        Whether the rider has entered it.
    """

    size: str
    links: int
    front_teeth: int
    rear_teeth: int
    forward: float
    back: float
    known: bool

    @property
    def pitch(self) -> float:
        """Pitch, m."""
        return chain_size(self.size).pitch

    @property
    def distance(self) -> float:
        """Between the shafts as the axle stands now, m; NaN where the chain cannot close."""
        try:
            return float(centre_distance(self.pitch, self.front_teeth, self.rear_teeth, self.links))
        except ValueError:
            return float("nan")

    def fit(self, front_teeth, rear_teeth) -> ChainFit:
        """How it goes round sprocket pairs; nothing fits where it cannot close as it is."""
        count = np.shape(front_teeth)
        nothing = ChainFit(*[np.full(count, np.nan), np.full(count, np.nan), np.zeros(count, bool)] * 2)
        if np.isnan(self.distance):
            return nothing
        try:
            return chain_fit(
                self.pitch, front_teeth, rear_teeth, self.distance, self.links, self.forward, self.back
            )
        except ValueError:  # sprockets that would touch at this distance
            return nothing


def usual_links(size: str, front_teeth: int, rear_teeth: int) -> int:
    """Even number of links nearest to the usual distance."""
    length = float(chain_length(chain_size(size).pitch, front_teeth, rear_teeth, USUAL_DISTANCE))
    return int(2 * round(length / 2))


def chain(page: Page) -> Chain:
    """The chain as it was entered, or a usual one for the pair that is compared with."""
    build: Build = page.baseline or page.build
    line = build.driveline
    kept = st.session_state.get(_KEPT, {})
    size = kept.get("size", "428")
    front, rear = kept.get("front", line.front_teeth), kept.get("rear", line.rear_teeth)
    return Chain(
        size, kept.get("links") or usual_links(size, front, rear), front, rear,
        kept.get("forward", 0.010), kept.get("back", 0.015), "links" in kept,
    )  # fmt: skip


def edit(page: Page) -> None:
    """The fields, folded away."""
    fold = st.expander("The chain on the bike", key="gearing_chain", on_change="rerun")
    if not fold.open:
        return
    now, write = chain(page), page.write
    sizes = list(CHAIN_SIZES)
    step, digits = (1.0, 0) if write.system == "metric" else (0.05, 2)
    front, rear = {"min_value": 6, "max_value": 60, "step": 1}, {"min_value": 6, "max_value": 150, "step": 1}
    with fold, st.grid(min_column_width=150, gap="small"):
        _field(st.selectbox, now, "size", "Size", now.size, options=sizes)
        _field(st.number_input, now, "links", "Links", now.links, min_value=40, max_value=200, step=1)
        _field(st.number_input, now, "front", "Runs now on front", now.front_teeth, **front)
        _field(st.number_input, now, "rear", "Runs now on rear", now.rear_teeth, **rear)
        for name, label in (("forward", "Axle can go forward"), ("back", "Axle can go back")):
            shown = round(float(write.number("length", getattr(now, name))), digits)
            _field(
                st.number_input, now, name, f"{label}, {write.unit('length')}", shown, min_value=0.0, step=step,
                max_value=round(float(write.number("length", 0.1)), digits), format=f"%.{digits}f",
                held=lambda value: float(write.si("length", value)),
            )  # fmt: skip
    if not now.known:
        fold.caption("Not entered yet: a usual length is assumed. Count the links of your own.")


def _field(widget, now: Chain, name: str, label: str, value, held=lambda value: value, **options) -> None:
    """One field; what is entered is kept while the section is folded."""
    key = f"gearing_chain_{name}"
    st.session_state[key] = value

    def entered():
        start = {"size": now.size, "links": now.links, "front": now.front_teeth, "rear": now.rear_teeth}
        st.session_state[_KEPT] = start | st.session_state.get(_KEPT, {}) | {name: held(st.session_state[key])}

    widget(label, key=key, on_change=entered, **options)
