"""Charging at a charger: constant current or power, then constant voltage, and the pack's voltage at rest after it.

The charge is stepped and time follows from the current, so that the long tail at constant voltage takes no more
steps than the rest. Between two steps the pairs' voltages are exact for a current that changes along a straight
line.

Left out: what warms up, balancing, and what settles more slowly than the cell's resistor-capacitor pairs.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from physics.arrays import Floats, Numbers
from physics.build.batch import Batch, Builds
from physics.components import pack
from physics.scenarios.charging_pack import ChargingPack

END_RATE = 0.05
"""Current at which a charger ends its constant-voltage phase over that which fills the pack in an hour; common
practice, no source (cell makers' data sheets mostly say 0.02 to 0.1)."""

_ROUNDS = 4
_STEPS = 300


@dataclass(frozen=True)
class Charger:
    """What a charger does, all at the pack's terminals.

    Attributes
    ----------
    current : float or array, A
        The most it pushes into the pack; above 0.
    voltage : float or array, V
        Which it holds at last; above 0.
    power : float or array, W
        The most it gives, such as of a weak wall outlet; above 0.
    end_current : float or array, A, optional
        At which it ends; None is `END_RATE` of the current that fills the pack in an hour.
    """

    current: Numbers
    voltage: Numbers
    power: Numbers = np.inf
    end_current: Numbers | None = None

    def __post_init__(self) -> None:
        for name in ("current", "voltage", "power"):
            if not np.all(np.greater(getattr(self, name), 0.0)):
                raise ValueError(f"A charger's {name}: got {getattr(self, name)!r}; accepts numbers above 0.")


@dataclass(frozen=True, eq=False)
class ChargeCurve:
    """A charge from start to end; arrays of shape (n, t). Behind an earlier end the last values stand still.

    Attributes
    ----------
    time : array, s
    charge : array
        Of the pack, 0 to 1.
    current : array, A
        Into the pack, by size; just before the end at the last instant.
    voltage : array, V
        What the pack reads on the charger.
    fullest_cell_voltage : array, V
        Of a cell that is both the fullest and the most resistive.
    energy : array, J
        Taken in at the terminals so far.
    pair_voltage : array, shape (pairs, n, t), V
        Over the cell's resistor-capacitor pairs: what is still to settle once the current stops.
    pair_times : array, shape (pairs, n, 1), s
    rest_voltage : array, V
        What the pack would settle to from each instant.
    """

    time: Floats
    charge: Floats
    current: Floats
    voltage: Floats
    fullest_cell_voltage: Floats
    energy: Floats
    pair_voltage: Floats
    pair_times: Floats
    rest_voltage: Floats

    def one(self, index: int) -> ChargeCurve:
        """One of the curves, still with its axis of builds."""
        values = (getattr(self, item.name) for item in fields(self))
        return ChargeCurve(*(value[..., [index], :] for value in values))

    def settling(self, after: float) -> Floats:
        """Voltage of the pack, V, shape (n,), so many seconds after it was taken off the charger."""
        left = self.pair_voltage[..., -1] * np.exp(-after / self.pair_times[..., 0])
        return self.rest_voltage[:, -1] + left.sum(axis=0)


def charge_up(builds: Builds, charger: Charger, end_charge: Numbers, steps: int = _STEPS) -> ChargeCurve:
    """Charge packs from their charge of the conditions up to another, or until the charger ends.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        Whose packs; charge and pack temperature are those of the conditions.
    charger : Charger
        Its numbers broadcast against the builds.
    end_charge : float or array, shape (n,)
        Where it ends, 0 to 1; one that is not above the start is there at once.
    steps : int
        Of charge, all alike.

    Returns
    -------
    ChargeCurve
        Of steps + 1 instants.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"conditions.charge": 0.5})
    >>> curve = charge_up(build, Charger(8.0, 100.8), 0.8)
    >>> round(float(curve.time[0, -1]) / 3600 * 8.0 / build.pack.capacity_ah, 6)
    0.3
    """
    batch = Batch.of(builds)
    own = ChargingPack(batch)
    least = END_RATE * batch["pack.capacity_ah"] if charger.end_current is None else charger.end_current
    least = np.minimum(np.broadcast_to(least, len(batch)), 0.999 * np.asarray(charger.current))
    start = batch["conditions.charge"]
    end = np.maximum(np.broadcast_to(np.asarray(end_charge, dtype=float), start.shape), start)
    way = start[:, None] + (end - start)[:, None] * np.linspace(0.0, 1.0, steps + 1)
    rest, factor = own.rest(way), own.factor(way)
    step = (end - start) * own.coulombs / steps
    pairs = np.zeros((len(own.pairs), *way.shape))
    time, energy, current, voltage = np.zeros((4, *way.shape))
    flowing = np.broadcast_to(np.asarray(charger.current, dtype=float), start.shape)
    for _ in range(_ROUNDS):
        flowing, reading = _flowing(own, charger, rest[:, 0], factor[:, 0], pairs[..., 0], flowing)
    current[:, 0], voltage[:, 0] = flowing, reading
    for k in range(steps):
        here, then = current[:, k], current[:, k]
        for _ in range(_ROUNDS):
            passed = 0.5 * step * (1.0 / np.maximum(here, least) + 1.0 / np.maximum(then, least))
            after = _built_up(own, pairs[..., k], here * factor[:, k], then * factor[:, k + 1], passed)
            then, reading = _flowing(own, charger, rest[:, k + 1], factor[:, k + 1], after, then)
        pairs[..., k + 1], time[:, k + 1] = after, time[:, k] + passed
        current[:, k + 1], voltage[:, k + 1] = then, reading
        energy[:, k + 1] = energy[:, k] + 0.5 * (voltage[:, k] + reading) * step
    last = np.where((current < least[:, None]).any(axis=1), (current < least[:, None]).argmax(axis=1), steps)
    kept = np.minimum(np.arange(steps + 1), last[:, None])

    def until_end(values: Floats) -> Floats:
        return np.take_along_axis(values, np.broadcast_to(kept, values.shape), axis=-1)

    return ChargeCurve(
        time=until_end(time),
        charge=until_end(way),
        current=until_end(current),
        voltage=until_end(voltage),
        fullest_cell_voltage=until_end(own.fullest(way, voltage - rest)),
        energy=until_end(energy),
        pair_voltage=until_end(pairs),
        pair_times=own.times[..., None],
        rest_voltage=until_end(rest),
    )


def _flowing(
    own: ChargingPack, charger: Charger, rest: Floats, factor: Floats, pairs: Floats, near: Floats
) -> tuple[Floats, Floats]:
    """Current into the pack, A, the least of what current, power and voltage allow; and what the pack reads, V.

    `near` is a current close by, at which charge transfer is taken.
    """
    inner, ohmic = rest + pairs.sum(axis=0), own.at_once(factor, near)
    current = np.minimum(charger.current, (charger.voltage - inner) / ohmic)
    if np.any(np.isfinite(charger.power)):
        current = np.minimum(current, -pack.current_for_power(inner, ohmic, -np.minimum(charger.power, 1e9)))
    current = np.maximum(current, 0.0)
    return current, inner + current * ohmic


def _built_up(own: ChargingPack, pairs: Floats, before: Floats, after: Floats, passed: Floats) -> Floats:
    """Voltage over the pairs after a step in which current times factor goes along a straight line, V."""
    short = np.maximum(passed / own.times, 1e-12)
    risen = -np.expm1(-short)
    late = 1.0 - risen / short
    return pairs * np.exp(-short) + own.pairs * (before * (risen - late) + after * late)
