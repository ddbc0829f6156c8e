"""The operating point: at one speed and one battery state, what force, what current, which limit holds.

Bus voltage and line current depend on each other through the pack's resistance. They are solved together, never
one behind the other: see physics/simulation/power_flow.py.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from physics import limits
from physics.components import motor, road_load
from physics.components.controller import foldback, line_limit_current
from physics.simulation.dq_plane import PHASE_CIRCLE, Flow, Plane
from physics.simulation.machine import Machine
from physics.simulation.own_current import at_own_current
from physics.simulation.power_flow import solve_flow

SPEED_CAP_TIME = 0.05
"""Time constant, s, with which a controller brings the bike to its speed cap: it lets it gain no more than what is
left to the cap over this time. Short enough that the cap is held, not approached; common practice, no source."""


@dataclass
class OperatingPoint:
    """What happens at one instant; arrays broadcast from the builds' shape (n,). SI throughout.

    `slope` is the acceleration's change with speed, battery and temperatures staying as they are, 1/s, and
    `slope_of_drive` that part of it which comes of a current that moves while flux, inductance and slip stay;
    `limit` the index in LIMITS of the limit that holds (cut-out is named by the run).
    """

    voltage: np.ndarray
    line_current: np.ndarray
    i_q: np.ndarray
    i_d: np.ndarray
    drive_force: np.ndarray
    drag_force: np.ndarray
    rolling_force: np.ndarray
    iron_torque: np.ndarray
    air_gap_torque: np.ndarray
    motor_speed: np.ndarray
    winding_resistance: np.ndarray
    acceleration: np.ndarray
    slope: np.ndarray
    slope_of_drive: np.ndarray
    held_by_line: np.ndarray
    limit: np.ndarray


def operating_point(
    machine: Machine,
    speed: Any,
    throttle: np.ndarray,
    source_voltage: np.ndarray,
    resistance: np.ndarray,
    winding: np.ndarray,
    controller: np.ndarray,
    guess: Any = None,
    magnets: np.ndarray | None = None,
) -> OperatingPoint:
    """Solve bus voltage, currents and force at given speeds.

    Parameters
    ----------
    machine : Machine
        The builds.
    speed : array, shape (..., n), m/s
        Road speed, zero or above.
    throttle : array, shape (n,)
        Throttle position, 0 to 1.
    source_voltage : array, shape (n,), V
        Pack voltage at no current: open-circuit voltage less polarisation.
    resistance : array, shape (n,), ohm
        Ohmic part of the pack's resistance.
    winding, controller : array, shape (n,), K
        Temperatures.
    guess : tuple of arrays, shape (..., n), A, optional
        i_q and i_d to begin the search at, such as those of a moment before.
    magnets : array, shape (n,), K, optional
        Temperature of the magnets; the winding's if not given, as in a motor that has stood.

    Returns
    -------
    OperatingPoint
        Arrays of the speed's shape. The residual of U = E - R I is below RESIDUAL_TOLERANCE x line limit x R.

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.build.batch import Batch
    >>> machine, one = Machine(Batch.of(example_build())), np.ones(1)
    >>> point = operating_point(machine, 10 * one, one, 96 * one, 0.05 * one, 293 * one, 293 * one)
    >>> bool(abs(96 - 0.05 * point.line_current[0] - point.voltage[0]) < 1e-6)
    True
    >>> limits.LIMITS[point.limit[0]]
    'phase current'
    """
    m = machine
    if m.any_magnets:
        m = m.scaled(motor.magnet_share(m.magnet_weakening, winding if magnets is None else magnets))
    line = line_limit_current(source_voltage, resistance, m.line_limit, m.foldback_start, m.foldback_end)
    road, given = Road(m, speed), (throttle, source_voltage, resistance, line, winding, controller)
    if not m.depends_on_current:
        return _Drive(m, road, speed, *given, guess).point()
    most, i_d = m.most_current + np.zeros(speed.shape), None

    def drive(current: np.ndarray) -> _Drive:
        nonlocal i_d
        one, shape = m.at_current(current, road.held), current.shape
        slipping = Road(one, speed) if m.any_slip else road
        near = guess if i_d is None else (current, i_d)
        made = _Drive(one, slipping, np.broadcast_to(speed, shape), *given, near)
        i_d = made.flow.i_d if shape == speed.shape else made.flow.i_d[0]
        return made

    found, fall = at_own_current(drive, np.zeros(speed.shape) if guess is None else guess[0], most)
    point = found.point()
    # the current moves with speed by more than where flux, inductance and slip stay, and the torque as (flux i)'
    flux = motor.saturation_share(point.i_q, m.saturation_current)
    point.slope += point.slope_of_drive * (flux * flux / fall - 1)
    return point


class _Drive:
    """What flows in machines whose constants stay what they are."""

    def __init__(
        self,
        m: Machine,
        road: "Road",
        speed: Any,
        throttle: np.ndarray,
        source_voltage: np.ndarray,
        resistance: np.ndarray,
        line: tuple[np.ndarray, np.ndarray, np.ndarray],
        winding: np.ndarray,
        controller: np.ndarray,
        guess: Any,
    ) -> None:
        self.m, self.road, self.line = m, road, line
        self.request = request = _Request(m, road, throttle, winding, controller)
        winding_resistance = motor.winding_resistance(m.resistance_20, winding)
        if m.any_eddies:
            winding_resistance = winding_resistance * motor.eddy_factor(road.motor_speed, m.eddy_speed)
        self.winding_resistance = winding_resistance
        flow = solve_flow(
            Plane.at_speed(m, speed, winding_resistance, request, source_voltage, resistance, line[0], guess)
        )
        if speed.ndim > 1:
            flow = Flow(*[values.reshape(speed.shape) for values in vars(flow).values()])
        self.flow, self.i_q = flow, flow.i_q

    def point(self) -> OperatingPoint:
        """The operating point that comes of it."""
        m, road, flow = self.m, self.road, self.flow
        air_gap = m.torque_per_ampere * flow.i_q
        shaft = air_gap - road.held
        per_torque = np.where(shaft >= 0.0, m.force_per_torque, m.braking_per_torque)
        force = shaft * per_torque
        acceleration = (force - road.drag - road.rolling - m.slope_force) / m.inertia
        slope_of_drive = m.torque_per_ampere * flow.rate * per_torque / m.inertia
        slope = slope_of_drive - (road.held_rate * per_torque + road.drag_rate + road.rolling_rate) / m.inertia
        return OperatingPoint(
            flow.voltage, flow.current, flow.i_q, flow.i_d, force, road.drag, road.rolling, road.iron, air_gap,
            road.motor_speed, self.winding_resistance, acceleration, slope, slope_of_drive, flow.held_by_line,
            _name_limit(self.request, flow, *self.line[1:]),
        )  # fmt: skip


class Road:
    """Drag, rolling resistance, and the torque that iron and chain hold back, at given speeds; how they change."""

    def __init__(self, m: Machine, speed: Any) -> None:
        self.speed, self.motor_speed = speed, speed * m.turns_per_speed
        self.drag, self.drag_rate = road_load.drag_force(m.drag_factor, speed + m.headwind)
        self.rolling, self.rolling_rate = road_load.rolling_force(m.rolling_constant, m.rolling_squared, speed)
        fading = np.minimum(self.motor_speed, 1.0)  # below 1 rad/s, see `motor.iron_loss_drag_torque`
        damping = m.iron_damping * self.motor_speed
        self.iron, self.held = m.iron_torque * fading + damping, m.held_torque * fading + damping
        self.held_rate = (m.iron_damping + m.held_torque * (self.motor_speed < 1.0)) * m.speed_ratio


class _Request:
    """The i_q that throttle, heat, speed cap, front wheel and rear grip together ask for, and how it changes."""

    def __init__(
        self, m: Machine, road: "Road", throttle: np.ndarray, winding: np.ndarray, controller: np.ndarray
    ) -> None:
        self.throttle = throttle
        self.shares: np.ndarray | None = None
        heated = np.array([winding, controller])
        phase_limit, rate = m.phase_limit, m.nothing
        if m.has_table is not None:
            phase_limit, rate = _with_tables(m, road.motor_speed)
        if np.count_nonzero(heated > m.heat_start):
            self.shares = foldback(heated, m.heat_start, m.heat_end)
            left = self.shares.min(axis=0)
            phase_limit, rate = left * phase_limit, left * rate
        self.phase_limit = phase_limit
        wanted, rate = throttle * phase_limit, throttle * rate
        self.capped: np.ndarray | None = None
        if m.any_speed_cap:
            wanted, rate = self._hold_cap(m, road, wanted, rate)
        self.before_wheels = wanted
        self.front: np.ndarray | None = None
        if m.any_hold:
            self._keep_wheels_down(m, road, wanted, rate)
        else:
            self.wanted, self.rate = wanted, rate

    def _hold_cap(self, m: Machine, road: "Road", wanted: np.ndarray, rate: Any) -> tuple[np.ndarray, np.ndarray]:
        """At most the current with which dv/dt = (cap - v) / SPEED_CAP_TIME; at the cap it holds the speed."""
        pushing = m.inertia / SPEED_CAP_TIME
        force = road.drag + road.rolling + m.slope_force + pushing * (m.speed_cap - road.speed)
        per_force = np.where(force > 0, m.per_force, m.per_braking_force)
        current = (force * per_force + road.held) / m.torque_per_ampere
        current_rate = (road.drag_rate + road.rolling_rate - pushing) * per_force + road.held_rate
        self.capped = current < wanted
        rate = np.where(self.capped, np.where(current > 0, current_rate / m.torque_per_ampere, 0.0), rate)
        return np.where(self.capped, np.maximum(current, 0.0), wanted), rate

    def _keep_wheels_down(self, m: Machine, road: "Road", wanted: np.ndarray, rate: Any) -> None:
        def current(force: np.ndarray) -> np.ndarray:
            return (force * m.per_force + road.held) / m.torque_per_ampere

        def current_rate(coefficients: np.ndarray) -> np.ndarray:
            force_rate = coefficients[1] * road.drag_rate + coefficients[2] * road.rolling_rate
            return (force_rate * m.per_force + road.held_rate) / m.torque_per_ampere

        self.front = front = current(m.wheelie[0] + m.wheelie[1] * road.drag + m.wheelie[2] * road.rolling)
        slip = m.slip[0] + m.slip[1] * road.drag + m.slip[2] * road.rolling
        lifted = m.slip_lifted[0] + m.slip_lifted[1] * road.drag + m.slip_lifted[2] * road.rolling
        self.rear = current(np.minimum(slip, lifted))
        least = np.minimum(wanted, np.minimum(front, self.rear))
        self.wanted = np.maximum(least, 0.0)
        by_wheel = least < wanted
        if np.count_nonzero(by_wheel):
            rear_rate = np.where(slip < lifted, current_rate(m.slip), current_rate(m.slip_lifted))
            by_wheels = np.where(self.rear < front, rear_rate, current_rate(m.wheelie))
            rate = np.where(by_wheel, np.where(least > 0, by_wheels, 0.0), rate)
        self.rate = rate


def _name_limit(request: "_Request", flow: Flow, folding: np.ndarray, starved: np.ndarray) -> np.ndarray:
    heat: Any = limits.PHASE_CURRENT
    if request.shares is not None:
        winding, controller = request.shares
        hottest = np.where(winding <= controller, limits.WINDING_HEAT, limits.CONTROLLER_HEAT)
        heat = np.where(np.minimum(winding, controller) < 1, hottest, heat)
    met = np.where(request.throttle < 1, limits.THROTTLE, heat)
    if request.capped is not None:
        met = np.where(request.capped, limits.SPEED_CAP, met)
    if request.front is not None:
        wheel = np.where(request.rear < request.front, limits.REAR_GRIP, limits.FRONT_WHEEL)
        met = np.where(request.wanted < request.before_wheels, wheel, met)
    if np.count_nonzero(flow.met) == flow.met.size:
        return met + np.zeros(flow.met.shape, dtype=int)
    name = np.where(flow.met, met, np.where(flow.unmet == PHASE_CIRCLE, heat, flow.unmet))
    if np.count_nonzero(flow.held_by_line):
        line = np.where(folding, limits.LOW_VOLTAGE_CUTBACK, limits.LINE_CURRENT)
        name = np.where(flow.held_by_line, np.where(starved, limits.VOLTAGE, line), name)
    return name


def _with_tables(m: Machine, motor_speed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
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
