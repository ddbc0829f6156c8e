"""What a bike carries from one run to the next: charge, heat, relaxing voltage and the protection's trip timers.

While the bike rests, the pack's resistor-capacitor pairs relax, every part cools and the protection's trip timer
runs back, each by its exact solution. What the pairs still hold becomes heat of the pack.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build.batch import Batch
from physics.components.pack import pair_heat, pair_step
from physics.limits import CONTINUOUS_CURRENT, RULES, TIMED_OVER_CURRENT
from physics.simulation.integrator import Integrator
from physics.simulation.plant import HEAT, PAIRS, PackModel, Plant
from physics.simulation.protection import TripTimers
from physics.simulation.result import RunResult
from physics.simulation.run import integrate
from physics.simulation.thermal import HEATED_PARTS, lumped_step, start_temperatures


@dataclass(frozen=True, eq=False)
class BikeState:
    """What a pull or a leg of a ride starts from and what it leaves behind.

    Attributes
    ----------
    charge : array, shape (n,)
        Of the pack, 0 to 1.
    temperatures : array, shape (4, n), K
        Rows as in `HEATED_PARTS`.
    pair_voltage : array, shape (3, n), V
        Over the pack's resistor-capacitor pairs.
    trip_timers : array, shape (len(RULES), n)
        The protection's trip timers, 0 to 1.
    """

    charge: np.ndarray
    temperatures: np.ndarray
    pair_voltage: np.ndarray
    trip_timers: np.ndarray

    @classmethod
    def rested(cls, batch: Batch) -> "BikeState":
        """The start of the conditions: settled, with every trip timer at rest.

        Parameters
        ----------
        batch : Batch
            The builds.

        Returns
        -------
        BikeState
        """
        count = len(batch)
        charge = batch["conditions.charge"].copy()
        return cls(charge, start_temperatures(batch), np.zeros((3, count)), np.zeros((len(RULES), count)))

    def where(self, condition: np.ndarray, other: "BikeState") -> "BikeState":
        """This state where a condition holds, else another.

        Parameters
        ----------
        condition : array of bool, shape (n,)
            Which builds keep this one.
        other : BikeState
            The rest's.

        Returns
        -------
        BikeState
        """
        names = [field.name for field in fields(self)]
        return BikeState(*(np.where(condition, getattr(self, name), getattr(other, name)) for name in names))

    def take(self, row: int) -> "BikeState":
        """That of one of its builds.

        Parameters
        ----------
        row : int
            Which.

        Returns
        -------
        BikeState
        """
        return BikeState(*(getattr(self, field.name)[..., [row]] for field in fields(self)))


def together(states: Sequence[BikeState]) -> BikeState:
    """Several states after one another as one.

    Parameters
    ----------
    states : sequence of BikeState
        At least one.

    Returns
    -------
    BikeState
        Of as many builds as all of them.

    Examples
    --------
    >>> from physics.build import example_build
    >>> one = BikeState.rested(Batch.of(example_build()))
    >>> together([one, one]).temperatures.shape
    (4, 2)
    """
    names = [field.name for field in fields(BikeState)]
    return BikeState(*(np.concatenate([getattr(state, name) for state in states], axis=-1) for name in names))


def run_from(
    batch: Batch, state: BikeState, duration: float, speed: ArrayLike, steps: int | None = None
) -> RunResult:
    """A run that starts from a given state of pack, heat and protection.

    Parameters
    ----------
    batch : Batch
        The builds.
    state : BikeState
        At the start.
    duration : float, s
        Length of the run.
    speed : array, shape (n,), m/s
        At the start.
    steps : int, optional
        Time steps.

    Returns
    -------
    RunResult
    """
    plant = Plant(batch)
    start = plant.start(speed)
    start[1], start[PAIRS], start[HEAT] = state.charge, state.pair_voltage, state.temperatures
    return integrate(Integrator(plant, start, state.trip_timers), duration, steps)


def rest(
    batch: Batch,
    state: BikeState,
    duration: float,
    current: ArrayLike = 0.0,
    heat: ArrayLike = 0.0,
    models: tuple[PackModel, TripTimers] | None = None,
) -> BikeState:
    """What a rest between pulls, or steady riding, gives back or leaves behind.

    Parameters
    ----------
    batch : Batch
        The builds.
    state : BikeState
        At the end of a pull.
    duration : float, s
        Length of the rest.
    current : float or array, shape (n,), A
        Mean line current while it lasts, such as of a slow ride back.
    heat : float or array, shape (3, n), W
        Of winding, case and controller while it lasts; by default they cool as if without current.
    models : tuple of PackModel and TripTimers, optional
        Of the batch, where they are at hand: of many short rests they would take most of the time.

    Returns
    -------
    BikeState
        Pairs relaxed, parts cooled, the trip timers of current run back or begun again. With a current, the pack's
        resistance is taken at the start of the rest, so long ones are taken in pieces.
    """
    pack, rules = models or (PackModel(batch), TripTimers(batch))
    count, duration = len(batch), max(duration, 1e-9)
    current = np.broadcast_to(np.asarray(current, dtype=float), (count,))
    _, _, factor, transfer = pack.evaluate(state.charge, state.temperatures[0])
    settled = pack.pairs * factor
    pairs = pair_step(state.pair_voltage, current, settled, pack.pair_times, duration)
    warming = np.empty_like(state.temperatures)
    warming[0] = current * (current * factor * pack.ohmic + transfer.voltage(current))
    held = pair_heat(state.pair_voltage, current, settled, pack.pair_times, duration).sum(axis=0)
    warming[0] += held / duration
    warming[1:] = heat
    signals = rules.signals(current, np.full(count, 9.0), state.temperatures[0])
    trip_timers = np.zeros_like(state.trip_timers)
    by_current = [CONTINUOUS_CURRENT, TIMED_OVER_CURRENT]
    trip_timers[by_current] = rules.advance(state.trip_timers, signals, signals, duration)[0][by_current]
    return BikeState(
        charge=np.maximum(state.charge - current * duration * pack.charge_per_ampere, 0.0),
        temperatures=lumped_step(batch, state.temperatures, warming, duration),
        pair_voltage=pairs,
        trip_timers=trip_timers,
    )


def state_at(run: RunResult, end: np.ndarray) -> BikeState:
    """The state at each build's own moment of a run.

    Parameters
    ----------
    run : RunResult
        The runs.
    end : array, shape (n,), s
        The moments.

    Returns
    -------
    BikeState
    """

    def at_end(values: Floats) -> Floats:
        return at_instant(run.time, values, end)

    return BikeState(
        charge=at_end(run.charge),
        temperatures=np.array([at_end(getattr(run, f"{part}_temperature")) for part in HEATED_PARTS]),
        pair_voltage=np.array([at_end(getattr(run, f"pair_{number}_voltage")) for number in (1, 2, 3)]),
        trip_timers=np.array([at_end(run.trip_timers[..., row]) for row in range(len(RULES))]),
    )


def at_instant(time: Floats, values: Floats, instant: Floats) -> Floats:
    """Rows of values at each row's own moment.

    Parameters
    ----------
    time : array, shape (t,), s
        Instants, rising.
    values : array, shape (n, t)
        What is read at them.
    instant : array, shape (n,), s
        Held inside the instants.

    Returns
    -------
    array, shape (n,)
        Linear between instants.

    Examples
    --------
    >>> float(at_instant(np.array([0.0, 1.0, 3.0]), np.array([[0.0, 10.0, 30.0]]), np.array([2.0]))[0])
    20.0
    """
    rows, index = np.arange(len(values)), np.clip(np.searchsorted(time, instant, side="right"), 1, len(time) - 1)
    fraction = np.clip((instant - time[index - 1]) / (time[index] - time[index - 1]), 0.0, 1.0)
    before = values[rows, index - 1]
    return before + fraction * (values[rows, index] - before)


def highest_until(time: Floats, values: Floats, instant: Floats) -> Floats:
    """The highest of rows of values up to each row's own moment.

    Parameters
    ----------
    time : array, shape (t,), s
        Instants, rising.
    values : array, shape (n, t)
        What is read at them.
    instant : array, shape (n,), s
        Up to when.

    Returns
    -------
    array, shape (n,)
        The moment itself included.

    Examples
    --------
    >>> float(highest_until(np.array([0.0, 1.0, 3.0]), np.array([[0.0, 10.0, 30.0]]), np.array([2.0]))[0])
    20.0
    """
    inside = np.where(time <= instant[:, None], values, -np.inf).max(axis=1)
    return np.maximum(inside, at_instant(time, values, instant))
