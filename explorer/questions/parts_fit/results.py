"""How the parts fit each other, for a page. Numbers only; the work is in physics."""

from __future__ import annotations

import math
from typing import Any

import streamlit as st

from explorer.page.page import Page, once
from explorer.state.link_entries import CHAIN
from physics.components.chain import CHAIN_SIZES
from physics.studies.parts_fit import PartsFit, parts_fit


@once
def fit_of(page: Page) -> PartsFit:
    """Every line, with the ratings that were entered and the chain that was."""
    known = {}
    for name in ("fuse", "cable", "connector"):
        value = page.inputs[f"{name}_current"]
        known[name] = math.inf if value is None else float(value)
    return parts_fit(page.build, page.run, **known, chain_pitch=chain_pitch(st.session_state.get(CHAIN, {})))


def chain_pitch(entries: dict[str, Any]) -> float | None:
    """Pitch of the chain that was entered, m; None where none was."""
    size = CHAIN_SIZES.get(str(entries.get("size", "")))
    return None if size is None else size.pitch
