"""What is known of each unknown, as the rider says it: for the band beside the run, and for how sure it all is."""

from __future__ import annotations

from typing import Any

from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.how_sure import TYPICAL_DRAG, TYPICAL_RESISTANCE
from explorer.inputs.origins import TYPICAL, origin
from physics.build import Build
from physics.studies.uncertainty import NORMAL, UNIFORM, Tolerance, saturation_left_out, unmeasured_cold_growth
from physics.studies.uncertainty.tolerance import LEFT_OUT, RATING, SATURATIONS, rating_left_out
from physics.studies.uncertainty.worse import WorseCase, in_words
from physics.typical.tyre import radius_of_rim, rim_alone

UNKNOWNS = {
    "sure_drag": ("bike.drag_area", NORMAL, True),
    "sure_rolling": ("bike.rolling_coefficient", NORMAL, True),
    "sure_resistance": ("pack.resistance", NORMAL, True),
    "sure_kv": ("motor.kv_rpm_per_volt", NORMAL, True),
    "sure_weight": ("bike.bike_mass", NORMAL, False),
    "sure_air": ("conditions.air_temperature", UNIFORM, False),
    "sure_pack_temperature": ("conditions.pack_temperature", NORMAL, False),
    "sure_wind": ("conditions.headwind", NORMAL, False),
    "sure_charge": ("conditions.charge", NORMAL, False),
    "sure_weakest": ("pack.charge_spread", NORMAL, False),
    "sure_cold_growth": ("pack.cold_growth", NORMAL, True),
    "sure_leads": ("pack.lead_resistance", NORMAL, True),
    "sure_modulation": ("controller.modulation", NORMAL, True),
    "sure_magnets": ("motor.magnet_weakening", NORMAL, True),
}
"""Input to field path, shape, and whether it is a fraction of the value."""

_LEFT_OUT = {item.path: item for item in LEFT_OUT}
_RESTING = {
    "pack.lead_resistance": "lead_resistance",
    "controller.modulation": "modulation",
    "motor.magnet_weakening": "magnet_weakening",
    "motor.saturation_current": "saturation",
    "motor.inductance_saturation_current": "inductance_saturation",
}
"""Path of an unknown that rests at a default which leaves it out to the input that gives it."""

FACTS_OF: dict[str, tuple[str, ...]] = {
    "bike.drag_area": ("drag_area",),
    "bike.rolling_coefficient": ("rolling",),
    "pack.resistance": ("pack_resistance",),
    "pack.cold_growth": ("cold_growth",),
    "motor.kv_rpm_per_volt": ("kv",),
    "bike.bike_mass": ("bike_mass", "rider_mass"),
    "conditions.air_temperature": ("air_temperature",),
    "conditions.charge": ("charge",),
    "pack.capacity_ah": ("capacity",),
    RATING.path: ("continuous_current",),
    RATING.along[0]: ("peak_current",),
    "driveline.primary_ratio": ("rear_teeth", "front_teeth"),
    "motor.phase_resistance": ("motor_resistance",),
    "motor.phase_inductance": ("motor_inductance",),
    "bike.rolling_radius": ("tyre",),
    "controller.line_current_limit": ("line",),
    "controller.phase_current_limit": ("phase",),
}
"""Path of an unknown to the inputs that say what it is; "line" and "phase" are those of the power level in use."""

TYPICAL_LEAST = {
    "sure_drag": TYPICAL_DRAG, "sure_resistance": TYPICAL_RESISTANCE, "sure_rolling": 40.0, "sure_kv": 20.0,
    "sure_weight": 20.0, "sure_air": 10.0, "sure_charge": 8.0,
}  # fmt: skip
"""Where the input that says what an unknown is holds a typical value, the unknown is at least so far off, in the
unit of its slider: common practice, no source."""

UNKNOWN_PARTS = (
    Tolerance("pack.capacity_ah", 0.4, NORMAL, relative=True),
    Tolerance("driveline.primary_ratio", 0.25, NORMAL, relative=True),
)
"""Unknowns only where they are typical, as `rating` is; all advice heeds them. Common practice, no source."""

UNKNOWN_IN_SPEED = (
    Tolerance("motor.phase_resistance", 0.5, NORMAL, relative=True),
    Tolerance("motor.phase_inductance", 0.5, NORMAL, relative=True),
    Tolerance("bike.rolling_radius", 0.2, NORMAL, relative=True),
    Tolerance("controller.line_current_limit", 0.25, NORMAL, relative=True),
    Tolerance("controller.phase_current_limit", 0.3, NORMAL, relative=True),
)
"""The same, for the run's band alone: no protection hangs on them, or they are what the advice itself sets. The
ends of motors are those of physics/typical/motor.py; the others common practice, no source. A tyre of which the
rim size is known is known better, see `_known_by`."""

_MEASURED: dict[str, tuple[str, int | None]] = {
    "bike.bike_mass": ("mass", None),
    "conditions.air_temperature": ("temperature difference", None),
    "conditions.pack_temperature": ("temperature difference", None),
    "conditions.headwind": ("wind", None),
    "conditions.charge": ("charge", None),
    "pack.charge_spread": ("charge", 1),
}
"""Quantity and digits in which an unknown that is no fraction of its value is off."""


def typical_facts(inputs: dict[str, Any], path: str) -> list[str]:
    """The inputs that say what an unknown is, and of which the values are typical."""
    level = inputs["level"]
    keys = (f"{key}_{level}" if key in ("line", "phase") else key for key in FACTS_OF.get(path, ()))
    return [key for key in keys if origin(inputs, key) == TYPICAL]


def left_out(inputs: dict[str, Any], path: str) -> bool:
    """Whether an unknown rests at a default that leaves it out, and the rider has not said that this is right."""
    key = _RESTING.get(path)
    return key is not None and inputs[key] == INPUTS[key].default and key not in getattr(inputs, "given", ())


def iron(build: Build, inputs: dict[str, Any]) -> tuple[Tolerance, ...]:
    """Saturation that the rider has left out; see `saturation_left_out`."""
    return tuple(item for item in saturation_left_out(build) if left_out(inputs, item.path))


def with_saturation(build: Build, inputs: dict[str, Any]) -> tuple[Tolerance, ...]:
    """`doubts`, and the saturation that nobody gave: for what need not be quick.

    Parameters
    ----------
    build : Build
        Of the inputs.
    inputs : dict
        Every input by key, in home units.

    Returns
    -------
    tuple of Tolerance
    """
    return doubts(inputs) + iron(build, inputs)


def doubts(inputs: dict[str, Any]) -> tuple[Tolerance, ...]:
    """What makes a run's speed uncertain: `tolerances`, and settings that nobody has read off the controller.

    Parameters
    ----------
    inputs : dict
        Every input by key, in home units.

    Returns
    -------
    tuple of Tolerance
    """
    known = tolerances(inputs)
    if typical_facts(inputs, "controller.line_current_limit"):
        # whoever sets a limit sets it by the rating that his pack then has
        rated = {item.path for item in rating(inputs)}
        known = tuple(item for item in known if item.path not in rated)
    return known + tuple(_known_by(inputs, item) for item in UNKNOWN_IN_SPEED if typical_facts(inputs, item.path))


def rating(inputs: dict[str, Any]) -> tuple[Tolerance, ...]:
    """How well the pack's current rating is known, as one unknown; none where it is given, or off.

    Parameters
    ----------
    inputs : dict
        Every input by key, in home units.

    Returns
    -------
    tuple of Tolerance
        At most one: the continuous current, with which what is typical by it goes along, or the peak current alone.
    """
    keys = {"continuous": "continuous_current", "peak": "peak_current", "fast": "fast_current"}
    return rating_left_out(
        **{name: origin(inputs, key) == TYPICAL and inputs[key] is not None for name, key in keys.items()}
    )


def _known_by(inputs: dict[str, Any], item: Tolerance) -> Tolerance:
    """How far off an unknown is: a tyre of a known rim, as far as sizes that are common on it."""
    rim = rim_alone(inputs["tyre"]) if item.path == "bike.rolling_radius" else None
    if rim is None:
        return item
    low, middle, high = (float(value) for value in radius_of_rim(rim))
    return Tolerance(item.path, max(high / middle - 1, 1 - low / middle), UNIFORM, relative=True)


def tolerances(inputs: dict[str, Any]) -> tuple[Tolerance, ...]:
    """How well each unknown is known, as the rider says it; a typical value counts as badly known.

    Parameters
    ----------
    inputs : dict
        Every input by key, in home units.

    Returns
    -------
    tuple of Tolerance
        One for each of UNKNOWNS, in that order, for saturation that is given, and for those of UNKNOWN_PARTS and
        the pack's rating that are typical.
    """
    result = []
    for key, (path, shape, relative) in UNKNOWNS.items():
        value = float(inputs[key])
        if key == "sure_cold_growth" and inputs["cold_growth"] is None:
            result.append(unmeasured_cold_growth(inputs["chemistry"]))
            continue
        if path in _LEFT_OUT and left_out(inputs, path):
            result.append(_LEFT_OUT[path])
            continue
        if key in TYPICAL_LEAST and typical_facts(inputs, path):
            value = max(value, TYPICAL_LEAST[key])
            shape = UNIFORM if key == "sure_resistance" else shape
        result.append(Tolerance(path, abs(INPUTS[key].si(value)), shape, relative))
    known = INPUTS["sure_saturation"].si(float(inputs["sure_saturation"]))
    given = [Tolerance(path, known, NORMAL, True) for path in SATURATIONS if inputs[_RESTING[path]] is not None]
    parts = (item for item in UNKNOWN_PARTS if typical_facts(inputs, item.path))
    return (*result, *given, *parts, *rating(inputs))


def with_case(case: WorseCase, fmt: UnitFormatter) -> str:
    """A worse case as a clause that begins a sentence: "with a pack 3 °C colder"; empty for all as entered."""
    if case.alone is None:
        what = "everything about the pack" if case.of_the_pack else "everything"
        return f"with {what} a little worse at once" if case.away else ""
    path, amount, relative = case.alone
    quantity, digits = ("share", None) if relative else _MEASURED[path]
    return f"with {in_words(path, amount > 0, fmt(quantity, abs(amount), digits))}"
