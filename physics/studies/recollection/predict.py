"""What many builds would have shown a rider: every observable of a set, simulated in its own conditions.

What a build keeps (drag, resistance, weight and so on) is the same in all of them. What belongs to a day (wind,
temperatures, charge) is drawn anew for each set of conditions; observables of the same conditions are taken to be
of one ride, and come from one run. A run is flat out from a standstill.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.special import ndtr

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.build.samples import Samples
from physics.components import load_transfer, road_load
from physics.fitting.recollection import (
    CUT_OUT,
    FRONT_LIGHT,
    HELD,
    LOADED_VOLTAGE,
    TIME_TO_SPEED,
    TOP_SPEED,
    Observable,
)
from physics.simulation.machine import Machine
from physics.simulation.plant import PackModel
from physics.simulation.result import RunResult
from physics.studies.force import LIGHT
from physics.studies.sweep import sweep
from physics.studies.uncertainty.draws import values_at
from physics.studies.uncertainty.tolerance import Tolerance, default_tolerances

LIGHT_SPEED = 5.0
"""m/s at which the front goes light: hardly anything but the force counts there."""

BALANCE = Tolerance("bike.centre_of_gravity_height", 0.04)
"""m; where the front wheel is asked about, how well the height of the balance point is known. Common practice, no
source."""

LONGEST = 60.0
"""s: by then a bike is as fast as it gets."""

_DAY = "conditions."
_FROM_A_RUN = (TOP_SPEED, TIME_TO_SPEED, CUT_OUT, HELD)


@dataclass(frozen=True)
class Unknowns:
    """What is not known: of the build, and of any day.

    Attributes
    ----------
    build, day : tuple of Tolerance
    """

    build: tuple[Tolerance, ...]
    day: tuple[Tolerance, ...]

    def values(self, build: Build, unknowns: Floats) -> dict[str, Floats]:
        """Values of the build's unknowns, by path, from standard normal ones of shape (n, d)."""
        return values_at(build, self.build, ndtr(unknowns))


def unknowns_of(
    build: Build, observables: Sequence[Observable], tolerances: Sequence[Tolerance] | None = None
) -> Unknowns:
    """The unknowns of a build, parted into those it keeps and those of the day.

    What is certain is left out, and a setting that an observable's conditions name.

    Parameters
    ----------
    build : Build
        The middle.
    observables : sequence of Observable
        Where one is about the front wheel, the height of the balance point is an unknown as well.
    tolerances : sequence of Tolerance, optional
        By default `default_tolerances`.

    Returns
    -------
    Unknowns

    Examples
    --------
    >>> from physics.build import example_build
    >>> found = unknowns_of(example_build(), [Observable(TOP_SPEED)])
    >>> found.build[0].path, len(found.day)
    ('bike.drag_area', 4)
    """
    known = [*(default_tolerances(build) if tolerances is None else tolerances)]
    if any(each.kind == FRONT_LIGHT for each in observables) and all(item.path != BALANCE.path for item in known):
        known.append(BALANCE)
    settled = {path for each in observables for path, _ in _conditions(each)}
    known = [item for item in known if item.half_width > 0 and (item.path not in settled or _is_of_day(item))]
    return Unknowns(
        tuple(item for item in known if not _is_of_day(item)),
        tuple(item for item in known if _is_of_day(item)),
    )


def _is_of_day(item: Tolerance) -> bool:
    return item.path.startswith(_DAY)


def _conditions(observable: Observable) -> tuple[tuple[str, float], ...]:
    """In what a ride differs from the build, the line limit of an event among it."""
    conditions = dict(observable.conditions)
    if observable.kind in (CUT_OUT, HELD) and observable.at is not None:
        conditions["controller.line_current_limit"] = observable.at
    return tuple(sorted(conditions.items()))


def rides(observables: Sequence[Observable]) -> list[tuple[tuple[tuple[str, float], ...], list[int]]]:
    """Observables that are seen on one ride.

    Parameters
    ----------
    observables : sequence of Observable
        In any order.

    Returns
    -------
    list of (conditions, list of int)
        What the ride differs in from the build, and the places of its observables.
    """
    found: dict[tuple[tuple[str, float], ...], list[int]] = {}
    for place, observable in enumerate(observables):
        found.setdefault(_conditions(observable), []).append(place)
    return list(found.items())


def predictions(
    build: Build,
    observables: Sequence[Observable],
    lasting: Sequence[float],
    unknowns: Unknowns,
    drawn: Floats,
    days: Floats,
    *,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Floats | None:
    """What each sample would show.

    Parameters
    ----------
    build : Build
        The middle of all samples.
    observables : sequence of Observable
        What is looked at.
    lasting : sequence of float, s
        For how long each has to be looked at; see `seconds`.
    unknowns : Unknowns
        What differs.
    drawn : array, shape (n, len(unknowns.build))
        The build's unknowns, standard normal.
    days : array, shape (n, len(unknowns.day) x rides)
        Points of the unit cube: the day's unknowns, ride by ride in the order of `rides`.
    executor, progress, cancelled
        As `physics.studies.sweep.sweep` takes them; progress counts the runs of all rides.

    Returns
    -------
    array, shape (n, observables), or None
        SI; of events the time after which it cuts out. None where it was stopped.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build, looked = example_build(), [Observable(TOP_SPEED), Observable(LOADED_VOLTAGE, 100.0)]
    >>> what = unknowns_of(build, looked)
    >>> found = predictions(build, looked, [60.0, 0.0], what, np.zeros((1, len(what.build))), np.full((1, 8), 0.5))
    >>> bool(25 < found[0, 0] < 35), bool(75 < found[0, 1] < 101)
    (True, True)
    """
    kept = unknowns.values(build, drawn)
    found = np.empty((len(drawn), len(observables)))
    groups = rides(observables)
    whole = len(drawn) * len(groups)
    for number, (conditions, places) in enumerate(groups):
        if cancelled is not None and cancelled():
            return None
        ridden = build.change(dict(conditions))
        own = days[:, number * len(unknowns.day) : (number + 1) * len(unknowns.day)]
        samples = Samples(ridden, kept | values_at(ridden, unknowns.day, own), (len(drawn),))
        on_the_road = [place for place in places if observables[place].kind in _FROM_A_RUN]
        if on_the_road:
            swept = sweep(
                samples,
                max(lasting[place] for place in on_the_road),
                reducer=partial(_shown, observables=tuple(observables[place] for place in on_the_road)),
                executor=executor,
                cancelled=cancelled,
                progress=None if progress is None else _part_of(progress, number * len(drawn), whole),
            ).checked()
            if not swept.done.all():
                return None
            found[:, on_the_road] = swept["shown"]
        for place in set(places).difference(on_the_road):
            observable, batch = observables[place], samples.batch()
            loaded = observable.kind == LOADED_VOLTAGE
            found[:, place] = loaded_voltage(batch, observable.at or 0.0) if loaded else light_throttle(batch)
        if progress is not None:
            progress((number + 1) * len(drawn), whole)
    return found


def seconds(observable: Observable, value: float | None = None) -> float:
    """For how long a ride has to be looked at, s.

    Parameters
    ----------
    observable : Observable
        What is looked at.
    value : float, optional
        What was seen, where that is known.
    """
    if observable.kind not in _FROM_A_RUN:
        return 0.0
    if observable.kind == TOP_SPEED or value is None:
        return LONGEST
    return max(3.0 * value, 5.0)


def light_throttle(batch: Batch) -> Floats:
    """The throttle, 0 to 1, at which the front wheel carries half of its standing load, pulling away.

    Parameters
    ----------
    batch : Batch
        n builds; throttle asks for a share of the phase limit.

    Returns
    -------
    array, shape (n,)
        NaN where even full throttle does not do it.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"motor.kv_rpm_per_volt": 35.0, "controller.phase_current_limit": 700.0})
    >>> bool(0.2 < light_throttle(Batch.of(build))[0] < 1.0)
    True
    """
    machine = Machine(batch)
    drag, _ = road_load.drag_force(machine.drag_factor, LIGHT_SPEED + machine.headwind)
    rolling, _ = road_load.rolling_force(machine.rolling_constant, machine.rolling_squared, LIGHT_SPEED)
    force = load_transfer.front_load_limit(batch.stance(), LIGHT).at(drag, rolling)
    magnets = batch["conditions.motor_temperature"]
    speed = np.full(len(batch), LIGHT_SPEED)
    throttle = machine.current_for(force, speed, magnets) / batch["controller.phase_current_limit"]
    return np.where(throttle <= 1.0, throttle, np.nan)


def loaded_voltage(batch: Batch, current: float) -> Floats:
    """Voltage at the controller after ten seconds of a steady current from rest, V.

    Parameters
    ----------
    batch : Batch
        n builds.
    current : float, A
        Drawn from the pack, above 0.

    Returns
    -------
    array, shape (n,)

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"pack.resistance": 0.05, "conditions.charge": 0.5})
    >>> low, lower = (loaded_voltage(Batch.of(build), current)[0] for current in (50.0, 150.0))
    >>> bool(4.0 < low - lower < 6.5)
    True
    """
    pack, charge, temperature = PackModel(batch), batch["conditions.charge"], batch["conditions.pack_temperature"]
    rest, *_ = pack.evaluate(charge, temperature)
    resistance = pack.pulse_resistance(charge, temperature, np.full(len(batch), current))
    return rest - current * (resistance + batch["pack.lead_resistance"])


def _shown(result: RunResult, observables: Sequence[Observable]) -> dict[str, Floats]:
    """Reducer: what each of some observables shows, shape (n, observables)."""
    columns = []
    for observable in observables:
        if observable.kind == TOP_SPEED:
            columns.append(result.top_speed)
        elif observable.kind == TIME_TO_SPEED:
            columns.append(result.time_to(observable.at))
        else:
            columns.append(_time_to_cut_out(result))
    return {"shown": np.column_stack(columns)}


def _time_to_cut_out(result: RunResult) -> Floats:
    """When it cuts out, s; where it does not, when it would if the fullest trip timer went on as it went."""
    used = result.allowance_used.max(axis=1)
    with np.errstate(divide="ignore"):
        later = np.where(used > 0, result.time[-1] / used, np.inf)
    return np.where(result.cut_out_rule >= 0, result.cut_out_time, later)


def _part_of(progress: Callable[[int, int], None], before: int, whole: int) -> Callable[[int, int], None]:
    return lambda done, _: progress(before + done, whole)
