"""Bus voltage and currents of the reference: current plane, line limit and the pack's sag solved together."""

import math

from scipy.optimize import brentq

ROOT3 = math.sqrt(3.0)


class Electrics:
    """What `Bike` knows of motor, controller and line."""

    def __init__(self, fine=None):
        self.fine = fine or {"xtol": 1e-12, "rtol": 1e-14}  # how closely roots are found

    def power(self, i_q, i_d, shaft_speed, resistance):
        """Electrical power into the controller."""
        c = self.controller
        square = i_q * i_q + i_d * i_d
        return (
            1.5 * (resistance * square + self.flux * i_q * shaft_speed)
            + c.fixed_loss
            + c.loss_per_ampere * math.sqrt(square)
            + c.loss_resistance * square
        )

    def disc(self, bus, shaft_speed, resistance):
        """Centre (i_d, i_q) and radius of the voltage disc in the current plane."""
        reactance = self.motor.pole_pairs * shaft_speed * self.inductance
        square = resistance * resistance + reactance * reactance
        back = self.flux * shaft_speed
        radius = bus * self.controller.modulation / ROOT3 / math.sqrt(square)
        return -reactance * back / square, -resistance * back / square, radius

    def weakening(self, i_q, disc):
        """The smallest field current (largest i_d) that brings i_q inside the voltage disc."""
        d, q, radius = disc
        return min(0.0, d + math.sqrt(max(radius * radius - (i_q - q) ** 2, 0.0)))

    def largest(self, disc, phase_limit):
        """Largest i_q the current plane allows, its i_d and the name of what bounds it."""
        d, q, radius = disc
        bound = min(self.controller.field_weakening_current, phase_limit)
        name = "field weakening" if self.controller.field_weakening_current > 0 else "voltage"

        def arc(i_d):
            inside = radius * radius - (i_d - d) ** 2
            return q + math.sqrt(inside) if inside > 0.0 else q - 1.0

        if arc(0.0) >= phase_limit:
            return phase_limit, 0.0, "phase current"
        end = max(-bound, d)
        edge = math.sqrt(max(phase_limit * phase_limit - end * end, 0.0))
        if arc(end) <= edge:
            if arc(end) < 0.0:
                return 0.0, end, name  # no drive, but the field stays weakened
            return arc(end), end, "voltage" if end == d else name
        if end == 0.0:
            return phase_limit, 0.0, "phase current"
        square = phase_limit * phase_limit
        i_d = brentq(lambda x: arc(x) - math.sqrt(square - x * x), end, 0.0, **self.fine)
        return math.sqrt(square - i_d * i_d), i_d, "phase current"

    def line_allows(self, bus, most):
        """Largest line current at a bus voltage, and the name of what sets it; `most` is the pack's own end."""
        c = self.controller
        start, end = c.foldback_start_voltage, c.foldback_end_voltage
        share = 1.0
        if start > end:
            share = min(max((bus - end) / (start - end), 0.0), 1.0)
        elif start > 0.0 and bus < start:
            share = 0.0
        line = share * c.line_current_limit
        if most < line:
            return most, "voltage"
        return line, "line current" if share == 1.0 else "low-voltage cutback"

    def electric(self, shaft_speed, rest, ohmic, wanted, phase_limit, resistance):
        """Bus voltage and currents together: (i_q, i_d, bus, line current, name of what held i_q below wanted)."""
        w, most = shaft_speed, 0.95 * rest / (2.0 * ohmic)
        if wanted <= phase_limit:  # the plain case in closed form: all that is wanted, no field weakening
            power = self.power(wanted, 0.0, w, resistance)
            square = rest * rest - 4.0 * ohmic * power
            if square >= 0.0:
                bus = 0.5 * (rest + math.sqrt(square))
                d, q, radius = self.disc(bus, w, resistance)
                if d * d + (wanted - q) ** 2 <= radius * radius and power / bus <= self.line_allows(bus, most)[0]:
                    return wanted, 0.0, bus, power / bus, None

        def currents(bus, wanted):
            disc = self.disc(bus, w, resistance)
            i_q, i_d, name = self.largest(disc, phase_limit)
            if wanted < i_q:
                return wanted, self.weakening(wanted, disc), None
            return i_q, i_d, name

        def balance(bus, wanted):
            i_q, i_d, _ = currents(bus, wanted)
            return bus * (rest - bus) - ohmic * self.power(i_q, i_d, w, resistance)

        half = 0.5 * rest
        if balance(half, wanted) > 0.0:
            bus = brentq(balance, half, rest, (wanted,), **self.fine)
            i_q, i_d, name = currents(bus, wanted)
            line = self.power(i_q, i_d, w, resistance) / bus
            if line <= self.line_allows(bus, most)[0]:
                return i_q, i_d, bus, line, name
        # the line limit holds: the bus voltage follows from it alone, and the current from the power it leaves
        bus = brentq(lambda u: rest - ohmic * self.line_allows(u, most)[0] - u, half, rest, **self.fine)
        line, name = self.line_allows(bus, most)
        top, top_d, _ = currents(bus, wanted)
        disc = self.disc(bus, w, resistance)

        def excess(i_q):
            return self.power(i_q, top_d if i_q == top else self.weakening(i_q, disc), w, resistance) - bus * line

        if excess(0.0) < 0.0:
            i_q = brentq(excess, 0.0, top, **self.fine) if excess(top) > 0.0 else top
            return i_q, self.weakening(i_q, disc), bus, line, name
        bus = brentq(balance, half, rest, (0.0,), **self.fine)  # no drive: the fixed loss is still fed
        i_q, i_d, _ = currents(bus, 0.0)
        return i_q, i_d, bus, self.power(i_q, i_d, w, resistance) / bus, name

    def electric_table(self, shaft_speed, rest, ohmic, wanted):
        """The same for a torque table: (torque, bus, line current, name)."""

        def power(torque):
            return torque * shaft_speed / self.motor.table_efficiency + self.controller.fixed_loss

        most = 0.95 * rest / (2.0 * ohmic)
        square = rest * rest - 4.0 * ohmic * power(wanted)
        if square >= 0.0:
            bus = 0.5 * (rest + math.sqrt(square))
            if power(wanted) / bus <= self.line_allows(bus, most)[0]:
                return wanted, bus, power(wanted) / bus, None
        bus = brentq(lambda u: rest - ohmic * self.line_allows(u, most)[0] - u, 0.5 * rest, rest, **self.fine)
        line, name = self.line_allows(bus, most)
        if bus * line > power(0.0):
            return (bus * line - power(0.0)) * self.motor.table_efficiency / shaft_speed, bus, line, name
        bus = 0.5 * (rest + math.sqrt(rest * rest - 4.0 * ohmic * power(0.0)))
        return 0.0, bus, power(0.0) / bus, name
