"""The experiments with regenerative braking in words: from full and from a lower charge; once and in a series.

No ride is simulated: what counts is the fullest cell's voltage while the current flows back.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.derivations.derivation import Step
from explorer.derivations.pack import fullest_cell
from explorer.questions.experiments.results import SERIES, Braking
from explorer.questions.experiments.two_runs import TwoRuns
from explorer.questions.experiments.words import Explanation, each, paragraph

LOWER = 60.0
"""Percent of charge of the lower start."""
START = 80.0
"""Percent of charge from which the series starts: as high as small regen may go once."""
USUAL = 40.0
"""Regen current that is tried where the build has none, A."""
ALIKE = 0.005
"""Peaks of a series that are no further apart count as the same, V."""
BECAUSE = (
    "Current pushed back raises every cell's voltage by the current times the cell's resistance, and "
    "charges it as well."
)


def current(inputs: dict[str, Any]) -> float:
    """The build's regen current, or the usual one where it has none, A."""
    return float(inputs["regen"]) or USUAL


def from_full(inputs: dict[str, Any]) -> dict[str, Any]:
    """Inputs of an event with a full pack."""
    return {"charge": 100.0, "regen": current(inputs)}


def from_lower(inputs: dict[str, Any]) -> dict[str, Any]:
    """Inputs of an event that starts well below full."""
    return {"charge": LOWER, "regen": current(inputs)}


def from_near_full(inputs: dict[str, Any]) -> dict[str, Any]:
    """Inputs of the one event and of the series."""
    return {"charge": START, "regen": current(inputs)}


def events_of(two: TwoRuns) -> tuple[Braking, Braking]:
    """Both events; of these experiments they are always there."""
    assert two.events is not None
    return two.events


def allowed(two: TwoRuns) -> list[bool]:
    """Whether each may happen."""
    return [
        events.status > 0 and build.conditions.charge <= events.highest_charge
        for build, events in zip(two.builds, events_of(two), strict=True)
    ]


def outcome(two: TwoRuns) -> str:
    """Both, only the lower one, or neither."""
    full, lower = allowed(two)
    return "both" if full and lower else "lower" if lower else "none"


def peaks(events: Braking) -> list[float]:
    """The fullest cell's highest voltage in each event, V."""
    volts = np.append(events.voltage, np.nan).reshape(events.event.events, -1)
    return [float(value) for value in np.nanmax(volts, axis=1)]


def series_outcome(two: TwoRuns) -> str:
    """All alike, each higher but allowed, the last too high, or even the first."""
    one, series = allowed(two)
    found = peaks(events_of(two)[1])
    if not one:
        return "none"
    return "over" if not series else "same" if found[-1] - found[0] <= ALIKE else "higher"


def explain(two: TwoRuns) -> Explanation:
    """What the fullest cell does in both events, and where such an event may start."""
    events = events_of(two)[0]
    if (refused := _refused(two)) is not None:
        return refused
    limit = two.fmt("cell voltage", events.limit)
    full, lower = (_against(two, max(peaks(found)), events.limit) for found in events_of(two))
    happened = (
        f"Starting full, the fullest cell {full} its {limit} maximum; starting from {LOWER:.0f} %, it {lower} that."
    )
    return Explanation(happened, paragraph(BECAUSE, _where(two, events, "such an event"), _reduced(two)))


def explain_series(two: TwoRuns) -> Explanation:
    """To what the first and the last event lift the fullest cell, and where such a series may start."""
    once, series = events_of(two)
    if (refused := _refused(two)) is not None:
        return refused
    fmt, found, limit = two.fmt, peaks(series), two.fmt("cell voltage", series.limit)
    more = fmt("cell voltage", (found[-1] - found[0]) / (SERIES.events - 1), 3)
    happened = (
        f"Braking once, the fullest cell {_against(two, found[0], series.limit)} its {limit} maximum; the last "
        f"of {SERIES.events} {_against(two, found[-1], series.limit)} that."
    )
    returned = fmt("charge", SERIES.events * float(series.event.returned_charge()), 1)
    because = (
        f"Each event leaves its charge behind, {returned} in all, and the cell has not settled when the next "
        f"begins: it goes {more} higher each time."
    )
    apart = ""
    if once.highest_charge > series.highest_charge > 0:
        apart = f"Braking once may start from {fmt.at_most('charge', once.highest_charge, 1)}."
    return Explanation(happened, paragraph(because, _where(two, series, "such a series"), apart, _reduced(two)))


def _refused(two: TwoRuns) -> Explanation | None:
    """Where the pack is too cold or too hot to be charged at all."""
    events = events_of(two)[0]
    if events.status not in (-1, -2):
        return None
    cold = events.status == -1
    now = two.fmt("temperature", events.temperature)
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


def _against(two: TwoRuns, volts: float, limit: float) -> str:
    way = "stays below" if volts <= limit else "passes"
    return f"reaches {two.fmt.apart('cell voltage', volts, limit)} and {way}"


def _where(two: TwoRuns, events: Braking, what: str) -> str:
    """From what charge it may start."""
    fmt, flowing = two.fmt, float(events.event.current)
    regen = fmt.at_most("current", flowing, 0 if flowing >= 10 else 1)
    if events.status == -3:
        return f"At {regen} even a nearly empty pack would go over its limit."
    if events.highest_charge >= 1:
        return f"At {regen} {what} may start from a full pack."
    return (
        f"At {regen} {what} may start from {fmt.at_most('charge', events.highest_charge, 1)} charge or less: "
        f"{fmt.at_least('voltage', events.volts_below_full)} below full."
    )


def _reduced(two: TwoRuns) -> str:
    events = events_of(two)[0]
    if events.status != 3:
        return ""
    flowing = float(events.event.current)
    regen = two.fmt.at_most("current", flowing, 0 if flowing >= 10 else 1)
    asked = two.fmt("current", two.builds[0].controller.regen_current)
    return f"{asked} is more than the cells can take today; their limit is {regen}."


def derivation(two: TwoRuns) -> list[Step]:
    """The fullest cell's voltage at the end of both."""
    events = events_of(two)
    return each(
        two,
        lambda row: fullest_cell(two.builds[row], events[row].event, two.builds[row].conditions.charge),
    )


def numbers(two: TwoRuns) -> list[tuple[str, ...]]:
    """Rows of the table: what, before, after."""
    fmt, events = two.fmt, events_of(two)
    may = ["yes" if one else "no" for one in allowed(two)]
    return [
        ("charge at the start", *(fmt("charge", build.conditions.charge) for build in two.builds)),
        ("fullest cell, highest", *(fmt("cell voltage", max(peaks(one)), 3) for one in events)),
        ("its maximum", *(fmt("cell voltage", one.limit, 3) for one in events)),
        ("allowed", *may),
    ]
