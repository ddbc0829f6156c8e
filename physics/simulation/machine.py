"""The constants of a batch that an operating point needs."""

from typing import Any, Self

import numpy as np

from physics.build.batch import Batch
from physics.components import chain, load_transfer, motor, road_load, tyre
from physics.components.air import air_density
from physics.simulation.per_build import PerBuild

_FREE_CIRCLE = 1e7
"""Voltage, as a fraction of the bus voltage, that stands for no voltage limit."""


class Machine(PerBuild):
    """The constants of a batch that an operating point needs, worked out once; every array has shape (n,).

    Parameters
    ----------
    batch : Batch
        The builds.
    """

    SHARED = ("tables",)

    def __init__(self, batch: Batch) -> None:
        self._set_road(batch)
        self._set_motor(batch)
        self._set_controller(batch)

    @property
    def count(self) -> int:
        """How many builds."""
        return len(self.mass)

    def scaled(self, flux: Any, inductance: Any = 1.0, turns: Any = 1.0) -> Self:
        """The same machines at another flux and inductance, as shares of those when cold, at little current.

        `turns` is how much the motor turns over what it would if the tyre did not slip.
        """
        one = object.__new__(type(self))
        vars(one).update(vars(self))  # a tenth of the time of copy.copy
        one.torque_per_ampere = self.torque_per_ampere * flux
        one.back_emf_per_speed = self.back_emf_per_speed * flux * turns
        one.reactance_per_speed = self.reactance_per_speed * inductance * turns
        one.turns_per_speed = self.turns_per_speed * turns
        one.shaft_per_speed = self.shaft_per_speed * flux * turns
        return one

    def current_for(self, force: Any, speed: Any, magnets: Any) -> np.ndarray:
        """Torque current that a drive force of zero or more needs, A: the chain of the drive read backwards.

        Parameters
        ----------
        force : array, N
            At the road.
        speed : array, m/s
        magnets : array, shape (n,), K
            Temperature of the magnets.
        """
        iron = motor.iron_loss_drag_torque(self.held_torque, self.iron_damping, speed * self.speed_ratio)
        per_ampere = self.torque_per_ampere * motor.magnet_share(self.magnet_weakening, magnets)
        unsaturated = (force * self.per_force + iron) / per_ampere
        left = 1.0 - (1 / 0.81 - 1) * np.square(unsaturated / self.saturation_current)
        return np.where(left > 0, unsaturated / np.sqrt(np.where(left > 0, left, 1.0)), np.inf)

    def at_current(self, current: Any, held: Any) -> Self:
        """The same machines with flux, inductance and slip as a torque current makes them.

        Parameters
        ----------
        current : array, A
        held : array, N m
            Torque that iron and chain hold back.
        """
        flux = motor.saturation_share(current, self.saturation_current)
        inductance = motor.saturation_share(current, self.inductance_saturation_current)
        if not self.any_slip:
            return self.scaled(flux, inductance)
        shaft = self.torque_per_ampere * flux * current - held
        force = shaft * np.where(shaft >= 0.0, self.force_per_torque, self.braking_per_torque)
        slip = tyre.drive_slip(force, self.rear_load, self.slip_stiffness)
        return self.scaled(flux, inductance, 1.0 + slip)

    @property
    def most_current(self) -> np.ndarray:
        """The largest torque current there can be, A; of a torque table the largest torque."""
        if self.has_table is None:
            return self.phase_limit
        return np.where(self.has_table, self.tables.max(axis=1)[self.table_row], self.phase_limit)

    def _set_motor(self, b: Batch) -> None:
        table = np.array([len(rows) > 0 for rows in b.torque_tables])
        self.has_table: Any = table if table.any() else None
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
        self.held_torque = self.iron_torque + self.chain_torque  # N m, what holds back at any speed
        self.shaft_gain = np.where(table, 1 / b["motor.table_efficiency"], 1.0)
        torque_constant = motor.torque_constant(b["motor.kv_rpm_per_volt"])
        self.torque_per_ampere = np.where(table, 1.0, torque_constant)  # a table's i_q reads as torque
        self.shaft_per_speed = self.torque_per_ampere * self.speed_ratio * self.shaft_gain  # W per A
        self.magnet_weakening = np.where(table, 0.0, b["motor.magnet_weakening"])
        self.eddy_speed = b["motor.eddy_frequency"] * 2 * np.pi / self.pole_pairs  # rad/s of the motor
        self.any_eddies = bool(np.isfinite(self.eddy_speed).any())
        self.any_magnets = bool(self.magnet_weakening.any())
        self.saturation_current = np.where(table, np.inf, b["motor.saturation_current"])
        self.inductance_saturation_current = np.where(table, np.inf, b["motor.inductance_saturation_current"])
        saturates = np.isfinite([self.saturation_current, self.inductance_saturation_current])
        self.any_slip = bool(np.isfinite(self.slip_stiffness).any())
        self.depends_on_current = bool(saturates.any() or self.any_slip)
        self.winding_foldback = np.array(
            [b["motor.winding_foldback_start"], b["motor.winding_temperature_maximum"]]
        )
        if self.has_table is not None:
            self.table_top, self.table_row, self.tables = _stack_tables(b.torque_tables)

    def _set_controller(self, b: Batch) -> None:
        table = self.has_table if self.has_table is not None else False
        self.lead_resistance = b["pack.lead_resistance"]  # ohm, from the pack's terminals to the controller
        self.line_limit = b["controller.line_current_limit"]
        self.phase_limit = b["controller.phase_current_limit"]
        self.field_weakening = np.where(table, 0.0, b["controller.field_weakening_current"])
        self.voltage_fraction = b["controller.modulation"] / np.sqrt(3)
        if self.has_table is not None:
            self.voltage_fraction = np.where(table, _FREE_CIRCLE, self.voltage_fraction)
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

    def _set_road(self, b: Batch) -> None:
        stance = b.stance()
        self.mass = b["bike.bike_mass"] + b["bike.rider_mass"]
        self.nothing = np.zeros(len(b))
        turns = np.asarray(stance.motor_turns)
        self.speed_ratio = turns / stance.rolling_radius  # motor rad/s per m/s of the tyre, and force per torque
        self.turns_per_speed = self.speed_ratio  # motor rad/s per m/s, with the tyre's slip
        self.slip_stiffness = b["bike.slip_stiffness"]
        self.efficiency = b["driveline.efficiency"]
        pitch, teeth = b["driveline.chain_pitch"], b["driveline.front_teeth"]
        self.chain_torque = (
            chain.drag_torque(b["driveline.chain_drag"], pitch, teeth) / b["driveline.primary_ratio"]
        )
        self.inertia = stance.equivalent_mass
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
        lift = load_transfer.front_load_limit(stance)
        to_front = 1 - np.asarray(stance.centre_of_gravity_to_rear_axle) / stance.wheelbase
        self.rear_load = weight_on_road * to_front  # standing: under drive it carries more, and slips less
        self.wheelie = np.array(lift._replace(constant=np.where(b.hold_front_down, lift.constant, np.inf)))
        self.slip = np.array(load_transfer.rear_slip_limit(stance, b["bike.grip"]))
        self.slip_lifted = np.array(load_transfer.lifted_slip_limit(stance, b["bike.grip"]))
        self.force_per_torque = self.speed_ratio * self.efficiency
        self.braking_per_torque = self.speed_ratio / self.efficiency
        self.per_force, self.per_braking_force = 1 / self.force_per_torque, 1 / self.braking_per_torque
        self.any_hold = bool(b.hold_front_down.any() or np.isfinite(self.slip[0]).any())


def _stack_tables(tables: tuple, points: int = 2001) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Torque tables on one uniform grid each: the top speed (n,), the row of each build (n,), the rows."""
    top = np.array([rows[-1][0] if rows else 1.0 for rows in tables])
    known = {rows: place for place, rows in enumerate(dict.fromkeys(tables))}
    torque = np.zeros((len(known), points))
    for rows, place in known.items():
        if rows:
            speed, value = np.array(rows, dtype=float).T
            torque[place] = np.interp(np.linspace(0, speed[-1], points), speed, value)
    return top, np.array([known[rows] for rows in tables]), torque
