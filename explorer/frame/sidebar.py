"""The inputs at the side: one short function for each group of widgets.

The state holds the values; a widget shows one and writes back what the rider enters. Keys of widgets begin "in:".
"""

from __future__ import annotations

import streamlit as st

from explorer.components.live_slider import Slider, live_sliders
from explorer.inputs.catalogue import (
    BIKE,
    COMMON_TYRES,
    DRIVE,
    GEARING,
    GROUPS,
    HEADROOM,
    INPUTS,
    PACK,
    PROTECTION,
    TODAY,
    of_group,
)  # fmt: skip
from explorer.inputs.presets import PRESETS
from explorer.inputs.spec import InputSpec
from explorer.inputs.to_build import rest_voltage_of
from explorer.page import words
from explorer.state.state import CHARGE_AS, PHASE_AS, REST_VOLTAGE, State, current
from physics.components.cell import chemistry

OPEN_AT_FIRST = (DRIVE, GEARING, TODAY)
FOLLOWED = (*GROUPS, PROTECTION, HEADROOM)
"""Groups whose sliders `explorer.frame.drag` follows; those of other sections move the whole page."""


def side(state: State) -> None:
    """Everything at the side."""
    start(state)
    for group, content in ((TODAY, today), (PACK, pack), (DRIVE, drive), (GEARING, gearing), (BIKE, bike)):
        fold = st.expander(group, expanded=group in OPEN_AT_FIRST, key=f"group_{group}", on_change="rerun")
        if fold.open:
            with fold:
                content(state)
    st.caption(words.SHARE)


def start(state: State) -> None:
    """Preset, units, undo and reset."""
    key = "in:preset"
    if st.session_state.get(key) != state.preset:
        st.session_state[key] = state.preset
    st.selectbox(
        "Start from", list(PRESETS), format_func=lambda name: PRESETS[name].name, key=key,
        on_change=lambda: state.use_preset(st.session_state[key]),
    )  # fmt: skip
    st.caption(PRESETS[state.preset].story)
    _setting(state, "units", "Units", ("metric", "US"))
    with st.container(horizontal=True, gap="small"):
        st.button("Undo", icon=":material/undo:", on_click=state.undo, disabled=not state.past, key="undo")
        st.button(
            "Reset", icon=":material/restart_alt:", on_click=state.reset, key="reset",
            disabled=not state.differences(), help="Back to the build you started from.",
        )  # fmt: skip


def pack(state: State) -> None:
    """Cells, capacity, chemistry, resistance; the protection folded away."""
    _options(state, INPUTS["chemistry"])
    _numbers(state, PACK, [INPUTS["cells"], INPUTS["capacity"]])
    _switched(state, INPUTS["pack_resistance"])
    _more(state, PACK, "More about the pack")
    fold = st.expander(PROTECTION, key="group_protection", on_change="rerun")
    if fold.open:
        with fold:
            st.caption(words.CAUTION_PROTECTION)
            _any(state, PROTECTION, of_group(PROTECTION, advanced=True))


def drive(state: State) -> None:
    """Power level and its limits, throttle, motor."""
    _options(state, INPUTS["level"], as_buttons=True)
    _setting(state, "phase_as", "Phase currents as", PHASE_AS, "Peak is 1.414 times RMS. The build stays the same.")
    shown = [INPUTS[f"line_{state.values['level']}"], INPUTS[f"phase_{state.values['level']}"]]
    shown += [INPUTS[key] for key in ("throttle", "kv", "field_weakening", "regen")]
    _numbers(state, DRIVE, shown)
    _more(state, DRIVE, "More about controller and motor")


def gearing(state: State) -> None:
    """Sprockets and rear tyre."""
    _numbers(state, GEARING, [INPUTS["front_teeth"], INPUTS["rear_teeth"]])
    _tyre(state)
    _more(state, GEARING, "More about the driveline")


def bike(state: State) -> None:
    """Weights, seat position, drag."""
    _options(state, INPUTS["posture"], as_buttons=True)
    _numbers(state, BIKE, [INPUTS["bike_mass"], INPUTS["rider_mass"]])
    _switched(state, INPUTS["drag_area"])
    _more(state, BIKE, "More about the bike")


def today(state: State) -> None:
    """The target and the day."""
    _numbers(state, "target", [INPUTS["target"], INPUTS["air_temperature"]])
    _setting(state, "charge_as", "Charge known as", CHARGE_AS)
    if state.charge_as == CHARGE_AS[0]:
        _numbers(state, "charge", [INPUTS["charge"]])
    else:
        _rest_voltage(state)
    _switched(state, INPUTS["pack_temperature"])
    _numbers(state, TODAY, [INPUTS[key] for key in ("headwind", "slope", "duration")])
    _more(state, TODAY, "More about the day")


def in_place(group: str) -> None:
    """The inputs of a group that stands in a section of the page."""
    _any(current(), group, of_group(group, advanced=False))


def _more(state: State, group: str, label: str) -> None:
    fold = st.expander(label, key=f"more_{group}", on_change="rerun")
    if fold.open:
        with fold:
            _any(state, f"more {group}", of_group(group, advanced=True))


def _any(state: State, name: str, specs: list[InputSpec]) -> None:
    """Inputs of all kinds in their order; numbers that follow each other stand in one group."""
    numbers: list[InputSpec] = []
    for spec in specs:
        if spec.kind == "number":
            numbers.append(spec)
            continue
        _numbers(state, f"{name} {spec.key}", numbers)
        numbers = []
        {"options": _options, "flag": _flag}.get(spec.kind, _switched)(state, spec)
    _numbers(state, name, numbers)


def _numbers(state: State, name: str, specs: list[InputSpec]) -> None:
    """A group of sliders, each with a box for exact entry."""
    if not specs:
        return
    sliders = []
    for spec in specs:
        low, high, step = spec.bounds(state.units, state.phase_as)
        digits = spec.digits(state.units, state.phase_as)
        key = f"in:{spec.key}"
        shown = spec.shown(state.values[spec.key], state.units, state.phase_as)
        st.session_state[key] = round(shown, digits + 2)
        unit = spec.unit_text(state.units, state.phase_as)
        sliders.append(Slider(key, spec.label, low, high, step, unit, digits, spec.help))
    follows = specs[0].group in FOLLOWED
    live_sliders(sliders, key=f"sliders {name}", on_move=state.slide, follows=follows)


def _rest_voltage(state: State) -> None:
    """The pack's rest voltage in place of its charge; the charge is what is held."""
    kind, cells = chemistry(state.values["chemistry"]), state.values["cells"]
    st.session_state[REST_VOLTAGE] = round(rest_voltage_of(state.values, state.values["charge"]), 2)
    low, high = round(kind.voltage_minimum * cells, 1), round(kind.voltage_maximum * cells, 1)
    slider = Slider(REST_VOLTAGE, "Rest voltage", low, high, 0.1, "V", 1, words.REST_VOLTAGE)
    live_sliders([slider], key="sliders rest voltage", on_move=state.slide, follows=True)
    st.caption(f"That is {INPUTS['charge'].text(round(state.values['charge'], 1))} of charge.")


def _switched(state: State, spec: InputSpec) -> None:
    """A number with a switch before it: off stands for a typical value, or for no such limit."""
    key = f"in:{spec.key}:on"
    st.session_state[key] = state.values[spec.key] is not None

    def turn():
        state.change(spec.key, float(spec.start) if st.session_state[key] else None)

    st.toggle(spec.switch, key=key, on_change=turn, help=spec.help or None)
    if state.values[spec.key] is not None:
        _numbers(state, f"switched {spec.key}", [spec])


def _options(state: State, spec: InputSpec, as_buttons: bool = False) -> None:
    key, labels = f"in:{spec.key}", dict(spec.options)
    st.session_state[key] = state.values[spec.key]
    shared = {
        "format_func": labels.get, "key": key, "help": spec.help or None,
        "on_change": lambda: state.change(spec.key, st.session_state[key]),
    }  # fmt: skip
    if as_buttons:
        st.segmented_control(spec.label, list(labels), required=True, **shared)
    else:
        st.selectbox(spec.label, list(labels), **shared)


def _flag(state: State, spec: InputSpec) -> None:
    key = f"in:{spec.key}"
    st.session_state[key] = state.values[spec.key]
    st.toggle(
        spec.label, key=key, on_change=lambda: state.change(spec.key, st.session_state[key]),
        help=spec.help or None,
    )  # fmt: skip


def _tyre(state: State) -> None:
    """A tyre size: one of the common ones, or any that is typed."""
    key = "in:tyre"
    st.session_state[key] = state.values["tyre"]
    sizes = list(dict.fromkeys([*COMMON_TYRES, state.values["tyre"]]))

    def entered():
        value, sentence = INPUTS["tyre"].clean(st.session_state[key])
        if not sentence:
            state.change("tyre", value)

    st.selectbox(
        INPUTS["tyre"].label, sizes, key=key, accept_new_options=True, on_change=entered, help=INPUTS["tyre"].help
    )


def _setting(state: State, name: str, label: str, accepted: tuple[str, ...], help: str | None = None) -> None:
    """How numbers are shown or entered; it changes no value."""
    key = f"in:setting:{name}"
    st.session_state[key] = getattr(state, name)
    st.segmented_control(
        label, list(accepted), key=key, required=True, help=help,
        on_change=lambda: setattr(state, name, st.session_state[key]),
    )  # fmt: skip
