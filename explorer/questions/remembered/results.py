"""From remembered facts to values, beside the page; and from values to inputs. Numbers only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import Inputs, with_origins
from explorer.inputs.power_levels import levels
from explorer.page.page import Page
from explorer.page.tolerances import UNKNOWNS
from explorer.state.memories import NOT_GIVEN, NOTED, REMEMBERED, VAGUE, Memory, Were
from physics.build import Build
from physics.components.tyre import DEFAULT_ROLLING_FACTOR
from physics.fitting.recollection import (
    CUT_OUT,
    FRONT_LIGHT,
    HELD,
    LOADED_VOLTAGE,
    TIME_TO_SPEED,
    TOP_SPEED,
    Fact,
    Finding,
    Observable,
    Recollected,
)
from physics.studies.recollection import NextFact, next_fact, recollect
from physics.studies.recollection.recollect import COUNT, STAGES
from physics.studies.uncertainty import Tolerance
from physics.studies.uncertainty.tolerance import COVERAGE
from physics.units import from_si

SAMPLES, TIMES = COUNT, STAGES
"""In each stage, and stages."""

NEXT_SHARE = 5
"""How much of the whole work the choice of the next fact is, in percent."""

ERRORS: dict[str, tuple[float, bool]] = {
    TOP_SPEED: (4 / 3.6, False), TIME_TO_SPEED: (0.15, True), CUT_OUT: (0.3, True), HELD: (0.3, True),
    FRONT_LIGHT: (0.05, False), LOADED_VOLTAGE: (1.0, False),
}  # fmt: skip
"""How far off a memory may well be, and whether that is a share of its value; common practice, no source."""

FACTORS = {NOTED: 0.5, REMEMBERED: 1.0, VAGUE: 2.0}

_INPUTS = {
    "bike.drag_area": "drag_area", "bike.rolling_coefficient": "rolling", "pack.resistance": "pack_resistance",
    "motor.kv_rpm_per_volt": "kv", "bike.bike_mass": "bike_mass", "pack.charge_spread": "charge_spread",
    "pack.cold_growth": "cold_growth", "pack.capacity_ah": "capacity", "motor.phase_resistance": "motor_resistance",
    "motor.phase_inductance": "motor_inductance", "pack.protection.continuous_current": "continuous_current",
    "pack.protection.peak_current": "peak_current",
}  # fmt: skip
HEIGHT, RADIUS, RATIO = "bike.centre_of_gravity_height", "bike.rolling_radius", "driveline.primary_ratio"
_NORMAL_NINETY = 1.6449  # half of a normal 90 % interval, in standard deviations
_STEP_OF_SPEED = 5.0


@dataclass(frozen=True, eq=False)
class Answer:
    """What was found.

    Attributes
    ----------
    found : Recollected
        What the facts say.
    following : tuple of NextFact
        What to look at next, the most telling first.
    """

    found: Recollected
    following: tuple[NextFact, ...]


def error_of(row: Memory) -> float:
    """How far off a row's value may well be, SI."""
    error, share = ERRORS[row.kind]
    return FACTORS[row.sure] * error * ((row.value or 0.0) if share else 1.0)


def as_fact(row: Memory, page: Page) -> Fact:
    """A complete row as physics takes it: full throttle on a level road, no wind but what a day may bring."""
    conditions = (
        ("conditions.charge", row.charge),
        ("conditions.air_temperature", row.temperature),
        ("conditions.pack_temperature", row.temperature),
        *_settings(page, row.level, row.front, row.rear),
    )
    kept = tuple((path, value) for path, value in conditions if value is not None)
    return Fact(Observable(row.kind, row.at, kept), row.value or 0.0, error_of(row))


def _settings(
    page: Page, level: str, front: int | None, rear: int | None
) -> tuple[tuple[str, float | int | None], ...]:
    return (
        ("controller.line_current_limit", float(page.inputs[f"line_{level}"])),
        ("controller.phase_current_limit", float(page.inputs[f"phase_{level}"])),
        ("controller.throttle", 1.0),
        ("driveline.front_teeth", front),
        ("driveline.rear_teeth", rear),
        ("conditions.headwind", 0.0),
        ("conditions.slope", 0.0),
    )


def candidates(page: Page) -> tuple[tuple[Observable, float, bool], ...]:
    """What could be looked at next on a full pack, the error of its memory, and whether that is a share of it.

    Nothing that asks for a cut-out or a lifted front wheel: those are never sought.
    """
    line, temperature = page.build.driveline, float(page.batch["conditions.pack_temperature"][0])

    def on_a_full_pack(level: str) -> tuple[tuple[str, float], ...]:
        day = (
            ("conditions.charge", 1.0),
            ("conditions.air_temperature", temperature),
            ("conditions.pack_temperature", temperature),
        )
        settings = _settings(page, level, line.front_teeth, line.rear_teeth)
        return (*day, *((path, value) for path, value in settings if value is not None))

    own = on_a_full_pack(page.inputs["level"])
    step = float(page.fmt.si("speed", _STEP_OF_SPEED))
    speed = max(round(0.7 * page.target_speed / step), 1) * step
    current = max(round(0.7 * page.build.controller.line_current_limit / 10.0), 1) * 10.0
    found = [Observable(TOP_SPEED, None, on_a_full_pack(level)) for level in levels(page.inputs)]
    found += [Observable(TIME_TO_SPEED, speed, own), Observable(LOADED_VOLTAGE, current, own)]
    return tuple((each, *ERRORS[each.kind]) for each in dict.fromkeys(found))


def search(
    build: Build,
    facts: Sequence[Fact],
    known: tuple[Tolerance, ...],
    looked_at: Sequence[tuple[Observable, float, bool]],
) -> Callable[[Callable[[int, int], None], Callable[[], bool]], Answer]:
    """The work of a background job.

    Parameters
    ----------
    build, facts, known
        As `physics.studies.recollection.recollect` takes them.
    looked_at : sequence of (Observable, float, bool)
        As `physics.studies.recollection.next_fact` takes it.

    Returns
    -------
    callable
        For `explorer.frame.background_job.Job`.
    """

    def work(progress: Callable[[int, int], None], cancelled: Callable[[], bool]) -> Answer:
        def first(done: int, total: int) -> None:
            progress((100 - NEXT_SHARE) * done, 100 * total)

        def second(done: int, total: int) -> None:
            progress((100 - NEXT_SHARE) * total + NEXT_SHARE * done, 100 * total)

        found = recollect(build, facts, known, stages=TIMES, count=SAMPLES, progress=first, cancelled=cancelled)
        if not found.success or cancelled():
            return Answer(found, ())
        before = [fact.observable for fact in facts]
        ranked = next_fact(build, found, looked_at, known, known=before, progress=second, cancelled=cancelled)
        return Answer(found, ranked)

    return work


def as_they_were(changes: dict[str, Any], before: dict[str, Any]) -> Were:
    """What the facts change, to be put back by `before_the_facts`: what was given, and NOT_GIVEN for all else.

    Parameters
    ----------
    changes : dict
        Input to the value the facts make of it.
    before : dict
        The inputs from before them.
    """
    given = with_origins(before).given
    return {key: (before[key] if key in given else NOT_GIVEN, value) for key, value in changes.items()}


def before_the_facts(inputs: dict[str, Any], were: Were) -> Inputs:
    """The inputs as they were before the facts were applied, so that no fact counts twice.

    Parameters
    ----------
    inputs : dict
        As they are.
    were : dict
        See `as_they_were`; what was changed since then stays as it is.

    Returns
    -------
    Inputs

    Examples
    --------
    >>> from explorer.inputs.origins import OWN
    >>> mine = Inputs(OWN, {}, {"kv": 60.5, "pack_resistance": 45.0, "bike_mass": 120.0})
    >>> were = {"kv": (62.0, 60.5), "pack_resistance": (NOT_GIVEN, 45.0), "bike_mass": (100.0, 99.0)}
    >>> before = before_the_facts(mine, were)
    >>> before["kv"], before.origin("pack_resistance"), before["bike_mass"]
    (62.0, 'typical', 120.0)
    """
    back = {key: before for key, (before, since) in were.items() if _same(inputs.get(key), since)}
    kept = with_origins(inputs).without([key for key, before in back.items() if before == NOT_GIVEN])
    return kept | {key: before for key, before in back.items() if before != NOT_GIVEN}


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, str) or isinstance(other, str) or one is None or other is None:
        return one == other
    return abs(float(one) - float(other)) <= 1e-6 * max(1.0, abs(float(other)))


def as_inputs(found: Recollected, build: Build, inputs: dict[str, Any]) -> dict[str, Any]:
    """The values the facts give, and how well each is known then, as inputs of the page.

    Parameters
    ----------
    found : Recollected
        What the facts say.
    build : Build
        From before the facts.
    inputs : dict
        Its inputs.

    Returns
    -------
    dict
        Input to value in home units; what the facts leave open is not in it.
    """
    changes: dict[str, Any] = {}
    sure_of = {path: key for key, (path, _, _) in UNKNOWNS.items()}
    for item in found.findings:
        if not item.left_open:
            changes |= _as_input(item, build, inputs)
            if item.name in sure_of:
                changes[sure_of[item.name]] = _known_to(item, sure_of[item.name])
    return changes


def _as_input(item: Finding, build: Build, inputs: dict[str, Any]) -> dict[str, Any]:
    """One value as an input; nothing where no input holds it."""
    if item.name == HEIGHT:
        share = (build.bike.bike_mass + build.bike.rider_mass) / build.bike.bike_mass
        higher = 1000.0 * share * (item.middle - build.bike.centre_of_gravity_height)
        return {"bike_height": INPUTS["bike_height"].clamp(round(inputs["bike_height"] + higher))}
    if item.name == RADIUS:
        return {"tyre": f"{2000.0 * item.middle / DEFAULT_ROLLING_FACTOR:.0f} mm"}
    if item.name == RATIO:
        teeth = inputs["rear_teeth"] * item.middle / build.driveline.primary_ratio
        return {"rear_teeth": INPUTS["rear_teeth"].clamp(round(teeth))}
    if item.name not in _INPUTS:
        return {}
    spec = INPUTS[_INPUTS[item.name]]
    as_it_is = item.name in ("motor.kv_rpm_per_volt", "pack.capacity_ah")
    value = item.middle if as_it_is else float(from_si(item.middle, spec.unit))
    return {spec.key: spec.clamp(float(f"{value:.3g}"))}


def _known_to(item: Finding, key: str) -> float:
    """Half-width of a normal tolerance with this 90 % interval, in the home unit of its input."""
    half = COVERAGE * (item.high - item.low) / 2 / _NORMAL_NINETY
    half = half / abs(item.middle) if UNKNOWNS[key][2] and item.middle else half
    spec = INPUTS[key]
    return spec.clamp(float(f"{from_si(half, spec.unit):.2g}"))
