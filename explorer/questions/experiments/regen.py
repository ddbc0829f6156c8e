"""The experiment with regenerative braking: one event from a full pack, one from a lower charge. No Streamlit.

No ride is simulated: what counts is the fullest cell's voltage while the current flows back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from explorer.derivations.derivation import Step
from explorer.derivations.pack import fullest_cell
from explorer.questions.experiments.words import Seen, answered, each, told
from physics.build import Build
from physics.build.batch import Batch
from physics.components.cell import chemistry
from physics.studies.headroom import MARGIN, fullest_cell_voltage
from physics.studies.headroom_curves import charge_event, needed

EVENT = 10.0
"""Seconds one event lasts."""
LOWER = 60.0
"""Percent of charge of the lower start."""
USUAL = 40.0
"""Regen current that is tried where the build has none, A."""
_MOMENTS = 61


@dataclass(frozen=True, eq=False)
class Events:
    """Two braking events.

    Attributes
    ----------
    time : array, shape (k,), s
        Since the current began.
    voltage : array, shape (2, k), V
        Of the fullest cell.
    limit : float, V
        What it must stay below: the chemistry's highest, or the over-voltage rule less a margin.
    status : int
        Of `physics.studies.headroom.HeadroomResult`: -1 too cold, -2 too hot, -3 no charge is low enough.
    highest_charge, volts_below_full, temperature : float
        From where such an event may start; V; K.
    """

    time: np.ndarray
    voltage: np.ndarray
    limit: float
    status: int
    highest_charge: float
    volts_below_full: float
    temperature: float


def current(inputs: dict[str, Any]) -> float:
    """The build's regen current, or the usual one where it has none, A."""
    return float(inputs["regen"]) or USUAL


def from_full(inputs: dict[str, Any]) -> dict[str, Any]:
    """Inputs of the first event."""
    return {"charge": 100.0, "regen": current(inputs)}


def from_lower(inputs: dict[str, Any]) -> dict[str, Any]:
    """Inputs of the second event."""
    return {"charge": LOWER, "regen": current(inputs)}


def events(builds: tuple[Build, Build]) -> Events:
    """Both events in one call."""
    build = builds[0]
    cells, own, rules = build.pack, Batch.of(build), build.pack.protection
    temperature = float(own["conditions.pack_temperature"][0])
    time = np.linspace(0.0, EVENT, _MOMENTS)
    starts = np.array([[one.conditions.charge] for one in builds])
    regen = build.controller.regen_current
    voltage = fullest_cell_voltage(charge_event(build, regen, temperature, time, own), starts)
    found = needed(build, regen, temperature, EVENT, own)
    return Events(
        time=time,
        voltage=np.asarray(voltage),
        limit=float(min(chemistry(cells.chemistry).voltage_maximum, rules.cell_overvoltage - MARGIN)),
        status=int(found.status),
        highest_charge=float(found.highest_charge),
        volts_below_full=float(found.volts_below_full),
        temperature=temperature,
    )


def allowed(seen: Seen) -> list[bool]:
    """Whether each event may happen."""
    found: Events = seen.extra["events"]
    return [found.status > 0 and build.conditions.charge <= found.highest_charge for build in seen.builds]


def outcome(seen: Seen) -> str:
    """Both, only the lower one, or neither."""
    return {(True, True): "both", (False, True): "lower"}.get(tuple(allowed(seen)), "none")


def explain(seen: Seen) -> str:
    """What the fullest cell does in both events, and where such an event may start."""
    fmt, found = seen.fmt, seen.extra["events"]
    if found.status in (-1, -2):
        cold = found.status == -1
        now = fmt("temperature", found.temperature)
        return answered(
            f"**No regen at all:** the pack is at {now}, {'colder' if cold else 'hotter'} than it may be charged.",
            "Regen is charging. " + (
                "In the cold, lithium plates on to the electrodes instead of going into them, and that harms "
                "the cells for good."
                if cold else "The protection keeps a hot pack from being charged."
            ),
        )  # fmt: skip
    highest = found.voltage.max(axis=1)
    texts = []
    for volts in highest:
        way = "stays below" if volts <= found.limit else "passes"
        texts.append(f"reaches {fmt.apart('cell voltage', volts, found.limit)} and {way}")
    limit = fmt("cell voltage", found.limit)
    happened = (
        f"Starting full, the fullest cell {texts[0]} the {limit} it may have; "
        f"starting from {LOWER:.0f} %, it {texts[1]} that."
    )
    regen = fmt("current", seen.builds[0].controller.regen_current)
    if found.status == -3:
        where = f"At {regen} even a nearly empty pack would go too high."
    elif found.status == 2:
        where = f"At {regen} such an event may start from a full pack."
    else:
        where = (
            f"At {regen} such an event may start from {fmt('charge', found.highest_charge, 1)} of charge or "
            f"less: "
            f"{fmt('voltage', found.volts_below_full)} below full."
        )
    cold = ""
    if found.status == 3:
        cold = "So cold, the cells take only a reduced charging current: see the cell maker's figure."
    because = (
        "A current pushed back lifts every cell by its own resistance times the current, and fills it besides."
    )
    return answered(happened, told(because, where, cold))


def workings(seen: Seen) -> list[Step]:
    """The fullest cell's voltage at the end of both events."""
    found = seen.extra["events"]
    return each(
        seen,
        lambda row: fullest_cell(seen.builds[row], seen.builds[row].conditions.charge, found.temperature, EVENT),
    )


def numbers(seen: Seen) -> list[tuple[str, str, str]]:
    """Rows of the table: what, before, after."""
    fmt, found = seen.fmt, seen.extra["events"]
    may = ["yes" if one else "no" for one in allowed(seen)]
    return [
        ("charge at the start", *(fmt("charge", build.conditions.charge) for build in seen.builds)),
        ("fullest cell, highest", *(fmt("cell voltage", value, 3) for value in found.voltage.max(axis=1))),
        ("it must stay below", *(fmt("cell voltage", found.limit, 3),) * 2),
        ("allowed", *may),
    ]
