"""Charge headroom of a build: today's answer on the safe side, its curves, and what rides it off.

Advice holds when things are as much worse than entered as they may well be, all at once and each in full
(`physics.studies.uncertainty.worse` says why no root sum of squares): the half-widths for resistance, its growth in
the cold, pack temperature, charge and the fullest cell's lead, and on a descent or in a stop for weight, drag,
rolling resistance and wind. A resistance that was not measured is taken at the high end of its chemistry. One
measured at a current nobody knows counts as measured in a pull, for at the little current of charging cells show
more. A stop counts as the most it may return, all of it at the full current. In the cold resistance grows as in the
published set where it grows most, or more where more was measured. Leads and connectors lift no cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.components import cell, charging
from physics.components.pack import rest_voltage, small_current_growth
from physics.scenarios.charging import ChargeEvent, descent_power
from physics.scenarios.regen_braking import returned_by_stop
from physics.studies.headroom import HeadroomResult, headroom, ride_off
from physics.studies.uncertainty.tolerance import DEFAULTS, Tolerance, default_tolerances
from physics.typical.pack import resistance_from_rating

COLDEST, HOTTEST = 258.15, 323.15
RATING, COLD_CURRENT, REGEN = (
    "charging current of the cells",
    "reduced charging current in the cold",
    "regen current",
)
MEASURED = next(item for item in DEFAULTS if item.path == "pack.resistance")
"""How well a resistance is known once it was measured."""
_LIGHTER = ("bike.drag_area", "bike.rolling_coefficient", "conditions.headwind")
_UNKNOWNS = {
    "pack.resistance", "pack.cold_growth", "pack.charge_spread", "conditions.charge", "conditions.pack_temperature",
    "bike.bike_mass", *_LIGHTER,
}  # fmt: skip
_DESCENT_ROUNDS = 3
_HALF = 0.5  # of charge: a fuller pack takes in less of a stop than one at half


@dataclass(frozen=True)
class RegenPlan:
    """What pushes current back.

    Attributes
    ----------
    duration : float, s
        How long one event lasts, at the full regen current, where it is no stop.
    events : int
        How many come in a row, with nothing drawn between: ten is about a lap's braking on a small circuit.
    pause : float, s
        Between two of them.
    descent_height, descent_slope, descent_speed : float, m, rad and m/s
        A long descent that is braked to a steady speed; height 0 is none.
    stop_speed : float, m/s
        Each event is a stop by regen from this speed; 0: it is `duration` at the full current.
    off_below, phase_limit : float, m/s and A
        In a stop regen is off below that speed, and has that phase limit or the controller's, whichever is less.
    """

    duration: float = 10.0
    events: int = 10
    pause: float = 10.0
    descent_height: float = 0.0
    descent_slope: float = 0.08
    descent_speed: float = 11.0
    stop_speed: float = 0.0
    off_below: float = 0.0
    phase_limit: float = np.inf


@dataclass(frozen=True)
class HeadroomAnswer:
    """Today's answer, and its curves.

    Attributes
    ----------
    today : HeadroomResult
        For the build's regen current and pack temperature: of events and descent, what asks for more.
    event : ChargeEvent
        Behind it: pack, current and how often, as much worse as they may be.
    series, descent : HeadroomResult
        For the events in a row, and for the descent; None where there is none, or where it returns nothing.
    measured : HeadroomResult or None
        For the events, had the resistance been measured at the one-hour current: found typical where it was not
        measured at all, the same where nobody says at what current it was; None where both are known.
    allowed_current : float, A
        The most regen that may be set today for the cells' sake, overshoot taken off.
    current_limit : str
        What that is: RATING or COLD_CURRENT; REGEN where the build's own current is no higher.
    rest_voltage_now, pack_temperature : float, V and K
        How the pack stands today.
    current, volts_by_current, charge_by_current : array, A, V and 0 to 1
        How far below full against regen current, at today's temperature; NaN where it is not allowed.
    temperature, volts_by_temperature, charge_by_temperature : array, K, V and 0 to 1
        Against temperature, at the build's regen current or what is allowed of it; NaN where no regen is allowed.
    floor, full, ceiling : float, K
        Between what entered pack temperatures charging is allowed, and from where with the full current.
    """

    today: HeadroomResult
    event: ChargeEvent
    series: HeadroomResult
    descent: HeadroomResult | None
    measured: HeadroomResult | None
    allowed_current: float
    current_limit: str
    rest_voltage_now: float
    pack_temperature: float
    current: Floats
    volts_by_current: Floats
    charge_by_current: Floats
    temperature: Floats
    volts_by_temperature: Floats
    charge_by_temperature: Floats
    floor: float
    full: float
    ceiling: float

    @property
    def by_descent(self) -> bool:
        """Whether the descent asks for more than the events."""
        return self.descent is not None and self.today is self.descent


def headroom_answer(
    build: Build,
    plan: RegenPlan | None = None,
    batch: Batch | None = None,
    tolerances: Sequence[Tolerance] | None = None,
    curves: bool = True,
) -> HeadroomAnswer:
    """Charge headroom today, against regen current and against temperature, on the safe side.

    Parameters
    ----------
    build : Build
        Its regen current and its conditions are today's.
    plan : RegenPlan, optional
        What pushes current back; None is `RegenPlan()`.
    batch : Batch, optional
        The build as a batch, where there is one already.
    tolerances : sequence of Tolerance, optional
        How well the unknowns are known; None is `default_tolerances`.
    curves : bool
        Whether the curves are wanted; without them their arrays are empty, and it takes a fraction of the time.

    Returns
    -------
    HeadroomAnswer
    """
    plan, batch = plan or RegenPlan(), batch or Batch.of(build)
    temperature, regen = float(batch["conditions.pack_temperature"][0]), build.controller.regen_current
    currents = np.linspace(0.0, max(100.0, np.ceil(regen / 25.0) * 50.0), 61 if curves else 0)
    temperatures = np.linspace(COLDEST, HOTTEST, 66 if curves else 0)
    half = _half_widths(build, tolerances)
    away = half["conditions.pack_temperature"]
    known = charge_event(build, regen, temperature, replace(plan, stop_speed=0.0), batch, tolerances)
    allowed = float(_allowed(known, batch))
    asked = currents[currents <= allowed]
    asked_currents = np.r_[regen, regen, asked, np.full(temperatures.size, regen)]
    asked_temperatures = np.r_[temperature, temperature, np.full(asked.size, temperature), temperatures]
    event = replace(known, current=asked_currents, temperature=asked_temperatures - away)
    event = _stops(event, plan, batch, half) if plan.stop_speed > 0 else event
    unsure = build.pack.resistance is None or build.pack.resistance_current is None
    if unsure:
        resistance = np.full(asked_currents.size, event.resistance)
        measured = float(batch["pack.resistance"][0])
        more = measured * MEASURED.half_width if build.pack.resistance is None else half["pack.resistance"]
        slowly = batch.change(
            {"pack.resistance": measured + more, "pack.resistance_current": batch["pack.capacity_ah"]}
        )
        resistance[1] = float(slowly.small_current_resistance()[0])
        event = replace(event, resistance=resistance)
    result, event = _judged(build, event, plan, batch, tolerances)
    lasts = np.broadcast_to(event.duration, asked_currents.shape)[0]
    series, own = result.at(0), replace(known, current=result.current[0], duration=lasts)
    today, descent = series, _descent(build, plan, batch, tolerances)
    if descent is not None and series.allowed and not descent[0].highest_charge >= series.highest_charge:
        today, own = descent
    found = np.where(result.allowed, (result.volts_below_full, result.charge_below_full), np.nan)
    by_current = np.full((2, currents.size), np.nan)
    _, by_current[:, : asked.size], by_temperature = np.split(found, [2, 2 + asked.size], axis=1)
    limit = REGEN if regen <= allowed else COLD_CURRENT if result.caution[0] else RATING
    chemistry, rules = cell.chemistry(build.pack.chemistry), build.pack.protection
    return HeadroomAnswer(
        today=today,
        event=own,
        series=series,
        descent=None if descent is None else descent[0],
        measured=result.at(1) if unsure else None,
        allowed_current=allowed,
        current_limit=limit,
        rest_voltage_now=float(rest_voltage(chemistry.key, build.pack.cells_in_series, build.conditions.charge)),
        pack_temperature=temperature,
        current=currents,
        volts_by_current=by_current[0],
        charge_by_current=by_current[1],
        temperature=temperatures,
        volts_by_temperature=by_temperature[0],
        charge_by_temperature=by_temperature[1],
        floor=max(rules.charge_temperature_minimum, chemistry.charge_temperature_floor) + away,
        full=chemistry.charge_temperature_full + away,
        ceiling=rules.charge_temperature_maximum - away,
    )


def charge_event(
    build: Build,
    current: ArrayLike,
    temperature: ArrayLike,
    plan: RegenPlan,
    batch: Batch | None = None,
    tolerances: Sequence[Tolerance] | None = None,
) -> ChargeEvent:
    """Currents pushed back into a build's pack, all unknowns as much worse as they may well be.

    Parameters
    ----------
    build : Build
        Its pack and its controller's overshoot.
    current, temperature : float or array, A and K
        As set and as entered; broadcast together.
    plan : RegenPlan
        How long, and how often.
    batch, tolerances
        As for `headroom_answer`.

    Returns
    -------
    ChargeEvent
    """
    pack, half, batch = build.pack, _half_widths(build, tolerances), batch or Batch.of(build)
    if pack.resistance is None:
        rules, of = pack.protection, (pack.chemistry, pack.cells_in_series, pack.capacity_ah)
        resistance = float(resistance_from_rating(*of, rules.continuous_current, rules.peak_current).high)
        # what is usual, and its ends, are of pulses at about the one-hour current
        known = {"pack.resistance": resistance, "pack.resistance_current": batch["pack.capacity_ah"]}
        worse = batch.change(known)
    else:
        worse = batch.change({"pack.resistance": [pack.resistance + half["pack.resistance"]]})
    growth = charging.COLD_GROWTH
    if pack.cold_growth is not None:  # where it was not measured, the worst set is the end of what it may be
        worse = worse.change({"pack.cold_growth": [pack.cold_growth + half["pack.cold_growth"]]})
        growth = max(growth, float(small_current_growth(pack.chemistry, worse.conduction_growth())[0]))
    event = ChargeEvent(
        pack.chemistry,
        pack.cells_in_series,
        pack.capacity_ah,
        float(worse.small_current_resistance()[0]),
        np.asarray(current, dtype=float),
        np.asarray(temperature, dtype=float) - half["conditions.pack_temperature"],
        plan.duration,
        plan.pause,
        charge_spread=pack.charge_spread + half["pack.charge_spread"] + half["conditions.charge"],
        resistance_spread=pack.resistance_spread,
        cold_growth=growth,
        overshoot=build.controller.overshoot,
        events=plan.events,
    )
    return _stops(event, plan, batch, half) if plan.stop_speed > 0 else event


def _stops(
    event: ChargeEvent, plan: RegenPlan, batch: Batch, half: dict[str, float], charge: ArrayLike = _HALF
) -> ChargeEvent:
    """The event as long as the full current takes to push in all that a stop returns from such a charge on.

    A stop's own current is never higher and fades: the same charge at the full current all the time is through
    sooner, so the pairs hold more at each amp-second of it, and no instant of a stop lifts a cell as high.
    """
    current = np.minimum(np.abs(event.current), _allowed(event, batch))
    cases, place = np.unique(current + 1j * np.asarray(charge, dtype=float), return_inverse=True)
    worse = _lively(batch, half) | {
        "controller.regen_current": cases.real,
        "conditions.charge": cases.imag,
        "controller.phase_current_limit": np.minimum(plan.phase_limit, batch["controller.phase_current_limit"]),
    }
    stopped = batch.take(np.zeros(cases.size, dtype=int)).change(worse)
    time = returned_by_stop(stopped, plan.stop_speed, plan.off_below) / np.maximum(cases.real, 1e-9)
    return replace(event, duration=np.maximum(time, 1e-3)[place].reshape(current.shape))


def _lively(batch: Batch, half: dict[str, float]) -> dict[str, Floats]:
    """What gives the most back: more weight, less drag, rolling resistance and wind than entered."""
    return {path: batch[path] - half[path] for path in _LIGHTER} | {
        "bike.bike_mass": batch["bike.bike_mass"] + half["bike.bike_mass"]
    }


def needed(
    build: Build,
    current: ArrayLike,
    temperature: ArrayLike,
    plan: RegenPlan,
    batch: Batch | None = None,
    tolerances: Sequence[Tolerance] | None = None,
) -> HeadroomResult:
    """Charge headroom that events in a row need, under a build's own protection and its cells' charging current.

    Parameters
    ----------
    build, current, temperature, plan, batch, tolerances
        As for `charge_event`.

    Returns
    -------
    HeadroomResult
    """
    batch = batch or Batch.of(build)
    event = charge_event(build, current, temperature, plan, batch, tolerances)
    return _judged(build, event, plan, batch, tolerances)[0]


def _judged(
    build: Build, event: ChargeEvent, plan: RegenPlan, batch: Batch, tolerances: Sequence[Tolerance] | None
) -> tuple[HeadroomResult, ChargeEvent]:
    """Headroom of an event at the pack's coldest; and it: a stop from below half charge counts as from empty."""
    rules, half = build.pack.protection, _half_widths(build, tolerances)
    for _ in range(2):
        result = headroom(
            event,
            overvoltage_threshold=rules.cell_overvoltage,
            charge_temperature_floor=rules.charge_temperature_minimum,
            charge_temperature_ceiling=rules.charge_temperature_maximum - 2.0 * half["conditions.pack_temperature"],
            charge_current=_allowed(event, batch) * (1.0 + event.overshoot),
            charge_now=build.conditions.charge,
        )
        low = result.allowed & (result.highest_charge < _HALF)
        if plan.stop_speed <= 0 or not np.any(low):
            break
        event = _stops(event, plan, batch, half, np.where(low, 0.0, _HALF))
    return result, event


def _allowed(event: ChargeEvent, batch: Batch) -> Floats:
    """The most regen current that may be set for the cells' sake, A."""
    full = cell.chemistry_tables().charge_temperature_full[batch.chemistry[0]]
    capacity, rating = batch["pack.capacity_ah"][0], batch["pack.charge_current"][0]
    most = charging.allowed_current(rating, capacity, event.temperature, full)
    return np.asarray(most / (1.0 + event.overshoot))


def _descent(
    build: Build, plan: RegenPlan, batch: Batch, tolerances: Sequence[Tolerance] | None
) -> tuple[HeadroomResult, ChargeEvent] | None:
    """Headroom for a descent braked by regen at a steady speed, and the event; None where nothing comes back."""
    half = _half_widths(build, tolerances)
    power = float(descent_power(batch.change(_lively(batch, half)), plan.descent_slope, plan.descent_speed)[0])
    if plan.descent_height <= 0 or plan.descent_slope <= 0 or power <= 0:
        return None
    time = plan.descent_height / np.sin(plan.descent_slope) / plan.descent_speed
    once, charge = replace(plan, duration=time, events=1, stop_speed=0.0), 0.0
    temperature, regen = float(batch["conditions.pack_temperature"][0]), build.controller.regen_current
    # the emptier the pack, the more current the same power is: from there the answer rises
    for _ in range(_DESCENT_ROUNDS):
        volts = float(rest_voltage(build.pack.chemistry, build.pack.cells_in_series, charge))
        event = charge_event(build, min(regen, power / volts), temperature, once, batch, tolerances)
        event = replace(event, current=np.minimum(event.current, _allowed(event, batch)))
        result, _ = _judged(build, event, once, batch, tolerances)
        charge = float(result.highest_charge)
    return result, event


def _half_widths(build: Build, tolerances: Sequence[Tolerance] | None) -> dict[str, float]:
    """By how much each unknown that charging depends on may be away from its value, in its own unit."""
    known = {item.path: item for item in (default_tolerances(build) if tolerances is None else tolerances)}
    half = dict.fromkeys(_UNKNOWNS, 0.0)
    for path in _UNKNOWNS & known.keys():
        item = known[path]
        half[path] = item.half_width
        if item.relative:
            part, _, name = path.partition(".")
            half[path] *= abs(getattr(getattr(build, part), name) or 0.0)
    return half


def ride_off_distance(answer: HeadroomAnswer, per_metre: float, speed: float) -> tuple[float, float]:
    """Distance, m, and time, s, that ride off what is too much now; NaN where the build does not move.

    Parameters
    ----------
    answer : HeadroomAnswer
        Today's.
    per_metre : float, J/m
        Energy from the cells at that speed.
    speed : float, m/s
        Held steadily.
    """
    if not per_metre > 0 or speed < 0.5:
        return float("nan"), float("nan")
    distance, time = ride_off(float(answer.today.energy_to_ride_off), per_metre, speed)
    return float(distance), float(time)
