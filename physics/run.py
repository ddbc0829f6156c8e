"""Stepping a batch of builds through time: one simulated pull for each.

Speed is stepped by an exponential two-step method: within a step the acceleration is taken as a line in speed
(slope from a second operating point at the speed the step is heading for) plus a drift in time (from the step
before), and that linear problem is solved exactly. It is of second order, needs one call of the operating point
per step and stays stable however steep the voltage limit is. Resistor-capacitor pairs and temperatures are
stepped by their exact solution for a current held over the step. See M. Hochbruck and A. Ostermann,
Exponential integrators, Acta Numerica 19 (2010) 209-286, section 2, for the functions phi_1 and phi_2.
"""

import math

import numpy as np

from physics import cell
from physics.batch import Batch
from physics.controller import controller_loss, throttle_position
from physics.drive import Machine, coasting_acceleration, operating_point
from physics.limits import CUT_OUT
from physics.protection import Protection
from physics.result import RunResult

SECONDS_PER_HOUR = 3600.0
_STEPS_PER_ROOT_SECOND = 36
_CROWDING = 1.6
"""Exponent of the time grid: instants crowd at the launch, where things change fastest."""


def time_grid(duration: float, steps: int | None = None) -> np.ndarray:
    """Instants of a run: crowded at the launch, wide near the end.

    Parameters
    ----------
    duration : float, s
        Length of the run.
    steps : int, optional
        How many steps; by default about 36 times the root of the duration.

    Returns
    -------
    array, shape (steps + 1,), s
        From zero to the duration.

    Examples
    --------
    >>> time_grid(20.0, 4).round(2)
    array([ 0.  ,  2.18,  6.6 , 12.62, 20.  ])
    """
    if steps is None:
        steps = max(40, math.ceil(_STEPS_PER_ROOT_SECOND * math.sqrt(duration)))
    return duration * (np.arange(steps + 1) / steps) ** _CROWDING


def run(builds, duration: float = 30.0, initial_speed=0.0, steps: int | None = None) -> RunResult:
    """Simulate one pull of each build from the start of its conditions.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        What is ridden.
    duration : float, s
        Length of the run, above zero and at most 3600.
    initial_speed : float or array, shape (n,), m/s
        Speed at the start, zero or above.
    steps : int, optional
        How many time steps; by default enough for the accuracy below.

    Returns
    -------
    RunResult
        Times to a speed within 0.5 % or 10 ms, top speed within 0.1 %, lowest voltage within 0.2 %, moment of a
        cut-out within 20 ms of the exact solution of the same equations.

    Raises
    ------
    ValueError
        When the duration or the initial speed is not accepted.

    Examples
    --------
    >>> from physics.build import Bike, Build, Controller, Driveline, Motor, Pack
    >>> build = Build(
    ...     Pack(24, 26.0), Motor(60.0), Controller(200.0, 400.0), Driveline(12, 56), Bike(120.0, 75.0)
    ... )
    >>> bool(run(build, duration=10.0).top_speed[0] > 15)
    True
    """
    if not 0 < duration <= 3600:
        raise ValueError(f"duration: got {duration!r} s; accepts a number above 0, at most 3600 s.")
    batch = Batch.of(builds)
    speed = np.array(np.broadcast_to(np.asarray(initial_speed, dtype=float), (len(batch),)))
    if not ((speed >= 0) & (speed <= 200)).all():
        raise ValueError(f"initial_speed: got {initial_speed!r} m/s; accepts numbers from 0 to 200 m/s.")
    return _Stepper(batch, time_grid(duration, steps), speed).result()


_CHANNELS = (
    "speed",
    "acceleration",
    "pack_voltage",
    "rest_voltage",
    "weakest_cell_voltage",
    "polarisation_voltage",
    "polarisation_heat",
    "ohmic_resistance",
    "line_current",
    "quadrature_current",
    "field_current",
    "charge",
    "drive_force",
    "pack_temperature",
    "winding_temperature",
    "case_temperature",
    "controller_temperature",
)


class _Pack:
    """The pack's side of a batch: voltages and resistances from charge and temperature."""

    def __init__(self, batch):
        tables = cell.chemistry_tables()
        row = batch.chemistry
        self.rows, self.row = np.array([row, row]), row
        self.open_circuit, self.factor = tables.open_circuit_voltage, tables.discharge_resistance_factor
        self.energy = tables.activation_energy[row]
        self.series = batch["pack.cells_in_series"]
        self.reference = batch["pack.resistance"] * batch["pack.resistance_growth"]
        self.ohmic = tables.ohmic_share[row] * self.reference
        self.pairs = np.array([tables.pair_1_share[row], tables.pair_2_share[row]]) * self.reference
        self.pair_times = np.array([tables.pair_1_time[row], tables.pair_2_time[row]])
        self.behind = np.array([np.zeros(len(batch)), batch["pack.charge_spread"]])
        self.weak_share = (1 + batch["pack.resistance_spread"]) / self.series
        self.charge_per_ampere = 1 / (batch["pack.capacity_ah"] * SECONDS_PER_HOUR)

    def look(self, charge, temperature):
        """Open-circuit voltage of pack and weakest cell, and the factor on every resistance."""
        voltage, weakest = cell.interpolate_rows(self.open_circuit, self.rows, charge - self.behind)
        factor = cell.interpolate_rows(self.factor, self.row, charge)
        return (
            voltage * self.series,
            weakest,
            factor * cell.resistance_temperature_factor(temperature, self.energy),
        )


class _Heat:
    """Four lumped parts, in rows: pack, winding, case, controller."""

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

    def step(self, temperatures, power, duration):
        """Each part's exact solution for heat and neighbours held over the step."""
        _, winding, case, _ = temperatures
        around = np.array([self.air, case, self.air, self.air])
        flow = power - self.conductance * (temperatures - around)
        flow[2] += self.winding_to_case * (winding - self.air)
        return temperatures + flow / self.capacity * _held(self.decay_rate, duration)


def _held(rate, duration):
    """Integral of exp(rate t) over a step: duration phi_1(rate duration)."""
    return np.where(rate == 0, duration, np.expm1(rate * duration) / np.where(rate == 0, 1.0, rate))


class _Stepper:
    """One run: the state of every build, the loop over instants, and what is kept of it."""

    def __init__(self, batch, times, speed):
        count = len(batch)
        self.times = times
        self.machine, self.pack, self.heat = Machine(batch), _Pack(batch), _Heat(batch)
        self.protection = Protection(batch)
        self.speed = speed
        self.charge = batch["conditions.charge"].copy()
        self.pair_voltage = np.zeros((2, count))
        self.temperatures = self.heat.start.copy()
        self.clocks = np.zeros((len(self.protection.delays) + 1, count))
        self.open = np.zeros(count, dtype=bool)
        self.guess = None
        self.cut_out = {name: np.full(count, np.nan) for name in ("time", "current", "voltage", "cell_voltage")}
        self.cut_out_rule = np.full(count, -1)
        self.cut_out_place = np.full(count, len(times))
        self.extra: list = []
        self.kept = np.empty((len(_CHANNELS), len(times) + 2, count))
        self.kept_limit = np.empty((len(times) + 2, count), dtype=np.int8)
        self.kept_clocks = np.empty((len(times) + 2, len(self.clocks), count))

    def result(self) -> RunResult:
        signals = before = None
        last = len(self.times) - 1
        heading = np.zeros(len(self.speed))
        for place, time in enumerate(self.times):
            duration = time - self.times[place - 1] if place else 0.0
            now = self._look(time, heading)
            following = self._signals(now)
            if place:
                self.clocks, share, rule = self.protection.advance(self.clocks, signals, following, duration)
                opens = (share <= 1) & ~self.open
                if opens.any():
                    self._cut_out(place, before, now, opens, share, rule, duration)
                    now = self._look(time, heading)
                    following = self._signals(now)
            self._keep(place, now)
            if place < last:
                heading = self._step(now, before, self.times[place + 1] - time, duration)
            signals, before = following, now
        return self._finish()

    def _signals(self, now):
        return self.protection.signals(now["line_current"], now["weakest_cell_voltage"], self.temperatures[0])

    def _look(self, time, heading):
        """Everything at this instant; the second row of speeds is where the step is heading."""
        m, pack = self.machine, self.pack
        rest, weakest, factor = pack.look(self.charge, self.temperatures[0])
        ohmic = pack.ohmic * factor
        polarisation = self.pair_voltage[0] + self.pair_voltage[1]
        electromotive = np.maximum(rest - polarisation, 0.05 * rest)
        throttle = np.where(self.open, 0.0, throttle_position(time, m.throttle, m.ramp_time))
        away = np.where(np.abs(heading) < 1e-3, 1e-3, heading)
        away = np.where(self.speed + away < 0, 1e-3, away)
        speeds = np.array([self.speed, self.speed + away])
        if self.guess is None:
            self.guess = np.array([electromotive, electromotive])
        point = operating_point(
            m, speeds, throttle, electromotive, ohmic, self.temperatures[1], self.temperatures[3], self.guess
        )
        ahead = point.voltage[1]
        self.guess = np.array((ahead, 2 * ahead - point.voltage[0]))
        current, voltage = point.line_current[0], point.voltage[0]
        if self.open.any():
            current = np.where(self.open, 0.0, current)
            voltage = np.where(self.open, electromotive, voltage)
        acceleration = point.acceleration
        first = acceleration[0]
        standing = (self.speed <= 0) & (first < 0)
        slope = np.where(standing, 0.0, (acceleration[1] - first) / away)
        drop = polarisation + current * ohmic
        direct = point.direct[0] if np.ndim(point.direct) else np.zeros(m.count)
        return {
            "speed": self.speed,
            "acceleration": np.where(standing, 0.0, first),
            "pack_voltage": voltage,
            "rest_voltage": rest,
            "weakest_cell_voltage": weakest - drop * pack.weak_share,
            "polarisation_voltage": polarisation,
            "polarisation_heat": (self.pair_voltage**2 / (pack.pairs * factor)).sum(axis=0),
            "ohmic_resistance": ohmic,
            "line_current": current,
            "quadrature_current": point.quadrature[0],
            "field_current": direct,
            "charge": self.charge,
            "drive_force": point.drive_force[0],
            "pack_temperature": self.temperatures[0],
            "winding_temperature": self.temperatures[1],
            "case_temperature": self.temperatures[2],
            "controller_temperature": self.temperatures[3],
            "slope": slope,
            "factor": factor,
            "point": point,
            "pair_voltage": self.pair_voltage,
            "temperatures": self.temperatures,
        }

    def _step(self, now, before, duration, duration_before):
        """Move the state on by one step; returns how far the speed is expected to move in the step after."""
        acceleration, slope = now["acceleration"], now["slope"]
        exponent = slope * duration
        exponent = np.where(np.abs(exponent) < 1e-5, 1e-5, np.minimum(exponent, 1.0))
        first = np.expm1(exponent) / exponent
        gain = duration * first * acceleration
        mean_current = now["line_current"]
        if before is not None:
            drift = acceleration - before["acceleration"] - slope * (self.speed - before["speed"])
            drift = np.where(self.open | (self.speed <= 0), 0.0, drift)
            gain = gain + duration * (first - 1) / exponent * (duration / duration_before) * drift
            change = (now["line_current"] - before["line_current"]) * (duration / (2 * duration_before))
            mean_current = np.where(self.open, 0.0, np.maximum(mean_current + change, 0.0))
        speed_before = self.speed
        self.speed = np.maximum(self.speed + gain, 0.0)
        self.charge = np.maximum(self.charge - mean_current * duration * self.pack.charge_per_ampere, 0.0)
        decay = np.exp(-duration / self.pack.pair_times)
        settled = self.pack.pairs * (now["factor"] * mean_current)
        self.pair_voltage = settled + (self.pair_voltage - settled) * decay
        self.temperatures = self.heat.step(self.temperatures, self._heat_power(now, mean_current), duration)
        return self.speed - speed_before

    def _heat_power(self, now, current):
        m, point = self.machine, now["point"]
        phase_squared = now["quadrature_current"] ** 2 + now["field_current"] ** 2
        motor_speed = now["speed"] * m.speed_ratio
        loss = controller_loss(m.fixed_loss, m.loss_per_ampere, m.loss_resistance, np.sqrt(phase_squared))
        winding = 1.5 * point.winding_resistance * phase_squared
        if m.has_table is not None:
            winding = winding + (m.shaft_gain - 1) * m.torque_per_ampere * now["quadrature_current"] * motor_speed
        return np.array(
            [
                current * current * now["ohmic_resistance"] + now["polarisation_heat"],
                winding,
                point.iron_torque[0] * motor_speed,
                np.where(self.open, 0.0, loss),
            ]
        )

    def _cut_out(self, place, before, now, opens, share, rule, duration):
        """Open the pack inside the step just made: keep the moment, and let these builds coast from there."""
        share = np.where(opens, share, 1.0)
        moment = {
            name: before[name][opens] + (now[name] - before[name])[opens] * share[opens] for name in _CHANNELS
        }
        rest = (1 - share) * duration
        coasting = coasting_acceleration(self.machine, now["speed"])
        speed = before["speed"] + (now["speed"] - before["speed"]) * share
        self.speed = np.where(opens, np.maximum(speed + rest * coasting, 0.0), self.speed)
        self.charge = np.where(opens, before["charge"] + (now["charge"] - before["charge"]) * share, self.charge)
        pairs = before["pair_voltage"] + (now["pair_voltage"] - before["pair_voltage"]) * share
        self.pair_voltage = np.where(opens, pairs * np.exp(-rest / self.pack.pair_times), self.pair_voltage)
        warm = before["temperatures"] + (now["temperatures"] - before["temperatures"]) * share
        self.temperatures = np.where(opens, warm, self.temperatures)
        self.open = self.open | opens
        self.cut_out_rule = np.where(opens, rule, self.cut_out_rule)
        self.cut_out_place = np.where(opens, place, self.cut_out_place)
        self.cut_out["time"][opens] = self.times[place] - rest[opens]
        for name, channel in [
            ("current", "line_current"),
            ("voltage", "pack_voltage"),
            ("cell_voltage", "weakest_cell_voltage"),
        ]:
            self.cut_out[name][opens] = moment[channel]
        limit = now["point"].limit()[opens]
        self.clocks[rule[opens], np.flatnonzero(opens)] = 1.0
        self.extra.append((np.flatnonzero(opens), place, moment, limit, self.clocks[:, opens].copy()))

    def _keep(self, place, now):
        for row, name in enumerate(_CHANNELS):
            self.kept[row, place] = now[name]
        self.kept_limit[place] = np.where(self.open, CUT_OUT, now["point"].limit())
        self.kept_clocks[place] = self.clocks

    def _finish(self) -> RunResult:
        """Place the two extra instants of each cut-out and hand everything over as (n, t)."""
        last = self.times[-1]
        times = np.repeat(np.append(self.times, [last, last])[:, None], self.machine.count, axis=1)
        kept, kept_limit, kept_clocks = self.kept, self.kept_limit, self.kept_clocks
        if not self.extra:
            kept, kept_limit, kept_clocks, times = kept[:, :-2], kept_limit[:-2], kept_clocks[:-2], times[:-2]
        else:
            for values in (kept[0].T, kept_limit.T, times.T):
                values[:, -2:] = values[:, -3:-2]
            kept[:, -2:] = kept[:, -3:-2]
            kept_clocks[-2:] = kept_clocks[-3]
        for builds, place, moment, limit, clocks in self.extra:
            for values in (kept.transpose(1, 2, 0), kept_limit, kept_clocks.transpose(0, 2, 1), times):
                values[place + 2 :, builds] = values[place:-2, builds]
                values[place + 1, builds] = values[place + 2, builds]
            times[place : place + 2, builds] = self.cut_out["time"][builds]
            kept[:, place, builds] = [moment[name] for name in _CHANNELS]
            kept[0, place + 1, builds] = moment["speed"]
            kept_limit[place, builds] = limit
            kept_clocks[place, :, builds] = clocks.T
        return RunResult(
            time=times.T,
            **{name: kept[row].T for row, name in enumerate(_CHANNELS)},
            limit=kept_limit.T,
            clocks=kept_clocks.transpose(2, 0, 1),
            **{"cut_out_" + name: values for name, values in self.cut_out.items()},
            cut_out_rule=self.cut_out_rule,
            machine=self.machine,
        )


