"""The operating point: at one speed and one battery state, what force, what current, which limit holds.

Bus voltage and line current depend on each other through the pack's resistance. They are solved together, never
one behind the other: see physics/current_plane.py.
"""

from dataclasses import dataclass

import numpy as np

from physics import bike, limits, load_transfer, motor
from physics.air import air_density
from physics.batch import Batch
from physics.controller import foldback, line_limit_current
from physics.current_plane import Plane, idle_point, solve_bus_voltage

SPEED_CAP_BAND = 0.02
"""Share of the speed cap over which drive fades out below it; common practice, no source."""

_FREE_DISC = 1e7


class Machine:
    """The constants of a batch that an operating point needs, worked out once; every array has shape (n,).

    Parameters
    ----------
    batch : Batch
        The builds.
    """

    def __init__(self, batch: Batch):
        b = batch
        self.count = len(b)
        self._set_motor(b)
        self._set_controller(b)
        self._set_road(b)

    def take(self, places) -> "Machine":
        """The constants of the builds at some places."""
        made = object.__new__(Machine)
        for name, value in vars(self).items():
            if isinstance(value, tuple):
                value = tuple(item[..., places] if isinstance(item, np.ndarray) else item for item in value)
            elif isinstance(value, np.ndarray):
                value = value[places]
            setattr(made, name, value)
        made.count = len(made.mass)
        return made

    def _set_motor(self, b):
        table = np.array([len(rows) > 0 for rows in b.torque_tables])
        self.has_table = table if table.any() else None
        kv_flux = motor.flux_linkage_per_pole_pair(b["motor.kv_rpm_per_volt"])
        self.back_emf = np.where(table, 2 / 3, kv_flux)  # p flux; 2/3 makes i_q read as torque
        self.pole_pairs = b["motor.pole_pairs"]
        self.flux = self.back_emf / self.pole_pairs
        self.resistance_20 = np.where(table, 0.0, b["motor.phase_resistance"])
        self.inductance = b["motor.phase_inductance"]
        self.iron_torque = np.where(table, 0.0, b["motor.iron_loss_torque"])
        self.iron_damping = np.where(table, 0.0, b["motor.iron_loss_damping"])
        self.shaft_gain = np.where(table, 1 / b["motor.table_efficiency"], 1.0)
        self.torque_per_ampere = 1.5 * self.back_emf
        self.winding_foldback = b["motor.winding_foldback_start"], b["motor.winding_temperature_maximum"]
        if self.has_table is not None:
            self.table_top, self.table = _stack_tables(b.torque_tables)

    def _set_controller(self, b):
        table = self.has_table if self.has_table is not None else False
        self.line_limit = b["controller.line_current_limit"]
        self.phase_limit = b["controller.phase_current_limit"]
        self.field_weakening = np.where(table, 0.0, b["controller.field_weakening_current"])
        self.any_field_weakening = bool((self.field_weakening > 0).any())
        self.voltage_share = b["controller.modulation"] / np.sqrt(3)
        if self.has_table is not None:
            self.voltage_share = np.where(table, _FREE_DISC, self.voltage_share)
        self.throttle = b["controller.throttle"]
        self.ramp_time = b["controller.throttle_ramp_time"]
        self.any_speed_cap = bool(np.isfinite(b["controller.speed_cap"]).any())
        self.speed_cap = np.minimum(b["controller.speed_cap"], 1e6)
        self.foldback_start = b["controller.foldback_start_voltage"]
        self.foldback_end = b["controller.foldback_end_voltage"]
        self.fixed_loss = b["controller.fixed_loss"]
        self.loss_per_ampere = np.where(table, 0.0, b["controller.loss_per_ampere"])
        self.loss_resistance = np.where(table, 0.0, b["controller.loss_resistance"])
        self.controller_foldback = b["controller.foldback_start_temperature"], b["controller.temperature_maximum"]
        both = zip(self.winding_foldback, self.controller_foldback, strict=True)
        self.heat_foldback = tuple(np.array(pair) for pair in both)  # start and end, each shape (2, n)

    def _set_road(self, b):
        ratio = b["driveline.primary_ratio"] * b["driveline.rear_teeth"] / b["driveline.front_teeth"]
        radius = b["bike.rolling_radius"]
        self.mass = b["bike.bike_mass"] + b["bike.rider_mass"]
        self.speed_ratio = ratio / radius  # motor rad/s per m/s, and force per torque
        self.efficiency = b["driveline.efficiency"]
        self.inertia = bike.equivalent_mass(
            self.mass, b["bike.wheel_inertia"], radius, b["motor.rotor_inertia"], ratio
        )
        density = air_density(
            b["conditions.air_temperature"], b["conditions.air_pressure"], b["conditions.humidity"]
        )
        self.drag_factor = 0.5 * density * b["bike.drag_area"]
        self.headwind = b["conditions.headwind"]
        slope = b["conditions.slope"]
        weight_on_road = self.mass * bike.STANDARD_GRAVITY * np.cos(slope)
        self.rolling_constant = weight_on_road * b["bike.rolling_coefficient"]
        self.rolling_squared = weight_on_road * b["bike.rolling_coefficient_speed_squared"]
        self.slope_force = bike.slope_force(self.mass, slope)
        stance = (
            b["bike.centre_of_gravity_to_rear_axle"],
            b["bike.centre_of_gravity_height"],
            b["bike.drag_height"],
            slope,
        )
        lift, lift_with_drag = load_transfer.wheelie_force_coefficients(self.mass, *stance)
        self.wheelie = np.where(b.hold_front_down, lift, np.inf), lift_with_drag, 1.0
        self.slip = _slip_force(self.mass, b["bike.wheelbase"], stance, b["bike.grip"])
        self.slip_lifted = b["bike.grip"] * weight_on_road  # with the front in the air the rear carries it all
        self.any_hold = bool(b.hold_front_down.any() or np.isfinite(self.slip[0]).any())


@dataclass
class OperatingPoint:
    """What happens at one instant; arrays broadcast from the builds' shape (n,). SI throughout."""

    voltage: np.ndarray
    line_current: np.ndarray
    quadrature: np.ndarray
    direct: np.ndarray
    drive_force: np.ndarray
    drag_force: np.ndarray
    rolling_force: np.ndarray
    iron_torque: np.ndarray
    shaft_torque: np.ndarray
    winding_resistance: np.ndarray
    acceleration: np.ndarray
    held_by_line: np.ndarray
    _parts: tuple

    def limit(self) -> np.ndarray:
        """The limit that holds, as places in `limits.LIMITS` (cut-out is named by the run)."""
        return _name_limit(*self._parts)


def operating_point(machine, speed, throttle, electromotive, resistance, winding, controller, guess):
    """Solve bus voltage, currents and force at given speeds.

    Parameters
    ----------
    machine : Machine
        The builds.
    speed : array, shape (..., n), m/s
        Road speed, zero or above.
    throttle : array, shape (n,)
        Throttle position, 0 to 1.
    electromotive : array, shape (n,), V
        Pack voltage at no current: open-circuit voltage less polarisation.
    resistance : array, shape (n,), ohm
        Ohmic part of the pack's resistance.
    winding, controller : array, shape (n,), K
        Temperatures.
    guess : array, shape (..., n), V
        Where to begin the search for the bus voltage.

    Returns
    -------
    OperatingPoint
        Arrays of the speed's shape. The residual of U = E - R I is below RESIDUAL_TOLERANCE x line limit x R.

    Examples
    --------
    >>> from physics.build import Bike, Build, Controller, Driveline, Motor, Pack
    >>> build = Build(
    ...     Pack(24, 26.0), Motor(60.0), Controller(200.0, 400.0), Driveline(12, 56), Bike(120.0, 75.0)
    ... )
    >>> machine, one = Machine(Batch.of(build)), np.ones(1)
    >>> point = operating_point(machine, 10 * one, one, 96 * one, 0.05 * one, 293 * one, 293 * one, 96 * one)
    >>> bool(abs(96 - 0.05 * point.line_current[0] - point.voltage[0]) < 1e-6)
    True
    >>> limits.LIMITS[point.limit()[0]]
    'phase current'
    """
    m = machine
    motor_speed = speed * m.speed_ratio
    drag = m.drag_factor * (speed + m.headwind) * np.abs(speed + m.headwind)
    rolling = m.rolling_constant + m.rolling_squared * speed * speed
    iron = motor.iron_loss_drag_torque(m.iron_torque, m.iron_damping, motor_speed)
    request = _Request(m, speed, motor_speed, throttle, winding, controller, drag, rolling, iron)
    winding_resistance = motor.winding_resistance(m.resistance_20, winding)
    plane = Plane(m, motor_speed, winding_resistance, request)

    line, folding, starved = line_limit_current(
        electromotive, resistance, m.line_limit, m.foldback_start, m.foldback_end
    )
    lowest = electromotive - resistance * line
    voltage, power = solve_bus_voltage(plane, electromotive, resistance, line, lowest, guess, m.line_limit)
    held_by_line = (voltage <= lowest) & (power >= line * lowest)
    current = np.where(held_by_line, line, power / voltage)
    quadrature, direct = plane.quadrature, plane.direct
    if held_by_line.any():
        limited = plane.for_power(lowest * line, held_by_line)
        quadrature = np.where(held_by_line, limited[0], quadrature)
        direct = np.where(held_by_line, limited[1], direct)
        idle = held_by_line & (plane.idle_power() > lowest * line)
        if idle.any():
            given = [np.broadcast_to(each, idle.shape)[idle] for each in (electromotive, resistance, m.line_limit)]
            direct = np.array(np.broadcast_to(direct, idle.shape))
            voltage[idle], current[idle], direct[idle] = idle_point(plane.pick(idle), *given)

    shaft = m.torque_per_ampere * quadrature - iron
    force = shaft * m.speed_ratio * np.where(shaft >= 0, m.efficiency, 1 / m.efficiency)
    acceleration = (force - drag - rolling - m.slope_force) / m.inertia
    return OperatingPoint(
        voltage, current, quadrature, direct, force, drag, rolling, iron, shaft, winding_resistance, acceleration,
        held_by_line, (m, request, plane, held_by_line, folding, starved),
    )  # fmt: skip


def coasting_acceleration(machine, speed):
    """Acceleration with no current: drag, rolling resistance, slope and iron loss alone.

    Parameters
    ----------
    machine : Machine
        The builds.
    speed : array, shape (n,), m/s
        Road speed.

    Returns
    -------
    array, shape (n,), m/s2
        Zero or negative on the level.

    Examples
    --------
    >>> from physics.build import Bike, Build, Controller, Driveline, Motor, Pack
    >>> build = Build(
    ...     Pack(24, 26.0), Motor(60.0), Controller(200.0, 400.0), Driveline(12, 56), Bike(120.0, 75.0)
    ... )
    >>> float(coasting_acceleration(Machine(Batch.of(build)), np.array([0.0]))[0].round(2))
    -0.14
    """
    m = machine
    drag = m.drag_factor * (speed + m.headwind) * np.abs(speed + m.headwind)
    rolling = m.rolling_constant + m.rolling_squared * speed * speed
    iron = motor.iron_loss_drag_torque(m.iron_torque, m.iron_damping, speed * m.speed_ratio)
    return -(drag + rolling + m.slope_force + iron * m.speed_ratio / m.efficiency) / m.inertia


class _Request:
    """The i_q that throttle, heat, speed cap, front wheel and rear grip together ask for."""

    def __init__(self, m, speed, motor_speed, throttle, winding, controller, drag, rolling, iron):
        self.throttle = throttle
        self.winding_share, self.controller_share = foldback(np.array([winding, controller]), *m.heat_foldback)
        share = np.minimum(self.winding_share, self.controller_share)
        phase_limit = m.phase_limit
        if m.has_table is not None:
            phase_limit = np.where(m.has_table, _table_torque(m, motor_speed), phase_limit)
        self.share = share
        self.phase_limit = share * phase_limit
        self.cap_share = None
        wanted = throttle * self.phase_limit
        if m.any_speed_cap:
            left = (m.speed_cap - speed) / (SPEED_CAP_BAND * m.speed_cap)
            self.cap_share = np.minimum(np.maximum(left, 0.0), 1.0)
            wanted = wanted * self.cap_share
        self.before_wheels = wanted
        self.front = self.rear = None
        if m.any_hold:
            per_force = 1 / (m.speed_ratio * m.efficiency)
            self.front = ((m.wheelie[0] + m.wheelie[1] * drag + m.wheelie[2] * rolling) * per_force + iron) / (
                m.torque_per_ampere
            )
            slip = np.minimum(m.slip[0] + m.slip[1] * drag + m.slip[2] * rolling, m.slip_lifted)
            self.rear = (slip * per_force + iron) / m.torque_per_ampere
            wanted = np.maximum(np.minimum(np.minimum(wanted, self.front), self.rear), 0.0)
        self.wanted = wanted


def _name_limit(m, request, plane, held_by_line, folding, starved):
    heat = np.where(
        request.share < 1,
        np.where(request.winding_share <= request.controller_share, limits.WINDING_HEAT, limits.CONTROLLER_HEAT),
        limits.PHASE_CURRENT,
    )
    met = np.where(request.throttle < 1, limits.THROTTLE, heat)
    if request.cap_share is not None:
        met = np.where(_present(request.cap_share) < 1, limits.SPEED_CAP, met)
    if request.front is not None:
        wanted, before = _present(request.wanted), _present(request.before_wheels)
        rear, front = _present(request.rear), _present(request.front)
        met = np.where(wanted < before, np.where(rear < front, limits.REAR_GRIP, limits.FRONT_WHEEL), met)
    if plane.both_bind is None:
        unmet = np.full(heat.shape, limits.VOLTAGE)
    else:
        at_bound = (plane.field_weakening > 0) & (_present(plane.centre_d) < -plane.field_weakening)
        unmet = np.where(at_bound, limits.FIELD_WEAKENING, limits.VOLTAGE)
        unmet = np.where(_present(plane.both_bind), heat, unmet)
    line = np.where(starved, limits.VOLTAGE, np.where(folding, limits.LOW_VOLTAGE_FOLDBACK, limits.LINE_CURRENT))
    return np.where(_present(held_by_line), line, np.where(_present(plane.met), met, unmet))


def _present(values):
    """The row of the present speed, where there is a second one for the speed ahead."""
    return values[0] if np.ndim(values) > 1 else values


def _slip_force(mass, wheelbase, stance, grip):
    """Coefficients of 1, drag and rolling resistance in the force at which the rear slips; infinite grip is off."""
    held = np.isfinite(grip)
    real = np.where(held, grip, 0.0)
    alone, with_drag = load_transfer.rear_slip_force_coefficients(mass, wheelbase, *stance, real)
    with_rolling = load_transfer.rear_slip_force_coefficients(mass, wheelbase, *stance, real, 1.0)[0]
    rolling = np.where(np.isfinite(alone), with_rolling - np.where(np.isfinite(alone), alone, 0.0), 0.0)
    return np.where(held, alone, np.inf), with_drag, rolling


def _stack_tables(tables, points: int = 2001):
    """Torque tables on one uniform grid each: the top speed (n,) and torque (n, points)."""
    top = np.array([rows[-1][0] if rows else 1.0 for rows in tables])
    torque = np.zeros((len(tables), points))
    known: dict = {}
    for place, rows in enumerate(tables):
        if rows:
            if rows not in known:
                speed, value = np.array(rows, dtype=float).T
                known[rows] = np.interp(np.linspace(0, top[place], points), speed, value)
            torque[place] = known[rows]
    return top, torque


def _table_torque(m, motor_speed):
    place = np.clip(motor_speed / m.table_top, 0.0, 1.0) * (m.table.shape[1] - 1)
    lower = np.minimum(place.astype(int), m.table.shape[1] - 2)
    rows = np.arange(m.count)
    low, high = m.table[rows, lower], m.table[rows, lower + 1]
    return low + (place - lower) * (high - low)
