"""Random valid builds, the same for the same seed on every machine and version (Python's own generator)."""

import math
import random

from physics.build import (
    OVERCURRENT_LAWS,
    Bike,
    Build,
    Conditions,
    Controller,
    Driveline,
    Motor,
    Pack,
    Protection,
)
from physics.components import cell
from physics.components.cell_resistance import typical_cell_resistance

ANY_LAW = 200  # the first seed whose over-current timer may follow any law
SLOWEST, FASTEST = 8.0, 60.0  # m/s, road speed at which back-EMF meets the rest voltage, for a sensible gearing


def random_build(seed):
    """One build.

    Parameters
    ----------
    seed : int
        Any number; the same seed gives the same build.

    Returns
    -------
    physics.build.Build
        Mixed chemistry, size, gearing, weather, limits and protection, geared so that it can move.
    """
    draw, detail = random.Random(seed), random.Random(f"detail {seed}")
    while True:
        build = _draw(draw).change(_details(detail))
        rest = build.pack.cells_in_series * float(
            cell.open_circuit_voltage(build.pack.chemistry, build.conditions.charge)
        )
        gear = build.driveline.primary_ratio * build.driveline.rear_teeth / build.driveline.front_teeth
        free = rest * build.motor.kv_rpm_per_volt * 2.0 * math.pi / 60.0 / gear * build.bike.rolling_radius
        if SLOWEST < free < FASTEST and _pull(build, gear) > 0.12:
            law = "square of current" if seed < ANY_LAW else OVERCURRENT_LAWS[seed % 3]
            return build.change({"pack.protection.overcurrent_law": law})


def _pull(build, gear):
    """Drive force over weight at standstill, at the phase limit (or the torque table's first torque)."""
    motor, weight = build.motor, (build.bike.bike_mass + build.bike.rider_mass) * 9.8
    torque = 0.866 * 9.549 / motor.kv_rpm_per_volt * build.controller.phase_current_limit
    if motor.torque_table:
        torque = motor.torque_table[0][1]
    return build.controller.throttle * torque * gear / build.bike.rolling_radius / weight


def _between(draw, low, high):
    """A number spread evenly on a logarithmic scale."""
    return math.exp(draw.uniform(math.log(low), math.log(high)))


def _draw(draw):
    chance = draw.random
    chemistry = draw.choice(cell.CHEMISTRY_KEYS)
    cells, capacity = draw.randint(10, 32), _between(draw, 5.0, 80.0)
    line = _between(draw, 20.0, 600.0)
    phase = max(50.0, min(1500.0, line * draw.uniform(0.8, 4.0)))
    air = draw.uniform(253.15, 323.15)
    fold = {}
    full_rest = cells * float(cell.open_circuit_voltage(chemistry, 0.9))
    if chance() < 0.25:
        end = full_rest * draw.uniform(0.5, 0.8)
        fold = {"foldback_end_voltage": end, "foldback_start_voltage": end + full_rest * draw.uniform(0.05, 0.25)}
    resistance = None
    if chance() < 0.6:
        resistance = cells * float(typical_cell_resistance(chemistry, capacity)) * draw.uniform(0.5, 2.0)
    motor = {}
    if chance() < 0.08:
        peak, base = phase * draw.uniform(0.08, 0.2), draw.uniform(80.0, 250.0)
        motor["torque_table"] = ((0.0, peak), (base, peak), (base * draw.uniform(1.3, 3.0), 0.0))
    hot = chance() < 0.2
    if hot:
        motor["winding_heat_capacity"] = draw.uniform(150.0, 600.0)
    build = Build(
        Pack(
            cells,
            capacity,
            chemistry,
            resistance=resistance,
            resistance_growth=draw.uniform(1.0, 1.6),
            charge_spread=draw.uniform(0.0, 0.08),
            resistance_spread=draw.uniform(0.0, 0.3),
            heat_capacity=capacity * cells * draw.uniform(10.0, 25.0) if chance() < 0.5 else None,
            thermal_conductance=draw.uniform(0.5, 10.0) if chance() < 0.5 else None,
            protection=_protection(draw, line, chemistry) if chance() < 0.5 else Protection(),
        ),
        Motor(
            _between(draw, 20.0, 150.0),
            pole_pairs=draw.choice((4, 5, 7, 10)),
            phase_resistance=_between(draw, 0.002, 0.02),
            phase_inductance=_between(draw, 20e-6, 300e-6),
            iron_loss_torque=draw.uniform(0.0, 1.0),
            iron_loss_damping=draw.uniform(0.0, 2e-3),
            rotor_inertia=draw.uniform(0.002, 0.03),
            **motor,
        ),
        Controller(
            line,
            phase,
            field_weakening_current=draw.choice((0.0, draw.uniform(0.0, 200.0))),
            modulation=draw.choice((0.95, 1.0, 1.1)),
            throttle=1.0 if chance() < 0.8 else draw.uniform(0.3, 1.0),
            throttle_ramp_time=draw.choice((0.0, 0.3, draw.uniform(0.0, 2.0))),
            speed_cap=draw.uniform(8.0, 30.0) if chance() < 0.15 else math.inf,
            overshoot=draw.uniform(0.0, 0.1),
            fixed_loss=draw.uniform(0.0, 40.0),
            loss_per_ampere=draw.uniform(0.0, 0.5),
            loss_resistance=draw.uniform(0.0, 3e-3),
            heat_capacity=draw.uniform(300.0, 3000.0),
            **fold,
        ),
        Driveline(draw.randint(9, 20), draw.randint(25, 80), efficiency=draw.uniform(0.85, 0.99)),
        Bike(
            draw.uniform(60.0, 180.0),
            draw.uniform(50.0, 110.0),
            drag_area=draw.uniform(0.3, 0.8),
            rolling_coefficient=draw.uniform(0.008, 0.03),
            rolling_radius=draw.uniform(0.2, 0.32),
            rolling_coefficient_speed_squared=draw.uniform(0.0, 1e-5),
            wheel_inertia=draw.uniform(0.2, 1.5),
            wheelbase=draw.uniform(1.2, 1.5),
            centre_of_gravity_to_rear_axle=draw.uniform(0.5, 0.75),
            centre_of_gravity_height=draw.uniform(0.5, 0.8),
            drag_height=draw.uniform(0.6, 1.0),
            grip=draw.choice((math.inf, draw.uniform(0.5, 1.3))),
            hold_front_down=chance() < 0.7,
        ),
        Conditions(
            air,
            air_pressure=draw.uniform(8e4, 1.04e5),
            humidity=chance(),
            charge=draw.uniform(0.2, 1.0),
            headwind=draw.uniform(-8.0, 8.0) if chance() < 0.6 else 0.0,
            slope=draw.uniform(-0.05, 0.05) if chance() < 0.6 else 0.0,
            motor_temperature=draw.uniform(385.0, 415.0) if hot else None,
            controller_temperature=draw.uniform(340.0, 360.0) if chance() < 0.15 else None,
            pack_temperature=draw.uniform(260.0, 330.0) if chance() < 0.3 else None,
        ),
        name="random",
    )
    return build.change({"pack.cold_growth": draw.uniform(1.2, 4.0)}) if chance() < 0.5 else build


def _details(draw):
    """What is drawn apart from all else, so that one more of these leaves the rest of a build as it was."""
    return {
        "bike.fork_sag": draw.uniform(0.0, 0.08),
        "motor.magnet_weakening": draw.uniform(0.0, 0.0015) if draw.random() < 0.3 else 0.0,
        "driveline.chain_drag": draw.uniform(0.0, 30.0) if draw.random() < 0.3 else 0.0,
        "motor.saturation_current": draw.uniform(150.0, 1500.0) if draw.random() < 0.1 else math.inf,
        "motor.inductance_saturation_current": draw.uniform(100.0, 1000.0) if draw.random() < 0.1 else math.inf,
        "motor.eddy_frequency": draw.uniform(300.0, 3000.0) if draw.random() < 0.2 else math.inf,
        "bike.slip_stiffness": draw.uniform(8.0, 40.0) if draw.random() < 0.1 else math.inf,
        "pack.lead_resistance": draw.uniform(0.0, 0.01) if draw.random() < 0.3 else 0.0,
    }


def _protection(draw, line, chemistry):
    """Rules near enough to the line limit that many of them open."""
    rules = {}
    table = cell.chemistry(chemistry)
    if draw.random() < 0.6:
        steady = max(1.0, line * draw.uniform(0.3, 1.1))
        rules |= {
            "continuous_current": steady,
            "peak_current": steady * draw.choice((1.0, draw.uniform(1.05, 2.0))),
            "peak_time": draw.uniform(1.0, 15.0),
        }
    if draw.random() < 0.4:
        rules |= {"fast_current": max(1.0, line * draw.uniform(0.7, 1.3)), "fast_delay": _between(draw, 0.01, 2.0)}
    if draw.random() < 0.5:
        low, high = table.voltage_minimum, float(table.open_circuit_voltage[50])
        rules |= {
            "cell_undervoltage": low + (high - low) * draw.uniform(0.0, 0.75),
            "undervoltage_delay": _between(draw, 0.02, 3.0),
        }
    if draw.random() < 0.2:
        rules["discharge_temperature_minimum"] = draw.uniform(250.0, 270.0)
        rules["temperature_delay"] = draw.uniform(0.1, 5.0)
    if draw.random() < 0.2:
        rules["discharge_temperature_maximum"] = draw.uniform(305.0, 330.0)
    return Protection(**rules)
