"""How much a pack's resistance grows in the cold, from one measurement on a mild day and one on a cold day."""

from __future__ import annotations

import streamlit as st

from explorer.inputs.catalogue import INPUTS
from explorer.page import words
from explorer.state.state import State
from physics.components.cell_resistance import cold_growth
from physics.units import convert, to_si

_DAYS = (("mild", "Mild day", 50.0, 20.0), ("cold", "Cold day", 80.0, 5.0))
"""Name in keys, label, and where the two numbers start: mohm and degC."""
_COLDEST, _HOTTEST = -30.0, 60.0


def draw(state: State) -> None:
    """Two resistances at two temperatures, what they come to, and a button that enters it."""
    unit = "degF" if state.units == "US" else "degC"
    shown = "°F" if unit == "degF" else "°C"
    with st.popover("Cold growth from two measurements", use_container_width=True, key="cold_growth"):
        st.caption(words.COLD_GROWTH)
        measured: list[float] = []
        for name, label, ohms, celsius in _DAYS:
            resistance = st.number_input(
                f"{label}: resistance, mΩ", 1.0, 2000.0, ohms, 1.0, key=f"cold_growth:{name}:resistance"
            )
            low, high, start = (round(convert(value, "degC", unit)) for value in (_COLDEST, _HOTTEST, celsius))
            temperature = st.number_input(
                f"{label}: pack temperature, {shown}",
                float(low),
                float(high),
                float(start),
                1.0,
                key=f"cold_growth:{name}:{unit}",
            )
            measured += [resistance / 1000.0, float(to_si(temperature, unit))]
        spec = INPUTS["cold_growth"]
        try:
            growth = float(cold_growth(*measured))
        except ValueError:
            st.warning(words.COLD_GROWTH_REFUSED)
            return
        if not spec.low <= growth <= spec.high:
            st.warning(words.cold_growth_outside(growth))
            return
        st.write(words.cold_growth_found(growth))
        st.button(
            "Enter it", key="cold_growth:enter", on_click=state.change, args=("cold_growth", round(growth, 2))
        )
