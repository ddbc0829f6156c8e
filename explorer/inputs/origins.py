"""Where each input's value comes from: given by the rider, typical by a rule, or from the demo. No Streamlit here.

given           the rider set it: a slider, a dialog, a link, a file
typical         a stated rule makes it from the other inputs, and makes it again when they change
from the demo   a preset's value that nobody touched
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from copy import copy
from typing import Any

from explorer.inputs import typical
from explorer.inputs.catalogue import INPUTS, defaults
from explorer.inputs.power_levels import LEVELS, level_in_use
from physics.typical.tyre import rim_alone

GIVEN, TYPICAL, DEMO = "given", "typical", "demo"
WORDS = {GIVEN: "given", TYPICAL: "typical", DEMO: "from the demo"}
MARKS = {GIVEN: "●", TYPICAL: "◐", DEMO: "○"}
"""Stands before the word: full for what is known, half for what a rule makes, empty for what is only an example."""

OWN = "own"
"""The start of a bike of which every value that is not given is typical."""

FACTS = (
    "cells", "capacity", "chemistry", "pack_resistance", "cold_growth", "continuous_current", "peak_current",
    "peak_time", "overcurrent_law", "undervoltage", "kv", "motor_resistance", "motor_inductance", "line", "phase",
    "front_teeth", "rear_teeth", "tyre", "bike_mass", "rider_mass", "posture", "drag_area", "rolling", "efficiency",
    "charge", "air_temperature", "regen",
)  # fmt: skip
"""What the answer hangs on, and so what is counted; "line" and "phase" are those of the power level in use. The
other inputs are details that seldom move it, plans, and settings that rest at "none"."""


_ROUND = {key: spec.held(spec.us_default, "US") for key, spec in INPUTS.items() if spec.us_default is not None}
"""What inputs that nobody gave start from beside US units, in home units."""
_SPROCKETS = ("front_teeth", "rear_teeth")


class Inputs(dict[str, Any]):
    """Every input by key, in home units, that also knows which of them are given. Never changed, only replaced.

    `values.told(facts)` gives inputs in which these are given and what is typical has followed them. `values |
    changes` does the same for what is tried out: there a sprocket is tried against the other one as it stands.

    Parameters
    ----------
    preset : str
        Key of the preset that stands for what is not given, or OWN.
    start : mapping
        The preset's values; of no use for OWN.
    given : mapping of str to value
        What the rider gave. For OWN, None for an optional number means that he does not know.

    Examples
    --------
    >>> mine = Inputs(OWN, {}, {"kv": 75.0})
    >>> mine.origin("kv"), mine.origin("motor_resistance")
    ('given', 'typical')
    >>> (mine | {"kv": 60.0})["motor_resistance"] > mine["motor_resistance"]
    True
    >>> (mine | {"front_teeth": 10.0})["rear_teeth"] == mine["rear_teeth"]
    True
    """

    def __init__(self, preset: str, start: Mapping[str, Any], given: Mapping[str, Any]) -> None:
        if preset == OWN:
            given = {key: value for key, value in given.items() if not _unknown(key, value)}
        self.preset, self.given = preset, frozenset(given)
        self._start = start
        self._metric: Inputs | None = None
        self._rounded: Inputs | None = None
        super().__init__(typical.completed(given) if preset == OWN else {**start, **given})
        self["level"] = level_in_use(self)

    def __or__(self, changes: Mapping[str, Any]) -> Inputs:  # type: ignore[override]
        tried = [key for key in _SPROCKETS if key in changes]
        held = {key: self[key] for key in _SPROCKETS} if len(tried) == 1 and self.preset == OWN else {}
        return self.told(held | dict(changes))

    def told(self, facts: Mapping[str, Any]) -> Inputs:
        """The same inputs with these given too."""
        if self._metric is not None:
            return self._metric.told(facts).in_units("US")
        return Inputs(self.preset, self._start, self.as_given | dict(facts))

    @property
    def as_given(self) -> dict[str, Any]:
        """What is given, with its values."""
        return {key: value for key, value in self.items() if key in self.given}

    @property
    def untouched(self) -> Inputs:
        """The same start with nothing given."""
        return Inputs(self.preset, self._start, {})

    def without(self, keys: Iterable[str]) -> Inputs:
        """The same inputs with these no longer given."""
        gone = set(keys)
        return Inputs(
            self.preset, self._start, {key: value for key, value in self.as_given.items() if key not in gone}
        )

    def in_units(self, system: str) -> Inputs:
        """The same inputs, with round numbers of these units where nobody gave one; see `InputSpec.us_default`.

        Examples
        --------
        >>> mine = Inputs(OWN, {}, {"home_distance": 5.0})
        >>> round(mine.in_units("US")["speedo_shown"], 2), mine.in_units("US")["home_distance"]
        (80.47, 5.0)
        >>> mine.in_units("US").in_units("metric") is mine
        True
        """
        if system != "US" or self._metric is not None:
            return self if system == "US" or self._metric is None else self._metric
        if self._rounded is None:
            self._rounded = copy(self)
            self._rounded._metric = self
            for key, value in _ROUND.items():
                if key not in self.given and self[key] == INPUTS[key].default:
                    self._rounded[key] = value
        return self._rounded

    def origin(self, key: str) -> str:
        """GIVEN, TYPICAL or DEMO."""
        if _stood_for(key, self[key]):
            return TYPICAL
        if key in self.given:
            return GIVEN
        return TYPICAL if self.preset == OWN else DEMO


def _unknown(key: str, value: Any) -> bool:
    """Whether a value stands for a number that the rider does not know."""
    return value is None and key in INPUTS and INPUTS[key].kind == "optional"


def _stood_for(key: str, value: Any) -> bool:
    """Whether a rule makes what goes into the build, whoever gave the value: of a tyre, that of its rim alone."""
    return _unknown(key, value) or (key == "tyre" and rim_alone(str(value)) is not None)


def with_origins(values: Mapping[str, Any]) -> Inputs:
    """Inputs as they are; of a plain mapping, as links and files of old hold, every value counts as given."""
    return values if isinstance(values, Inputs) else Inputs(OWN, {}, defaults() | dict(values))


def origin(values: Mapping[str, Any], key: str) -> str:
    """Where one value comes from; in a plain mapping, all that are known are given.

    Examples
    --------
    >>> origin({"kv": 62.0, "drag_area": None}, "kv"), origin({"kv": 62.0, "drag_area": None}, "drag_area")
    ('given', 'typical')
    """
    if isinstance(values, Inputs):
        return values.origin(key)
    return TYPICAL if _stood_for(key, values[key]) else GIVEN


def entered(values: Mapping[str, Any], key: str) -> bool:
    """Whether the rider entered a value himself; of a plain mapping that is not known.

    Examples
    --------
    >>> entered(Inputs(OWN, {}, {"kv": 75.0}), "kv"), entered({"kv": 75.0}, "kv")
    (True, False)
    """
    return isinstance(values, Inputs) and key in values.given


def facts(values: Mapping[str, Any]) -> Iterator[str]:
    """Keys of the inputs that are counted, in their order."""
    for key in FACTS:
        yield f"{key}_{values['level']}" if key in ("line", "phase") else key


def those(values: Mapping[str, Any], *origins: str) -> list[str]:
    """Keys of the facts whose values come from there.

    Examples
    --------
    >>> len(those(Inputs(OWN, {}, {}), TYPICAL)) == len(FACTS), those(Inputs(OWN, {}, {}), DEMO)
    (True, [])
    """
    return [key for key in facts(values) if origin(values, key) in origins]


def named(key: str) -> str:
    """An input's label; that of a limit says its power level.

    Examples
    --------
    >>> named("line_2"), named("kv")
    ('Line limit, level 2', 'Motor Kv')
    """
    label, (stem, _, level) = INPUTS[key].label, key.rpartition("_")
    return f"{label}, level {level}" if stem in ("line", "phase") and level in LEVELS else label


def mark(values: Mapping[str, Any], key: str) -> str:
    """What stands behind a value in a table: nothing where it is given, else its mark after a space.

    Examples
    --------
    >>> mark(Inputs(OWN, {}, {"cells": 20.0}), "kv"), mark(Inputs(OWN, {}, {"kv": 75.0}), "kv")
    (' ◐', '')
    """
    found = origin(values, key)
    return "" if found == GIVEN else f" {MARKS[found]}"


LEGEND = ", ".join(f"{MARKS[one]} {WORDS[one]}" for one in (TYPICAL, DEMO))
"""What the marks in a table mean."""


def marked(values: Mapping[str, Any], key: str) -> str:
    """Mark and word of where a value comes from, as text.

    Examples
    --------
    >>> marked(Inputs(OWN, {}, {}), "kv")
    '◐ typical'
    """
    found = origin(values, key)
    return f"{MARKS[found]} {WORDS[found]}"
