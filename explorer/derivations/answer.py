"""The derivation behind the answer: what resists where the bike is fastest, what drives it, what holds it."""

from __future__ import annotations

from collections.abc import Callable

from explorer.derivations.derivation import Instant, Step, fastest, put
from explorer.derivations.motor import at_the_voltage_limit, drive, power_given
from explorer.derivations.road import front_wheel_lift, left_over, rear_grip, resistances
from explorer.derivations.sources import PRACTICE
from explorer.format import UnitFormatter
from explorer.page.page import Page


def answer(page: Page) -> list[Step]:
    """The forces where the run is fastest, and what holds there."""
    now = fastest(page.build, page.run)
    return [*resistances(now, page.fmt), *limit_that_holds(now, page.fmt), *left_over(now, page.fmt)]


def limit_that_holds(now: Instant, fmt: UnitFormatter) -> list[Step]:
    """The limit that holds at an instant, in its own formula where it has one, and the drive it leaves."""
    formula = _FORMULAS.get(now.limit)
    return [*(formula(now, fmt) if formula else []), *drive(now, fmt)]


def _heat(value: float, start: float, end: float, fmt: UnitFormatter) -> list[Step]:
    left = min(max(1 - (value - start) / (end - start), 0.0), 1.0)
    celsius, first, last = (put(temperature - 273.15) for temperature in (value, start, end))
    return [
        Step(
            "Share of the phase limit left at this temperature",
            r"s = 1 - \frac{T - T_1}{T_2 - T_1}",
            f"1 − ({celsius} − {first}) / ({last} − {first})",
            left,
            "",
            f"T temperature now, °C ({fmt('temperature', value)}); T₁, T₂ where the cutback starts and ends, °C",
            PRACTICE,
            digits=2,
        )
    ]


def _winding_heat(now: Instant, fmt: UnitFormatter) -> list[Step]:
    motor = now.build.motor
    return _heat(now.winding_temperature, motor.winding_foldback_start, motor.winding_temperature_maximum, fmt)


def _controller_heat(now: Instant, fmt: UnitFormatter) -> list[Step]:
    controller = now.build.controller
    ends = controller.foldback_start_temperature, controller.temperature_maximum
    return _heat(now.controller_temperature, *ends, fmt)


def _foldback(now: Instant, fmt: UnitFormatter) -> list[Step]:
    controller = now.build.controller
    limit, start, end = (
        controller.line_current_limit,
        controller.foldback_start_voltage,
        controller.foldback_end_voltage,
    )
    return [
        Step(
            "Line current the cutback leaves",
            r"I = I_{limit}\,\frac{U - U_2}{U_1 - U_2}",
            f"{put(limit)} × ({put(now.pack_voltage, 6)} − {put(end)}) / ({put(start)} − {put(end)})",
            limit * (now.pack_voltage - end) / (start - end),
            "A",
            "U pack voltage under load, V; U₁, U₂ where the cutback starts and ends, V",
            PRACTICE,
        )
    ]


def _speed_cap(now: Instant, fmt: UnitFormatter) -> list[Step]:
    cap = now.build.controller.speed_cap
    return [
        Step(
            "How close to the speed cap",
            r"v / v_{cap}",
            f"{put(now.speed)} / {put(cap)}",
            now.speed / cap,
            "",
            f"v speed, m/s; v_cap speed cap, m/s ({fmt('speed', cap)}); at 1 drive only holds the speed",
            PRACTICE,
        )
    ]


def _throttle(now: Instant, fmt: UnitFormatter) -> list[Step]:
    controller = now.build.controller
    throttle = controller.throttle
    if controller.throttle_ramp_time > 0:
        throttle = min(throttle, now.time / controller.throttle_ramp_time)
    return [
        Step(
            "Phase current the throttle asks for",
            r"i = s\,I_{phase}",
            f"{put(throttle)} × {put(controller.phase_current_limit)}",
            throttle * controller.phase_current_limit,
            "A peak",
            "s throttle, 0 to 1; I_phase phase current limit, A peak",
            PRACTICE,
        )
    ]


_FORMULAS: dict[str, Callable[[Instant, UnitFormatter], list[Step]]] = {
    "throttle": _throttle,
    "line current": power_given,
    "voltage": at_the_voltage_limit,
    "field weakening": at_the_voltage_limit,
    "front wheel": front_wheel_lift,
    "rear grip": rear_grip,
    "winding heat": _winding_heat,
    "controller heat": _controller_heat,
    "low-voltage cutback": _foldback,
    "speed cap": _speed_cap,
}
