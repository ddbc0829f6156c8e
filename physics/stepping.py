"""One plant, a batch of builds, and how its state moves over one time step.

Speed is stepped by an exponential two-step method: within a step the acceleration is taken as a line in speed
(slope from a second operating point at the speed the step is heading for) plus a drift in time (from the step
before), and that linear problem is solved exactly. It is of second order, needs one call of the operating point
per step and stays stable however steep the voltage limit is. Resistor-capacitor pairs and temperatures are
stepped by their exact solution for a current held over the step. See M. Hochbruck and A. Ostermann,
Exponential integrators, Acta Numerica 19 (2010) 209-286, section 2, for the functions phi_1 and phi_2.
"""

from dataclasses import dataclass, fields

import numpy as np

from physics import cell
from physics.controller import controller_loss, throttle_position
from physics.drive import Machine, operating_point
from physics.limits import CUT_OUT

SECONDS_PER_HOUR = 3600.0
LONGEST_MEMORY = 20.0
"""A step more than this many times as long as the one before says nothing about it any more."""


POWERS = (
    "pack",
    "winding",
    "iron",
    "controller",
    "driveline",
    "polarisation",
    "drag",
    "rolling",
    "climbing",
    "cells",
)
"""Where power goes, and last where it comes from; heat of the four lumped parts first."""


@dataclass
class State:
    """The state of every build, and what the two-step method remembers; the last axis is the builds."""

    speed: np.ndarray
    charge: np.ndarray
    pair_voltage: np.ndarray
    temperatures: np.ndarray
    open: np.ndarray
    heading: np.ndarray
    guess: np.ndarray
    past_acceleration: np.ndarray
    past_speed: np.ndarray
    past_current: np.ndarray
    past_pair_drive: np.ndarray
    past_voltage: np.ndarray
    past_duration: np.ndarray
    past_sources: np.ndarray
    lowest_voltage: np.ndarray
    lowest_cell_voltage: np.ndarray

    def take(self, places) -> "State":
        """The state of the builds at some places, copied."""
        return State(**{field.name: getattr(self, field.name)[..., places] for field in fields(self)})

    def put(self, places, other) -> None:
        """Write the state of some builds."""
        for field in fields(self):
            getattr(self, field.name)[..., places] = getattr(other, field.name)

    def where(self, chosen, other) -> "State":
        """This state where chosen, the other elsewhere."""
        return State(
            **{
                field.name: np.where(chosen, getattr(self, field.name), getattr(other, field.name))
                for field in fields(self)
            }
        )


def take_arrays(owner, places):
    """A copy of an object whose arrays have the builds as last axis, with the builds at some places.

    Parameters
    ----------
    owner : object
        Its class names in SHARED the attributes that all builds share.
    places : slice or array
        Which builds.

    Returns
    -------
    object
        Of the same class.
    """
    made = object.__new__(type(owner))
    for name, value in vars(owner).items():
        setattr(made, name, value[..., places] if name not in owner.SHARED else value)
    return made


class PackSide:
    """The pack's side of a batch: voltages and resistances from charge and temperature."""

    SHARED = ("tables",)

    def __init__(self, batch):
        tables = cell.chemistry_tables()
        row = batch.chemistry
        voltages, factors = tables.open_circuit_voltage, tables.discharge_resistance_factor
        self.tables = np.concatenate([voltages, factors])
        self.row, self.rows = row, np.array([row, row, row + len(voltages)])
        self.energy = tables.activation_energy[row]
        self.series = batch["pack.cells_in_series"]
        self.reference = batch["pack.resistance"] * batch["pack.resistance_growth"]
        self.ohmic = tables.ohmic_share[row] * self.reference
        self.pairs = np.array([tables.pair_1_share[row], tables.pair_2_share[row]]) * self.reference
        self.pair_times = np.array([tables.pair_1_time[row], tables.pair_2_time[row]])
        none = np.zeros(len(batch))
        self.behind = np.array([none, batch["pack.charge_spread"], none])
        self.weak_share = (1 + batch["pack.resistance_spread"]) / self.series
        self.charge_per_ampere = 1 / (batch["pack.capacity_ah"] * SECONDS_PER_HOUR)

    @property
    def factor(self):
        """The table of resistance factors, one row for each chemistry."""
        return self.tables[len(self.tables) // 2 :]

    def look(self, charge, temperature):
        """Open-circuit voltage of pack and weakest cell, and the factor on every resistance."""
        voltage, weakest, factor = cell.interpolate_rows(self.tables, self.rows, charge - self.behind)
        return (
            voltage * self.series,
            weakest,
            factor * cell.resistance_temperature_factor(temperature, self.energy),
        )


class HeatSide:
    """Four lumped parts, in rows: pack, winding, case, controller."""

    SHARED = ()

    def __init__(self, batch):
        air = batch["conditions.air_temperature"]
        self.capacity = np.array(
            [
                batch["pack.heat_capacity"],
                batch["motor.winding_heat_capacity"],
                batch["motor.case_heat_capacity"],
                batch["controller.heat_capacity"],
            ]
        )
        self.winding_to_case = batch["motor.winding_to_case"]
        self.case_to_air = batch["motor.case_to_air"]
        conductance = np.array(
            [
                batch["pack.thermal_conductance"],
                self.winding_to_case,
                self.winding_to_case + self.case_to_air,
                batch["controller.thermal_conductance"],
            ]
        )
        self.conductance = conductance
        self.decay_rate = -conductance / self.capacity
        self.air = air
        self.start = np.array(
            [
                batch["conditions.pack_temperature"],
                batch["conditions.motor_temperature"],
                batch["conditions.motor_temperature"],
                batch["conditions.controller_temperature"],
            ]
        )

    def sources(self, temperatures, power):
        """Heat that arises in each part, with what its neighbours would give it if it stood at 0 K, W."""
        _, winding, case, _ = temperatures
        sources = power + self.conductance * np.array([self.air, case, self.air, self.air])
        sources[2] += self.winding_to_case * (winding - self.air)
        return sources

    def step(self, temperatures, sources, hold):
        """Each part's exact solution for sources held over a step; `hold` is `held` of its length."""
        flow = sources - self.conductance * temperatures
        return temperatures + flow / self.capacity * hold


def held(rate, duration):
    """Integral of exp(rate t) over a step: duration phi_1(rate duration).

    Parameters
    ----------
    rate : array, 1/s
        Zero or negative.
    duration : float or array, s
        Length of the step.

    Returns
    -------
    array, s
        The duration where the rate is zero.
    """
    return np.where(rate == 0, duration, np.expm1(rate * duration) / np.where(rate == 0, 1.0, rate))


class Plant:
    """A batch of builds as one thing that can be looked at and moved on.

    Parameters
    ----------
    batch : Batch
        The builds.
    """

    def __init__(self, batch):
        self.machine, self.pack, self.heat = Machine(batch), PackSide(batch), HeatSide(batch)
        self.charge = batch["conditions.charge"]

    def take(self, places) -> "Plant":
        """The builds at some places."""
        made = object.__new__(Plant)
        made.machine = self.machine.take(places)
        made.pack, made.heat = take_arrays(self.pack, places), take_arrays(self.heat, places)
        made.charge = self.charge[places]
        return made

    def start(self, speed) -> State:
        """The state at the start of a run, at rest electrically."""
        count = self.machine.count
        rest, _, _ = self.pack.look(self.charge, self.heat.start[0])
        return State(
            speed=speed,
            charge=self.charge.copy(),
            pair_voltage=np.zeros((2, count)),
            temperatures=self.heat.start.copy(),
            open=np.zeros(count, dtype=bool),
            heading=np.zeros(count),
            guess=np.array([rest, rest]),
            past_acceleration=np.zeros(count),
            past_speed=np.zeros(count),
            past_current=np.zeros(count),
            past_pair_drive=np.zeros(count),
            past_voltage=rest,
            past_duration=np.zeros(count),
            past_sources=np.zeros((4, count)),
            lowest_voltage=np.full(count, np.inf),
            lowest_cell_voltage=np.full(count, np.inf),
        )

    def look(self, state: State, time) -> dict:
        """Everything at one instant, as arrays with the builds last; also sets the state's next guess."""
        m, pack = self.machine, self.pack
        rest, weakest, factor = pack.look(state.charge, state.temperatures[0])
        ohmic = pack.ohmic * factor
        polarisation = state.pair_voltage[0] + state.pair_voltage[1]
        electromotive = np.maximum(rest - polarisation, 0.05 * rest)
        throttle = np.where(state.open, 0.0, throttle_position(time, m.throttle, m.ramp_time))
        away = np.where(np.abs(state.heading) < 1e-3, 1e-3, state.heading)
        away = np.where(state.speed + away < 0, 1e-3, away)
        speeds = np.array([state.speed, state.speed + away])
        point = operating_point(
            m, speeds, throttle, electromotive, ohmic, state.temperatures[1], state.temperatures[3], state.guess
        )
        ahead = point.voltage[1]
        state.guess = np.array([ahead, 2 * ahead - point.voltage[0]])
        current, voltage, limit = point.line_current[0], point.voltage[0], point.limit()
        direct = point.direct[0] if np.ndim(point.direct) else np.zeros(m.count)
        if state.open.any():
            current = np.where(state.open, 0.0, current)
            voltage = np.where(state.open, electromotive, voltage)
            direct = np.where(state.open, 0.0, direct)
            limit = np.where(state.open, CUT_OUT, limit)
        cell_voltage = weakest - (polarisation + current * ohmic) * pack.weak_share
        state.lowest_voltage = np.minimum(state.lowest_voltage, voltage)
        state.lowest_cell_voltage = np.minimum(state.lowest_cell_voltage, cell_voltage)
        pair_heat = (state.pair_voltage**2 / (pack.pairs * factor)).sum(axis=0)
        first, second = point.acceleration
        standing = (state.speed <= 0) & (first < 0)
        return {
            "speed": state.speed,
            "acceleration": np.where(standing, 0.0, first),
            "slope": np.where(standing, 0.0, (second - first) / away),
            "pack_voltage": voltage,
            "rest_voltage": rest,
            "weakest_cell_voltage": cell_voltage,
            "polarisation_voltage": polarisation,
            "polarisation_heat": pair_heat,
            "ohmic_resistance": ohmic,
            "factor": factor,
            "line_current": current,
            "quadrature_current": point.quadrature[0],
            "field_current": direct,
            "charge": state.charge,
            "pair_voltage": state.pair_voltage,
            "drive_force": point.drive_force[0],
            "temperatures": state.temperatures,
            "powers": self._powers(state, point, current, direct, rest, polarisation, ohmic, pair_heat),
            "limit": limit,
            "regime": 2 * limit + point.held_by_line[0],
        }

    def step(self, state: State, now: dict, duration):
        """The state one step later, each build's step of its own length, and the acceleration foreseen there."""
        speed, acceleration, slope, current = (
            now["speed"],
            now["acceleration"],
            now["slope"],
            now["line_current"],
        )
        exponent = slope * duration
        exponent = np.where(np.abs(exponent) < 1e-5, 1e-5, np.minimum(exponent, 1.0))
        first = np.expm1(exponent) / exponent  # phi_1
        remembers = (duration < LONGEST_MEMORY * state.past_duration) & ~state.open & (speed > 0)
        ratio = np.where(remembers, duration / np.where(remembers, state.past_duration, 1.0), 0.0)
        drift = ratio * (acceleration - state.past_acceleration - slope * (speed - state.past_speed))
        gain = duration * (first * acceleration + (first - 1) / exponent * drift)  # phi_2 with the drift
        after = np.maximum(speed + gain, 0.0)
        mean_current = np.maximum(current + (ratio / 2) * (current - state.past_current), 0.0)
        mean_current = np.where(state.open, 0.0, mean_current)
        pack, sources = self.pack, self.heat.sources(state.temperatures, now["powers"][:4])
        pair_drive = now["factor"] * current
        mean_drive = np.maximum(pair_drive + (ratio / 2) * (pair_drive - state.past_pair_drive), 0.0)
        mean_drive = np.where(state.open, 0.0, mean_drive)
        settled = pack.pairs * mean_drive
        mean_sources = sources + ratio / 2 * (sources - state.past_sources)
        hold = held(self.heat.decay_rate, duration)
        moved = State(
            speed=after,
            charge=np.maximum(state.charge - mean_current * duration * pack.charge_per_ampere, 0.0),
            pair_voltage=settled + (state.pair_voltage - settled) * np.exp(-duration / pack.pair_times),
            temperatures=self.heat.step(state.temperatures, mean_sources, hold),
            open=state.open,
            heading=after - speed,
            guess=state.guess,
            past_acceleration=acceleration,
            past_speed=speed,
            past_current=current,
            past_pair_drive=pair_drive,
            past_voltage=now["pack_voltage"],
            past_duration=duration,
            past_sources=sources,
            lowest_voltage=state.lowest_voltage,
            lowest_cell_voltage=state.lowest_cell_voltage,
        )
        return moved, acceleration + slope * (after - speed) + drift, (mean_sources, hold)

    def correct(self, state: State, now: dict, then: dict, duration, used) -> None:
        """Put speed and temperatures at a step's end right by what was found there, in `state` and `then`.

        The mean over the step is now the trapezoid of both ends; speed keeps to the first answer where a limit is
        too steep for a trapezoid.
        """
        mean_sources, hold = used
        corrected = now["speed"] + duration / 2 * (now["acceleration"] + then["acceleration"])
        share = np.minimum(np.maximum(1 + 2 * duration * np.minimum(now["slope"], then["slope"]), 0.0), 1.0)
        share = np.where(then["speed"] > 0, share, 0.0)
        state.speed = then["speed"] = then["speed"] + share * (np.maximum(corrected, 0.0) - then["speed"])
        sources = (state.past_sources + self.heat.sources(state.temperatures, then["powers"][:4])) / 2
        warmer = (sources - mean_sources) / self.heat.capacity * hold
        state.temperatures = then["temperatures"] = state.temperatures + warmer

    def _powers(self, state, point, current, direct, rest, polarisation, ohmic, pair_heat):
        """Where power goes, in the order of POWERS; the first four rows are the heat of the lumped parts."""
        m, speed, quadrature = self.machine, state.speed, point.quadrature[0]
        phase_squared = quadrature * quadrature + direct * direct
        motor_speed = speed * m.speed_ratio
        air_gap = m.torque_per_ampere * quadrature * motor_speed
        winding = 1.5 * point.winding_resistance * phase_squared
        if m.has_table is not None:
            winding = winding + (m.shaft_gain - 1) * air_gap
        loss = controller_loss(m.fixed_loss, m.loss_per_ampere, m.loss_resistance, np.sqrt(phase_squared))
        iron = point.iron_torque[0] * motor_speed
        powers = np.empty((len(POWERS), len(speed)))
        powers[0] = current * current * ohmic + pair_heat
        powers[1] = winding
        powers[2] = iron
        powers[3] = np.where(state.open, 0.0, loss)
        powers[4] = air_gap - iron - point.drive_force[0] * speed
        powers[5] = polarisation * current - pair_heat
        powers[6] = point.drag_force[0] * speed
        powers[7] = point.rolling_force[0] * speed
        powers[8] = m.slope_force * speed
        powers[9] = rest * current
        return powers
