"""One plant, a batch of builds, and how its state moves over one time step.

Speed is stepped by an exponential two-step method: within a step the acceleration is taken as a line in speed
(with the slope that the operating point gives) plus a drift in time (from the step before), and that linear problem
is solved exactly. It is of second order, needs one operating point per step and stays stable however steep the
voltage limit is. Resistor-capacitor pairs and temperatures are stepped by their exact solution for a current held
over the step. See M. Hochbruck and A. Ostermann, Exponential integrators, Acta Numerica 19 (2010) 209-286,
section 2, for the functions phi_1 and phi_2.
"""

import numpy as np

from physics.components import cell
from physics.components.controller import controller_loss, throttle_position
from physics.limits import CUT_OUT
from physics.simulation.operating_point import Machine, operating_point
from physics.simulation.rows import Constants
from physics.simulation.snapshot import FORESEEN, PLACES, ROWS, STATE, Moment

SECONDS_PER_HOUR = 3600.0
LONGEST_MEMORY = 20.0
"""A step more than this many times as long as the one before says nothing about it any more."""


class PackSide(Constants):
    """The pack's side of a batch: voltages and resistances from charge and temperature."""

    SHARED = ("table", "voltages", "factors")

    def __init__(self, batch):
        tables = cell.chemistry_tables()
        row = batch.chemistry
        self.voltages, self.factors = tables.open_circuit_voltage, tables.discharge_resistance_factor
        both = np.concatenate([self.voltages, self.factors])
        self.table, self.points = both.ravel(), both.shape[1]
        self.row = row
        self.starts = np.array([row, row, row + len(self.voltages)]) * self.points
        self.energy = tables.activation_energy[row]
        self.warmth = self.energy / cell.GAS_CONSTANT  # K
        self.reference_warmth = self.warmth / cell.REFERENCE_TEMPERATURE
        self.series = batch["pack.cells_in_series"]
        self.reference = batch["pack.resistance"] * batch["pack.resistance_growth"]
        self.ohmic = tables.ohmic_fraction[row] * self.reference
        self.pairs = np.array([tables.pair_1_fraction[row], tables.pair_2_fraction[row]]) * self.reference
        self.pair_times = np.array([tables.pair_1_time[row], tables.pair_2_time[row]])
        self.pair_rates = -1 / self.pair_times
        none = np.zeros(len(batch))
        self.behind = np.array([none, batch["pack.charge_spread"], none])
        self.weak_share = (1 + batch["pack.resistance_spread"]) / self.series
        self.charge_per_ampere = 1 / (batch["pack.capacity_ah"] * SECONDS_PER_HOUR)
        self._settle()

    def look(self, charge, temperature):
        """Open-circuit voltage of pack and weakest cell, and the factor on every resistance.

        The same as `cell.open_circuit_voltage` and the two resistance factors of physics/components/cell.py, in one
        reading.
        """
        place = np.minimum(np.maximum(charge - self.behind, 0.0), 1.0) * (self.points - 1)
        lower = np.minimum(place.astype(np.intp), self.points - 2)
        start = self.starts + lower
        low = self.table[start]
        voltage, weakest, factor = low + (self.table[start + 1] - low) * (place - lower)
        held = np.minimum(np.maximum(temperature, cell.LOWEST_TEMPERATURE), cell.HIGHEST_TEMPERATURE)
        return voltage * self.series, weakest, factor * np.exp(self.warmth / held - self.reference_warmth)


class HeatSide(Constants):
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
        self.from_air = conductance * air
        self.from_air[1:3] = 0.0 * air, self.case_to_air * air
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
        self._settle()

    def sources(self, temperatures, power):
        """Heat that arises in each part, with what its neighbours would give it if it stood at 0 K, W."""
        sources = power + self.from_air
        sources[1] += self.winding_to_case * temperatures[2]
        sources[2] += self.winding_to_case * temperatures[1]
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
    rate = np.minimum(rate, -1e-12)
    return np.expm1(rate * duration) / rate


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
        made.machine, made.pack, made.heat = (part.take(places) for part in (self.machine, self.pack, self.heat))
        made.charge = self.charge[places]
        return made

    def start(self, speed) -> np.ndarray:
        """The state at the start of a run, at rest electrically: rows as in STATE."""
        state = np.zeros((len(STATE), self.machine.count))
        state[PLACES["speed"]], state[PLACES["charge"]] = speed, self.charge
        state[PLACES["temperatures"]] = self.heat.start
        return state

    def look(self, state, time, opened=None, near=None) -> Moment:
        """Everything at one instant.

        Parameters
        ----------
        state : array, shape (len(STATE), n)
            Rows as in STATE.
        time : array, shape (n,), s
            Since the start of the run.
        opened : array of int, or None
            Places of the builds whose protection has opened; None where none has.
        near : array, shape (2, n), A, optional
            i_q and i_d to begin the search at.
        """
        m, pack = self.machine, self.pack
        now = Moment(np.empty((ROWS, m.count)))
        now["state"] = state
        speed, pairs, temperatures = state[0], state[2:4], state[4:]
        rest, weakest, factor = pack.look(state[1], temperatures[0])
        ohmic = pack.ohmic * factor
        polarisation = pairs[0] + pairs[1]
        electromotive = np.maximum(rest - polarisation, 0.05 * rest)
        throttle = throttle_position(time, m.throttle, m.ramp_time)
        if opened is not None:
            throttle[opened] = 0.0
        point = operating_point(m, speed, throttle, electromotive, ohmic, temperatures[1], temperatures[3], near)
        current, voltage, direct, limit = point.line_current, point.voltage, point.direct, point.limit()
        if opened is not None:
            current[opened], voltage[opened] = 0.0, electromotive[opened]
            direct[opened], limit[opened] = 0.0, CUT_OUT
        pair_heat = (pairs * pairs / (pack.pairs * factor)).sum(axis=0)
        now["found"] = (
            point.slope, voltage, rest,
            weakest - (polarisation + current * ohmic) * pack.weak_share, polarisation, pair_heat, ohmic,
            point.quadrature, direct, point.drive_force, limit, point.held_by_line, point.acceleration, current,
            factor * current,
        )  # fmt: skip
        if np.count_nonzero(speed) < speed.size:
            standing = (speed <= 0) & (point.acceleration < 0)
            now["acceleration"][standing] = now["slope"][standing] = 0.0
        self._put_powers(now, point, opened)
        now["sources"] = self.heat.sources(temperatures, now["powers"][:4])
        now["limit_since"] = time
        return now

    def step(self, now: Moment, past: Moment, ratio, duration):
        """The state one step later, each build's step of its own length.

        Parameters
        ----------
        now, past : Moment
            At the start of this step and of the one before.
        ratio : array, shape (n,)
            This step's length over that of the one before; zero where that says nothing.
        duration : array, shape (n,), s
            Of this step.

        Returns
        -------
        tuple
            The state, shape (len(STATE), n); the acceleration foreseen there; what `correct` needs.
        """
        speed, acceleration, slope = now["speed"], now["acceleration"], now["slope"]
        exponent = np.minimum(slope * duration, 1.0)
        exponent = np.where(np.abs(exponent) < 1e-5, 1e-5, exponent)
        first = np.expm1(exponent) / exponent  # phi_1
        drift = ratio * (acceleration - past["acceleration"] - slope * (speed - past["speed"]))
        gain = duration * (first * acceleration + (first - 1) / exponent * drift)  # phi_2 with the drift
        ended = np.empty((len(STATE), len(speed)))
        ended[0] = np.maximum(speed + gain, 0.0)
        foreseen = now["foreseen"]
        mean = foreseen + (ratio / 2) * (foreseen - past["foreseen"])
        mean[:2] = np.maximum(mean[:2], 0.0)
        ended[1] = np.maximum(now["charge"] - mean[0] * duration * self.pack.charge_per_ampere, 0.0)
        settled = self.pack.pairs * mean[1]
        ended[2:4] = settled + (now["pair_voltage"] - settled) * np.exp(duration * self.pack.pair_rates)
        hold = held(self.heat.decay_rate, duration)
        ended[4:] = self.heat.step(now["temperatures"], mean[2:], hold)
        return ended, acceleration + slope * (ended[0] - speed) + drift, (mean, hold)

    def correct(self, now: Moment, then: Moment, integral, duration, foreseen) -> None:
        """Put the state at a step's end right by what was found there.

        Speed keeps to the first answer where a limit is too steep for the weights of the step.

        Parameters
        ----------
        now, then : Moment
            At both ends of the step.
        integral : array, shape (k, n)
            Over the step, of the rows "integrated" of a Moment.
        duration : array, shape (n,), s
            Of the step.
        foreseen : tuple
            What `step` gave.
        """
        mean, hold = foreseen
        speed, gain = then["speed"], integral[0]
        share = np.maximum(1 + 2 * duration * np.minimum(np.minimum(now["slope"], then["slope"]), 0.0), 0.0)
        share *= speed > 0
        then["speed"] = speed + share * (np.maximum(now["speed"] + gain, 0.0) - speed)
        more = integral[FORESEEN] - mean * duration
        charge = then["charge"] - more[0] * self.pack.charge_per_ampere
        then["charge"] = np.minimum(np.maximum(charge, 0.0), now["charge"])
        then["pair_voltage"] -= self.pack.pairs * self.pack.pair_rates * more[1]
        then["temperatures"] += more[2:] / self.heat.capacity * (hold / duration)

    def _put_powers(self, now, point, opened):
        """Where power goes, in the order of POWERS; the first four rows are the heat of the lumped parts."""
        m, speed, quadrature, current = self.machine, now["speed"], point.quadrature, now["line_current"]
        phase_squared = quadrature * quadrature + now["field_current"] ** 2
        motor_speed = speed * m.speed_ratio
        air_gap = m.torque_per_ampere * quadrature * motor_speed
        winding = 1.5 * point.winding_resistance * phase_squared
        if m.has_table is not None:
            winding = winding + (m.shaft_gain - 1) * air_gap
        loss = controller_loss(m.fixed_loss, m.loss_per_ampere, m.loss_resistance, np.sqrt(phase_squared))
        if opened is not None:
            loss[opened] = 0.0
        iron, pair_heat = point.iron_torque * motor_speed, now["polarisation_heat"]
        now["powers"] = (
            current * current * now["ohmic_resistance"] + pair_heat, winding, iron, loss,
            air_gap - iron - point.drive_force * speed, now["polarisation_voltage"] * current - pair_heat,
            point.drag_force * speed, point.rolling_force * speed, m.slope_force * speed,
            now["rest_voltage"] * current,
        )  # fmt: skip
