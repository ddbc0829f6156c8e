"""The experiment with regenerative braking in words: one event from a full pack, one from a lower charge.

No ride is simulated: what counts is the fullest cell's voltage while the current flows back.
"""

from __future__ import annotations

from typing import Any

from explorer.derivations.derivation import Step
from explorer.derivations.pack import fullest_cell
from explorer.questions.experiments.results import Events
from explorer.questions.experiments.two_runs import TwoRuns
from explorer.questions.experiments.words import Explanation, each, paragraph

LOWER = 60.0
"""Percent of charge of the lower start."""
USUAL = 40.0
"""Regen current that is tried where the build has none, A."""


def current(inputs: dict[str, Any]) -> float:
    """The build's regen current, or the usual one where it has none, A."""
    return float(inputs["regen"]) or USUAL


def from_full(inputs: dict[str, Any]) -> dict[str, Any]:
    """Inputs of the first event."""
    return {"charge": 100.0, "regen": current(inputs)}


def from_lower(inputs: dict[str, Any]) -> dict[str, Any]:
    """Inputs of the second event."""
    return {"charge": LOWER, "regen": current(inputs)}


def events_of(two: TwoRuns) -> Events:
    """Both events; of this experiment they are always there."""
    assert two.events is not None
    return two.events


def allowed(two: TwoRuns) -> list[bool]:
    """Whether each event may happen."""
    events = events_of(two)
    return [events.status > 0 and build.conditions.charge <= events.highest_charge for build in two.builds]


def outcome(two: TwoRuns) -> str:
    """Both, only the lower one, or neither."""
    full, lower = allowed(two)
    return "both" if full and lower else "lower" if lower else "none"


def explain(two: TwoRuns) -> Explanation:
    """What the fullest cell does in both events, and where such an event may start."""
    fmt, events = two.fmt, events_of(two)
    if events.status in (-1, -2):
        cold = events.status == -1
        now = fmt("temperature", events.temperature)
        return Explanation(
            f"**No regen at all:** the pack is at {now}, too {'cold' if cold else 'hot'} to charge.",
            "Regen is charging. "
            + (
                "In the cold, lithium plates onto the electrodes instead of going into them, and that "
                "damages the cells permanently."
                if cold
                else "The BMS does not let a hot pack charge."
            ),
        )
    highest = events.voltage.max(axis=1)
    texts = []
    for volts in highest:
        way = "stays below" if volts <= events.limit else "passes"
        texts.append(f"reaches {fmt.apart('cell voltage', volts, events.limit)} and {way}")
    limit = fmt("cell voltage", events.limit)
    happened = (
        f"Starting full, the fullest cell {texts[0]} the {limit} it may have; "
        f"starting from {LOWER:.0f} %, it {texts[1]} that."
    )
    current = float(events.event.current)
    regen = fmt.at_most("current", current, 0 if current >= 10 else 1)
    if events.status == -3:
        where = f"At {regen} even a nearly empty pack would go too high."
    elif events.highest_charge >= 1:
        where = f"At {regen} such an event may start from a full pack."
    else:
        where = (
            f"At {regen} such an event may start from {fmt.at_most('charge', events.highest_charge, 1)} of charge "
            f"or less: {fmt.at_least('voltage', events.volts_below_full)} below full."
        )
    reduced = ""
    if events.status == 3:
        asked = fmt("current", two.builds[0].controller.regen_current)
        reduced = f"{asked} is more than the cells can take today; {regen} is their limit."
    because = (
        "Current pushed back lifts every cell by the current times its own resistance, and charges it as well."
    )
    return Explanation(happened, paragraph(because, where, reduced))


def derivation(two: TwoRuns) -> list[Step]:
    """The fullest cell's voltage at the end of both events."""
    events = events_of(two)
    return each(
        two,
        lambda row: fullest_cell(two.builds[row], events.event, two.builds[row].conditions.charge),
    )


def numbers(two: TwoRuns) -> list[tuple[str, ...]]:
    """Rows of the table: what, before, after."""
    fmt, events = two.fmt, events_of(two)
    may = ["yes" if one else "no" for one in allowed(two)]
    return [
        ("charge at the start", *(fmt("charge", build.conditions.charge) for build in two.builds)),
        ("fullest cell, highest", *(fmt("cell voltage", value, 3) for value in events.voltage.max(axis=1))),
        ("it must stay below", *(fmt("cell voltage", events.limit, 3),) * 2),
        ("allowed", *may),
    ]
