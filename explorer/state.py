"""What the page remembers: the inputs, the baseline, the way back, and the share link.

`State` itself knows no Streamlit, so that tests can drive it. `current` keeps one in the session; `from_link` and
`write_link` carry it through the page's address.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from typing import Any

import streamlit as st

from explorer.choice import quoted
from explorer.choices import cleaned
from explorer.format import SYSTEMS
from explorer.presets import FIRST, PRESETS

LINK_VERSION = "1"
LONGEST_PAST = 60
SAME_MOVE = 1.5
"""Seconds within which changes of one input count as one move, so that a drag is undone at once."""
PHASE_AS = ("peak", "RMS")
CHARGE_AS = ("charge", "rest voltage")
_SETTINGS = {"units": SYSTEMS, "phase": PHASE_AS}
_KEY = "headroom_state"


@dataclass
class State:
    """The inputs and what goes with them.

    Attributes
    ----------
    builds : dict of str to dict
        Named builds: every input by key, in home units. The page edits `builds[name]`.
    name : str
        The build being edited.
    preset : str
        The preset it started from; the share link holds only what differs from it.
    baseline, baseline_name : dict or None, str
        What the build is compared with.
    past : list
        Earlier (builds, name, preset), latest last.
    units, phase_as, charge_as : str
        How numbers are shown and entered. They change no value.
    notes : list of str
        Plain sentences about what a link held that could not be used.
    """

    builds: dict[str, dict[str, Any]] = field(default_factory=dict)
    name: str = ""
    preset: str = FIRST
    baseline: dict[str, Any] | None = None
    baseline_name: str = ""
    past: list = field(default_factory=list)
    units: str = "metric"
    phase_as: str = "peak"
    charge_as: str = "charge"
    notes: list[str] = field(default_factory=list)
    _last: tuple[str, float] = ("", 0.0)

    def __post_init__(self):
        if not self.builds:
            self._start(self.preset)

    @property
    def values(self) -> dict[str, Any]:
        """The inputs of the build being edited."""
        return self.builds[self.name]

    def _start(self, preset: str) -> None:
        chosen = PRESETS[preset]
        self.preset, self.name = preset, chosen.name
        self.builds = {chosen.name: chosen.values()}

    def _remember(self, move: str) -> None:
        now = time.monotonic()
        same = move and self._last[0] == move and now - self._last[1] < SAME_MOVE
        self._last = (move, now)
        if not same:
            builds = {name: dict(values) for name, values in self.builds.items()}
            self.past.append((builds, self.name, self.preset))
            del self.past[:-LONGEST_PAST]

    def change(self, key: str, value: Any) -> None:
        """Change one input; a change that is none is not remembered."""
        if self.values[key] != value:
            self._remember(key)
            self.values[key] = value

    def change_many(self, changes: dict[str, Any]) -> None:
        """Change several inputs as one move."""
        if any(self.values[key] != value for key, value in changes.items()):
            self._remember("")
            self.values.update(changes)

    def use_preset(self, preset: str) -> None:
        """Start from a preset; what was entered can be undone."""
        self._remember("")
        self._start(preset)

    def reset(self) -> None:
        """Back to the preset as it was."""
        if self.differences():
            self.use_preset(self.preset)

    def undo(self) -> None:
        """Take back the last move."""
        if self.past:
            self.builds, self.name, self.preset = self.past.pop()
            self._last = ("", 0.0)

    def set_baseline(self, values: dict[str, Any]) -> None:
        """Compare from here on with the build of these inputs."""
        self.baseline, self.baseline_name = dict(values), self.name

    def clear_baseline(self) -> None:
        """Compare no more."""
        self.baseline, self.baseline_name = None, ""

    def differences(self) -> dict[str, Any]:
        """The inputs that differ from the preset."""
        start = PRESETS[self.preset].values()
        return {key: value for key, value in self.values.items() if value != start[key]}

    def changed_from_baseline(self) -> list[str]:
        """Keys of the inputs that differ from the baseline."""
        if self.baseline is None:
            return []
        return [key for key, value in self.values.items() if value != self.baseline.get(key)]

    def link(self) -> dict[str, str]:
        """The share link's parameters: version, preset, and what differs from it."""
        link = {"v": LINK_VERSION, "preset": self.preset}
        if self.units != SYSTEMS[0]:
            link["units"] = self.units
        if self.phase_as != PHASE_AS[0]:
            link["phase"] = self.phase_as
        return link | {key: _text(value) for key, value in self.differences().items()}


def from_link(link: dict[str, str]) -> State:
    """A state from a link's parameters. What cannot be used is left out and named in `notes`.

    Parameters
    ----------
    link : dict of str to str
        The parameters of the page's address.

    Returns
    -------
    State
    """
    if not link:
        return State()
    version = link.get("v", LINK_VERSION)
    if version != LINK_VERSION:
        other = f"This link was made for another version of the page, {quoted(version, 8)}"
        return State(notes=[f"{other}; the demo was loaded instead."])
    notes, preset = [], link.get("preset", FIRST)
    if preset not in PRESETS:
        notes.append(f"The link starts from a build this page does not know; {PRESETS[FIRST].name} is used.")
        preset = FIRST
    state = State(preset=preset)
    for name, accepted in _SETTINGS.items():
        if name in link and link[name] not in accepted:
            asked = quoted(link[name], 12)
            notes.append(f"The link asks for {name} {asked}; accepted are {' and '.join(accepted)}.")
        elif name in link:
            setattr(state, "units" if name == "units" else "phase_as", link[name])
    given = {key: value for key, value in link.items() if key not in ("v", "preset", *_SETTINGS)}
    values, sentences = cleaned(given, state.values)
    state.builds[state.name] = values
    state.notes = notes + sentences
    return state


def _text(value: Any) -> str:
    """A value as a link holds it."""
    if value is None:
        return "off"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.8g}" if isinstance(value, int | float) else str(value)


def current() -> State:
    """The session's state; made from the page's address the first time."""
    if _KEY not in st.session_state:
        st.session_state[_KEY] = from_link({key: st.query_params[key] for key in st.query_params})
    return st.session_state[_KEY]


def write_link(state: State) -> None:
    """Put the state into the page's address, where it differs from what stands there."""
    link = state.link()
    if st.query_params.to_dict() != link:
        st.query_params.from_dict(link)
