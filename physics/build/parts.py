"""A build: all parts and settings of one motorcycle and the day it is ridden, as frozen dataclasses.

Every number is SI unless its name says otherwise. A build checks itself when it is made and raises one
`BuildError` with every fault.
"""

import dataclasses
import itertools
import math
from dataclasses import dataclass
from typing import Any

from physics.build.fields import REQUIRED, BuildError, Fault, Part, Relation, is_number, number
from physics.build.protection import Protection
from physics.components.cell import CHEMISTRY_KEYS
from physics.components.tyre import parse_tyre


@dataclass(frozen=True)
class Pack(Part):
    """The battery pack. Resistance is its 10-second value at 25 degrees C and half charge, when new."""

    cells_in_series: int = number(REQUIRED, "", 1, 250, "cells in series", whole=True)
    capacity_ah: float = number(REQUIRED, "Ah", 0.1, 2000, "capacity of the whole pack")
    chemistry: str = "nmc"
    resistance: float | None = number(None, "ohm", 1e-5, 10, "10 s, 25 degrees C, half charge", optional=True)
    resistance_growth: float = number(1.0, "", 0.5, 10, "resistance now over resistance when new")
    resistance_current: float | None = number(None, "A", 0.01, 1e4, "at which it was measured", optional=True)
    cold_growth: float | None = number(None, "", 1, 10, "resistance at 0 over that at 25 degrees C", optional=True)
    charge_spread: float = number(0.02, "", 0, 0.5, "charge by which the weakest cell is behind")
    resistance_spread: float = number(0.10, "", 0, 2, "fraction by which its resistance is higher")
    charge_current: float | None = number(None, "A", 0.1, 5000, "most the cells may be charged with", optional=True)
    lead_resistance: float = number(0.0, "ohm", 0, 1, "leads, fuse, switch and connectors, from pack to controller")
    heat_capacity: float | None = number(None, "J/K", 10, 1e7, "heat capacity", optional=True)
    thermal_conductance: float | None = number(None, "W/K", 0, 1e4, "path of its heat to air", optional=True)
    protection: Protection = dataclasses.field(default_factory=Protection)

    def faults(self, prefix: str = "pack.") -> list[Fault]:
        """Every wrong field of the pack and of its protection."""
        faults = super().faults(prefix)
        if self.chemistry not in CHEMISTRY_KEYS:
            faults.append(Fault(prefix + "chemistry", self.chemistry, "one of " + ", ".join(CHEMISTRY_KEYS)))
        if not isinstance(self.protection, Protection):
            faults.append(Fault(prefix + "protection", self.protection, "a Protection"))
            return faults
        return faults + self.protection.faults(prefix + "protection.")


@dataclass(frozen=True)
class Motor(Part):
    """A permanent-magnet machine, or a measured torque-speed line (`torque_table`).

    `kv_rpm_per_volt` is rpm per volt of line-to-line peak back-EMF; phase values are line to neutral.
    `torque_table` holds (speed in rad/s, torque in N m) pairs; where it is given it replaces the machine's
    current plane, and `table_efficiency` turns shaft power into electrical power.
    """

    RELATIONS = (Relation("winding_temperature_maximum", "more than", "winding_foldback_start"),)

    kv_rpm_per_volt: float = number(REQUIRED, "rpm/V", 1, 2000, "speed constant")
    pole_pairs: int = number(5, "", 1, 60, "pole pairs", whole=True)
    phase_resistance: float = number(0.006, "ohm", 1e-5, 5, "line to neutral at 20 degrees C")
    phase_inductance: float = number(60e-6, "H", 1e-7, 0.1, "line to neutral")
    iron_loss_torque: float = number(0.3, "N m", 0, 50, "drag torque of iron loss at any speed")
    iron_loss_damping: float = number(4e-4, "N m s", 0, 1, "drag torque of iron loss per rad/s")
    saturation_current: float = number(
        math.inf, "A peak", 10, 20000, "phase current at which torque per ampere is a tenth less", off=True
    )
    inductance_saturation_current: float = number(
        math.inf, "A peak", 10, 20000, "phase current at which the inductance is a tenth less", off=True
    )
    eddy_frequency: float = number(
        math.inf, "Hz", 10, 1e6, "electrical frequency at which the winding's resistance has doubled", off=True
    )
    magnet_weakening: float = number(
        0.0, "1/K", 0, 0.002, "flux lost per kelvin above 20 degrees C, over that there"
    )
    rotor_inertia: float = number(0.012, "kg m2", 0, 10, "inertia about the motor's shaft")
    winding_heat_capacity: float = number(1500.0, "J/K", 10, 1e6, "heat capacity of the winding")
    case_heat_capacity: float = number(5000.0, "J/K", 10, 1e7, "heat capacity of the case")
    winding_to_case: float = number(25.0, "W/K", 0.01, 1e4, "path of heat from winding to case")
    case_to_air: float = number(8.0, "W/K", 0, 1e4, "path of heat from case to air")
    winding_foldback_start: float = number(393.15, "K", 250, 600, "winding temperature at which limits fold")
    winding_temperature_maximum: float = number(423.15, "K", 250, 650, "winding temperature with no current left")
    torque_table: tuple[tuple[float, float], ...] = ()
    table_efficiency: float = number(0.88, "", 0.05, 1, "efficiency that goes with the torque table")

    def faults(self, prefix: str = "motor.") -> list[Fault]:
        """Every wrong field of the motor, its torque table included."""
        faults = super().faults(prefix)
        if not _is_torque_table(self.torque_table):
            accepts = "two or more (speed, torque) pairs, speeds from 0 rad/s rising, torques 0 to 100000 N m"
            faults.append(Fault(prefix + "torque_table", self.torque_table, accepts))
        return faults


def _is_torque_table(table: object) -> bool:
    """Whether a value is an empty tuple or a tuple of two or more (speed, torque) pairs that a run can use."""
    if not isinstance(table, tuple):
        return False
    for pair in table:
        if not (isinstance(pair, tuple) and len(pair) == 2 and all(is_number(value) for value in pair)):
            return False
        if not (0 <= pair[0] < 1e5 and 0 <= pair[1] <= 1e5):
            return False
    rising = all(later[0] > earlier[0] for earlier, later in itertools.pairwise(table))
    return not table or (len(table) >= 2 and rising and table[0][0] == 0)


@dataclass(frozen=True)
class PowerLevel(Part):
    """One of the controller's saved sets of limits."""

    name: str
    phase_current_limit: float = number(REQUIRED, "A peak", 1, 5000, "largest phase current")
    line_current_limit: float = number(REQUIRED, "A", 1, 5000, "largest line current")

    def faults(self, prefix: str = "") -> list[Fault]:
        """Every wrong field of the power level."""
        return text_faults(self.name, prefix + "name") + super().faults(prefix)


@dataclass(frozen=True)
class Controller(Part):
    """The motor controller: its limits, throttle, losses and heat. Phase currents are peak amperes."""

    RELATIONS = (
        Relation("temperature_maximum", "more than", "foldback_start_temperature"),
        Relation("foldback_start_voltage", "at least", "foldback_end_voltage"),
    )

    line_current_limit: float = number(REQUIRED, "A", 1, 5000, "largest line current")
    phase_current_limit: float = number(REQUIRED, "A peak", 1, 5000, "largest phase current")
    field_weakening_current: float = number(0.0, "A peak", 0, 5000, "largest field-weakening current")
    modulation: float = number(1.0, "", 0.3, 1.103, "phase voltage peak over bus voltage / sqrt(3)")
    throttle: float = number(1.0, "", 0, 1, "throttle position held through the run")
    throttle_ramp_time: float = number(0.3, "s", 0, 20, "time from closed to full throttle")
    speed_cap: float = number(math.inf, "m/s", 0.5, 200, "road speed that is not driven past", off=True)
    foldback_start_voltage: float = number(0.0, "V", 0, 1100, "pack voltage where the line limit begins to fold")
    foldback_end_voltage: float = number(0.0, "V", 0, 1100, "pack voltage where no line current is left")
    overshoot: float = number(0.03, "", 0, 1, "fraction by which line current overshoots")
    fixed_loss: float = number(15.0, "W", 0, 1000, "loss with no current")
    loss_per_ampere: float = number(0.2, "W/A", 0, 20, "loss per ampere of peak phase current")
    loss_resistance: float = number(1.5e-3, "ohm", 0, 1, "loss per square ampere of peak phase current")
    heat_capacity: float = number(2500.0, "J/K", 10, 1e6, "heat capacity")
    thermal_conductance: float = number(5.0, "W/K", 0, 1e4, "path of its heat to air")
    foldback_start_temperature: float = number(348.15, "K", 250, 500, "temperature at which limits fold")
    temperature_maximum: float = number(368.15, "K", 250, 550, "temperature with no current left")
    regen_current: float = number(0.0, "A", 0, 2000, "largest line current pushed back into the pack")
    voltage_maximum: float = number(math.inf, "V", 10, 1500, "highest bus voltage", off=True)
    back_emf_maximum: float = number(math.inf, "V", 10, 3000, "highest line-to-line back-EMF, peak", off=True)
    electrical_frequency_maximum: float = number(math.inf, "Hz", 10, 1e4, "highest of its output", off=True)
    power_levels: tuple[PowerLevel, ...] = ()

    def faults(self, prefix: str = "controller.") -> list[Fault]:
        """Every wrong field of the controller and of its power levels."""
        faults = super().faults(prefix)
        if not isinstance(self.power_levels, tuple):
            return [*faults, Fault(prefix + "power_levels", self.power_levels, "a tuple of PowerLevel")]
        for index, level in enumerate(self.power_levels):
            where = f"{prefix}power_levels[{index}]"
            if isinstance(level, PowerLevel):
                faults += level.faults(where + ".")
            else:
                faults.append(Fault(where, level, "a PowerLevel"))
        return faults


@dataclass(frozen=True)
class Driveline(Part):
    """Sprockets and chain, and any fixed reduction before them."""

    front_teeth: int = number(REQUIRED, "teeth", 6, 60, "teeth of the motor's sprocket", whole=True)
    rear_teeth: int = number(REQUIRED, "teeth", 6, 150, "teeth of the wheel's sprocket", whole=True)
    primary_ratio: float = number(1.0, "", 0.1, 30, "fixed reduction before the sprockets")
    # 96 to 99 % below 75 mile/h: S. Burgess and C. Lodge, Sports Engineering 7 (2004) 65-73, abstract
    efficiency: float = number(0.96, "", 0.3, 1, "power at the wheel over power at the shaft, of a strong pull")
    chain_drag: float = number(0.0, "N", 0, 200, "chain force lost at any load")
    chain_pitch: float = number(0.0127, "m", 0.004, 0.06, "pitch of the chain")


@dataclass(frozen=True)
class Bike(Part):
    """Everything that is moved, and how it stands on its wheels. Mass is split into bike and rider."""

    RELATIONS = (Relation("centre_of_gravity_to_rear_axle", "less than", "wheelbase"),)

    bike_mass: float = number(REQUIRED, "kg", 5, 1000, "mass of the bike")
    rider_mass: float = number(REQUIRED, "kg", 0, 300, "mass of rider and gear")
    drag_area: float = number(0.55, "m2", 0, 5, "drag coefficient times frontal area")
    rolling_coefficient: float = number(0.015, "", 0, 0.2, "rolling resistance at low speed")
    rolling_coefficient_speed_squared: float = number(3e-6, "s2/m2", 0, 1e-3, "its part with speed squared")
    tyre: str = "110/70-17"
    rolling_radius: float | None = number(None, "m", 0.05, 1, "from the tyre code when None", optional=True)
    wheel_inertia: float = number(0.9, "kg m2", 0, 50, "inertia of both wheels together")
    wheelbase: float = number(1.40, "m", 0.3, 4, "axle to axle")
    centre_of_gravity_to_rear_axle: float = number(0.68, "m", 0.01, 4, "with the rider on")
    centre_of_gravity_height: float = number(0.65, "m", 0.05, 3, "above the road, with the rider on")
    # 30 to 35 mm on the road, 60 to 75 mm off it: P. Thede and L. Parks, Suspension Bible, 2010, as quoted
    fork_sag: float = number(0.035, "m", 0, 0.4, "how far the fork stands in with the rider on")
    drag_height: float = number(0.75, "m", 0, 3, "height at which drag acts")
    grip: float = number(1.1, "", 0.05, 5, "largest drive force over load at the rear tyre", off=True)
    slip_stiffness: float = number(math.inf, "", 3, 500, "drive force over rear load, over slip", off=True)
    hold_front_down: bool = True

    def faults(self, prefix: str = "bike.") -> list[Fault]:
        """Every wrong field of the bike, its tyre code included."""
        faults = super().faults(prefix)
        if self.rolling_radius is None:
            try:
                parse_tyre(self.tyre)
            except (ValueError, TypeError, AttributeError):
                accepts = "a tyre code such as 110/70-17, 90/90-12 or 3.00-12"
                faults.append(Fault(prefix + "tyre", self.tyre, accepts))
        if not isinstance(self.hold_front_down, bool):
            faults.append(Fault(prefix + "hold_front_down", self.hold_front_down, "True or False"))
        return faults


@dataclass(frozen=True)
class Conditions(Part):
    """The day: air, road, and the state the bike starts in."""

    air_temperature: float = number(293.15, "K", 233.15, 333.15, "temperature of the air")
    air_pressure: float = number(101325.0, "Pa", 3e4, 1.2e5, "pressure of the air")
    humidity: float = number(0.5, "", 0, 1, "relative humidity")
    headwind: float = number(0.0, "m/s", -60, 60, "wind against the bike")
    slope: float = number(0.0, "rad", -0.6, 0.6, "angle of the road, uphill positive")
    charge: float = number(1.0, "", 0, 1, "state of charge at the start")
    pack_temperature: float | None = number(None, "K", 230, 360, "air's when None", optional=True)
    motor_temperature: float | None = number(None, "K", 220, 500, "air's when None", optional=True)
    controller_temperature: float | None = number(None, "K", 220, 450, "air's when None", optional=True)


PARTS: dict[str, type[Part]] = {
    "pack": Pack,
    "motor": Motor,
    "controller": Controller,
    "driveline": Driveline,
    "bike": Bike,
    "conditions": Conditions,
}


@dataclass(frozen=True)
class Build:
    """All parts and settings. Raises `BuildError` with every fault when it is made.

    Examples
    --------
    >>> build = Build(
    ...     Pack(24, 26.0), Motor(60.0), Controller(200.0, 400.0), Driveline(12, 56), Bike(120.0, 75.0)
    ... )
    >>> build.change({"driveline.rear_teeth": 52}).driveline.rear_teeth
    52
    """

    pack: Pack
    motor: Motor
    controller: Controller
    driveline: Driveline
    bike: Bike
    conditions: Conditions = dataclasses.field(default_factory=Conditions)
    name: str = ""

    def __post_init__(self) -> None:
        faults = []
        for part, kind in PARTS.items():
            value = getattr(self, part)
            if isinstance(value, kind):
                faults += value.faults(part + ".")
            else:
                faults.append(Fault(part, value, f"a {kind.__name__}"))
        faults += text_faults(self.name, "name")
        if faults:
            raise BuildError(faults)

    def change(self, changes: dict[str, Any]) -> "Build":
        """A copy with some fields changed.

        Parameters
        ----------
        changes : dict
            Field path (such as "pack.protection.peak_current") to new value.

        Returns
        -------
        Build
            Checked like any other.

        Raises
        ------
        BuildError
            When a path names no field or a value is not accepted.
        """
        faults: list[Fault] = []
        tree: dict[str, Any] = {}
        for path, value in changes.items():
            *owners, last = path.split(".")
            owner: Any = self
            branch = tree
            for name in owners:
                owner = getattr(owner, name, None)
                branch = branch.setdefault(name, {})
            if not dataclasses.is_dataclass(owner) or last not in _names(owner):
                faults.append(Fault(path, value, "the path of a field, such as pack.capacity_ah"))
            elif isinstance(value, dict):
                faults.append(Fault(path, value, "a value, not a table"))
            branch[last] = value
        if faults:
            raise BuildError(faults)
        return _replaced(self, tree)


def text_faults(text: object, field: str) -> list[Fault]:
    """What is wrong with a name.

    Parameters
    ----------
    text : object
        The name.
    field : str
        Its path.

    Returns
    -------
    list of Fault
        Empty when all is well.

    Examples
    --------
    >>> text_faults('wet', 'name')
    []
    """
    good = isinstance(text, str) and len(text) <= 80
    return [] if good else [Fault(field, text, "a text of at most 80 characters")]


def _names(part: Any) -> set[str]:
    return {field.name for field in dataclasses.fields(part)}


def _replaced(part: Any, tree: dict[str, Any]) -> Any:
    """A copy of a dataclass with a tree of new values; a branch is a dict, a leaf anything else."""
    values = {
        name: _replaced(getattr(part, name), value) if isinstance(value, dict) else value
        for name, value in tree.items()
    }
    return dataclasses.replace(part, **values)
