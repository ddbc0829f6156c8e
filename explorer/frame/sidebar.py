"""The side: the inputs, one short function for each group of widgets, then keeping, sharing and opening builds.

The state holds the values; a widget shows one and writes back what the rider enters. Keys of widgets begin "in:".
"""

from __future__ import annotations

from functools import partial

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
)
from explorer.inputs.presets import PRESETS, STARTS
from explorer.inputs.spec import InputSpec
from explorer.inputs.to_build import rest_voltage_of
from explorer.inputs.typical import filled
from explorer.page import cautions, words, words_of_keeping
from explorer.state import build_files, share_link
from explorer.state.names import LONGEST_NAME, as_file_name
from explorer.state.state import CHARGE_AS, MOST_BUILDS, PHASE_AS, REST_VOLTAGE, State, current, whole_link
from physics.components.cell import chemistry

OPEN_AT_FIRST = (DRIVE, GEARING, TODAY)
DRAGGED = (*GROUPS, PROTECTION, HEADROOM)
"""Groups whose sliders `explorer.frame.drag` follows; those of other sections move the whole page."""
_SENTENCES = "keep:sentences"
_UPLOADS = "keep:uploads"
_UPLOAD_MEGABYTES = 1


def draw(state: State) -> None:
    """Everything at the side."""
    switch(state)
    start(state)
    for group, content in ((TODAY, today), (PACK, pack), (DRIVE, drive), (GEARING, gearing), (BIKE, bike)):
        expander = st.expander(group, expanded=group in OPEN_AT_FIRST, key=f"group_{group}", on_change="rerun")
        if expander.open:
            with expander:
                content(state)
    st.caption(words.SHARE)
    keep_and_share(state)


def switch(state: State) -> None:
    """Which build the page edits; nothing while there is only one."""
    if len(state.builds) > 1:
        key = "keep:build"
        st.session_state[key] = state.name
        st.selectbox(
            "Build",
            list(state.builds),
            key=key,
            on_change=lambda: state.edit(st.session_state[key]),
            help=words_of_keeping.SWITCH,
        )


def start(state: State) -> None:
    """Preset, units, undo and reset."""
    key = "in:preset"
    if st.session_state.get(key) != state.preset:
        st.session_state[key] = state.preset
    st.selectbox(
        "Start from",
        list(dict.fromkeys([*PRESETS, state.preset])),
        format_func=lambda name: STARTS[name].name,
        key=key,
        on_change=lambda: state.use_preset(st.session_state[key]),
    )
    st.caption(STARTS[state.preset].story)
    _setting(state, "units", "Units", ("metric", "US"))
    with st.container(horizontal=True, gap="small"):
        st.button("Undo", icon=":material/undo:", on_click=state.undo, disabled=not state.past, key="undo")
        st.button(
            "Reset",
            icon=":material/restart_alt:",
            on_click=state.reset,
            key="reset",
            disabled=not state.can_reset,
            help="Back to the build you started from.",
        )


def pack(state: State) -> None:
    """Cells, capacity, chemistry, resistance; the protection folded away."""
    _options(state, INPUTS["chemistry"])
    _numbers(state, PACK, [INPUTS["cells"], INPUTS["capacity"]])
    _switched(state, INPUTS["pack_resistance"])
    _more(state, PACK, "More about the pack")
    expander = st.expander(PROTECTION, key="group_protection", on_change="rerun")
    if expander.open:
        with expander:
            st.caption(cautions.PROTECTION)
            _any(state, PROTECTION, of_group(PROTECTION, advanced=True))


def drive(state: State) -> None:
    """Power level and its limits, throttle, motor."""
    _options(state, INPUTS["level"], as_buttons=True)
    _setting(
        state, "phase_as", "Phase current as", PHASE_AS, "Peak is 1.414 times RMS. This does not change the build."
    )
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
    _setting(state, "charge_as", "Enter charge as", CHARGE_AS)
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
    expander = st.expander(label, key=f"more_{group}", on_change="rerun")
    if expander.open:
        with expander:
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
        st.session_state[key] = spec.as_shown(state.values[spec.key], state.units, state.phase_as)
        unit = spec.unit_text(state.units, state.phase_as)
        sliders.append(Slider(key, spec.label, low, high, step, unit, digits, spec.help))
    live_sliders(sliders, key=f"sliders {name}", on_move=state.slide, drags=specs[0].group in DRAGGED)


def _rest_voltage(state: State) -> None:
    """The pack's rest voltage in place of its charge; the charge is what is held."""
    kind, cells = chemistry(state.values["chemistry"]), state.values["cells"]
    st.session_state[REST_VOLTAGE] = round(rest_voltage_of(state.values, state.values["charge"]), 2)
    low, high = round(kind.voltage_minimum * cells, 1), round(kind.voltage_maximum * cells, 1)
    slider = Slider(REST_VOLTAGE, "Rest voltage", low, high, 0.1, "V", 1, words.REST_VOLTAGE)
    live_sliders([slider], key="sliders rest voltage", on_move=state.slide, drags=True)
    st.caption(f"That is {INPUTS['charge'].text(round(state.values['charge'], 1))} of charge.")


def _switched(state: State, spec: InputSpec) -> None:
    """A number with a switch before it: off stands for a typical value, or for no such limit."""
    key = f"in:{spec.key}:on"
    st.session_state[key] = state.values[spec.key] is not None

    def turn() -> None:
        begin = filled(state.values)[spec.key] or spec.start  # at what stood for it
        state.change(spec.key, begin if st.session_state[key] else None)

    st.toggle(spec.switch, key=key, on_change=turn, help=spec.help or None)
    if state.values[spec.key] is not None:
        _numbers(state, f"switched {spec.key}", [spec])


def _options(state: State, spec: InputSpec, as_buttons: bool = False) -> None:
    key, labels = f"in:{spec.key}", dict(spec.options)
    st.session_state[key] = state.values[spec.key]
    widget = partial(st.segmented_control, required=True) if as_buttons else st.selectbox
    widget(
        spec.label,
        list(labels),
        format_func=labels.__getitem__,
        key=key,
        help=spec.help or None,
        on_change=lambda: state.change(spec.key, st.session_state[key]),
    )


def _flag(state: State, spec: InputSpec) -> None:
    key = f"in:{spec.key}"
    st.session_state[key] = state.values[spec.key]
    st.toggle(
        spec.label,
        key=key,
        on_change=lambda: state.change(spec.key, st.session_state[key]),
        help=spec.help or None,
    )


def _tyre(state: State) -> None:
    """A tyre size: one of the common ones, or any that is typed."""
    key = "in:tyre"
    st.session_state[key] = state.values["tyre"]
    sizes = list(dict.fromkeys([*COMMON_TYRES, state.values["tyre"]]))

    def entered() -> None:
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
        label,
        list(accepted),
        key=key,
        required=True,
        help=help,
        on_change=lambda: setattr(state, name, st.session_state[key]),
    )


def keep_and_share(state: State) -> None:
    """Name, copies, files and the link, folded away."""
    expander = st.expander("Keep and share", icon=":material/save:", key="group_keep", on_change="rerun")
    if not expander.open:
        return
    with expander:
        _named(state)
        _copies(state)
        _saved(state)
        _opened(state)
        st.caption(words_of_keeping.LINK)
        st.code(share_link.address(whole_link(state), st.context.url), language=None, wrap_lines=True, height=110)


def _named(state: State) -> None:
    key = "keep:name"
    st.session_state[key] = state.name
    st.text_input(
        "Name of this build", key=key, max_chars=LONGEST_NAME, on_change=lambda: state.rename(st.session_state[key])
    )


def _copies(state: State) -> None:
    with st.container(horizontal=True, gap="small", key="keep_copies"):
        st.button(
            "Duplicate and edit",
            icon=":material/content_copy:",
            key="keep:add",
            on_click=state.add,
            args=(state.name,),
            disabled=state.full,
            help=words_of_keeping.COPY,
        )
        st.button(
            "Remove",
            icon=":material/delete:",
            key="keep:remove",
            on_click=state.remove,
            disabled=len(state.builds) < 2,
            help=words_of_keeping.REMOVE,
        )
    if state.full:
        st.caption(f"There is room for {MOST_BUILDS} builds.")


def _saved(state: State) -> None:
    mine = {state.name: state.values}
    with st.container(horizontal=True, gap="small", key="keep_files"):
        st.download_button(
            "Save this build",
            partial(build_files.as_json, mine),
            f"{as_file_name(state.name)}.json",
            "application/json",
            key="keep:save",
            on_click="ignore",
            icon=":material/download:",
        )
        if len(state.builds) > 1:
            st.download_button(
                f"Save all {len(state.builds)}",
                partial(build_files.as_json, dict(state.builds)),
                "builds.json",
                "application/json",
                key="keep:save_all",
                on_click="ignore",
                icon=":material/download:",
            )


def _opened(state: State) -> None:
    count = st.session_state.setdefault(_UPLOADS, 0)
    key = f"keep:open:{count}"

    def arrived() -> None:
        file = st.session_state[key]
        if file is not None:
            st.session_state[_SENTENCES] = take_in(state, file.getvalue())
            st.session_state[_UPLOADS] = count + 1  # an empty box again

    st.file_uploader(
        "Open saved builds",
        ["json"],
        key=key,
        on_change=arrived,
        max_upload_size=_UPLOAD_MEGABYTES,
        help=words_of_keeping.OPEN,
    )
    for sentence in st.session_state.get(_SENTENCES, []):
        st.text(sentence)


def take_in(state: State, data: bytes) -> list[str]:
    """Put the builds of a file beside those that are there; what is to be said about it."""
    opened = build_files.from_bytes(data)
    if not opened.builds:
        return opened.sentences
    names = state.take_in(opened.builds)
    return [words_of_keeping.taken_in(names, len(opened.builds)), *(opened.sentences if names else [])]
