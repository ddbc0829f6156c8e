"""Burst power: can a pack give a power for a time, at a temperature and a charge, and if not, how far.

Pack and protection alone, without a bike. At constant power P the current is the smaller root of

(1) (E - R I - U_c(I)) I = P,  E = open-circuit voltage - pair voltages, U_c over charge transfer,

and where there is none the pack has passed its peak power and its voltage would collapse. Charge, pairs
and temperature are stepped by their exact solution for a current held over the step. Drawing a pack to its edge
heats and ages it: the cell and pack makers' ratings go first.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.build.batch import Batch, Builds
from physics.limits import RULES
from physics.simulation.plant import PackModel
from physics.simulation.protection import TripTimers
from physics.simulation.thermal import held

ENDS = (*RULES, "peak power of the pack", "charge")
"""What can end a burst: the protection's rules, then the pack itself."""

_COLLAPSE, _EMPTY = len(RULES), len(RULES) + 1
_STEPS = 120
_AT_ONCE = 15
_ROUNDS = 4
_TURNS, _NEAR_TURNS = 12, 6
"""Of Newton's: from nothing known, and from the current an instant before."""


@dataclass(frozen=True, eq=False)
class Burst:
    """A constant power from a pack; arrays of shape (n,) unless noted.

    Attributes
    ----------
    power, seconds : array, W and s
        What was asked for.
    time : array, s
        How long it was given, at most `seconds`.
    end : array of int
        Index in ENDS of what ended it; -1 where nothing did.
    largest_power : array, W
        The most the pack gives for all of `seconds`, to 1/50,000 of its peak power; 0 where there is none.
    largest_end : array of int
        Index in ENDS of what would end a larger one.
    current : array, A
        Highest line current while it was given.
    minimum_voltage, minimum_cell_voltage : array, V
        Lowest pack voltage and weakest-cell voltage while it was given.
    used : array, shape (n, len(RULES))
        The most of each rule's allowance used, 0 to 1.
    charge_used : array
        Charge taken, 0 to 1.
    """

    power: np.ndarray
    seconds: np.ndarray
    time: np.ndarray
    end: np.ndarray
    largest_power: np.ndarray
    largest_end: np.ndarray
    current: np.ndarray
    minimum_voltage: np.ndarray
    minimum_cell_voltage: np.ndarray
    used: np.ndarray
    charge_used: np.ndarray

    @property
    def gives(self) -> np.ndarray:
        """Whether the power is given for all of the time, shape (n,)."""
        return self.end < 0

    @cached_property
    def status(self) -> np.ndarray:
        """0 where the power is given for all of the time, 1 where it is not; shape (n,)."""
        return np.where(self.gives, 0, 1)

    @cached_property
    def message(self) -> tuple[str, ...]:
        """One sentence for each."""
        sentences = []
        for index in range(len(self.power)):
            asked = f"{self.power[index] / 1000:.1f} kW for {self.seconds[index]:g} s"
            most = f"{self.largest_power[index] / 1000:.1f} kW"
            if self.gives[index]:
                sentences.append(f"Gives {asked}; at most {most} for that long.")
            else:
                why = ENDS[self.end[index]]
                sentences.append(
                    f"Does not give {asked}: {why} ends it after {self.time[index]:.1f} s; {most} lasts."
                )
        return tuple(sentences)


def burst_power(
    builds: Builds,
    power: ArrayLike,
    seconds: ArrayLike,
    temperature: ArrayLike | None = None,
    charge: ArrayLike | None = None,
) -> Burst:
    """Can this pack give that power for so long?

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        Their packs, protections and overshoot of the line current. One build is repeated for arrays of the others.
    power : float or array, shape (n,), W
        At the pack's terminals, 0 to 1e7.
    seconds : float or array, shape (n,), s
        How long, 0.01 to 3600.
    temperature : float or array, shape (n,), K, optional
        Of the pack at the start; by default the conditions' own.
    charge : float or array, shape (n,), optional
        At the start, 0 to 1; by default the conditions' own.

    Returns
    -------
    Burst
        One row for each.

    Raises
    ------
    ValueError
        When a number is not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"pack.protection.cell_undervoltage": 2.8})
    >>> burst_power(build, 20000.0, 10.0).message
    ('Gives 20.0 kW for 10 s; at most 29.9 kW for that long.',)
    """
    batch, power, seconds = _rows(builds, power, seconds, temperature, charge)
    asked = _give(batch, power, seconds)
    largest, largest_end = _largest(batch, seconds)
    return Burst(power, seconds, largest_power=largest, largest_end=largest_end, **asked)


def _rows(
    builds: Builds, power: ArrayLike, seconds: ArrayLike, temperature: ArrayLike | None, charge: ArrayLike | None
) -> tuple[Batch, Floats, Floats]:
    """Builds, power and time brought to one length, and checked."""
    batch = Batch.of(builds)
    temperature = batch["conditions.pack_temperature"] if temperature is None else temperature
    charge = batch["conditions.charge"] if charge is None else charge
    checks = [
        ("power", power, 0, 1e7, "W"),
        ("seconds", seconds, 0.01, 3600, "s"),
        ("temperature", temperature, 230, 360, "K"),
        ("charge", charge, 0, 1, ""),
    ]
    for name, value, low, high, unit in checks:
        value = np.asarray(value, dtype=float)
        good = (value >= low) & (value <= high)
        if not good.all():
            got = np.atleast_1d(value)[~np.atleast_1d(good)][0]
            raise ValueError(f"{name}: got {got:g}; accepts numbers from {low:g} to {high:g} {unit}".rstrip() + ".")
    arrays = np.broadcast_arrays(*(np.asarray(row[1], dtype=float).ravel() for row in checks), np.zeros(len(batch)))
    power, seconds, temperature, charge, _ = (np.array(array) for array in arrays)
    if len(batch) != len(power):
        batch = batch.take(np.zeros(len(power), dtype=int))
    return batch.change({"conditions.pack_temperature": temperature, "conditions.charge": charge}), power, seconds


def _largest(batch: Batch, seconds: Floats) -> tuple[Floats, NDArray[np.int_]]:
    """Largest power by narrowing a bracket of many powers at once, and what ends the next larger one."""
    count = len(batch)
    rest, _, factor, _ = PackModel(batch).evaluate(batch["conditions.charge"], batch["conditions.pack_temperature"])
    low, high = np.zeros(count), np.maximum(rest, 0.0) ** 2 / (4 * PackModel(batch).ohmic * factor)
    end = np.full(count, _COLLAPSE)
    fraction = np.arange(0, _AT_ONCE) / _AT_ONCE
    many = batch.take(np.repeat(np.arange(count), _AT_ONCE))
    nothing = np.zeros(count, dtype=bool)
    for turn in range(_ROUNDS):
        tried = low[:, None] + (high - low)[:, None] * fraction
        ends = _give(many, tried.ravel(), np.repeat(seconds, _AT_ONCE))["end"].reshape(tried.shape)
        failed = ends >= 0
        first = np.where(failed.any(axis=1), failed.argmax(axis=1), _AT_ONCE)
        rows = np.arange(count)
        index = np.minimum(first, _AT_ONCE - 1)
        end = np.where(first < _AT_ONCE, ends[rows, index], end)
        if turn == 0:
            nothing = first == 0
        low, high = tried[rows, np.maximum(first - 1, 0)], np.where(first < _AT_ONCE, tried[rows, index], high)
    return np.where(nothing, 0.0, low), end


def _give(batch: Batch, power: Floats, seconds: Floats) -> dict[str, Any]:
    """Draw a constant power from each pack; what `Burst` keeps of it."""
    count = len(batch)
    pack, rules = PackModel(batch), TripTimers(batch)
    capacity, conductance = batch["pack.heat_capacity"], batch["pack.thermal_conductance"]
    air, overall = batch["conditions.air_temperature"], seconds / _STEPS
    charge, temperature = batch["conditions.charge"].copy(), batch["conditions.pack_temperature"].copy()
    pairs, timers = np.zeros((3, count)), np.zeros((len(RULES), count))
    over, time, end = np.zeros(count, dtype=bool), np.zeros(count), np.full(count, -1)
    highest, lowest, lowest_cell = np.zeros(count), np.full(count, np.inf), np.full(count, np.inf)
    used = np.zeros((len(RULES), count))
    finish = charge.copy()
    before = None
    for index in range(_STEPS + 1):
        now = _instant(pack, rules, charge, temperature, pairs, power, before)
        if before is not None:
            timers, fraction, rule = rules.advance(timers, before["signals"], now["signals"], overall)
            fraction, why = _earliest(fraction, rule, before, now)
            ends = (fraction <= 1) & ~over
            time = np.where(over, time, (index - 1 + np.where(ends, fraction, 1.0)) * overall)
            end = np.where(ends, why, end)
            used = np.where(over, used, np.maximum(used, np.minimum(timers, 1.0)))
            over = over | ends
        elif (now["room"] < 0).any() or (now["charge"] <= 0).any():
            end = np.where(now["room"] < 0, _COLLAPSE, np.where(now["charge"] <= 0, _EMPTY, end))
            over = end >= 0
        highest = np.where(over & (time > 0), highest, np.maximum(highest, now["current"]))
        lowest = np.where(over & (time > 0), lowest, np.minimum(lowest, now["voltage"]))
        lowest_cell = np.where(over & (time > 0), lowest_cell, np.minimum(lowest_cell, now["cell_voltage"]))
        finish = np.where(over, finish, charge)
        if over.all() or index == _STEPS:
            break
        current = now["current"]
        if before is not None:
            current = np.maximum(1.5 * current - 0.5 * before["current"], 0.0)
        charge = np.maximum(charge - current * overall * pack.charge_per_ampere, 0.0)
        heat = current * (current * now["resistance"] + now["transferred"]) + (
            pairs**2 / (pack.pairs * now["factor"])
        ).sum(axis=0)
        settled = pack.pairs * (now["factor"] * current)
        pairs = settled + (pairs - settled) * np.exp(-overall / pack.pair_times)
        flow = heat - conductance * (temperature - air)
        temperature = temperature + flow / capacity * held(-conductance / capacity, overall)
        before = now
    return {
        "time": time,
        "end": end,
        "current": highest,
        "minimum_voltage": lowest,
        "minimum_cell_voltage": lowest_cell,
        "used": used.T,
        "charge_used": batch["conditions.charge"] - finish,
    }


def _instant(
    pack: PackModel,
    rules: TripTimers,
    charge: Floats,
    temperature: Floats,
    pairs: Floats,
    power: Floats,
    before: dict[str, Any] | None,
) -> dict[str, Any]:
    """One instant: current by equation (1), voltages, and the protection's signals."""
    rest, weakest, factor, transfer = pack.evaluate(charge, temperature)
    ohmic = pack.ohmic * factor
    polarisation = pairs.sum(axis=0)
    source_voltage = np.maximum(rest - polarisation, 0.0)
    # Newton's on (1), concave in current, from the left: it stops short of a root, and beyond the peak without one
    current = power / np.maximum(source_voltage, 1e-9)
    if before is not None:
        current = np.maximum(current, before["current"])
    for _ in range(_TURNS if before is None else _NEAR_TURNS):
        offset, slope = transfer.tangent(current)
        voltage = source_voltage - ohmic * current - offset - slope * current
        missing, rise = power - voltage * current, voltage - (ohmic + slope) * current
        current = np.where(rise > 0, current + missing / np.maximum(rise, 1e-9), current)
    transferred = transfer.voltage(current)
    voltage = source_voltage - ohmic * current - transferred
    missing, rise = power - voltage * current, voltage - (ohmic + transfer.tangent(current)[1]) * current
    given = (rise >= 0) & (missing <= 1e-6 * power)
    room = np.where(given, rise * rise, -4 * ohmic * np.maximum(missing, 1e-9))
    current = np.where(given, current, np.minimum(current, source_voltage / (2 * ohmic)))
    cell_voltage = weakest - (polarisation + current * ohmic + transferred) * pack.weak_share
    return {
        "current": current,
        "voltage": voltage,
        "transferred": transferred,
        "cell_voltage": cell_voltage,
        "resistance": ohmic,
        "factor": factor,
        "room": room,
        "charge": charge,
        "signals": rules.signals(current, cell_voltage, temperature),
    }


def _earliest(
    fraction: Floats,
    rule: NDArray[np.int_],
    before: dict[str, Any],
    now: dict[str, Any],
) -> tuple[Floats, NDArray[np.int_]]:
    """Share of the step at which the first of all ends comes, and which it is."""
    fall = before["room"] - now["room"]
    collapse = np.where(now["room"] < 0, before["room"] / np.where(fall > 0, fall, 1.0), np.inf)
    empty = np.where(now["charge"] <= 0, 1.0, np.inf)
    all_ends = np.array([fraction, np.clip(collapse, 0.0, np.inf), empty])
    return all_ends.min(axis=0), np.array([rule, np.full_like(rule, _COLLAPSE), np.full_like(rule, _EMPTY)])[
        all_ends.argmin(axis=0), np.arange(len(rule))
    ]
