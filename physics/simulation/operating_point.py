"""The operating point: at one speed and one battery state, what force, what current, which limit holds.

Bus voltage and line current depend on each other through the pack's resistance. They are solved together, never
one behind the other: see physics/simulation/power_flow.py.
"""

from dataclasses import dataclass

import numpy as np

from physics import limits
from physics.build.batch import Batch
from physics.components import load_transfer, motor, road_load
from physics.components.air import air_density
from physics.components.controller import foldback, line_limit_current
from physics.simulation.dq_plane import PHASE_DISC, Plane
from physics.simulation.power_flow import solve_flow
from physics.simulation.rows import Constants

SPEED_CAP_BAND = 0.02
"""Share of the speed cap over which drive fades out below it; common practice, no source."""

_FREE_DISC = 1e7


class Machine(Constants):
    """The constants of a batch that an operating point needs, worked out once; every array has shape (n,).

    Parameters
    ----------
    batch : Batch
        The builds.
    """

    SHARED = ("tables",)

    def __init__(self, batch: Batch):
        self._set_road(batch)
        self._set_motor(batch)
        self._set_controller(batch)
        self._settle()

    @property
    def count(self) -> int:
        """How many builds."""
        return len(self.mass)

    def _set_motor(self, b):
        table = np.array([len(rows) > 0 for rows in b.torque_tables])
        self.has_table = table if table.any() else None
        kv_flux = motor.flux_linkage_per_pole_pair(b["motor.kv_rpm_per_volt"])
        self.back_emf = np.where(table, 2 / 3, kv_flux)  # p flux; 2/3 makes i_q read as torque
        self.pole_pairs = b["motor.pole_pairs"]
        self.flux = self.back_emf / self.pole_pairs
        self.resistance_20 = np.where(table, 0.0, b["motor.phase_resistance"])
        self.inductance = b["motor.phase_inductance"]
        ratio = self.speed_ratio * self.pole_pairs
        self.reactance_per_speed = ratio * self.inductance  # ohm, per m/s on the road
        self.back_emf_per_speed = ratio * self.flux  # V of one phase
        self.iron_torque = np.where(table, 0.0, b["motor.iron_loss_torque"])
        self.iron_damping = np.where(table, 0.0, b["motor.iron_loss_damping"])
        self.shaft_gain = np.where(table, 1 / b["motor.table_efficiency"], 1.0)
        torque_constant = motor.torque_constant(b["motor.kv_rpm_per_volt"])
        self.torque_per_ampere = np.where(table, 1.0, torque_constant)  # a table's i_q reads as torque
        self.shaft_per_speed = self.torque_per_ampere * self.speed_ratio * self.shaft_gain  # W per A
        self.winding_foldback = np.array(
            [b["motor.winding_foldback_start"], b["motor.winding_temperature_maximum"]]
        )
        if self.has_table is not None:
            self.table_top, self.table_row, self.tables = _stack_tables(b.torque_tables)

    def _set_controller(self, b):
        table = self.has_table if self.has_table is not None else False
        self.line_limit = b["controller.line_current_limit"]
        self.phase_limit = b["controller.phase_current_limit"]
        self.field_weakening = np.where(table, 0.0, b["controller.field_weakening_current"])
        self.voltage_share = b["controller.modulation"] / np.sqrt(3)
        if self.has_table is not None:
            self.voltage_share = np.where(table, _FREE_DISC, self.voltage_share)
        self.throttle = b["controller.throttle"]
        self.ramp_time = b["controller.throttle_ramp_time"]
        self.ramp_end = self.throttle * self.ramp_time
        self.any_speed_cap = bool(np.isfinite(b["controller.speed_cap"]).any())
        self.speed_cap = np.minimum(b["controller.speed_cap"], 1e6)
        self.foldback_start = b["controller.foldback_start_voltage"]
        self.foldback_end = b["controller.foldback_end_voltage"]
        self.fixed_loss = b["controller.fixed_loss"]
        self.loss_per_ampere = np.where(table, 0.0, b["controller.loss_per_ampere"])
        self.loss_resistance = np.where(table, 0.0, b["controller.loss_resistance"])
        self.controller_foldback = np.array(
            [b["controller.foldback_start_temperature"], b["controller.temperature_maximum"]]
        )
        both = zip(self.winding_foldback, self.controller_foldback, strict=True)
        self.heat_start, self.heat_end = (np.array(pair) for pair in both)  # winding, controller

    def _set_road(self, b):
        ratio = b["driveline.primary_ratio"] * b["driveline.rear_teeth"] / b["driveline.front_teeth"]
        radius = b["bike.rolling_radius"]
        self.mass = b["bike.bike_mass"] + b["bike.rider_mass"]
        self.nothing = np.zeros(len(b))
        self.speed_ratio = ratio / radius  # motor rad/s per m/s, and force per torque
        self.efficiency = b["driveline.efficiency"]
        self.inertia = road_load.equivalent_mass(
            self.mass, b["bike.wheel_inertia"], radius, b["motor.rotor_inertia"], ratio
        )
        density = air_density(
            b["conditions.air_temperature"], b["conditions.air_pressure"], b["conditions.humidity"]
        )
        self.drag_factor = road_load.drag_factor(density, b["bike.drag_area"])
        self.headwind = b["conditions.headwind"]
        slope = b["conditions.slope"]
        weight_on_road = road_load.normal_load(self.mass, slope)
        self.rolling_constant = weight_on_road * b["bike.rolling_coefficient"]
        self.rolling_squared = weight_on_road * b["bike.rolling_coefficient_speed_squared"]
        self.slope_force = road_load.slope_force(self.mass, slope)
        stance = b.stance()
        lift = load_transfer.front_load_limit(stance)
        self.wheelie = np.array(lift._replace(constant=np.where(b.hold_front_down, lift.constant, np.inf)))
        self.slip = np.array(load_transfer.rear_slip_limit(stance, b["bike.grip"]))
        self.slip_lifted = b["bike.grip"] * weight_on_road  # with the front in the air the rear carries it all
        self.per_force = 1 / (self.speed_ratio * self.efficiency)
        self.any_hold = bool(b.hold_front_down.any() or np.isfinite(self.slip[0]).any())


@dataclass
class OperatingPoint:
    """What happens at one instant; arrays broadcast from the builds' shape (n,). SI throughout.

    `slope` is the acceleration's change with speed, battery and temperatures staying as they are, 1/s.
    """

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
    slope: np.ndarray
    held_by_line: np.ndarray
    _parts: tuple

    def limit(self) -> np.ndarray:
        """The limit that holds, as places in `limits.LIMITS` (cut-out is named by the run)."""
        return _name_limit(*self._parts)


def operating_point(machine, speed, throttle, electromotive, resistance, winding, controller, near=None):
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
    near : tuple of arrays, shape (..., n), A, optional
        i_q and i_d to begin the search at, such as those of a moment before.

    Returns
    -------
    OperatingPoint
        Arrays of the speed's shape. The residual of U = E - R I is below RESIDUAL_TOLERANCE x line limit x R.

    Examples
    --------
    >>> from physics.build import example_build
    >>> machine, one = Machine(Batch.of(example_build())), np.ones(1)
    >>> point = operating_point(machine, 10 * one, one, 96 * one, 0.05 * one, 293 * one, 293 * one)
    >>> bool(abs(96 - 0.05 * point.line_current[0] - point.voltage[0]) < 1e-6)
    True
    >>> limits.LIMITS[point.limit()[0]]
    'phase current'
    """
    m = machine
    road = Road(m, speed)
    request = _Request(m, road, throttle, winding, controller)
    winding_resistance = motor.winding_resistance(m.resistance_20, winding)
    line, folding, starved = line_limit_current(
        electromotive, resistance, m.line_limit, m.foldback_start, m.foldback_end
    )
    flow = solve_flow(Plane.at_speed(m, speed, winding_resistance, request, electromotive, resistance, line, near))
    if speed.ndim > 1:
        flow = flow.shaped(speed.shape)
    shaft = m.torque_per_ampere * flow.quadrature - road.iron
    per_torque = m.speed_ratio * np.where(shaft >= 0, m.efficiency, 1 / m.efficiency)
    force = shaft * per_torque
    acceleration = (force - road.drag - road.rolling - m.slope_force) / m.inertia
    rise = (m.torque_per_ampere * flow.rate - road.iron_rate) * per_torque
    slope = (rise - road.drag_rate - road.rolling_rate) / m.inertia
    return OperatingPoint(
        flow.voltage, flow.current, flow.quadrature, flow.direct, force, road.drag, road.rolling, road.iron, shaft,
        winding_resistance, acceleration, slope, flow.held_by_line, (m, request, flow, folding, starved),
    )  # fmt: skip


class Road:
    """Drag, rolling resistance and the motor's iron loss at given speeds, and how each changes with speed."""

    def __init__(self, m, speed):
        self.speed, self.motor_speed = speed, speed * m.speed_ratio
        self.drag, self.drag_rate = road_load.drag_force(m.drag_factor, speed + m.headwind)
        self.rolling, self.rolling_rate = road_load.rolling_force(m.rolling_constant, m.rolling_squared, speed)
        self.iron = motor.iron_loss_drag_torque(m.iron_torque, m.iron_damping, self.motor_speed)
        self.iron_rate = (m.iron_damping + m.iron_torque * (self.motor_speed < 1)) * m.speed_ratio


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
    >>> from physics.build import example_build
    >>> float(coasting_acceleration(Machine(Batch.of(example_build())), np.array([0.0]))[0].round(2))
    -0.14
    """
    m, road = machine, Road(machine, speed)
    back = road.drag + road.rolling + m.slope_force + road.iron * m.speed_ratio / m.efficiency
    return -back / m.inertia


class _Request:
    """The i_q that throttle, heat, speed cap, front wheel and rear grip together ask for, and how it changes."""

    def __init__(self, m, road, throttle, winding, controller):
        self.throttle, self.shares = throttle, None
        heated = np.array([winding, controller])
        phase_limit, rate = m.phase_limit, m.nothing
        if m.has_table is not None:
            phase_limit, rate = _with_tables(m, road.motor_speed)
        if np.count_nonzero(heated > m.heat_start):
            self.shares = foldback(heated, m.heat_start, m.heat_end)
            share = self.shares.min(axis=0)
            phase_limit, rate = share * phase_limit, share * rate
        self.phase_limit = phase_limit
        wanted, rate = throttle * phase_limit, throttle * rate
        self.cap_share = None
        if m.any_speed_cap:
            band = SPEED_CAP_BAND * m.speed_cap
            left = (m.speed_cap - road.speed) / band
            self.cap_share = np.minimum(np.maximum(left, 0.0), 1.0)
            rate = self.cap_share * rate - np.where((left > 0) & (left < 1), wanted / band, 0.0)
            wanted = wanted * self.cap_share
        self.before_wheels = wanted
        self.front = None
        if m.any_hold:
            self._keep_wheels_down(m, road, wanted, rate)
        else:
            self.wanted, self.rate = wanted, rate

    def _keep_wheels_down(self, m, road, wanted, rate):
        def current(force):
            return (force * m.per_force + road.iron) / m.torque_per_ampere

        def current_rate(coefficients):
            force_rate = coefficients[1] * road.drag_rate + coefficients[2] * road.rolling_rate
            return (force_rate * m.per_force + road.iron_rate) / m.torque_per_ampere

        self.front = current(m.wheelie[0] + m.wheelie[1] * road.drag + m.wheelie[2] * road.rolling)
        slip = m.slip[0] + m.slip[1] * road.drag + m.slip[2] * road.rolling
        self.rear = current(np.minimum(slip, m.slip_lifted))
        least = np.minimum(wanted, np.minimum(self.front, self.rear))
        self.wanted = np.maximum(least, 0.0)
        by_wheel = least < wanted
        if np.count_nonzero(by_wheel):
            rear_rate = np.where(slip < m.slip_lifted, current_rate(m.slip), road.iron_rate / m.torque_per_ampere)
            by_wheels = np.where(self.rear < self.front, rear_rate, current_rate(m.wheelie))
            rate = np.where(by_wheel, np.where(least > 0, by_wheels, 0.0), rate)
        self.rate = rate


def _name_limit(m, request, flow, folding, starved):
    heat = limits.PHASE_CURRENT
    if request.shares is not None:
        winding, controller = request.shares
        hottest = np.where(winding <= controller, limits.WINDING_HEAT, limits.CONTROLLER_HEAT)
        heat = np.where(np.minimum(winding, controller) < 1, hottest, heat)
    met = np.where(request.throttle < 1, limits.THROTTLE, heat)
    if request.cap_share is not None:
        met = np.where(request.cap_share < 1, limits.SPEED_CAP, met)
    if request.front is not None:
        wheel = np.where(request.rear < request.front, limits.REAR_GRIP, limits.FRONT_WHEEL)
        met = np.where(request.wanted < request.before_wheels, wheel, met)
    if np.count_nonzero(flow.met) == flow.met.size:
        return met + np.zeros(flow.met.shape, dtype=int)
    name = np.where(flow.met, met, np.where(flow.unmet == PHASE_DISC, heat, flow.unmet))
    if np.count_nonzero(flow.held_by_line):
        line = np.where(folding, limits.LOW_VOLTAGE_FOLDBACK, limits.LINE_CURRENT)
        name = np.where(flow.held_by_line, np.where(starved, limits.VOLTAGE, line), name)
    return name


def _stack_tables(tables, points: int = 2001):
    """Torque tables on one uniform grid each: the top speed (n,), the row of each build (n,), the rows."""
    top = np.array([rows[-1][0] if rows else 1.0 for rows in tables])
    known = {rows: place for place, rows in enumerate(dict.fromkeys(tables))}
    torque = np.zeros((len(known), points))
    for rows, place in known.items():
        if rows:
            speed, value = np.array(rows, dtype=float).T
            torque[place] = np.interp(np.linspace(0, speed[-1], points), speed, value)
    return top, np.array([known[rows] for rows in tables]), torque


def _with_tables(m, motor_speed):
    """The phase limit, which for a torque table is its torque, and how it changes with road speed."""
    limit, rate = np.zeros(motor_speed.shape) + m.phase_limit, np.zeros(motor_speed.shape)
    some = m.has_table.nonzero()[0]
    most = m.tables.shape[1] - 1
    share = motor_speed[..., some] / m.table_top[some]
    place = np.minimum(np.maximum(share, 0.0), 1.0) * most
    lower = np.minimum(place.astype(int), most - 1)
    low, high = m.tables[m.table_row[some], lower], m.tables[m.table_row[some], lower + 1]
    limit[..., some] = low + (place - lower) * (high - low)
    steep = np.where(share < 1, (high - low) * most / m.table_top[some], 0.0)
    rate[..., some] = steep * m.speed_ratio[some]
    return limit, rate
