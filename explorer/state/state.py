"""What the page remembers: the inputs and which are given, named builds, the baseline, the way back, the link.

`State` itself knows no Streamlit, so that tests can drive it. `current` keeps one in the session; `from_link` and
`write_link` carry it through the page's address.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import streamlit as st

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import OWN, Inputs, with_origins
from explorer.inputs.presets import FIRST, PRESETS, STARTS
from explorer.inputs.to_build import charge_of
from explorer.state import link_entries, share_link
from explorer.state.names import clean_name, free_name
from explorer.state.share_link import CHARGE_AS, LINK_VERSION, MOST_BUILDS, PHASE_AS, Shared

__all__ = [
    "CHARGE_AS",
    "IN_TRAY",
    "LINK_VERSION",
    "MOST_BUILDS",
    "PHASE_AS",
    "State",
    "current",
    "from_link",
    "whole_link",
    "write_link",
]

LONGEST_PAST = 60
SAME_MOVE = 1.5
"""Seconds within which changes of one input count as one move, so that a drag is undone at once."""
REST_VOLTAGE = "in:rest_voltage"
"""Key of the slider that enters the charge as the pack's rest voltage."""
IN_TRAY = "tray:"
"""What the keys of sliders begin with that stand a second time, in the tray of a phone."""
_KEY = "headroom_state"


@dataclass
class State:
    """The inputs and what goes with them.

    Attributes
    ----------
    builds : dict of str to Inputs
        Named builds: every input by key, in home units, which of them are given, and where the others come from.
        The page edits `builds[name]`. A build's inputs are replaced, never changed, so that the past can share
        them.
    name : str
        The build being edited.
    baseline, baseline_name : Inputs or None, str
        What the build is compared with.
    past : list
        Earlier (builds, name), latest last.
    units, phase_as, charge_as : str
        How numbers are shown and entered. They change no value.
    notes : list of str
        Plain sentences about what a link held that could not be used.
    """

    builds: dict[str, Inputs] = field(default_factory=dict)
    name: str = ""
    baseline: Inputs | None = None
    baseline_name: str = ""
    past: list = field(default_factory=list)
    units: str = "metric"
    phase_as: str = "peak"
    charge_as: str = "charge"
    notes: list[str] = field(default_factory=list)
    _last: tuple[str, float] = field(default=("", 0.0), init=False, repr=False)

    def __post_init__(self) -> None:
        if not self.builds:
            chosen = PRESETS[FIRST]
            self.name, self.builds = chosen.name, {chosen.name: chosen.values()}
        self.builds = {name: with_origins(values) for name, values in self.builds.items()}

    @classmethod
    def of(cls, preset: str) -> State:
        """A state of one build: a preset as it is."""
        return cls({PRESETS[preset].name: PRESETS[preset].values()}, PRESETS[preset].name)

    @property
    def values(self) -> Inputs:
        """The inputs of the build being edited, with round numbers of these units where nobody gave one."""
        return self.builds[self.name].in_units(self.units)

    @property
    def preset(self) -> str:
        """What the build being edited started from: one of `explorer.inputs.presets.STARTS`."""
        return self.values.preset

    @property
    def full(self) -> bool:
        """Whether there is no room for another build."""
        return len(self.builds) >= MOST_BUILDS

    def _remember(self, move: str) -> None:
        now = time.monotonic()
        same = move and self._last[0] == move and now - self._last[1] < SAME_MOVE
        self._last = (move, now)
        if not same:
            self.past.append((dict(self.builds), self.name))
            del self.past[:-LONGEST_PAST]

    def change(self, key: str, value: Any) -> None:
        """Change one input, which is given from then on; a change that is none is not remembered."""
        if self.values[key] != value:
            self._remember(key)
            self.builds[self.name] = self.builds[self.name] | {key: value}

    def change_many(self, changes: dict[str, Any]) -> None:
        """Change several inputs as one move."""
        if any(self.values[key] != value for key, value in changes.items()):
            self._remember("")
            self.builds[self.name] = self.builds[self.name] | changes

    def give(self, changes: dict[str, Any]) -> None:
        """Hold some inputs as given as one move, also where their values stay what they are."""
        given = self.values.given
        if any(key not in given or self.values[key] != value for key, value in changes.items()):
            self._remember("")
            self.builds[self.name] = self.builds[self.name].told(changes)

    def forget(self, *keys: str) -> None:
        """Hold some inputs as given no longer: each is again what the build started from, or typical."""
        if self.values.given.intersection(keys):
            self._remember("")
            self.builds[self.name] = self.builds[self.name].without(keys)

    def make_own(self, given: dict[str, Any]) -> None:
        """Make the build being edited the rider's own: what he does not give is typical, and nothing is a demo's.

        Parameters
        ----------
        given : dict
            All that he gives, in home units.
        """
        self._remember("")
        taken = self.preset == OWN or self.name not in {preset.name for preset in PRESETS.values()}
        self._replace(self.name if taken else STARTS[OWN].name, Inputs(OWN, {}, given))
        self.clear_baseline()

    def try_out(self, changes: dict[str, Any], before: dict[str, Any], typical: Iterable[str] = ()) -> None:
        """Change several inputs as one move, and compare with the build as it was before.

        Parameters
        ----------
        changes : dict
            In home units.
        before : dict
            The baseline from here on.
        typical : iterable of str
            Of the changes, those by the rules of typical values: in a bike of the rider's own they stay so.
        """
        self.set_baseline(before)
        if self.preset == OWN:
            ruled = set(typical)
            changes = {key: value for key, value in changes.items() if key not in ruled}
            if self.values.given & ruled:
                self._remember("")
                self.builds[self.name] = self.values.without(ruled) | changes
                return
        self.change_many(changes)

    def slid(self, slider: str, shown: float) -> dict[str, Any]:
        """The one input that a slider changes, with its value.

        Parameters
        ----------
        slider : str
            The slider's key: "in:" and the input's, or REST_VOLTAGE; with IN_TRAY before it, or without.
        shown : float
            Where it stands, in the unit it shows.

        Returns
        -------
        dict
            Of one entry, in home units; empty where no slider has that key.
        """
        slider = slider.removeprefix(IN_TRAY)
        if slider == REST_VOLTAGE:
            return {"charge": INPUTS["charge"].clamp(charge_of(self.values, shown))}
        key = slider.removeprefix("in:")
        spec = INPUTS.get(key)
        return {key: spec.held(shown, self.units, self.phase_as)} if spec and spec.is_number else {}

    def slide(self, slider: str, shown: float) -> None:
        """Take over where a slider stands; the moves of one slider are undone at once."""
        for key, value in self.slid(slider, shown).items():
            self.change(key, value)

    def use_preset(self, preset: str) -> None:
        """Put a preset in the place of the build being edited; what was entered can be undone."""
        self._remember("")
        self._replace(PRESETS[preset].name, PRESETS[preset].values())

    def _replace(self, name: str, values: Inputs) -> None:
        """Put another build, by a free name, where the one being edited stood."""
        name = free_name(name, [other for other in self.builds if other != self.name])
        self.builds = {
            name if old == self.name else old: values if old == self.name else other
            for old, other in self.builds.items()
        }
        self.name = name

    @property
    def can_reset(self) -> bool:
        """Whether there is a preset to go back to, and anything was given since."""
        return self.preset != OWN and bool(self.values.given)

    def reset(self) -> None:
        """The inputs back to those of the preset; the build keeps its name."""
        if self.can_reset:
            self._remember("")
            self.builds[self.name] = self.builds[self.name].untouched

    def undo(self) -> None:
        """Take back the last move."""
        if self.past:
            self.builds, self.name = self.past.pop()
            self._last = ("", 0.0)

    def add(self, name: str) -> None:
        """Go on with a copy of the build under another name; the build stays as it is."""
        if not self.full:
            self._remember("")
            values = self.builds[self.name]
            self.name = free_name(clean_name(name, self.name), self.builds)
            self.builds[self.name] = values

    def rename(self, name: str) -> None:
        """Give the build being edited another name; an empty one changes nothing."""
        name = clean_name(name, self.name)
        if name != self.name:
            self._remember("")
            self._replace(name, self.builds[self.name])

    def edit(self, name: str) -> None:
        """Go over to another of the builds."""
        if name in self.builds and name != self.name:
            self.name = name
            self._last = ("", 0.0)

    def remove(self) -> None:
        """Take away the build being edited, unless it is the only one; it can be undone."""
        if len(self.builds) > 1:
            self._remember("")
            index = list(self.builds).index(self.name)
            del self.builds[self.name]
            self.name = list(self.builds)[max(index - 1, 0)]

    def take_in(self, builds: list[tuple[str, Inputs]]) -> list[str]:
        """Put builds from a file beside those that are there, and go over to the first of them.

        Parameters
        ----------
        builds : list of (name, Inputs)
            Of which `explorer.inputs.catalogue.cleaned` has passed the values.

        Returns
        -------
        list of str
            The names they were given; fewer than builds where there is no more room.
        """
        room = MOST_BUILDS - len(self.builds)
        if not builds or room <= 0:
            return []
        self._remember("")
        names = []
        for name, values in builds[:room]:
            name = free_name(name, self.builds)
            self.builds[name] = with_origins(values)
            names.append(name)
        self.name = names[0]
        return names

    def set_baseline(self, values: dict[str, Any], name: str = "") -> None:
        """Compare from here on with the build of these inputs."""
        self.baseline, self.baseline_name = with_origins(values).in_units("metric"), name or self.name

    def clear_baseline(self) -> None:
        """Compare no more."""
        self.baseline, self.baseline_name = None, ""

    def changed_from_baseline(self) -> list[str]:
        """Keys of the inputs that differ from the baseline."""
        if self.baseline is None:
            return []
        return [key for key, value in self.builds[self.name].items() if value != self.baseline.get(key)]

    def link(self, alone: bool = False) -> dict[str, str]:
        """The share link's parameters; `alone` leaves out the other builds. See `explorer.state.share_link`."""
        settings = {attribute: getattr(self, attribute) for attribute, _ in share_link.SETTINGS.values()}
        shared = Shared(self.builds, self.name, self.baseline, self.baseline_name, settings)
        return share_link.write(shared, alone)


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
    shared = share_link.read(link)
    state = State(
        builds=shared.builds,
        name=shared.name,
        baseline=shared.baseline,
        baseline_name=shared.baseline_name,
        notes=shared.notes,
    )
    for attribute, value in shared.settings.items():
        setattr(state, attribute, value)
    return state


def current() -> State:
    """The session's state; made from the page's address the first time."""
    state = st.session_state.get(_KEY)
    if state is None:
        link = {key: st.query_params[key] for key in st.query_params}
        st.session_state[_KEY] = state = from_link(link)
        entries, notes = link_entries.read(link)
        st.session_state.update(entries)
        state.notes += notes
    return state


def whole_link(state: State) -> dict[str, str]:
    """The share link's parameters with what the session's small tables hold."""
    return state.link() | link_entries.texts(st.session_state)


def write_link(state: State) -> None:
    """Put the state into the page's address, where it differs from what stands there."""
    link = whole_link(state)
    if st.query_params.to_dict() != link:
        st.query_params.from_dict(link)
