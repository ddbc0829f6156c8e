"""Inputs of the controller's power levels: how many it holds, which is in use, and the limits of each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from explorer.inputs.spec import InputSpec

LEVELS = ("1", "2", "3", "4", "5")
"""Every power level that a controller may hold, from the mildest; `levels` says which of them this one does."""
LEVEL_NAMES = {level: f"Level {level}" for level in LEVELS}


def power_level_inputs(group: str) -> list[InputSpec]:
    """The inputs, which stand in this group."""
    specs = [
        InputSpec("levels", "Power levels", group, 1, len(LEVELS), 1, 3, whole=True,
               help="How many sets of limits the controller stores, from mildest to strongest; 1 if it has no "
                    "levels."),
        InputSpec("level", "Power level", group, kind="options", options=tuple(LEVEL_NAMES.items()), default="3",
               help="Which of the controller's stored sets of limits is in use and edited below."),
    ]  # fmt: skip
    for level, line, phase in zip(LEVELS, (80, 140, 210, 210, 210), (220, 340, 480, 480, 480), strict=True):
        specs += [
            InputSpec(f"line_{level}", "Line limit", group, 20, 600, 5, line, "A",
                   help="Highest line current (DC, pack to controller). It sets power: what the pack has "
                        "to deliver."),
            InputSpec(f"phase_{level}", "Phase limit", group, 50, 1500, 10, phase, "A", phase=True,
                   help="Highest current in one motor phase. It sets torque: how hard the bike pulls "
                        "away. Makers quote peak or RMS (0.707 of peak): choose above which one you "
                        "enter."),
        ]  # fmt: skip
    return specs


def levels(values: Mapping[str, Any]) -> tuple[str, ...]:
    """The power levels that the controller holds, from the mildest to the strongest.

    Examples
    --------
    >>> levels({"levels": 2.0})
    ('1', '2')
    """
    return LEVELS[: round(values["levels"])]


def level_in_use(values: Mapping[str, Any]) -> str:
    """The power level that is chosen, or the strongest where the controller does not hold that one.

    Examples
    --------
    >>> level_in_use({"levels": 2.0, "level": "3"}), level_in_use({"levels": 2.0, "level": "1"})
    ('2', '1')
    """
    return str(min(values["level"], levels(values)[-1]))


def beyond_the_levels(asked: Mapping[str, Any], values: Mapping[str, Any]) -> list[str]:
    """A sentence where a link or a file asks for a power level that its build does not have; else nothing.

    Examples
    --------
    >>> beyond_the_levels({"level": "5"}, {"levels": 3.0, "level": "3"})
    ['Power level was Level 5; this build has 3 power levels, so Level 3 is used.']
    """
    if asked.get("level", values["level"]) == values["level"]:
        return []
    count = len(levels(values))
    has = "1 power level" if count == 1 else f"{count} power levels"
    was, used = LEVEL_NAMES[asked["level"]], LEVEL_NAMES[values["level"]]
    return [f"Power level was {was}; this build has {has}, so {used} is used."]
