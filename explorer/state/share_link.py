"""The share link: every build of the page, and the baseline, as short parameters of an address.

    v=1                        version of the link
    preset=road                where the build being edited starts from; "own" for the rider's own bike, where what
                               is not given is typical
    front_teeth=13             an input that is given, in home units ("off", "yes" and "no" for switches)
    given=kv.tyre              given too, of the same value as the preset's
    name=Wet                   the build's name, where it is not the preset's
    units, phase, charge_as    how numbers are shown and entered, where not as at first
    base=Dry, base.rear_teeth=50, base.given=kv
                               the baseline, as what differs from the one being edited; "given" names all that is
                               given in it, where that is not the same with what differs added
    b2=Tall, b2.preset=trail, b2.rear_teeth=48
                               another build at the second place; where it is not said, its preset is that of the
                               build being edited
    readings, chain            what was entered into small tables of the page; see `explorer.state.link_entries`

Whatever a link holds, reading it gives values that the inputs accept, and a sentence for all that was dropped. No
Streamlit here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode, urlsplit, urlunsplit

from explorer.format import SYSTEMS
from explorer.inputs.catalogue import INPUTS, cleaned
from explorer.inputs.origins import OWN, Inputs
from explorer.inputs.power_levels import beyond_the_levels
from explorer.inputs.presets import FIRST, PRESETS, STARTS
from explorer.inputs.spec import quoted
from explorer.inputs.to_build import make_build
from explorer.state.link_entries import KEYS as ENTRIES
from explorer.state.names import clean_name, free_name
from physics.build.fields import BuildError

LINK_VERSION = "1"
MOST_BUILDS = 6
MOST_NOTES = 8
PHASE_AS = ("peak", "RMS")
CHARGE_AS = ("charge", "rest voltage")
SETTINGS = {"units": ("units", SYSTEMS), "phase": ("phase_as", PHASE_AS), "charge_as": ("charge_as", CHARGE_AS)}
"""Key in the link: attribute of the state, and the values it accepts, of which the first is left out of links."""
_PARTS = ("v", "preset", "name", "given", *SETTINGS, *ENTRIES)
_NONE = "none"
"""Stands for a list of no inputs, as some browsers drop a parameter that is empty."""
_OTHER = re.compile(rf"(base|b[1-{MOST_BUILDS}])(?:\.(\w+))?")


@dataclass
class Shared:
    """What a link holds.

    Attributes
    ----------
    builds : dict of str to Inputs
        By name, in their order.
    name : str
        The build being edited.
    baseline, baseline_name : Inputs or None, str
        What it is compared with.
    settings : dict
        Attribute of the state to its value.
    notes : list of str
        A sentence for each thing that could not be used.
    """

    builds: dict[str, Inputs] = field(default_factory=dict)
    name: str = ""
    baseline: Inputs | None = None
    baseline_name: str = ""
    settings: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def as_text(value: Any) -> str:
    """A value as a link holds it."""
    if value is None:
        return "off"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.8g}" if isinstance(value, int | float) else str(value)


def write(shared: Shared, alone: bool = False) -> dict[str, str]:
    """The parameters of a link.

    Parameters
    ----------
    shared : Shared
        What it is to hold; its notes are not written.
    alone : bool
        Only the build being edited.

    Returns
    -------
    dict of str to str
    """
    values = shared.builds[shared.name]
    preset = values.preset
    link = {"v": LINK_VERSION, "preset": preset}
    for key, (attribute, accepted) in SETTINGS.items():
        if shared.settings.get(attribute, accepted[0]) != accepted[0]:
            link[key] = shared.settings[attribute]
    if shared.name != STARTS[preset].name:
        link["name"] = shared.name
    link |= _entries(values)
    if alone:
        return link
    if shared.baseline is not None:
        link["base"] = shared.baseline_name
        link |= _baseline_entries(shared.baseline, values)
    for number, (name, other) in enumerate(shared.builds.items(), 1):
        if name != shared.name:
            link[f"b{number}"] = name
            if other.preset != preset:
                link[f"b{number}.preset"] = other.preset
            link |= _entries(other, f"b{number}.")
    return link


def _entries(values: Inputs, before: str = "") -> dict[str, str]:
    """What is given, each with its value; where that is the preset's, all in one list of names."""
    start = {} if values.preset == OWN else PRESETS[values.preset].values()
    same = [key for key, value in values.as_given.items() if key in start and start[key] == value]
    texts = {before + key: as_text(value) for key, value in values.as_given.items() if key not in same}
    return texts | ({before + "given": ".".join(same)} if same else {})


def _baseline_entries(baseline: Inputs, values: Inputs) -> dict[str, str]:
    """What is given in the baseline and differs from the build being edited; all that is given, if need be."""
    differ = {key: value for key, value in baseline.as_given.items() if value != values[key]}
    entries = {f"base.{key}": as_text(value) for key, value in differ.items()}
    if baseline.preset != values.preset:
        entries["base.preset"] = baseline.preset
    if baseline.given != values.given | differ.keys():
        entries["base.given"] = ".".join(key for key in INPUTS if key in baseline.given) or _NONE
    return entries


def address(link: dict[str, str], page: str | None) -> str:
    """The whole address of a link.

    Parameters
    ----------
    link : dict of str to str
        Its parameters.
    page : str or None
        The address of the page as the browser knows it; without one, the parameters alone are given.

    Examples
    --------
    >>> address({"v": "1", "name": "a b"}, "http://127.0.0.1:8501/?old=1")
    'http://127.0.0.1:8501/?v=1&name=a+b'
    """
    query = urlencode(link)
    parts = urlsplit(page or "")
    if parts.scheme not in ("http", "https"):
        return "?" + query
    return urlunsplit((parts.scheme, parts.netloc, parts.path or "/", query, ""))


def read(link: dict[str, str]) -> Shared:
    """What a link's parameters hold. What cannot be used is left out and named in the notes.

    Parameters
    ----------
    link : dict of str to str
        The parameters of the page's address.

    Returns
    -------
    Shared
        Always with at least one build.
    """
    version = link.get("v", LINK_VERSION)
    if version != LINK_VERSION:
        made_for = f"This link was made for another version of the page, {quoted(version, 8)}"
        return _demo([f"{made_for}; the demo was loaded instead."])
    notes: list[str] = []
    preset = _preset(link.get("preset", FIRST), FIRST, notes)
    settings = _settings(link, notes)
    mine = {key: text for key, text in link.items() if key not in _PARTS and not _OTHER.fullmatch(key)}
    values, sentences = _given(mine, preset, link.get("given"))
    notes += sentences
    name = clean_name(link.get("name", ""), STARTS[preset].name)

    others = _others(link)
    baseline, baseline_name = None, ""
    if "base" in others:
        called, given = others.pop("base")
        baseline, sentences = _baseline(given, values)
        baseline_name = clean_name(called, "Baseline")
        notes += [f"In the baseline: {sentence}" for sentence in sentences]
        if not _makes_a_build(baseline):
            notes.append("The baseline's settings contradict each other. It was left out.")
            baseline, baseline_name = None, ""
    builds: list[tuple[str, Inputs]] = []
    for key in sorted(others)[: MOST_BUILDS - 1]:
        called, given = others[key]
        called = clean_name(called, "Build")
        start = _preset(given.pop("preset", preset), preset, notes)
        other, sentences = _given(given, start, given.pop("given", None))
        notes += [f"In the build {quoted(called)}: {sentence}" for sentence in sentences]
        builds.append((called, other))
    taken = [int(key[1:]) for key in sorted(others)[: MOST_BUILDS - 1]]
    own = next(number for number in range(1, MOST_BUILDS + 1) if number not in taken)
    builds.insert(sum(number < own for number in taken), (name, values))

    shared = Shared(settings=settings, baseline=baseline, baseline_name=baseline_name, notes=_few(notes))
    for called, inputs in builds:
        free = free_name(called, shared.builds)
        shared.builds[free] = inputs
        if inputs is values:
            shared.name = free
    return shared


def _given(texts: dict[str, str], preset: str, listed: str | None) -> tuple[Inputs, list[str]]:
    """A preset with what a link gives: values, and names of values that are as the preset has them."""
    accepted, sentences = cleaned(texts)
    values = STARTS[preset].values(accepted)
    keys, more = _keys(listed)
    sentences += beyond_the_levels(accepted, values)
    return values.told({key: values[key] for key in keys}), sentences + more


def _baseline(texts: dict[str, str], mine: Inputs) -> tuple[Inputs, list[str]]:
    """A baseline from what differs between it and the build being edited."""
    notes: list[str] = []
    preset, listed = _preset(texts.pop("preset", mine.preset), mine.preset, notes), texts.pop("given", None)
    accepted, sentences = cleaned(texts)
    values = mine.told(accepted)
    keys, more = (list(values.given), []) if listed is None else _keys(listed)
    return STARTS[preset].values({key: values[key] for key in keys}), notes + sentences + more


def _keys(listed: str | None) -> tuple[list[str], list[str]]:
    """The inputs in a list of names, and a sentence for each that is none."""
    names = [] if listed in (None, _NONE) else str(listed)[:4000].split(".")
    unknown = [f"The link says that {quoted(name)} is given, which this page does not know." for name in names
               if name not in INPUTS]  # fmt: skip
    return [name for name in names if name in INPUTS], unknown


def _demo(notes: list[str]) -> Shared:
    start = PRESETS[FIRST]
    return Shared({start.name: start.values()}, start.name, notes=notes)


def _preset(asked: str, otherwise: str, notes: list[str]) -> str:
    if asked in STARTS:
        return asked
    notes.append(f"The link starts from a build this page does not know; {STARTS[otherwise].name} is used.")
    return otherwise


def _settings(link: dict[str, str], notes: list[str]) -> dict[str, str]:
    settings = {}
    for key, (attribute, accepted) in SETTINGS.items():
        if key not in link:
            continue
        if link[key] in accepted:
            settings[attribute] = link[key]
        else:
            asked = quoted(link[key], 12)
            notes.append(f"The link asks for {key} {asked}; accepted are {' and '.join(accepted)}.")
    return settings


def _others(link: dict[str, str]) -> dict[str, tuple[str, dict[str, str]]]:
    """Name and inputs of the other builds, by "base" or "b" and place."""
    others: dict[str, tuple[str, dict[str, str]]] = {}
    for key, text in link.items():
        match = _OTHER.fullmatch(key)
        if match:
            name, given = others.setdefault(match[1], ("", {}))
            if match[2] is None:
                name = text
            else:
                given[match[2]] = text
            others[match[1]] = name, given
    return others


def _makes_a_build(values: Inputs) -> bool:
    try:
        make_build(values)
    except BuildError:
        return False
    return True


def _few(notes: list[str]) -> list[str]:
    """The first of many sentences, and how many more there are."""
    if len(notes) <= MOST_NOTES:
        return notes
    return [*notes[:MOST_NOTES], f"And {len(notes) - MOST_NOTES} more things in the link could not be used."]
