"""Builds as a small JSON file that anyone may read and write, and back. No Streamlit here.

The file's schema, version 1:

    {
     "headroom_builds": 1,
     "units": {"capacity": "Ah", "line_3": "A", ...},
     "builds": [
      {"name": "Wet", "start": "own", "given": ["cells", "capacity", ...],
       "inputs": {"cells": 24, "capacity": 26.0, "tyre": "110/70-17", "hold_front": true, ...}}
     ],
     "packs_on_offer": [{"name": "Strong", "chemistry": "nmc", "capacity_ah": 30, "mass_kg": 12}, null, null]
    }

"headroom_builds" is the version of the schema. "inputs" holds the rider's inputs by the keys of
`explorer.inputs.catalogue.INPUTS`: numbers in metric units as "units" says them (phase currents as peak), texts,
true or false, and null for a number that is switched off (a typical value, or no such limit). "units" is there for
whoever reads the file and plays no part when it is opened. "given" names the inputs that the rider gave; of the
others, the values stand there to be read, and are made anew when the file is opened: by rule where "start" is
"own", else as the preset of that name has them. Without "given", every input in the file is given. An input that
is left out is typical.
"packs_on_offer" stands there where any were entered: see `explorer.state.offers`. The charge and the weather of the
day belong to the inputs, so that a build opens just as it was saved.

Reading never fails: what is sound is taken, and a plain sentence says what was changed or left out.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from explorer.format import printed
from explorer.inputs.catalogue import INPUTS, cleaned
from explorer.inputs.origins import OWN, Inputs, with_origins
from explorer.inputs.power_levels import beyond_the_levels
from explorer.inputs.presets import STARTS
from explorer.inputs.spec import InputSpec, quoted
from explorer.state import offers
from explorer.state.json_files import RefusedError, content_of, few, in_words, is_number, items_of
from explorer.state.names import clean_name
from explorer.state.share_link import MOST_BUILDS

SCHEMA = "headroom_builds"
SCHEMA_VERSION = 1
LARGEST = 500_000
"""Bytes; a file of the most builds there may be is a twentieth of that."""
_NOTHING = "Nothing was opened; your builds are unchanged."


@dataclass
class Opened:
    """What a file held.

    Attributes
    ----------
    builds : list of (name, Inputs)
        Every input, in home units; safe to use. Empty where nothing in the file was a build.
    sentences : list of str
        What was changed or left out, or why nothing was opened.
    offers : dict
        Packs on offer, as `explorer.state.offers` keeps them; empty where the file holds none.
    """

    builds: list[tuple[str, Inputs]] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)
    offers: offers.Entries = field(default_factory=dict)


def as_json(builds: Mapping[str, Mapping[str, Any]], packs: offers.Entries | None = None) -> str:
    """Builds as the text of a file.

    Parameters
    ----------
    builds : dict of str to Inputs
        By name. Of a plain mapping every value counts as given.
    packs : dict, optional
        Packs on offer, as `explorer.state.offers` keeps them.

    Returns
    -------
    str
    """
    units = {
        key: "A peak" if spec.phase else printed(spec.unit)
        for key, spec in INPUTS.items()
        if spec.is_number and spec.unit != "1"
    }
    listed = [_written(name, with_origins(values)) for name, values in builds.items()]
    whole: dict[str, Any] = {SCHEMA: SCHEMA_VERSION, "units": units, "builds": listed}
    if packs and offers.as_text(packs):
        whole["packs_on_offer"] = offers.as_list(packs)
    return json.dumps(whole, indent=1, ensure_ascii=False, allow_nan=False)


def _written(name: str, values: Inputs) -> dict[str, Any]:
    given = [key for key in INPUTS if key in values.given]
    return {"name": name, "start": values.preset, "given": given, "inputs": {key: values[key] for key in INPUTS}}


def from_bytes(data: bytes) -> Opened:
    """The builds of a file.

    Parameters
    ----------
    data : bytes
        The file, whoever wrote it.

    Returns
    -------
    Opened
    """
    try:
        content, sentences = content_of(data, SCHEMA, SCHEMA_VERSION, "build file", LARGEST)
        listed, more = items_of(content, "builds", MOST_BUILDS)
    except RefusedError as error:
        return Opened(sentences=[f"{error} {_NOTHING}"])
    opened = Opened(sentences=sentences)
    for number, item in enumerate(listed, 1):
        _take(item, number, opened)
    opened.sentences += more
    if not opened.builds:
        opened.sentences.append(_NOTHING)
    elif "packs_on_offer" in content:
        try:
            opened.offers = offers.from_list(content["packs_on_offer"])
        except ValueError:
            opened.sentences.append("The file's packs on offer could not be read; those on the page are kept.")
    return Opened(opened.builds, few(opened.sentences), opened.offers)


def _take(item: Any, number: int, opened: Opened) -> None:
    """One build of the file; adds it, and what is to be said about it."""
    inputs = item.get("inputs") if isinstance(item, dict) else None
    if not isinstance(inputs, dict):
        opened.sentences.append(f"Build {number} of the file has no inputs. It was left out.")
        return
    name = clean_name(item.get("name"), f"Build {number}")
    known, notes = {}, []
    for key, value in inputs.items():
        if key not in INPUTS:
            notes.append(f"The file holds {quoted(key)}, which this page does not know. It was left out.")
        elif _fits(INPUTS[key], value):
            known[key] = value
        else:
            spec = INPUTS[key]
            notes.append(f"{spec.label} was {in_words(value)}; it accepts {spec.accepts()}. It was left out.")
    start, given = item.get("start"), item.get("given")
    if isinstance(given, list) and isinstance(start, str) and start in STARTS:
        known = {key: value for key, value in known.items() if key in given}
    else:
        start = OWN
    accepted, sentences = cleaned(known)
    missing = len(INPUTS) - sum(key in inputs for key in INPUTS)
    if missing and start == OWN:
        notes.append(f"The file leaves out {missing} of {len(INPUTS)} inputs; they are typical.")
    values = STARTS[start].values(accepted)
    sentences += beyond_the_levels(accepted, values)
    opened.builds.append((name, values))
    opened.sentences += [f"In the build {quoted(name)}: {sentence}" for sentence in notes + sentences]


def _fits(spec: InputSpec, value: Any) -> bool:
    """Whether a value of a file is of the kind that an input holds; its size is judged later."""
    if spec.kind == "flag":
        return isinstance(value, bool)
    if spec.is_number:
        return is_number(value) or (value is None and spec.kind != "number")
    return isinstance(value, str)
