"""How much regen may be set at each rest voltage, and what one stop by regen does.

What may be set follows from charge headroom (`physics.studies.headroom_curves`): the events in a row that are
planned, everything as much worse as it may well be, the cells' charging current and its reduction in the cold.
The stop is simulated as entered, with the regen current that is set or what the cells take of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.components import pack
from physics.scenarios.regen_braking import RegenBraking, regen_braking
from physics.studies.headroom_curves import RegenPlan, headroom_answer, needed
from physics.studies.uncertainty.tolerance import Tolerance

LAMP_MAY, LAMP_MUST = 0.7, 1.3
"""Deceleration by regen alone above which the brake lamp may, and must, be lit, m/s2: UN Regulation No. 13-H,
paragraph 5.2.22.4, from memory; it is about cars."""

_MOST_STEPS = 400


@dataclass(frozen=True, eq=False)
class RegenAnswer:
    """What may be set, and what one stop does.

    Attributes
    ----------
    rest_voltage, charge, current : array, shape (k,), V, -, A
        The most regen that may be set from each rest voltage down; 0 where none may.
    current_now : float, A
        The same at today's charge.
    set_current : float, A
        With which the stop is simulated: as set, or what the cells take of it.
    stop : RegenBraking
        One row: from the speed asked for, at today's charge but no more than lets that current in.
    stop_charge : float
        That charge.
    brakes_share : float
        Of the energy of motion that the brakes must take in a stop at `hard`.
    hard : float, m/s2
        Deceleration of that stop.
    too_cold, too_hot : bool
        Whether no regen is allowed at the pack's temperature.
    """

    rest_voltage: Floats
    charge: Floats
    current: Floats
    current_now: float
    set_current: float
    stop: RegenBraking
    stop_charge: float
    brakes_share: float
    hard: float
    too_cold: bool
    too_hot: bool

    @property
    def message(self) -> str:
        """The answer in a sentence."""
        return f"At most {np.floor(self.current_now):.0f} A of regen now."


def regen_answer(
    build: Build,
    speed: float,
    plan: RegenPlan | None = None,
    off_below: float = 0.0,
    hard: float = 7.0,
    tolerances: Sequence[Tolerance] | None = None,
) -> RegenAnswer:
    """How much regen may be set at each rest voltage, and what a stop by it does.

    Parameters
    ----------
    build : Build
        Its regen current, phase limit and day.
    speed : float, m/s
        From which it is stopped; above `off_below`.
    plan : RegenPlan, optional
        The events in a row; None is `RegenPlan()`. A planned descent counts too.
    off_below : float, m/s
        Regen is off below it.
    hard : float, m/s2
        Deceleration of a stop with the brakes.
    tolerances : sequence of Tolerance, optional
        How well the unknowns are known; None is `default_tolerances`.

    Returns
    -------
    RegenAnswer

    Examples
    --------
    >>> from physics.build import example_build
    >>> answer = regen_answer(example_build().change({"controller.regen_current": 20.0}), 25.0)
    >>> bool(np.all(np.diff(answer.current) >= 0)), answer.current_now
    (True, 0.0)
    """
    plan, batch = plan or RegenPlan(), Batch.of(build)
    today = headroom_answer(build, plan, batch, tolerances, curves=False)
    allowed = max(today.allowed_current, 0.0)
    apart = 0.5 if allowed < 20.0 else max(1.0, np.ceil(allowed / _MOST_STEPS))
    tried = np.arange(0.0, allowed + 1e-9, apart)
    found = needed(build, tried, today.pack_temperature, plan, batch, tolerances)
    good = found.allowed & (found.status != 3)
    highest = np.minimum.accumulate(np.where(good, found.highest_charge, -1.0))  # at each current and all below it
    if today.descent is not None:  # it may ask for more than the events, at the current that is set
        highest = np.minimum(highest, float(today.descent.highest_charge) if today.descent.allowed else -1.0)
    kind, series = build.pack.chemistry, build.pack.cells_in_series
    full = float(pack.rest_voltage(kind, series, 1.0))
    volts = np.floor(full) - np.arange(0.0, np.ceil(0.14 * full))
    charges = np.asarray(pack.charge_from_rest_voltage(kind, series, volts))
    current = np.array([_most(tried, highest, charge) for charge in charges])
    set_current = min(build.controller.regen_current, allowed)
    able = highest[tried <= set_current + 1e-9]
    stop_charge = float(np.clip(min(build.conditions.charge, able[-1]), 0.0, 1.0))
    cold, hot = today.today.status == -1, today.today.status == -2
    braked = build.change({"controller.regen_current": 0.0 if cold or hot else set_current})
    stop = regen_braking(braked.change({"conditions.charge": stop_charge}), speed, 0.0, off_below)
    return RegenAnswer(
        rest_voltage=volts,
        charge=charges,
        current=np.zeros_like(current) if cold or hot else current,
        current_now=0.0 if cold or hot else _most(tried, highest, build.conditions.charge),
        set_current=0.0 if cold or hot else float(set_current),
        stop=stop,
        stop_charge=stop_charge,
        brakes_share=_brakes_share(batch, stop, hard),
        hard=hard,
        too_cold=bool(cold),
        too_hot=bool(hot),
    )


def _most(tried: Floats, highest: Floats, charge: float) -> float:
    """The largest current whose highest charge, and that of every smaller one, is at or above a charge, A."""
    enough = highest >= charge
    return float(tried[np.flatnonzero(enough)[-1]]) if enough.any() else 0.0


def _brakes_share(batch: Batch, stop: RegenBraking, hard: float) -> float:
    """Of the energy of motion, what brakes take in a stop of one deceleration, regen helping as it can."""
    inertia = float(batch.stance().equivalent_mass[0])
    speed = stop.speed[0]
    helped = np.minimum(stop.deceleration[0], hard) * inertia
    taken = np.trapezoid((helped * speed / hard)[::-1], speed[::-1])
    return float(np.clip(1.0 - taken / (0.5 * inertia * speed[0] ** 2), 0.0, 1.0))
