"""Cached calls for charge headroom. Numbers only; the work is in headroom_curves.py."""

from __future__ import annotations

import streamlit as st

from explorer import headroom_curves
from explorer.headroom_curves import HeadroomAnswer
from explorer.results import BY_BUILD
from physics import cruise as steady
from physics.build import Build


@st.cache_data(max_entries=100, show_spinner=False, hash_funcs=BY_BUILD)
def headroom_answer(build: Build, event_duration: float) -> HeadroomAnswer:
    """Charge headroom today and its curves; see `headroom_curves.headroom_answer`."""
    return headroom_curves.headroom_answer(build, event_duration)


def cruise(build: Build, speed: float) -> tuple[float, float]:
    """Energy drawn from the cells at a steady speed, J/m, and the speed held, m/s."""
    energy, held = steady.cruise(build, speed)
    return float(energy[0]), float(held[0])
