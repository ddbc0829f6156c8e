"""Warming the pack up before a pull: how long at what current, or how many gentle pulls, and whether it pays.

A warm pack sags less and an emptier one rests lower, so a warm-up may win or lose. The same pull is run from the
pack as it is, and from what each way of warming it up leaves behind: charge, heat of motor and controller too. The
third way is to keep the pack warm beforehand, indoors, which takes no charge.

Left out: what `physics.scenarios.warming` leaves out, and what braking by regen warms.
Cautions: the makers' instructions for cells and pack go first, their temperature limits among them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.limits import UNDER_VOLTAGE
from physics.scenarios.pull import Pull
from physics.scenarios.state import BikeState, rest
from physics.scenarios.warming import (
    EMPTY,
    STEP,
    Warming,
    steady_ride,
    warm_by_pulls,
    warm_steadily,
)
from physics.studies.day.outcomes import COSTS, PAYS, SAME, Outcomes, line_limits, outcomes_from
from physics.studies.uncertainty.tolerance import Tolerance, default_tolerances
from physics.studies.uncertainty.worse import WorseCase

STEADY, PULLS, INDOORS = range(3)
"""The ways: riding at a steady current, gentle pulls, and keeping the pack warm beforehand."""
GETS_THERE, WARM_ALREADY, NOT_DRAWN, CUTS_OUT, EMPTY_FIRST, LOSSES, TOO_LONG = range(7)
"""Status of a way: warms up as told; nothing to do; no steady speed draws so much; the protection would cut out;
the pack is empty first; it loses as much heat as it makes; it takes more than MOST_TIME or MOST_PULLS."""
OWN, TARGET, USUAL = range(3)
"""Why it is to be so warm: asked for; the least at which the target is reached; a usual temperature."""

USUAL_TEMPERATURE = 298.15
"""K, 25 degrees C, at which makers state what a cell can do."""
MOST_TIME = 3 * 3600.0
MOST_PULLS = 40

_WARMEST = 303.15  # K, up to where a temperature that reaches the target is looked for
_ROOM = 8.0  # K, by how much more than a pack kept warm one that is ridden warm may need: it has less charge
_LOOKED_AT = 10
_COOLING = 2.0  # factor on the path of heat to the air: wind may double it, insulation halve it, from memory
_HEATS = ("pack.resistance", "pack.cold_growth")  # unknowns on which a pack's own heat hangs
_NEARLY_EMPTY = 0.15  # charge below which an under-voltage says that the pack is empty
_STILL = 0.3  # K over the last fifth below which a pack no longer warms up
_ENTERED = 0


@dataclass(frozen=True)
class WarmUpPlan:
    """How the pack is warmed up, and for what.

    Attributes
    ----------
    current : float, A
        Line current of steady riding, above 0.
    pull_time, pull_current, rest_time : float, s, A and s
        Of the gentle pulls, their line limit, and of the rest after each, and before the pull that counts.
    target_speed, duration : float, m/s and s
        Of the pull that counts.
    temperature : float, K, optional
        Wanted of the pack; by default what the target needs, or USUAL_TEMPERATURE where that does not tell.
    """

    current: float
    pull_time: float
    pull_current: float
    rest_time: float
    target_speed: float
    duration: float
    temperature: float | None = None


@dataclass(frozen=True, eq=False)
class Way:
    """One way of riding the pack warm.

    Attributes
    ----------
    status : int
        GETS_THERE, WARM_ALREADY, NOT_DRAWN, CUTS_OUT, EMPTY_FIRST, LOSSES or TOO_LONG.
    rule : int
        Index in RULES of what cuts out; -1.
    time : array, shape (3,), s
        Until it is warm: as entered; then with resistance, its growth in the cold and cooling as far off as they
        may be, all for a warmer pack, and all for a colder one. Infinite if never. Mostly the quickest and the
        slowest, but a resistance that holds the pulls back may turn that round.
    pulls : array, shape (3,)
        The same in whole pulls; 0 of steady riding.
    speed : float, m/s
        On the level, or the highest of the pulls; NaN where it is not known.
    charge : float
        Left then; NaN if never.
    warmest : float, K
        It gets so warm at most, within what was looked at.
    curve : Warming or None
        As entered first.
    """

    status: int
    rule: int
    time: Floats
    pulls: Floats
    speed: float
    charge: float
    warmest: float
    curve: Warming | None


@dataclass(frozen=True, eq=False)
class WarmUp:
    """What a warm-up takes and gains.

    Attributes
    ----------
    temperature, reason : float, K, and int
        How warm the pack is to be, and why: OWN, TARGET or USUAL.
    now : float, K
        The pack's temperature as it is.
    ways : tuple of Way
        STEADY and PULLS.
    most_current : float, A
        The most that a steady speed on the level draws.
    heat : float, J
        That warms the pack so far where it comes from outside.
    outcomes : Outcomes
        Of the pack as it is, and after each of the three ways.
    axis : array, shape (m,), K
        Temperatures that were looked at.
    times : array, shape (2, m), s
        Of riding each way to each of them; infinite if never.
    along : Outcomes
        Of 3 m starts: after each way to each of them.
    """

    temperature: float
    reason: int
    now: float
    ways: tuple[Way, Way]
    most_current: float
    heat: float
    outcomes: Outcomes
    axis: Floats
    times: Floats
    along: Outcomes

    @property
    def best(self) -> int | None:
        """The way of riding warm that serves best: STEADY or PULLS; None where neither gets there."""
        rows = [row for row in (STEADY, PULLS) if self.ways[row].status == GETS_THERE]
        if len(rows) < 2:
            return rows[0] if rows else None
        better = self.outcomes.pays(1 + PULLS, 1 + STEADY)
        if better == SAME:
            better = COSTS if self.ways[STEADY].charge >= self.ways[PULLS].charge else PAYS
        return PULLS if better == PAYS else STEADY


def warm_up(
    build: Build,
    plan: WarmUpPlan,
    tolerances: Sequence[Tolerance] | None = None,
    reached_now: bool = False,
) -> WarmUp:
    """What it takes to ride a pack warm, and whether that pays.

    Parameters
    ----------
    build : Build
        As it stands before the warm-up.
    plan : WarmUpPlan
        Both ways, and the pull that counts.
    tolerances : sequence of Tolerance, optional
        How well the resistance and its growth in the cold are known; None is `default_tolerances`.
    reached_now : bool
        Whether the target is known to be reached without a warm-up; it is then not looked into where it would be.

    Returns
    -------
    WarmUp

    Raises
    ------
    ValueError
        When the plan is not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> cold = example_build().change({"conditions.air_temperature": 278.15})
    >>> found = warm_up(cold, WarmUpPlan(60.0, 15.0, 100.0, 60.0, 25.0, 30.0, 283.15))
    >>> found.ways[STEADY].status == GETS_THERE, bool(found.ways[STEADY].charge < cold.conditions.charge)
    (True, True)
    """
    if not (plan.current > 0 and plan.pull_current > 0 and 0 <= plan.rest_time <= 3600 and plan.target_speed > 0):
        raise ValueError(f"Warm-up: got {plan!r}; accepts currents and a target above 0, and a rest up to an hour.")
    one = Batch.of(build)
    now = float(one["conditions.pack_temperature"][0])
    axis = _axis(plan, now, reached_now)
    cases = _cases(build, default_tolerances(build) if tolerances is None else tolerances)
    speed, heat, most = steady_ride(build, plan.current)
    curves: list[Warming | None] = [None, None]
    if axis.size:
        gentle = cases.change({"controller.line_current_limit": plan.pull_current})
        if np.isfinite(speed[0]):
            curves[STEADY] = warm_steadily(cases, plan.current, MOST_TIME, float(axis[-1]), heat)
        curves[PULLS] = warm_by_pulls(gentle, Pull(plan.pull_time), plan.rest_time, MOST_PULLS, float(axis[-1]))
    starts = [_starts(one, plan, curves, temperature) for temperature in axis]
    flat = [BikeState.rested(one), *(starts[k][way] for way in range(3) for k in range(axis.size))]
    outcomes = outcomes_from(build, flat, plan.target_speed, plan.duration)
    reached = np.isfinite(outcomes.time_to_target)
    if plan.temperature is None and axis.size:
        kept = reached[1 + INDOORS * axis.size :]
        tells = axis <= (axis[kept.argmax()] + _ROOM if kept.any() and not reached[0] else USUAL_TEMPERATURE)
        axis, rows = axis[tells], np.r_[True, np.tile(tells, 3)]
        outcomes, reached = outcomes.take(np.flatnonzero(rows)), reached[rows]
    temperature, reason = _wanted(plan.temperature, axis, bool(reached[0]), reached[1:].reshape(3, -1))
    there = np.flatnonzero(np.isclose(axis, temperature))
    rows = [0, *(1 + way * axis.size + int(there[0]) for way in range(3))] if there.size else [0, 0, 0, 0]
    rides = [_way(curves[way], plan, now, temperature, way, float(speed[0])) for way in (STEADY, PULLS)]
    capacity = float(one["pack.heat_capacity"][0])
    return WarmUp(
        temperature=temperature,
        reason=reason,
        now=now,
        ways=(rides[STEADY], rides[PULLS]),
        most_current=most,
        heat=capacity * max(temperature - now, 0.0),
        outcomes=outcomes.take(rows),
        axis=axis,
        times=np.array(
            [[_cycle(way, plan) * _place(curves[way], way, each)[0] for each in axis] for way in (0, 1)]
        ),
        along=outcomes.take(np.arange(1, 1 + 3 * axis.size)),
    )


def warm_up_and_limits(
    build: Build,
    plan: WarmUpPlan,
    pull: Pull,
    margin: float,
    step: float,
    known: Sequence[Tolerance],
    reached: bool,
) -> tuple[WarmUp, Floats]:
    """`warm_up`, and for each start of its outcomes the line limit that survives a pull.

    Parameters
    ----------
    build, plan, known, reached
        See `warm_up`.
    pull, margin, step
        See `line_limits`.

    Returns
    -------
    tuple of (WarmUp, array of shape (4,), A)
    """
    warm = warm_up(build, plan, known, reached)
    return warm, line_limits(build, warm.outcomes, pull, margin, step, known)


def at_currents(build: Build, currents: ArrayLike, temperature: float) -> tuple[Floats, Floats, Floats]:
    """How long steady riding takes at several currents, as entered.

    Parameters
    ----------
    build : Build
        As it stands before the warm-up.
    currents : array, shape (k,), A
        Above 0.
    temperature : float, K
        Wanted of the pack.

    Returns
    -------
    tuple of arrays, shape (k,)
        Speed on the level, m/s, NaN where none draws so much; time, s, infinite where it does not get there within
        MOST_TIME; charge left then, NaN where it does not.

    Examples
    --------
    >>> from physics.build import example_build
    >>> cold = example_build().change({"conditions.air_temperature": 278.15})
    >>> speed, time, charge = at_currents(cold, [40.0, 60.0], 283.15)
    >>> bool(time[1] < 0.6 * time[0]), bool(charge[1] > charge[0])
    (True, True)
    """
    amps = np.atleast_1d(np.asarray(currents, dtype=float))
    speed, heat, _ = steady_ride(build, amps)
    batch = Batch.of(build).take(np.zeros(amps.size, dtype=int))
    made = warm_steadily(batch, amps, MOST_TIME, temperature, heat)
    place = np.where(np.isfinite(speed), made.place(temperature), np.inf)
    charge = [made.at(row, at).charge[0] if np.isfinite(at) else np.nan for row, at in enumerate(place)]
    return speed, STEP * place, np.array(charge)


def _axis(plan: WarmUpPlan, now: float, reached_now: bool) -> Floats:
    """Temperatures to look at: what is wanted, and whole degrees from the pack's own up to where it may tell."""
    least, top = (USUAL_TEMPERATURE, _WARMEST) if plan.temperature is None else (plan.temperature,) * 2
    degrees = np.round(np.linspace(math.floor(now - 273.15) + 1, top - 273.15, _LOOKED_AT)) + 273.15
    axis = np.union1d(degrees[np.abs(degrees - least) > 0.4], [least])  # those nearer print like it
    return axis[(axis > now) & (axis <= (least if reached_now else top))]


def _cases(build: Build, known: Sequence[Tolerance]) -> Batch:
    """The pack as entered; with all that it makes and keeps of heat at the most for a current, and at the least."""
    one, heats = Batch.of(build), [item for item in known if item.path in _HEATS]
    off = [WorseCase(tuple((item, by) for item in heats)).applied(one) for by in (0.0, 1.0, -1.0)]
    loose = _COOLING if build.pack.thermal_conductance is None else 1.0
    cooling = one["pack.thermal_conductance"] * [1.0, 1.0 / loose, loose]
    return Batch.join(off).change({"pack.thermal_conductance": cooling})


def _place(curve: Warming | None, way: int, temperature: float) -> Floats:
    """Where each case is so warm, pulls as whole ones; infinite if never."""
    if curve is None:
        return np.full(3, np.inf)
    place = curve.place(temperature)
    return np.ceil(place - 1e-9) if way == PULLS else place


def _cycle(way: int, plan: WarmUpPlan) -> float:
    """From one instant of a way to the next, s."""
    return plan.pull_time + plan.rest_time if way == PULLS else STEP


def _starts(
    one: Batch, plan: WarmUpPlan, curves: Sequence[Warming | None], temperature: float
) -> list[BikeState | None]:
    """What each way leaves behind at a temperature, as entered; None where it does not get there."""
    made: list[BikeState | None] = []
    for way, curve in enumerate(curves):
        place = float(_place(curve, way, temperature)[_ENTERED])
        state = curve.at(_ENTERED, place) if curve is not None and np.isfinite(place) else None
        made.append(rest(one, state, plan.rest_time) if state is not None and way == STEADY else state)
    beforehand = one.change({"conditions.pack_temperature": temperature})
    return [*made, BikeState.rested(beforehand)]


def _wanted(given: float | None, axis: Floats, reached_now: bool, reached: NDArray[np.bool_]) -> tuple[float, int]:
    """How warm the pack is to be, and why; `reached` has shape (3, m)."""
    if given is not None:
        return given, OWN
    if not reached_now:
        for some in (reached[[STEADY, PULLS]].any(axis=0), reached[INDOORS]):
            if some.any():
                return float(axis[some.argmax()]), TARGET
    return USUAL_TEMPERATURE, USUAL


def _way(curve: Warming | None, plan: WarmUpPlan, now: float, wanted: float, way: int, speed: float) -> Way:
    """One way of riding warm, up to the temperature that is wanted."""
    status, rule = _status(curve, way, now, wanted)
    place = _place(curve, way, wanted) if status == GETS_THERE else np.full(3, np.inf)
    entered = float(place[_ENTERED])
    return Way(
        status,
        rule,
        time=_cycle(way, plan) * place,
        pulls=place if way == PULLS else np.zeros(3),
        speed=speed if curve is None or way == STEADY else float(curve.speed[_ENTERED]),
        charge=float(curve.at(_ENTERED, entered).charge[0]) if curve and math.isfinite(entered) else math.nan,
        warmest=now if curve is None else float(np.nanmax(np.r_[curve.temperature[_ENTERED], now])),
        curve=curve,
    )


def _status(curve: Warming | None, way: int, now: float, wanted: float) -> tuple[int, int]:
    """Status of a way, and the rule that cuts out."""
    if now >= wanted - 1e-9:
        return WARM_ALREADY, -1
    if curve is None:
        return NOT_DRAWN, -1
    if np.isfinite(_place(curve, way, wanted)[_ENTERED]):
        return GETS_THERE, -1
    end = int(curve.end[_ENTERED])
    kept = np.flatnonzero(np.isfinite(curve.temperature[_ENTERED]))
    if end == EMPTY:
        return EMPTY_FIRST, -1
    if end >= 0:
        low = kept.size > 0 and curve.charge[_ENTERED, kept[-1]] < _NEARLY_EMPTY
        return (EMPTY_FIRST, -1) if end == UNDER_VOLTAGE and low else (CUTS_OUT, end)
    last = curve.temperature[_ENTERED, kept]
    rise = last[-1] - last[(4 * (kept.size - 1)) // 5]
    return (LOSSES if rise < _STILL else TOO_LONG), -1
