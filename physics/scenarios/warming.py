"""Warming a pack by riding: at a steady current, or by gentle pulls with rests between.

The pack is one body that its own losses warm and the air cools,

(1) C dT/dt = I (E - U) - G (T - T_air),  E open-circuit voltage, U voltage at the terminals,

the energy balance of D. Bernardi, E. Pawlikowski and J. Newman, A general energy balance for battery systems,
Journal of the Electrochemical Society 132 (1985) 5-12, equation from memory, without its reversible (entropic),
mixing and phase-change parts. Left out besides: that the middle of a pack is warmer than its skin, and wind.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch, Builds
from physics.components import pack
from physics.limits import RULES
from physics.scenarios import in_turn
from physics.scenarios.cruise import cruise
from physics.scenarios.pull import Pull, make_pull
from physics.scenarios.state import BikeState, rest
from physics.simulation.plant import WORK, PackModel, Plant
from physics.simulation.protection import TripTimers

STEP = 15.0
"""s, the longest piece in which resistance is held."""
GOES_ON, EMPTY = -1, len(RULES)
ENDS = (*RULES, "charge")
"""What can end it: a rule of the protection, or an empty weakest cell."""

_FASTEST, _SPEEDS = 60.0, 49
_LATER = 1e3  # s, by when the throttle is open


@dataclass(frozen=True, eq=False)
class Warming:
    """A pack as it warms up; arrays of shape (n, k) unless noted.

    Attributes
    ----------
    time : array, shape (k,), s
        From the start; of pulls, at the end of the rest after each.
    states : tuple of BikeState
        At each instant, of n builds.
    temperature, charge : array, K and 0 to 1
        Of the pack; NaN once a build cannot go on.
    end : array of int, shape (n,)
        Index in ENDS of what ended it; GOES_ON where nothing did.
    speed : array, shape (n,), m/s
        Highest speed of the pulls; NaN where it is not worked out.
    """

    time: Floats
    states: tuple[BikeState, ...]
    temperature: Floats
    charge: Floats
    end: NDArray[np.int_]
    speed: Floats

    def place(self, temperature: float) -> Floats:
        """Where a pack becomes so warm, in instants and parts of them, shape (n,); infinite if it never does.

        Parameters
        ----------
        temperature : float, K
            Of the pack.
        """
        warm = self.temperature >= temperature - 1e-9  # NaN is not
        first = warm.argmax(axis=1)
        before = np.maximum(first - 1, 0)
        rows = np.arange(len(warm))
        low, high = self.temperature[rows, before], self.temperature[rows, first]
        rise = np.where(high > low, high - low, 1.0)
        place = before + np.where(first > 0, (temperature - low) / rise, 0.0)
        return np.where(warm.any(axis=1), place, np.inf)

    def at(self, row: int, place: float) -> BikeState:
        """The state of one build at a place, by straight lines between the instants.

        Parameters
        ----------
        row : int
            Of n.
        place : float
            As from `place`; finite.
        """
        low = min(int(place), len(self.states) - 1)
        high, share = min(low + 1, len(self.states) - 1), place - low
        first, last = (self.states[index].take(row) for index in (low, high))
        names = [field.name for field in fields(BikeState)]
        return BikeState(*((1 - share) * getattr(first, name) + share * getattr(last, name) for name in names))


def steady_ride(build: Build, current: ArrayLike) -> tuple[Floats, Floats, float]:
    """The steady speed on the level, without wind, at which a current is drawn, and what it heats.

    Parameters
    ----------
    build : Build
        What is ridden, as charged and as warm as the day has it.
    current : float or array, shape (n,), A
        Line current.

    Returns
    -------
    tuple of (array, array, float)
        Speed, m/s, shape (n,): NaN where no steady speed draws so much. Heat of winding, case and controller, W,
        shape (3, n), at that speed. The most that a steady speed draws, A.

    Examples
    --------
    >>> from physics.build import example_build
    >>> speed, heat, most = steady_ride(example_build(), [20.0, 1000.0])
    >>> bool(10.0 < speed[0] < 25.0), bool(np.isnan(speed[1])), 20.0 < most < 1000.0
    (True, True, True)
    """
    one = Batch.of(build).change({"conditions.slope": 0.0, "conditions.headwind": 0.0})
    current = np.atleast_1d(np.asarray(current, dtype=float))
    many = one.take(np.zeros(_SPEEDS, dtype=int))
    energy, held = cruise(many, np.linspace(1.0, _FASTEST, _SPEEDS))
    volts = pack.rest_voltage(one.chemistry, one["pack.cells_in_series"], one["conditions.charge"])
    drawn = np.maximum.accumulate(np.nan_to_num(energy * held / volts))
    most = float(drawn[-1])
    speed = np.interp(current, drawn, held)
    batch = one.take(np.zeros(current.size, dtype=int)).change({"controller.speed_cap": np.maximum(speed, 1.0)})
    plant = Plant(batch)
    heat = plant.evaluate(plant.start(speed), np.full(current.size, _LATER)).integrands[WORK][1:4]
    return np.where(current <= most, speed, np.nan), heat, most


def warm_steadily(
    builds: Builds, current: ArrayLike, duration: float, until: float = np.inf, heat: ArrayLike = 0.0
) -> Warming:
    """A pack at a steady current.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        What is ridden, from the start of its conditions. A rule of the protection that begins to count ends it.
    current : float or array, shape (n,), A
        Line current.
    duration : float, s
        For so long at most; a whole number of STEP.
    until : float, K
        It ends once every pack is so warm.
    heat : float or array, shape (3, n), W
        Of winding, case and controller; see `steady_ride`.

    Returns
    -------
    Warming

    Examples
    --------
    >>> from physics.build import example_build
    >>> made = warm_steadily(example_build(), 60.0, 600.0)
    >>> bool((np.diff(made.temperature) > 0).all()), made.time.size
    (True, 41)
    """
    batch = Batch.of(builds)
    amps = np.broadcast_to(np.asarray(current, dtype=float), (len(batch),))
    model, rules, state = PackModel(batch), TripTimers(batch), BikeState.rested(batch)
    end = np.full(len(batch), GOES_ON)
    states, going = [], []
    for number in range(round(duration / STEP) + 1):
        ended = _ended(batch, model, rules, state, amps)
        end = np.where(end == GOES_ON, ended, end)
        states.append(state)
        going.append(end == GOES_ON)
        if not (going[-1] & (state.temperatures[0] < until)).any() or number * STEP >= duration:
            break
        state = rest(batch, state, STEP, amps, heat, (model, rules))
    return _warming(STEP, states, going, end, np.full(len(batch), np.nan))


def warm_by_pulls(
    builds: Builds,
    pull: Pull,
    rest_time: float,
    most: int,
    until: float = np.inf,
) -> Warming:
    """A pack in pulls with rests between.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        What is ridden, with the line limit of the pulls, from the start of its conditions. A cut-out ends it.
    pull : Pull
        Flat out for a time, without a target.
    rest_time : float, s
        After each.
    most : int
        Pulls at most.
    until : float, K
        It ends once every pack is so warm after a rest.

    Returns
    -------
    Warming
        Its instants are the start and the end of each rest.

    Examples
    --------
    >>> from physics.build import example_build
    >>> made = warm_by_pulls(example_build(), Pull(10.0), 60.0, 2)
    >>> made.time.tolist(), bool((np.diff(made.temperature) > 0).all())
    ([0.0, 70.0, 140.0], True)
    """
    batch = Batch.of(builds)

    def once(many: Batch, state: BikeState) -> tuple[dict[str, np.ndarray], BikeState]:
        made = make_pull(many, pull, state)
        kept = {in_turn.GOES_ON: made.worst < 1.0, "rule": made.rule, "speed": made.top_speed}
        return kept, rest(many, made.after, rest_time)

    kept, states = in_turn.in_turn(batch, once, BikeState.rested(batch), most, until)
    going = np.logical_and.accumulate(kept[in_turn.GOES_ON], axis=1)
    ended = kept["rule"][np.arange(len(batch)), np.minimum(going.sum(axis=1), going.shape[1] - 1)]
    return _warming(
        pull.duration + rest_time,
        states,
        [np.ones(len(batch), dtype=bool), *going.T],
        np.where(going.all(axis=1), GOES_ON, ended),
        np.where(going, kept["speed"], 0.0).max(axis=1),
    )


def _ended(batch: Batch, model: PackModel, rules: TripTimers, state: BikeState, amps: Floats) -> NDArray[np.int_]:
    """What ends a steady current at an instant: the first rule that counts, an empty cell, or GOES_ON."""
    _, weakest, factor, transfer = model.evaluate(state.charge, state.temperatures[0])
    over = state.pair_voltage.sum(axis=0) + amps * model.ohmic * factor + transfer.voltage(amps)
    counts = rules.signals(amps, weakest - over * model.weak_share, state.temperatures[0]) > 0.0
    counts &= rules.watched
    empty = state.charge - batch["pack.charge_spread"] <= 0.0
    return np.where(counts.any(axis=0), counts.argmax(axis=0), np.where(empty, EMPTY, GOES_ON))


def _warming(
    cycle: float, states: list[BikeState], going: list[NDArray[np.bool_]], end: NDArray[np.int_], speed: Floats
) -> Warming:
    kept = np.stack(going, axis=1)

    def column(values: list[Floats]) -> Floats:
        return np.where(kept, np.stack(values, axis=1), np.nan)

    return Warming(
        cycle * np.arange(len(states), dtype=float),
        tuple(states),
        column([state.temperatures[0] for state in states]),
        column([state.charge for state in states]),
        end,
        speed,
    )
