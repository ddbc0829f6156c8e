"""What a bike carries from one run to the next: charge, heat, relaxing voltage and the protection's clocks.

While the bike rests, the pack's resistor-capacitor pairs relax, every part cools and the protection's clock runs
back, each by its exact solution.
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build.batch import Batch
from physics.components.pack import pair_step
from physics.limits import RULES
from physics.simulation.integrator import Walk
from physics.simulation.plant import PackSide, Plant
from physics.simulation.protection import Protection
from physics.simulation.result import RunResult
from physics.simulation.run import record
from physics.simulation.snapshot import PLACES
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
    pair_voltage : array, shape (2, n), V
        Over the pack's resistor-capacitor pairs.
    clocks : array, shape (len(RULES), n)
        The protection's clocks, 0 to 1.
    """

    charge: np.ndarray
    temperatures: np.ndarray
    pair_voltage: np.ndarray
    clocks: np.ndarray

    @classmethod
    def rested(cls, batch: Batch) -> "BikeState":
        """The start of the conditions: settled, with every clock at rest.

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
        return cls(charge, start_temperatures(batch), np.zeros((2, count)), np.zeros((len(RULES), count)))

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
    for name in ("charge", "temperatures", "pair_voltage"):
        start[PLACES[name]] = getattr(state, name)
    walk = Walk(plant, Protection(batch), start)
    walk.clocks = state.clocks.copy()
    return record(walk, duration, steps)


def rest(batch: Batch, state: BikeState, duration: float, current: float = 0.0) -> BikeState:
    """What a rest between pulls gives back.

    Parameters
    ----------
    batch : Batch
        The builds.
    state : BikeState
        At the end of a pull.
    duration : float, s
        Length of the rest.
    current : float, A
        Mean line current while it lasts, such as of a slow ride back.

    Returns
    -------
    BikeState
        Pairs relaxed, parts cooled, the clock run back. With a current, the pack's resistance is taken at the
        start of the rest, and motor and controller are taken to cool as if without it.
    """
    pack = PackSide(batch)
    _, _, factor = pack.look(state.charge, state.temperatures[0])
    settled = pack.pairs * factor
    pairs = pair_step(state.pair_voltage, current, settled, pack.pair_times, duration)
    heat = np.zeros_like(state.temperatures)
    heat[0] = current * current * factor * (pack.ohmic + pack.pairs.sum(axis=0))
    count = len(batch)
    protection = Protection(batch)
    signals = protection.signals(np.full(count, current), np.full(count, 9.0), state.temperatures[0])
    clocks = np.zeros_like(state.clocks)
    clocks[0] = np.clip(protection.advance(state.clocks, signals, signals, duration)[0][0], 0.0, 1.0)
    return BikeState(
        charge=np.maximum(state.charge - current * duration * pack.charge_per_ampere, 0.0),
        temperatures=lumped_step(batch, state.temperatures, heat, duration),
        pair_voltage=pairs,
        clocks=clocks,
    )


def state_at(batch: Batch, run: RunResult, end: np.ndarray, start: BikeState) -> BikeState:
    """The state at each build's own moment of a run.

    Parameters
    ----------
    batch : Batch
        The builds.
    run : RunResult
        Their runs.
    end : array, shape (n,), s
        The moments.
    start : BikeState
        What the runs started from.

    Returns
    -------
    BikeState
    """
    return BikeState(
        charge=at_instant(run.time, run.charge, end),
        temperatures=np.array(
            [at_instant(run.time, getattr(run, f"{part}_temperature"), end) for part in HEATED_PARTS]
        ),
        pair_voltage=_pair_voltage(batch, run, end, start),
        clocks=np.array([at_instant(run.time, run.clocks[..., row], end) for row in range(len(RULES))]),
    )


def _pair_voltage(batch: Batch, run: RunResult, end: Floats, start: BikeState) -> Floats:
    """Each pair's voltage: its exact answer to the run's currents, each held over its step."""
    pack = PackSide(batch)
    time = np.minimum(run.time, end[:, None])
    current = (run.line_current[:, 1:] + run.line_current[:, :-1]) / 2
    factor = run.ohmic_resistance[:, :-1] / pack.ohmic[:, None]
    pairs = []
    for voltage, resistance, constant in zip(start.pair_voltage, pack.pairs, pack.pair_times, strict=True):
        fade = np.exp(-(end[:, None] - time) / constant[:, None])
        pairs.append(voltage * fade[:, 0] + (resistance[:, None] * factor * current * np.diff(fade)).sum(axis=1))
    return np.array(pairs)


def at_instant(time: Floats, values: Floats, instant: Floats) -> Floats:
    """Rows of values at each row's own moment.

    Parameters
    ----------
    time, values : array, shape (n, t)
        Instants, rising, and what is read at them.
    instant : array, shape (n,), s
        Held inside the instants.

    Returns
    -------
    array, shape (n,)
        Linear between instants.

    Examples
    --------
    >>> float(at_instant(np.array([[0.0, 1.0, 3.0]]), np.array([[0.0, 10.0, 30.0]]), np.array([2.0]))[0])
    20.0
    """
    rows = np.arange(len(time))
    index = np.clip((time <= instant[:, None]).sum(axis=1), 1, time.shape[1] - 1)
    before, width = time[rows, index - 1], time[rows, index] - time[rows, index - 1]
    fraction = np.where(width > 0, (instant - before) / np.where(width > 0, width, 1.0), 0.0)
    fraction = np.clip(fraction, 0.0, 1.0)
    return values[rows, index - 1] + fraction * (values[rows, index] - values[rows, index - 1])


def highest_until(time: Floats, values: Floats, instant: Floats) -> Floats:
    """The highest of rows of values up to each row's own moment.

    Parameters
    ----------
    time, values : array, shape (n, t)
        Instants, rising, and what is read at them.
    instant : array, shape (n,), s
        Up to when.

    Returns
    -------
    array, shape (n,)
        The moment itself included.

    Examples
    --------
    >>> float(highest_until(np.array([[0.0, 1.0, 3.0]]), np.array([[0.0, 10.0, 30.0]]), np.array([2.0]))[0])
    20.0
    """
    inside = np.where(time <= instant[:, None], values, -np.inf).max(axis=1)
    return np.maximum(inside, at_instant(time, values, instant))
