"""One build in plain floats: what happens at one instant, and how fast everything changes."""

import itertools
import math
from types import SimpleNamespace

import numpy as np
from scipy.optimize import brentq

from physics.components import air, cell, pack, tyre
from physics.components.cell_resistance import typical_cell_resistance
from physics.limits import LIMITS
from tests.reference.electrics import ROOT3, Electrics

GRAVITY = 9.80665  # m/s2, standard
SPEED, DISTANCE, CHARGE, PAIR_1, PAIR_2, PAIR_3, PACK, WINDING, CASE, BOX, CLOCK, ENERGY = range(12)
TRANSFER_VOLTAGE = 2.0 * 8.314462618 / 96485.33212  # V/K: Butler and Volmer, transfer coefficients of a half


class Bike(Electrics):
    """One build as plain numbers, and its equations of motion.

    Parameters
    ----------
    build : physics.build.Build
        The build.
    fine : dict, optional
        Tolerances of `brentq`.
    """

    def __init__(self, build, fine=None):
        super().__init__(fine)
        p, m, c, line, b, day = (
            build.pack,
            build.motor,
            build.controller,
            build.driveline,
            build.bike,
            build.conditions,
        )
        self.motor, self.controller, self.rules = m, c, p.protection
        tables = cell.chemistry(p.chemistry)
        self.chemistry = tables
        self.near = 0.0  # A: where the search for the line current begins
        self.rest_table = tables.open_circuit_voltage.tolist()
        self.factor_table = tables.discharge_resistance_factor.tolist()
        self.cells = p.cells_in_series
        self.charge_spread, self.resistance_spread = p.charge_spread, p.resistance_spread
        resistance = p.resistance
        if resistance is None:
            resistance = p.cells_in_series * float(typical_cell_resistance(p.chemistry, p.capacity_ah))
        self._measured_resistance(p, resistance * p.resistance_growth)
        self.coulombs, self.straight = 3600.0 * p.capacity_ah, 4.0 * p.capacity_ah
        given = p.heat_capacity is not None, p.thermal_conductance is not None
        self.pack_heat_capacity = (
            p.heat_capacity
            if given[0]
            else float(pack.typical_heat_capacity(p.cells_in_series, p.capacity_ah, p.chemistry))
        )
        self.pack_to_air = (
            p.thermal_conductance
            if given[1]
            else float(pack.typical_thermal_conductance(p.cells_in_series, p.capacity_ah, p.chemistry))
        )
        self.flux = 60.0 / (2.0 * math.pi * m.kv_rpm_per_volt) / ROOT3  # phase peak volts per mechanical rad/s
        self.table = tuple((float(speed), float(torque)) for speed, torque in m.torque_table)
        radius = b.rolling_radius
        if radius is None:
            radius = float(tyre.rolling_radius(tyre.free_radius(b.tyre)))
        self.gear = line.primary_ratio * line.rear_teeth / line.front_teeth / radius  # shaft rad per metre
        self.efficiency = line.efficiency
        self.mass = b.bike_mass + b.rider_mass
        self.inertia = self.mass + b.wheel_inertia / radius**2 + m.rotor_inertia * self.gear**2
        self.bike = b
        self.density = float(air.air_density(day.air_temperature, day.air_pressure, day.humidity))
        self.air_temperature, self.wind = day.air_temperature, day.headwind
        self.weight_down = self.mass * GRAVITY * math.cos(day.slope)
        self.weight_back = self.mass * GRAVITY * math.sin(day.slope)

        def start(temperature):
            return day.air_temperature if temperature is None else temperature

        self.start_temperatures = (
            start(day.pack_temperature),
            start(day.motor_temperature),
            start(day.motor_temperature),
            start(day.controller_temperature),
        )
        self.start_charge = day.charge

    # the pack
    def _measured_resistance(self, p, resistance):
        """Resistance at small current and what the cold does, from what was measured at some current.

        Sag ten seconds into it: conduction and diffusion r (1 - k) g I, charge transfer n v asinh(r k g^2 I / n v),
        g = 1 at 25 degrees C; what they come to is resistance x I there, and cold growth x that at 0 degrees C.
        """
        tables = self.chemistry
        growth = tables.cold_growth if p.cold_growth is None else p.cold_growth
        current = 4.0 * p.capacity_ah if p.resistance_current is None else p.resistance_current
        k, drop, fine = tables.transfer_fraction, resistance * current, {"xtol": 1e-15, "rtol": 1e-13}

        def sag(small, g, kelvin):
            volt = self.cells * TRANSFER_VOLTAGE * kelvin
            return (1.0 - k) * small * g * current + volt * math.asinh(k * small * g * g * current / volt)

        small = brentq(lambda r: sag(r, 1.0, 298.15) - drop, resistance * 0.99, resistance * 1e3, **fine)
        cold = brentq(lambda g: sag(small, g, 273.15) - growth * drop, 1e-3, 1e3, **fine)
        self.resistance = small
        self.warmth = math.log(cold) / (1.0 / 273.15 - 1.0 / 298.15)  # K

    def rest_voltage(self, charge):
        """Rest voltage of one cell: straight lines between the table's points."""
        place = min(max(charge, 0.0), 1.0) * 100.0
        low = min(int(place), 99)
        return self.rest_table[low] + (self.rest_table[low + 1] - self.rest_table[low]) * (place - low)

    def resistances(self, charge, temperature):
        """Ohmic part, settled resistances of the pairs, and charge transfer's (ohm at small current, volts)."""
        place = min(max(charge, 0.0), 1.0) * 100.0
        low = min(int(place), 99)
        factor = self.factor_table[low] + (self.factor_table[low + 1] - self.factor_table[low]) * (place - low)
        kelvin = min(max(temperature, 243.15), 333.15)
        tables = self.chemistry
        g = math.exp(self.warmth * (1.0 / kelvin - 1.0 / 298.15))
        ten = self.resistance * factor * g
        pairs = tuple(
            ten * share for share in (tables.pair_1_fraction, tables.pair_2_fraction, tables.pair_3_fraction)
        )
        transfer = tables.transfer_fraction * ten * g, self.cells * TRANSFER_VOLTAGE * kelvin * factor
        return tables.ohmic_fraction * ten, pairs, transfer

    def with_transfer(self, solve, rest, ohmic, transfer, close=1e-6):
        """What `solve(rest, ohmic)` says once charge transfer, v asinh(R I / v), is in the sag; and its volts.

        Beyond four times the capacity the curve goes on straight. Newton's method: the line that touches the curve
        at the current that the line before gave, to the end.
        """
        resistance, volt = transfer
        line = self.near
        for _ in range(60):
            at = min(line, self.straight)
            x = resistance * at / volt
            slope = resistance / math.sqrt(1.0 + x * x)
            offset = volt * math.asinh(x) - slope * at
            found = solve(rest - offset, ohmic + slope)
            before, line = line, found[-2]
            if abs(line - before) <= close * (1.0 + abs(line)):
                break
        self.near = line
        return found, offset + slope * line

    def table_torque(self, shaft_speed):
        """Torque of the table: straight lines, its last torque held beyond its end."""
        table = self.table
        for (low, torque), (high, following) in itertools.pairwise(table):
            if shaft_speed <= high:
                return torque + (following - torque) * (shaft_speed - low) / (high - low)
        return table[-1][1]

    # one instant
    def force_limits(self, drag, rolling):
        """Largest drive force before the front wheel lifts and before the rear tyre slips.

        Moments about the rear contact, the inertia force of the total mass m a = F - D - R - W at the centre of
        gravity: N_f wheelbase = m g cos(slope) b - (F - R) h - D (h_d - h); the rear carries
        what the front does not.
        """
        b = self.bike
        height, base = b.centre_of_gravity_height, b.wheelbase
        standing = (
            self.weight_down * b.centre_of_gravity_to_rear_axle + rolling * height - drag * (b.drag_height - height)
        )
        front = standing / height if b.hold_front_down else math.inf
        rear = math.inf
        if math.isfinite(b.grip):
            load = self.weight_down - standing / base  # rear load with no drive force
            slope = 1.0 - b.grip * height / base
            if slope > 0.0:
                rear = b.grip * load / slope
            rear = min(rear, b.grip * self.weight_down)  # with the front in the air the rear carries everything
        return front, rear

    def throttle(self, time):
        """Throttle position: rises at 1 / ramp time up to where it is held."""
        c = self.controller
        return min(c.throttle, time / c.throttle_ramp_time) if c.throttle_ramp_time > 0.0 else c.throttle

    def instant(self, time, y, opened=False):
        """Everything at one instant."""
        m, c, rules = self.motor, self.controller, self.rules
        speed, charge = max(y[SPEED], 0.0), y[CHARGE]
        shaft = speed * self.gear
        cell_rest = self.rest_voltage(charge)
        ohmic, pairs, transfer = self.resistances(charge, y[PACK])
        polarised = y[PAIR_1] + y[PAIR_2] + y[PAIR_3]
        rest = self.cells * cell_rest - polarised
        wind = speed + self.wind
        drag = 0.5 * self.density * self.bike.drag_area * wind * abs(wind)
        rolling = self.weight_down * (
            self.bike.rolling_coefficient + self.bike.rolling_coefficient_speed_squared * speed * speed
        )
        copper = m.phase_resistance * (235.0 + y[WINDING] - 273.15) / 255.0
        iron = m.iron_loss_torque * min(1.0, shaft) + m.iron_loss_damping * shaft
        constant = 1.5 * self.flux
        if self.table:
            iron, constant = 0.0, 1.0
        i_q = i_d = line = over = 0.0
        bus, name, factors = rest, "cut-out", (1.0, 1.0, 1.0)
        if not opened:
            span = m.winding_temperature_maximum - m.winding_foldback_start
            hot = (m.winding_temperature_maximum - y[WINDING]) / span
            box = (c.temperature_maximum - y[BOX]) / (c.temperature_maximum - c.foldback_start_temperature)
            hot, box = min(max(hot, 0.0), 1.0), min(max(box, 0.0), 1.0)
            cap = (c.speed_cap - speed) / (0.02 * c.speed_cap) if math.isfinite(c.speed_cap) else 1.0
            factors = hot, box, min(max(cap, 0.0), 1.0)
            throttle = self.throttle(time)
            full = self.table_torque(shaft) if self.table else c.phase_current_limit
            phase_limit = full * min(hot, box)
            wanted, name = phase_limit * throttle * factors[2], self.request_name(throttle, factors)
            for force, holder in zip(self.force_limits(drag, rolling), ("front wheel", "rear grip"), strict=True):
                if math.isfinite(force):
                    share = self.efficiency if force > 0.0 else 1.0 / self.efficiency
                    allowed = max((force / (self.gear * share) + iron) / constant, 0.0)
                    if allowed < wanted:
                        wanted, name = allowed, holder

            def electric(rest, ohmic):
                if self.table:
                    return self.electric_table(shaft, rest, ohmic, wanted)
                return self.electric(shaft, rest, ohmic, wanted, phase_limit, copper)

            found, over = self.with_transfer(electric, rest, ohmic, transfer)
            i_q, *field, bus, line, held = found
            i_d = field[0] if field else 0.0
            if held == "phase current":  # the disc binds while weakening; heat may have made it smaller
                held = self.request_name(1.0, (hot, box, 1.0))
            name = held or name
        torque = constant * i_q - iron
        force = torque * self.gear * (self.efficiency if torque >= 0.0 else 1.0 / self.efficiency)
        acceleration = (force - drag - rolling - self.weight_back) / self.inertia
        signal = line * (1.0 + c.overshoot)
        clock_rate = 0.0 if opened else self.clock_rate(signal)
        if self.table:
            heat_winding, square = torque * shaft * (1.0 / m.table_efficiency - 1.0), 0.0
        else:
            square = i_q * i_q + i_d * i_d
            heat_winding = 1.5 * copper * square
        box_heat = 0.0
        if not opened:
            box_heat = c.fixed_loss + c.loss_per_ampere * math.sqrt(square) + c.loss_resistance * square
        weakest = (
            self.rest_voltage(charge - self.charge_spread)
            - (1.0 + self.resistance_spread) * (polarised + ohmic * line + over) / self.cells
        )
        return SimpleNamespace(
            speed=speed,
            shaft=shaft,
            rest=self.cells * cell_rest,
            bus=bus,
            line=line,
            i_q=i_q,
            i_d=i_d,
            weakest=weakest,
            signal=signal,
            clock_rate=clock_rate,
            limit=LIMITS.index(name),
            factors=factors,
            torque=torque,
            force=force,
            drag=drag,
            rolling=rolling,
            iron=iron,
            acceleration=acceleration,
            stuck=bool(y[SPEED] <= 0.0 and acceleration <= 0.0),
            idle=bool(y[CLOCK] <= 0.0 and clock_rate <= 0.0),
            heat_winding=heat_winding,
            heat_box=box_heat,
            settled=pairs,
            heat_pack=(ohmic * line + over) * line
            + sum(volts**2 / pair for volts, pair in zip(y[PAIR_1:PACK], pairs, strict=True)),
            over=signal > rules.fast_current,
            low=weakest < rules.cell_undervoltage,
            outside=not rules.discharge_temperature_minimum <= y[PACK] <= rules.discharge_temperature_maximum,
        )

    @staticmethod
    def request_name(throttle, factors):
        """What holds when all that is asked for is given: speed cap, throttle, heat, else the phase limit."""
        hot, box, cap = factors
        if cap < 1.0:
            return "speed cap"
        if throttle < 1.0:
            return "throttle"
        if min(hot, box) < 1.0:
            return "winding heat" if hot <= box else "controller heat"
        return "phase current"

    def clock_rate(self, signal):
        """Rate of the inverse-time clock between continuous and peak current."""
        low, high, time = self.rules.continuous_current, self.rules.peak_current, self.rules.peak_time
        watched = min(low, high)
        if not math.isfinite(watched):
            return 0.0
        if not low < high < math.inf:
            return (1.0 if signal > watched else -1.0) / time
        return (signal * signal - low * low) / (high * high - low * low) / time

    def derivative(self, time, y, opened, stuck, idle):
        """Rate of change of the state; a bike that is `stuck` stands, and an `idle` clock stays at zero."""
        now, m = self.instant(time, y, opened), self.motor
        charge = -now.line / self.coulombs if y[CHARGE] > 0.0 or now.line < 0.0 else 0.0
        through = m.winding_to_case * (y[WINDING] - y[CASE])
        case_to_air = m.case_to_air * (y[CASE] - self.air_temperature)
        return np.array(
            [
                0.0 if stuck else now.acceleration,
                0.0 if stuck else now.speed,
                charge,
                *(
                    (pair * now.line - volts) / constant
                    for pair, volts, constant in zip(now.settled, y[PAIR_1:PACK], (3.0, 25.0, 180.0), strict=True)
                ),
                (now.heat_pack - self.pack_to_air * (y[PACK] - self.air_temperature)) / self.pack_heat_capacity,
                (now.heat_winding - through) / m.winding_heat_capacity,
                (now.iron * now.shaft + through - case_to_air) / m.case_heat_capacity,
                (now.heat_box - self.controller.thermal_conductance * (y[BOX] - self.air_temperature))
                / self.controller.heat_capacity,
                0.0 if idle else now.clock_rate,
                now.rest * now.line,
            ]
        )

    def mode(self, time, y, opened, afresh="kinks"):
        """Which piece of every rule holds, `stuck` and `idle` first, and as AFRESH says of limits and tables."""
        now = self.instant(time, y, opened)
        rules = now.stuck, now.idle, now.over, now.low, now.outside
        if afresh == "rules":
            return rules
        if afresh == "limits":
            return (*rules, now.limit)
        return (
            *rules, now.limit, now.i_d < 0.0, now.torque >= 0.0,
            tuple((x > 0.0) + (x >= 1.0) for x in now.factors),
            int(y[CHARGE] * 100.0), int((y[CHARGE] - self.charge_spread) * 100.0), y[CHARGE] <= 0.0,
            y[CHARGE] > self.charge_spread, now.shaft < 1.0, now.speed + self.wind >= 0.0,
            now.signal > self.rules.continuous_current, 243.15 < y[PACK] < 333.15,
            sum(now.shaft > speed for speed, _ in self.table),
        )  # fmt: skip
