"""The side: the inputs of the day, or all of them, one short function for each group of widgets.

The state holds the values; a widget shows one and writes back what the rider enters. Keys of widgets begin "in:".
"""

from __future__ import annotations

from functools import lru_cache, partial
from typing import Any

import streamlit as st

from explorer.components.live_slider import Slider, live_sliders, works
from explorer.frame import cold_growth
from explorer.frame.prose import as_spelled, prose
from explorer.inputs.catalogue import (
    AT_THE_SIDE,
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
from explorer.inputs.origins import marked
from explorer.inputs.power_levels import LEVELS, levels
from explorer.inputs.spec import InputSpec
from explorer.inputs.to_build import rest_voltage_of
from explorer.inputs.typical import at_first
from explorer.page import cautions, words
from explorer.state.state import CHARGE_AS, IN_TRAY, PHASE_AS, REST_VOLTAGE, State, current
from physics.components.cell import chemistry

DAY, ALL = "Today", "All inputs"
"""The two views of the side: what changes from day to day and from part to part, and everything."""
ALWAYS = ("headroom_wanted",)
"""Inputs of a question that stand at the side too, and therefore nowhere else."""
DRAGGED = (*GROUPS, PROTECTION, HEADROOM)
"""Groups whose sliders `explorer.frame.drag` follows; those of other sections move the whole page."""
_VIEW, _FIND = "side_view", "find_input"


def draw(state: State) -> None:
    """Everything at the side."""
    st.session_state.setdefault(_VIEW, DAY)
    view = st.segmented_control(
        "Inputs", [DAY, ALL], key=_VIEW, required=True, label_visibility="collapsed", width="stretch"
    )
    (of_the_day if view == DAY else everything)(state)


def specs_of_the_day(values: dict[str, Any]) -> list[InputSpec]:
    """The inputs of the day that are sliders, but for the charge, in the order in which they are shown."""
    level = values["level"]
    day = ["target", "air_temperature"] + ["pack_temperature"] * (values["pack_temperature"] is not None)
    build = ["cells", "capacity", f"line_{level}", f"phase_{level}", "front_teeth", "rear_teeth", "regen"]
    return [INPUTS[key] for key in (*day, *build, *ALWAYS)]


def of_the_day(state: State) -> None:
    """The target, the day, and what is set or changed most often; none of it folded."""
    specs = specs_of_the_day(state.values)
    split = specs.index(INPUTS["cells"])
    _numbers(state, "day", specs[:split])
    charge(state, collapsed=True)
    _numbers(state, "build", specs[split:])
    with st.container(key="tyre_row"):
        _tyre(state)


def everything(state: State) -> None:
    """Every input that makes a build and its day: found by name, or group by group."""
    level = state.values["level"]
    other_levels = {f"{kind}_{each}" for kind in ("line", "phase") for each in LEVELS if each != level}
    names = {
        key: prose(spec.label)
        for key, spec in INPUTS.items()
        if (spec.group in AT_THE_SIDE and key not in other_levels) or key in ALWAYS
    }
    found = st.selectbox(
        "Find an input",
        list(names),
        index=None,
        format_func=names.__getitem__,
        placeholder="Find an input by its name",
        key=_FIND,
        label_visibility="collapsed",
    )
    if found:
        _found(state, INPUTS[found])
        return
    for group, content in ((TODAY, today), (PACK, pack), (DRIVE, drive), (GEARING, gearing), (BIKE, bike)):
        expander = st.expander(prose(group), key=f"group_{group}", on_change="rerun")
        if expander.open:
            with expander:
                content(state)
    st.caption(words.SHARE)


def _found(state: State, spec: InputSpec) -> None:
    """One input, whatever its kind."""
    if spec.key == "charge":
        charge(state)
    elif spec.kind == "text":
        _tyre(state)
    else:
        _any(state, f"found {spec.key}", [spec])


def pack(state: State) -> None:
    """Cells, capacity, chemistry, resistance; the protection folded away."""
    _options(state, INPUTS["chemistry"])
    _numbers(state, PACK, [INPUTS["cells"], INPUTS["capacity"]])
    _switched(state, INPUTS["pack_resistance"])
    _more(state, PACK, "More about the pack")
    cold_growth.draw(state)
    expander = st.expander(PROTECTION, key="group_protection", on_change="rerun")
    if expander.open:
        with expander:
            st.caption(cautions.PROTECTION)
            _any(state, PROTECTION, of_group(PROTECTION, advanced=True))


def drive(state: State) -> None:
    """Power levels, the one in use and its limits, throttle, motor."""
    _numbers(state, "levels", [INPUTS["levels"]])
    with st.container(key="level_row"):
        if len(levels(state.values)) > 1:
            _options(state, INPUTS["level"], as_buttons=True)
    setting(
        state,
        "phase_as",
        "Phase current shown as",
        PHASE_AS,
        "Peak is 1.414 times RMS. This does not change the build.",
    )
    shown = [INPUTS[f"line_{state.values['level']}"], INPUTS[f"phase_{state.values['level']}"]]
    shown += [INPUTS[key] for key in ("throttle", "kv", "field_weakening", "regen", *ALWAYS)]
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
    charge(state)
    _switched(state, INPUTS["pack_temperature"])
    _numbers(state, TODAY, [INPUTS[key] for key in ("headwind", "slope", "duration")])
    _more(state, TODAY, "More about the day")


def charge(state: State, collapsed: bool = False) -> None:
    """The charge, or the rest voltage in its place."""
    setting(state, "charge_as", "Enter charge as", CHARGE_AS, collapsed=collapsed)
    if state.charge_as == CHARGE_AS[0]:
        _numbers(state, "charge", [INPUTS["charge"]])
    else:
        live_sliders([_rest_voltage(state)], key="sliders rest voltage", on_move=state.slide, drags=True)


def in_place(group: str) -> None:
    """The inputs of a group that stands in a section of the page."""
    _any(current(), group, [spec for spec in of_group(group, advanced=False) if spec.key not in ALWAYS])


def tray(state: State) -> None:
    """For a phone: the sliders of the day at the foot of the screen, one at a time, with the charts in view."""
    if not works():
        return
    specs = specs_of_the_day(state.values)
    sliders = [_slider(state, spec, IN_TRAY) for spec in specs]
    if state.charge_as == CHARGE_AS[0]:
        full = _slider(state, INPUTS["charge"], IN_TRAY)
    else:
        full = _rest_voltage(state, IN_TRAY)
    sliders.insert(specs.index(INPUTS["cells"]), full)
    with st.container(key="tray"):
        live_sliders(sliders, key="sliders tray", on_move=state.slide, drags=True, one_at_a_time=True)


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
    sliders = [_slider(state, spec) for spec in specs]
    live_sliders(sliders, key=f"sliders {name}", on_move=state.slide, drags=specs[0].group in DRAGGED)


def _origin(state: State, spec: InputSpec) -> str:
    """Mark and word of where a value comes from; nothing for what makes no build and no day."""
    return marked(state.values, spec.key) if spec.group in AT_THE_SIDE else ""


def _with_origin(state: State, spec: InputSpec, label: str) -> str:
    """A widget's label that says it too."""
    note = _origin(state, spec)
    return f"{label} :small[{note}]" if note else label


def _slider(state: State, spec: InputSpec, where: str = "") -> Slider:
    """The slider of an input, its value in the session state under its key."""
    key = f"{where}in:{spec.key}"
    st.session_state[key] = spec.as_shown(state.values[spec.key], state.units, state.phase_as)
    return _described(spec.key, key, state.units, state.phase_as, _origin(state, spec))


@lru_cache(maxsize=2000)
def _described(name: str, key: str, units: str, phase_as: str, note: str) -> Slider:
    """The slider of an input by its name, under a key of the session state."""
    spec = as_spelled(INPUTS[name], units)
    low, high, step = spec.bounds(units, phase_as)
    unit, digits = spec.unit_text(units, phase_as), spec.digits(units, phase_as)
    return Slider(key, spec.label, low, high, step, unit, digits, spec.help, note=note)


def _rest_voltage(state: State, where: str = "") -> Slider:
    """The slider of the pack's rest voltage in place of its charge; the charge is what is held."""
    kind, cells, key = chemistry(state.values["chemistry"]), state.values["cells"], f"{where}{REST_VOLTAGE}"
    st.session_state[key] = round(rest_voltage_of(state.values, state.values["charge"]), 2)
    low, high = round(kind.voltage_minimum * cells, 1), round(kind.voltage_maximum * cells, 1)
    note = _origin(state, INPUTS["charge"])
    return Slider(key, "Rest voltage", low, high, 0.1, "V", 1, words.REST_VOLTAGE, note=note)


def _switched(state: State, spec: InputSpec) -> None:
    """A number with a switch before it: off stands for a typical value, or for no such limit."""
    spec, key = as_spelled(spec, state.units), f"in:{spec.key}:on"
    st.session_state[key] = state.values[spec.key] is not None

    def turn() -> None:
        state.change(spec.key, at_first(spec.key, state.values) if st.session_state[key] else None)

    st.toggle(_with_origin(state, spec, spec.switch), key=key, on_change=turn, help=spec.help or None)
    if state.values[spec.key] is not None:
        _numbers(state, f"switched {spec.key}", [spec])


def _options(state: State, spec: InputSpec, as_buttons: bool = False) -> None:
    spec = as_spelled(spec, state.units)
    key, labels = f"in:{spec.key}", dict(spec.options)
    if spec.key == "level":
        labels = {level: labels[level] for level in levels(state.values)}
    st.session_state[key] = state.values[spec.key]
    widget = partial(st.segmented_control, required=True) if as_buttons else st.selectbox
    widget(
        _with_origin(state, spec, spec.label),
        list(labels),
        format_func=labels.__getitem__,
        key=key,
        help=spec.help or None,
        on_change=lambda: state.change(spec.key, st.session_state[key]),
    )


def _flag(state: State, spec: InputSpec) -> None:
    spec, key = as_spelled(spec, state.units), f"in:{spec.key}"
    st.session_state[key] = state.values[spec.key]
    st.toggle(
        _with_origin(state, spec, spec.label),
        key=key,
        on_change=lambda: state.change(spec.key, st.session_state[key]),
        help=spec.help or None,
    )


def _tyre(state: State) -> None:
    """A tyre size: one of the common ones, or any that is typed."""
    spec, key = as_spelled(INPUTS["tyre"], state.units), "in:tyre"
    st.session_state[key] = state.values["tyre"]
    sizes = list(dict.fromkeys([*COMMON_TYRES, state.values["tyre"]]))

    def entered() -> None:
        value, sentence = INPUTS["tyre"].clean(st.session_state[key])
        st.session_state[f"{key}:said"] = sentence, state.values["tyre"]
        if not sentence:
            state.change("tyre", value)

    st.selectbox(
        _with_origin(state, spec, spec.label),
        sizes,
        key=key,
        accept_new_options=True,
        on_change=entered,
        help=spec.help,
    )
    sentence, before = st.session_state.get(f"{key}:said", ("", ""))
    if sentence and before == state.values["tyre"]:
        st.caption(sentence)


def setting(
    state: State, name: str, label: str, accepted: tuple[str, ...], help: str | None = None, collapsed: bool = False
) -> None:
    """How numbers are shown or entered; it changes no value."""
    key = f"in:setting:{name}"
    st.session_state[key] = getattr(state, name)
    st.segmented_control(
        label,
        list(accepted),
        key=key,
        required=True,
        help=help,
        label_visibility="collapsed" if collapsed else "visible",
        on_change=lambda: setattr(state, name, st.session_state[key]),
    )
