"""Every question, by the moment in which it comes up: an explicit tuple, so that a misspelt name fails at import.

The page imports it after its first screen is drawn, which needs three of them.
"""

from __future__ import annotations

from types import ModuleType

from explorer.questions import (
    builds,
    charge_to,
    experiments,
    front_wheel,
    gearing,
    headroom,
    heat,
    hill_start,
    how_sure,
    line_limit,
    pack_gauge,
    packs_on_offer,
    parts_fit,
    regen,
    remembered,
    ride_log,
    road_needed,
    rule_limits,
    run,
    sag,
    self_check,
    setup_sheet,
    speedometer,
    voltage_window,
    warm_up,
    way_home,
    what_gets_me_there,
)

FIRST = (run, sag, pack_gauge)
"""Drawn on the first screen, never folded."""

MOMENTS: tuple[tuple[str, tuple[ModuleType, ...]], ...] = (
    ("Choosing parts", (what_gets_me_there, gearing, hill_start, packs_on_offer, parts_fit, self_check, builds)),
    ("The night before", (charge_to, line_limit, rule_limits, setup_sheet)),
    (
        "At the track",
        (headroom, regen, voltage_window, warm_up, way_home, road_needed, front_wheel, heat, speedometer),
    ),
    ("Afterwards", (ride_log, remembered, how_sure)),
    ("Learning", (experiments,)),
)
"""When a question comes up, and the questions of that moment, in order. One moment is open at a time."""

FOLDED = tuple(question for _, questions in MOMENTS for question in questions)
"""All of them, each under its question."""


def name_of(question: ModuleType) -> str:
    """The name of a question's folder, with which its keys begin.

    Examples
    --------
    >>> name_of(line_limit)
    'line_limit'
    """
    return question.__name__.rpartition(".")[2]
