"""A whole ride, leg after leg: standing, pulls, coast-downs and braking, each going on from the one before.

Pulls and coast-downs are runs as in physics/simulation/run.py; between them the pack relaxes and every part cools.
It is what synthetic ride logs are made from.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from physics.arrays import Floats
from physics.build.batch import Batch, Builds
from physics.components import cell
from physics.scenarios.state import BikeState, rest, run_from, state_at
from physics.simulation.machine import Machine
from physics.simulation.plant import PackModel

STAND, PULL, COAST, BRAKE = "stand", "pull", "coast", "brake"
KINDS = (STAND, PULL, COAST, BRAKE)
STEPS = 240


@dataclass(frozen=True)
class Leg:
    """One leg of a ride.

    Parameters
    ----------
    kind : str
        "stand", "pull" (at a held throttle), "coast" (throttle shut, motor turning) or "brake" (a steady slowing
        to a standstill, without current).
    duration : float, s
        Above zero, at most 3600.
    throttle : float
        Of a pull, 0 to 1.
    speed_cap : float, m/s
        That the drive of a pull holds, for steady stretches.
    """

    kind: str
    duration: float
    throttle: float = 1.0
    speed_cap: float = math.inf

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"A leg of kind {self.kind!r} is not known; accepted are {', '.join(KINDS)}.")
        if not (0.0 < self.duration <= 3600.0 and 0.0 <= self.throttle <= 1.0 and self.speed_cap > 0.5):
            raise ValueError(
                f"A leg of {self.duration!r} s at throttle {self.throttle!r}, capped at {self.speed_cap!r} m/s: "
                "accepts up to 3600 s, a throttle from 0 to 1, and a cap above 0.5 m/s."
            )


@dataclass(frozen=True, eq=False)
class Ride:
    """What builds did on a ride; arrays of shape (n, t) but for the time.

    Attributes
    ----------
    time : array, shape (t,), s
        Evenly spaced from zero.
    speed, pack_voltage, line_current, phase_current, throttle, motor_speed : array, shape (n, t)
        m/s, V, A, A peak, 0 to 1, rad/s.
    pack_temperature, motor_temperature, controller_temperature : array, shape (n, t), K
        The motor's is its winding's.
    cut_out_time : array, shape (n,), s
        First opening of the protection; NaN where it stayed closed.
    """

    time: np.ndarray
    speed: np.ndarray
    pack_voltage: np.ndarray
    line_current: np.ndarray
    phase_current: np.ndarray
    throttle: np.ndarray
    motor_speed: np.ndarray
    pack_temperature: np.ndarray
    motor_temperature: np.ndarray
    controller_temperature: np.ndarray
    cut_out_time: np.ndarray

    def logged(self, index: int = 0) -> dict[str, np.ndarray]:
        """Everything but time, speed, voltage and line current of one build, by the names a log has for it."""
        names = (
            "phase_current",
            "motor_speed",
            "throttle",
            "pack_temperature",
            "motor_temperature",
            "controller_temperature",
        )
        return {name: getattr(self, name)[index] for name in names}


def ride(builds: Builds, legs: Iterable[Leg], step: float = 0.05) -> Ride:
    """Ride a batch of builds through legs, one after another.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        What is ridden; charge and temperatures start from the conditions.
    legs : sequence of Leg
        At least one.
    step : float, s
        Between two instants of the result.

    Returns
    -------
    Ride

    Examples
    --------
    >>> from physics.build import example_build
    >>> made = ride(example_build(), [Leg("stand", 2.0), Leg("pull", 5.0), Leg("coast", 3.0)], step=0.5)
    >>> made.time.size, bool(made.speed[0, 10] > 10), bool(made.speed[0, -1] < made.speed[0, 14])
    (20, True, True)
    """
    legs = tuple(legs)
    if not legs or not 0.0 < step < min(leg.duration for leg in legs):
        raise ValueError(f"A ride needs legs longer than its step; there are {len(legs)}, with {step!r} s.")
    batch = Batch.of(builds)
    state, speed = BikeState.rested(batch), np.zeros(len(batch))
    pieces, cut, begun = [], np.full(len(batch), np.nan), 0.0
    for leg in legs:
        count = round(leg.duration / step)
        local = step * np.arange(count, dtype=float)
        if leg.kind in (PULL, COAST):
            piece, state, speed, opened = _driven(batch, leg, state, speed, local, count * step)
            cut = np.where(np.isnan(cut), begun + opened, cut)
        else:
            piece, state, speed = _undriven(batch, leg, state, speed, local, count * step)
        pieces.append(piece)
        begun += count * step
    joined = {name: np.concatenate([piece[name] for piece in pieces], axis=1) for name in pieces[0]}
    ratio = Machine(batch).speed_ratio
    time = np.arange(joined["speed"].shape[1]) * step
    return Ride(time=time, motor_speed=joined["speed"] * ratio[:, None], cut_out_time=cut, **joined)


def _driven(
    batch: Batch, leg: Leg, state: BikeState, speed: Floats, local: Floats, duration: float
) -> tuple[dict[str, Floats], BikeState, Floats, Floats]:
    """A pull or a coast-down as a run that goes on from a state."""
    settings = {"controller.throttle": leg.throttle, "controller.speed_cap": leg.speed_cap}
    if leg.kind == COAST:
        settings = {"controller.throttle": 0.0, "controller.throttle_ramp_time": 0.0}
    run = run_from(batch.change(settings), state, duration, speed, STEPS)
    names = {
        "speed": run.speed,
        "pack_voltage": run.pack_voltage,
        "line_current": run.line_current,
        "phase_current": run.phase_current,
        "pack_temperature": run.pack_temperature,
        "motor_temperature": run.winding_temperature,
        "controller_temperature": run.controller_temperature,
    }
    piece = {name: np.array([np.interp(local, run.time, row) for row in values]) for name, values in names.items()}
    ramp = batch["controller.throttle_ramp_time"][:, None]
    opening = np.minimum(leg.throttle, local / np.maximum(ramp, 1e-9)) if leg.kind == PULL else 0.0
    piece["throttle"] = np.broadcast_to(opening, piece["speed"].shape)
    after = state_at(run, np.full(len(batch), duration))
    return piece, after, run.speed[:, -1], run.cut_out_time


def _undriven(
    batch: Batch, leg: Leg, state: BikeState, speed: Floats, local: Floats, duration: float
) -> tuple[dict[str, Floats], BikeState, Floats]:
    """Standing, or a steady slowing to a standstill: no current, the pack relaxes, every part cools."""
    pack = PackModel(batch)
    rested = batch["pack.cells_in_series"] * cell.open_circuit_voltage(batch.chemistry, state.charge)
    fade = np.exp(-local[None, None, :] / pack.pair_times[:, :, None])
    voltage = rested[:, None] - (state.pair_voltage[:, :, None] * fade).sum(axis=0)
    after = rest(batch, state, duration)
    fraction = local / duration
    between = state.temperatures[:, :, None] + (after.temperatures - state.temperatures)[:, :, None] * fraction
    falling = speed[:, None] * (1.0 - fraction) if leg.kind == BRAKE else np.zeros((len(batch), local.size))
    nothing = np.zeros_like(falling)
    piece = {
        "speed": falling,
        "pack_voltage": voltage,
        "line_current": nothing,
        "phase_current": nothing,
        "throttle": nothing,
        "pack_temperature": between[0],
        "motor_temperature": between[1],
        "controller_temperature": between[3],
    }
    return piece, after, np.zeros(len(batch))
