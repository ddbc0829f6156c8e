"""Slowing by regen alone: how hard at each speed, what comes back, and how high the fullest cell goes.

The motor brakes with a torque current i at i_d = 0. What the wheel gives up goes through the driveline into the
shaft, less iron and copper loss into the controller, less its own loss into the line, and through the pack's
resistance into the cells. The smallest of four things holds the current: the regen current in the line, the phase
limit, the voltage circle, and the rear tyre's grip with what braking takes off it. It ends at the speed below which
regen is off.

Left out: saturation and field weakening, what parts warm up by, a torque table's motor, the slip of the tyre, and a
controller that lowers regen at a high pack voltage of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.build.batch import Batch, Builds
from physics.components import motor, pack, road_load
from physics.components.braking import REAR, braking_limit
from physics.components.controller import controller_loss
from physics.scenarios.charging_pack import ChargingPack
from physics.simulation.machine import Machine
from physics.simulation.thermal import start_temperatures

REGEN_CURRENT, PHASE_LIMIT, VOLTAGE, REAR_GRIP = range(4)
HOLDS = ("regen current", "phase limit", "voltage", "rear grip")
"""What holds braking by regen, in the order of their numbers."""

LOSSES = ("drag", "rolling", "slope", "driveline", "iron", "winding", "controller", "pack", "cells")
"""Where the energy of motion goes; last what the cells take in."""

_STEPS = 120
_ROUNDS = 4
_TURNS, _AGREE = 30, 1e-6  # V
_LEAST = 0.02  # m/s2, below which the bike counts as not slowing
_POINTS = 25
_NOTHING_LESS = {"pack.resistance": 1e-5, "controller.modulation": 1e3}
SLOWEST_STOP = 0.3
"""m/s2 up to which brakes help where regen alone slows less: no stop takes longer. Common practice, no source."""


@dataclass(frozen=True, eq=False)
class RegenBraking:
    """Slowing of builds by regen alone; arrays of shape (n, t), fastest first, unless noted.

    Attributes
    ----------
    speed, time, distance : array, m/s, s and m
    deceleration : array, m/s2
        With drag, rolling resistance and slope.
    force : array, N
        Of regen, at the road.
    line_current : array, A
        Into the pack; below 0 where losses take more than comes in.
    phase_current : array, A
    cell_voltage : array, V
        Of a cell that is both the fullest and the most resistive.
    holds : array of int
        Place in HOLDS.
    energy : dict of str to array, shape (n,), J
        By LOSSES: where the energy of motion went.
    kinetic : array, shape (n,), J
        Energy of motion that was given up, wheels and rotor included.
    slows : array of bool, shape (n,)
        Whether it slows all the way; where it does not, its times say nothing.
    """

    speed: Floats
    time: Floats
    distance: Floats
    deceleration: Floats
    force: Floats
    line_current: Floats
    phase_current: Floats
    cell_voltage: Floats
    holds: NDArray[np.int_]
    energy: dict[str, Floats]
    kinetic: Floats
    slows: NDArray[np.bool_]

    @property
    def returned_share(self) -> Floats:
        """What the cells take in over the energy of motion given up."""
        return self.energy["cells"] / self.kinetic

    @property
    def peak_cell_voltage(self) -> Floats:
        """Highest voltage of the fullest cell, V."""
        return self.cell_voltage.max(axis=1)


def regen_braking(
    builds: Builds, speed: ArrayLike, end_speed: float = 0.0, off_below: float = 0.0, steps: int = _STEPS
) -> RegenBraking:
    """Slow builds by regen alone from one speed to another.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        Regen current, phase limit and the day are theirs; parts are as warm as the day has them.
    speed : float or array, shape (n,), m/s
        At the start.
    end_speed : float, m/s
        At the end, below the start.
    off_below : float, m/s
        Regen is off below this speed, and slowing by it ends there.
    steps : int
        Of speed.

    Returns
    -------
    RegenBraking

    Raises
    ------
    ValueError
        When the speeds are not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"controller.regen_current": 40.0, "conditions.charge": 0.5})
    >>> slowed = regen_braking(build, 25.0)
    >>> bool(0.3 < slowed.returned_share[0] < 0.9)
    True
    """
    batch = Batch.of(builds)
    start = np.broadcast_to(np.asarray(speed, dtype=float), (len(batch),))
    if not ((start > end_speed).all() and end_speed >= 0 and off_below >= 0):
        raise ValueError(
            f"Braking from {speed!r} to {end_speed!r} m/s: accepts an end of 0 or more, below the start."
        )
    end = np.minimum(max(end_speed, off_below), start)
    way = start[:, None] + (end - start)[:, None] * np.linspace(0.0, 1.0, steps + 1)
    held = _Held(batch.take(np.repeat(np.arange(len(batch)), steps + 1)))
    coulombs, dv = held.pack.coulombs.reshape(way.shape), -np.diff(way, axis=1, append=way[:, -1:])
    charge = before = held.batch["conditions.charge"].reshape(way.shape)
    pairs = np.zeros((len(held.pack.pairs), *way.shape))
    for _ in range(_TURNS):  # all speeds at once, until what the pack has taken in by each of them agrees
        flat = held.at(way.ravel(), charge.ravel(), pairs.reshape(len(pairs), -1))
        at = {name: np.reshape(values, way.shape) for name, values in flat.items()}
        early = 0.5 * dv / np.maximum(at["deceleration"], _LEAST)
        late = 0.5 * dv / np.maximum(_next(at["deceleration"]), _LEAST)
        taken, passed = at["line_current"] * early + _next(at["line_current"]) * late, early + late
        mean = (taken / np.maximum(passed, 1e-12)).ravel()
        fades = held.pairs_after(np.ones((len(pairs), mean.size)), 0.0 * mean, charge.ravel(), passed.ravel())
        built = held.pairs_after(np.zeros((len(pairs), mean.size)), mean, charge.ravel(), passed.ravel())
        fades, built = fades.reshape(pairs.shape), built.reshape(pairs.shape)
        after, known = np.zeros_like(pairs), pairs
        for k in range(steps):
            after[..., k + 1] = after[..., k] * fades[..., k] + built[..., k]
        charge, pairs = before + (np.cumsum(taken, axis=1) - taken) / coulombs, after
        if np.abs(pairs - known).max() < _AGREE:
            break

    def over(rate: Floats) -> Floats:  # over speed, so that every share of the energy of motion is counted once
        gained = rate * early + _next(rate) * late
        return np.cumsum(gained, axis=1) - gained

    return RegenBraking(
        speed=way,
        time=over(np.ones_like(way)),
        distance=over(way),
        deceleration=at["deceleration"],
        force=at["force"],
        line_current=at["line_current"],
        phase_current=at["phase_current"],
        cell_voltage=at["cell_voltage"],
        holds=at["holds"].astype(int),
        energy={name: over(at[f"power_{name}"])[:, -1] for name in LOSSES},
        kinetic=0.5 * held.machine.inertia[:: steps + 1] * (start**2 - end**2),
        slows=np.asarray((at["deceleration"][:, :-1] > _LEAST).all(axis=1)),
    )


def _next(values: Floats) -> Floats:
    """Each row's values a speed later; the last one again."""
    return np.concatenate([values[:, 1:], values[:, -1:]], axis=1)


def returned_by_stop(builds: Batch, speed: float, off_below: float = 0.0) -> Floats:
    """The most charge that one stop by regen alone pushes into the pack, A s.

    Parameters
    ----------
    builds : Batch
        Regen current, phase limit and the day are theirs.
    speed : float, m/s
        At the start.
    off_below : float, m/s
        Regen is off below this speed; the stop ends there.

    Returns
    -------
    array, shape (n,), A s
        Of the pack as charged as the conditions say, and as if without resistance: the lower its voltage, the more
        current the same power makes, so a pack that is fuller takes in less. The bus voltage is not taken to hold
        it back, as a fuller pack would less. Where regen alone slows by less than SLOWEST_STOP the brakes help.

    Raises
    ------
    ValueError
        When the speeds are not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> some = Batch.of(example_build().change({"controller.regen_current": 40.0}))
    >>> bool(200.0 < returned_by_stop(some, 25.0)[0] < 0.5 * 250.0 * 25.0**2 / 75.0)
    True
    """
    if not (speed > 0 and off_below >= 0):
        raise ValueError(f"A stop from {speed!r} m/s with regen off below {off_below!r}: accepts 0 or more.")
    way = np.linspace(speed, min(off_below, speed), _POINTS)
    rows = builds.take(np.repeat(np.arange(len(builds)), _POINTS)).change(_NOTHING_LESS)
    held = _Held(rows)
    now = held.at(np.tile(way, len(builds)), rows["conditions.charge"], np.zeros_like(held.pack.pairs))
    per_speed = np.maximum(now["line_current"], 0.0) / np.maximum(now["deceleration"], SLOWEST_STOP)
    return np.asarray(-np.trapezoid(per_speed.reshape(-1, _POINTS), way, axis=1))


class _Held:
    """What a batch needs to be slowed by its motor."""

    def __init__(self, batch: Batch) -> None:
        self.batch, self.machine, self.stance = batch, Machine(batch), batch.stance()
        temperatures = start_temperatures(batch)
        m = self.machine
        self.winding = motor.winding_resistance(m.resistance_20, temperatures[1])
        self.per_ampere = m.torque_per_ampere * motor.magnet_share(m.magnet_weakening, temperatures[2])
        self.flux_share = self.per_ampere / m.torque_per_ampere
        self.pack = ChargingPack(batch)

    def pairs_after(self, pairs: Floats, current: Floats, charge: Floats, passed: Floats) -> Floats:
        """Voltage over the pairs after a step, V."""
        return pack.pair_step(pairs, current, self.pack.pairs * self.pack.factor(charge), self.pack.times, passed)

    def at(self, speed: Floats, charge: Floats, pairs: Floats) -> dict[str, Floats]:
        """All that is known at one speed."""
        m, b = self.machine, self.batch
        rest, factor = self.pack.rest(charge), self.pack.factor(charge)
        inner, most = rest + pairs.sum(axis=0), b["controller.regen_current"]
        loop = self.pack.at_once(factor, most) + m.lead_resistance
        turns = speed * m.speed_ratio
        iron = motor.iron_loss_drag_torque(m.iron_torque, m.iron_damping, turns)
        chain = m.chain_torque * np.minimum(turns, 1.0)
        winding = self.winding * motor.eddy_factor(turns, m.eddy_speed)
        drag, _ = road_load.drag_force(m.drag_factor, speed + m.headwind)
        rolling, _ = road_load.rolling_force(m.rolling_constant, m.rolling_squared, speed)
        limits = np.array(
            [
                self._by_line(turns, winding, inner, loop),
                m.phase_limit,
                self._by_voltage(speed, winding, inner, loop, turns),
                self._by_grip(drag, iron + chain),
            ]
        )
        current, holds = np.maximum(limits.min(axis=0), 0.0), limits.argmin(axis=0)
        power = self._to_line(current, turns, winding)
        for _ in range(_ROUNDS):  # charge transfer at the current that flows
            line = self._line_current(power, inner, loop)
            ohmic = self.pack.at_once(factor, line)
            loop = ohmic + m.lead_resistance
        line = self._line_current(power, inner, loop)
        torque = self.per_ampere * current + iron + chain
        force = torque / m.per_braking_force
        terminal = inner + line * ohmic
        deceleration = (force + drag + rolling + m.slope_force) / m.inertia
        loss = controller_loss(m.fixed_loss, m.loss_per_ampere, m.loss_resistance, current)
        return {
            "deceleration": deceleration,
            "force": force,
            "line_current": line,
            "phase_current": current,
            "cell_voltage": self.pack.fullest(charge, terminal - rest),
            "holds": holds.astype(float),
            "power_drag": drag * speed,
            "power_rolling": rolling * speed,
            "power_slope": m.slope_force * speed,
            "power_driveline": force * speed - torque * turns,
            "power_iron": (iron + chain) * turns,
            "power_winding": 1.5 * winding * current**2,
            "power_controller": loss,
            "power_pack": line * line * loop + line * pairs.sum(axis=0),
            "power_cells": line * rest,
        }

    def _to_line(self, current: Floats, turns: Floats, winding: Floats) -> Floats:
        """Power into the line, W."""
        m = self.machine
        loss = controller_loss(m.fixed_loss, m.loss_per_ampere, m.loss_resistance, current)
        return self.per_ampere * current * turns - 1.5 * winding * current**2 - loss

    @staticmethod
    def _line_current(power: Floats, inner: Floats, loop: Floats) -> Floats:
        """Current into the pack that a power makes, A: P = (E + R I) I."""
        root = np.sqrt(np.maximum(np.square(inner) + 4.0 * loop * power, 0.0))
        return 2.0 * power / (inner + root)

    def _by_line(self, turns: Floats, winding: Floats, inner: Floats, loop: Floats) -> Floats:
        """Torque current at which the regen current flows, A; infinite where no current brings so much."""
        m, most = self.machine, self.batch["controller.regen_current"]
        square, linear = 1.5 * winding + m.loss_resistance, self.per_ampere * turns - m.loss_per_ampere
        root = linear**2 - 4.0 * square * (most * (inner + most * loop) + m.fixed_loss)
        reached = (root >= 0.0) & (linear > 0.0)
        current = (linear - np.sqrt(np.where(reached, root, 0.0))) / (2.0 * square)
        return np.where(most <= 0.0, 0.0, np.where(reached, current, np.inf))

    def _by_voltage(self, speed: Floats, winding: Floats, inner: Floats, loop: Floats, turns: Floats) -> Floats:
        """Largest torque current inside the voltage circle, A; 0 where even none is.

        The bus is taken at the voltage the current itself makes of it, by a fixed point from below.
        """
        m = self.machine
        emf, reactance = m.back_emf_per_speed * self.flux_share * speed, m.reactance_per_speed * speed
        impedance = np.maximum(np.square(winding) + np.square(reactance), 1e-12)
        bus, current = inner, np.zeros_like(speed)
        for _ in range(_ROUNDS):
            room = np.square(emf * winding) - impedance * (np.square(emf) - np.square(bus * m.voltage_fraction))
            current = np.where(room > 0.0, (emf * winding + np.sqrt(np.maximum(room, 0.0))) / impedance, 0.0)
            flowing = np.minimum(np.minimum(current, m.phase_limit), self._by_line(turns, winding, inner, loop))
            bus = inner + loop * np.maximum(
                self._line_current(self._to_line(flowing, turns, winding), inner, loop), 0
            )
        return np.maximum(current, 0.0)

    def _by_grip(self, drag: Floats, held: Floats) -> Floats:
        """Torque current at which the rear tyre slides, A: with wheels and rotor left out of what it pushes."""
        m = self.machine
        limit = braking_limit(self.stance, self.batch["bike.grip"], REAR, drag).force
        return np.maximum((limit * m.per_braking_force - held) / self.per_ampere, 0.0)
