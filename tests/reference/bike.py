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
        # the square of current needs two currents; where it has them not both, or is not known, time alone counts
        law, ranged = self.rules.overcurrent_law, self.rules.continuous_current < self.rules.peak_current < math.inf
        self.by_square, self.by_time = ranged and law != "definite time", not ranged or law != "square of current"
        tables = cell.chemistry(p.chemistry)
        self.chemistry = tables
        self.rest_table = tables.open_circuit_voltage.tolist()
        self.factor_table = tables.discharge_resistance_factor.tolist()
        self.cells = p.cells_in_series
        self.charge_spread, self.resistance_spread = p.charge_spread, p.resistance_spread
        resistance = p.resistance
        if resistance is None:
            resistance = p.cells_in_series / p.capacity_ah * self.typical_product(p)
        self._measured_resistance(p, resistance * p.resistance_growth)
        self.leads = p.lead_resistance
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
        saturates = min(m.saturation_current, m.inductance_saturation_current) < math.inf
        self.depends_on_current = (saturates and not m.torque_table) or b.slip_stiffness < math.inf
        self.cold_flux = 60.0 / (2.0 * math.pi * m.kv_rpm_per_volt) / ROOT3  # phase peak volts per mechanical rad/s
        self.table = tuple((float(speed), float(torque)) for speed, torque in m.torque_table)
        radius = b.rolling_radius
        if radius is None:
            radius = float(tyre.rolling_radius(tyre.free_radius(b.tyre)))
        self.radius = radius
        self.gear = line.primary_ratio * line.rear_teeth / line.front_teeth / radius  # shaft rad per metre
        self.efficiency = line.efficiency
        sprocket = 0.5 * line.chain_pitch / math.sin(math.pi / line.front_teeth)
        self.chain_torque = line.chain_drag * sprocket / line.primary_ratio
        self.mass = b.bike_mass + b.rider_mass
        self.inertia = self.mass + b.wheel_inertia / radius**2 + m.rotor_inertia * self.gear**2
        self.bike = b
        self.density = float(air.air_density(day.air_temperature, day.air_pressure, day.humidity))
        self.air_temperature, self.wind = day.air_temperature, day.headwind
        self.weight_down = self.mass * GRAVITY * math.cos(day.slope)
        self.rear_load = self.weight_down * (1.0 - b.centre_of_gravity_to_rear_axle / b.wheelbase)
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

    def typical_product(self, p):
        """Resistance times capacity of a cell that nobody measured, ohm Ah, by what the pack is rated for.

        1.1 x 0.1202 (I / Q)^-0.463 for NMC, others as their usual product over NMC's; I the continuous current or
        half the peak, whichever asks for more, I / Q from 0.5 to 20 per hour. Without a rating the usual product.
        """
        usual = float(typical_cell_resistance(p.chemistry, 1.0))
        steady, peak = self.rules.continuous_current, self.rules.peak_current
        ratings = [current for current in (steady, peak / 2.0) if current < math.inf]
        if not ratings:
            return usual
        rate = min(max(max(ratings) / p.capacity_ah, 0.5), 20.0)
        return 1.1 * 0.1202 * rate**-0.463 * usual / float(typical_cell_resistance("nmc", 1.0))

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

    def with_transfer(self, solve, rest, ohmic, transfer, close=1e-9):
        """What `solve(rest, ohmic)` says once charge transfer, v asinh(R I / v), is in the sag; and its volts.

        Beyond four times the capacity the curve goes on straight. Newton's method: the line that touches the curve
        at the current that the line before gave, to the end. It starts at the one-hour current: in deep cold the
        line that touches at no current is so steep that not even the fixed loss could be fed.
        """
        resistance, volt = transfer
        line = 0.25 * self.straight
        for _ in range(60):
            at = min(line, self.straight)
            x = resistance * at / volt
            slope = resistance / math.sqrt(1.0 + x * x)
            offset = volt * math.asinh(x) - slope * at
            found = solve(rest - offset, ohmic + slope)
            before, line = line, found[-2]
            if abs(line - before) <= close * (1.0 + abs(line)):
                break
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

        Moments about the rear contact change the angular momentum of the mass, and of wheels and rotor, which turn
        forward: N_f wheelbase = m g cos(slope) b - (m g sin(slope) + m a) h - D h_d - (J_w / r + J_r gear) a, with
        a = (F - D - R - W) / m_e. Lifted, the fork is longer by its sag, which turns the bike about the rear axle.
        The tyre pushes with what the drive does not put into the rotor and the rear wheel (half of both); the rear
        carries what the front does not.
        """
        b, radius = self.bike, self.radius
        base, back = b.wheelbase, self.weight_back
        spin = b.wheel_inertia / radius + self.motor.rotor_inertia * self.gear
        front = rear = math.inf
        if b.hold_front_down:
            angle = b.fork_sag / base
            along = b.centre_of_gravity_to_rear_axle - angle * (b.centre_of_gravity_height - radius)
            height = b.centre_of_gravity_height + angle * b.centre_of_gravity_to_rear_axle
            moment = self.weight_down * along - back * height - drag * b.drag_height
            front = self.inertia * moment / (self.mass * height + spin) + drag + rolling + back
        if math.isfinite(b.grip):
            turned = 0.5 * b.wheel_inertia / radius**2 + self.motor.rotor_inertia * self.gear**2

            def spare(force, in_the_air):
                """Grip left with a drive force."""
                gain = (force - drag - rolling - back) / self.inertia
                height = b.centre_of_gravity_height
                moment = self.weight_down * b.centre_of_gravity_to_rear_axle - (back + self.mass * gain) * height
                moment -= drag * b.drag_height + spin * gain
                load = self.weight_down - (0.0 if in_the_air else moment / base)
                return b.grip * load - (force - turned * gain)

            for in_the_air in (False, True):  # with the front in the air the rear carries everything
                least, more = spare(0.0, in_the_air), spare(1.0, in_the_air)
                if more < least:
                    rear = min(rear, least / (least - more))
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
        warm = self.cold_flux * (1.0 - m.magnet_weakening * (y[CASE] - 293.15))
        cold_copper = m.phase_resistance * (235.0 + y[WINDING] - 273.15) / 255.0
        span = m.winding_temperature_maximum - m.winding_foldback_start
        hot = (m.winding_temperature_maximum - y[WINDING]) / span
        box = (c.temperature_maximum - y[BOX]) / (c.temperature_maximum - c.foldback_start_temperature)
        hot, box = min(max(hot, 0.0), 1.0), min(max(box, 0.0), 1.0)
        limits = tuple(zip(self.force_limits(drag, rolling), ("front wheel", "rear grip"), strict=True))
        rolled = shaft

        def losses(shaft):
            """Torque that the iron takes, and iron and chain together, at any load."""
            iron = 0.0 if self.table else m.iron_loss_torque * min(1.0, shaft) + m.iron_loss_damping * shaft
            return iron, iron + self.chain_torque * min(1.0, shaft)

        def road_force(torque):
            return torque * self.gear * (self.efficiency if torque >= 0.0 else 1.0 / self.efficiency)

        def turning(current):
            """Torque per ampere, shaft speed, copper and losses, with what a torque current leaves and slips."""
            lost = (1.0 / 0.81 - 1.0) * current**2
            self.flux = warm / math.sqrt(1.0 + lost / m.saturation_current**2)
            self.inductance = m.phase_inductance / math.sqrt(1.0 + lost / m.inductance_saturation_current**2)
            constant = 1.0 if self.table else 1.5 * self.flux
            slip = road_force(constant * current - losses(rolled)[1]) / (self.rear_load * self.bike.slip_stiffness)
            shaft = rolled * (1.0 + slip)
            eddies = (m.pole_pairs * shaft / (2.0 * math.pi) / m.eddy_frequency) ** 2
            return constant, shaft, cold_copper * (1.0 + eddies), *losses(shaft)

        def driven(current):
            """Currents, bus voltage and what holds, where the machine is as a torque current makes it."""
            constant, shaft, copper, _, taken = turning(current)
            full = self.table_torque(shaft) if self.table else c.phase_current_limit
            phase_limit = full * min(hot, box)

            def current_for(force):
                share = self.efficiency if force > 0.0 else 1.0 / self.efficiency
                return max((force / (self.gear * share) + taken) / constant, 0.0)

            throttle = self.throttle(time)
            wanted, cap = phase_limit * throttle, 1.0
            if math.isfinite(c.speed_cap):  # no more drive than makes dv/dt = (cap - v) / 0.05 s
                force = drag + rolling + self.weight_back + self.inertia * (c.speed_cap - speed) / 0.05
                allowed = current_for(force)
                if allowed < wanted:
                    wanted, cap = allowed, 0.5 if allowed > 0.0 else 0.0
            name = self.request_name(throttle, (hot, box, cap))
            for force, holder in limits:
                if math.isfinite(force) and current_for(force) < wanted:
                    wanted, name = current_for(force), holder

            def electric(rest, through):
                if self.table:
                    i_q, bus, line, held = self.electric_table(shaft, rest, through, wanted)
                    return i_q, 0.0, bus, line, held
                return self.electric(shaft, rest, through, wanted, phase_limit, copper)

            through = ohmic + self.leads  # the bus is at the controller
            (i_q, i_d, bus, line, held), over = self.with_transfer(electric, rest, through, transfer)
            if held == "phase current":  # the disc binds while weakening; heat may have made it smaller
                held = self.request_name(1.0, (hot, box, 1.0))
            return i_q, i_d, bus, line, over, held or name, (hot, box, cap)

        i_q, i_d, bus, line, over, name, factors = 0.0, 0.0, rest, 0.0, 0.0, "cut-out", (1.0, 1.0, 1.0)
        own = 0.0
        if not opened:
            if self.depends_on_current and driven(0.0)[0] > 0.0:  # the current that it has as this current makes it
                most = max((torque for _, torque in self.table), default=c.phase_current_limit)
                own = brentq(lambda current: driven(current)[0] - current, 0.0, most + 1.0, **self.fine)
            i_q, i_d, bus, line, over, name, factors = driven(own)
        constant, shaft, copper, iron, taken = turning(own)
        torque = constant * i_q - taken
        force = road_force(torque)
        acceleration = (force - drag - rolling - self.weight_back) / self.inertia
        signal = line * (1.0 + c.overshoot)
        clock_rate = 0.0 if opened else self.clock_rate(signal)
        if self.table:
            heat_winding, square = constant * i_q * shaft * (1.0 / m.table_efficiency - 1.0), 0.0
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
            taken=taken,
            acceleration=acceleration,
            stuck=bool(y[SPEED] <= 0.0 and acceleration <= 0.0),
            idle=bool(y[CLOCK] <= 0.0 and clock_rate <= 0.0),
            heat_winding=heat_winding,
            heat_box=box_heat,
            settled=pairs,
            heat_pack=(ohmic * line + over) * line
            + sum(volts**2 / pair for volts, pair in zip(y[PAIR_1:PACK], pairs, strict=True)),
            timed=self.by_time and signal > min(rules.continuous_current, rules.peak_current),
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
        if not self.by_square:
            return 0.0
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
        rules = now.stuck, now.idle, now.timed, now.over, now.low, now.outside
        if afresh == "rules":
            return rules
        if afresh == "limits":
            return (*rules, now.limit)
        return (
            *rules, now.limit, now.i_d < 0.0, now.torque >= 0.0,
            tuple((x > 0.0) + (x >= 1.0) for x in now.factors),
            int(y[CHARGE] * 100.0), int((y[CHARGE] - self.charge_spread) * 100.0), y[CHARGE] <= 0.0,
            y[CHARGE] > self.charge_spread, now.shaft < 1.0, now.speed + self.wind >= 0.0,
            243.15 < y[PACK] < 333.15,
            sum(now.shaft > speed for speed, _ in self.table),
        )  # fmt: skip
