"""From the inputs of the page to a physics Build, and between charge and rest voltage. No Streamlit here."""

from __future__ import annotations

import math
from typing import Any

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.power_levels import LEVEL_NAMES, level_in_use, levels
from explorer.inputs.spec import InputSpec
from explorer.inputs.typical import filled, known_motor_mass
from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, PowerLevel, Protection
from physics.components import road_load as road
from physics.components.air import standard_pressure
from physics.components.pack import charge_from_rest_voltage, rest_voltage
from physics.typical import motor


def make_build(values: dict[str, Any], name: str = "") -> Build:
    """The build the inputs describe.

    Parameters
    ----------
    values : dict
        Every input by key, in home units.
    name : str
        The build's name.

    Returns
    -------
    Build

    Raises
    ------
    BuildError
        With every fault, where the inputs do not go together.
    """
    values = filled(values)
    parts: dict[str, dict[str, Any]] = {}
    for key, spec in INPUTS.items():
        if spec.path:
            part, field = spec.path.rsplit(".", 1)
            parts.setdefault(part, {})[field] = _field(spec, values[key])
    level = level_in_use(values)
    seat = road.posture(values["posture"])
    drag_area = values["drag_area"]
    parts["bike"] |= _balance(values, seat)
    parts["bike"]["drag_area"] = seat.drag_area if drag_area is None else drag_area
    parts["motor"] |= _motor_by_mass(known_motor_mass(values))
    parts["conditions"]["slope"] = math.atan(values["slope"] / 100.0)
    sea_level = INPUTS["sea_level_pressure"].si(values["sea_level_pressure"])
    parts["conditions"]["air_pressure"] = float(standard_pressure(values["altitude"], sea_level))
    return Build(
        pack=Pack(**parts["pack"], protection=Protection(**parts["pack.protection"])),
        motor=Motor(**parts["motor"]),
        controller=Controller(
            **parts["controller"],
            line_current_limit=float(values[f"line_{level}"]),
            phase_current_limit=float(values[f"phase_{level}"]),
            power_levels=tuple(
                PowerLevel(LEVEL_NAMES[n], float(values[f"phase_{n}"]), float(values[f"line_{n}"]))
                for n in levels(values)
            ),
        ),
        driveline=Driveline(**parts["driveline"]),
        bike=Bike(**parts["bike"]),
        conditions=Conditions(**parts["conditions"]),
        name=name,
    )


def _motor_by_mass(mass: float | None) -> dict[str, float]:
    """What goes with a motor's mass, SI; nothing where that is not known."""
    if mass is None:
        return {}
    (constant, damping), (winding, case) = motor.iron_loss(mass), motor.heat_capacities(mass)
    inside, outside = motor.heat_paths(mass)
    found = {
        "iron_loss_torque": constant,
        "iron_loss_damping": damping,
        "rotor_inertia": motor.rotor_inertia(mass).middle,
        "winding_heat_capacity": winding,
        "case_heat_capacity": case,
        "winding_to_case": inside,
        "case_to_air": outside,
    }
    return {name: float(value) for name, value in found.items()}


def _field(spec: InputSpec, value: Any) -> Any:
    if value is None:
        return math.inf if spec.kind == "limit" else None
    if spec.whole:
        return round(value)
    if not spec.is_number:
        return value
    # The motor's speed constant is the one number of a build that is not SI.
    return float(value) if spec.path.endswith(("_ah", "_rpm_per_volt")) else spec.si(value)


def _balance(values: dict[str, Any], seat: road.Posture) -> dict[str, float]:
    """Centre of gravity of bike and rider together, m."""
    bike_to_rear, bike_height, seat_height, seat_to_rear = (
        values[key] / 1000.0 for key in ("bike_balance", "bike_height", "seat_height", "seat_place")
    )
    to_rear, height = road.combined_centre_of_gravity(
        values["bike_mass"],
        bike_to_rear,
        bike_height,
        values["rider_mass"],
        seat_to_rear + seat.rider_shift_forward,
        seat_height + seat.rider_height_above_seat,
    )
    return {"centre_of_gravity_to_rear_axle": float(to_rear), "centre_of_gravity_height": float(height)}


def rest_voltage_of(values: dict[str, Any], charge_percent: float) -> float:
    """Rest voltage of the pack, V, at a charge in percent."""
    return float(rest_voltage(values["chemistry"], values["cells"], charge_percent / 100.0))


def charge_of(values: dict[str, Any], voltage: float) -> float:
    """Charge in percent from the pack's rest voltage, V, held inside 0 to 100."""
    return float(100.0 * charge_from_rest_voltage(values["chemistry"], values["cells"], voltage))
