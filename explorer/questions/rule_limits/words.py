"""A rule's limits in words: the verdict, its derivation, the numbers, the caution."""

from __future__ import annotations

import math

import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import CONTROLLER, GEARING, PRACTICE
from explorer.page.page import Page
from explorer.questions.rule_limits.results import allowed, radius_doubt
from physics.components.pack import rest_voltage
from physics.studies.day.rule_limits import RuleLimits

CAUTION = (
    "A setting is not an approval. Local law, your club and licensed practice decide how power and speed are "
    "measured, and whether a bike set up like this may be ridden at all; have it measured before you rely on "
    "it. Downhill, a bike rolls past its speed cap."
)
NOTE = (
    "The most power possible with the line limit for the shaft: a full, rested, hot pack, a cold motor, and "
    "every input off by as much as it plausibly may be."
)


def verdict(page: Page, rule: RuleLimits | None) -> str:
    """What to set."""
    if rule is None:
        return "**Switch on what the rules limit:** power, speed or both."
    parts = [text for text in (_power(page, rule), _speed(page, rule)) if text]
    return " ".join(parts)


def _power(page: Page, rule: RuleLimits) -> str:
    power, fmt = allowed(page, "rule_power"), page.fmt
    if power is None:
        return ""
    at = fmt("power", power)
    if rule.shaft == 0:
        return f"**No line limit keeps it within {at}:** even 1 A is too much."
    if math.isinf(rule.shaft):
        return (
            f"**No line limit is needed for {at}:** the bike makes {fmt.at_least('power', rule.highest)} at most."
        )
    text = f"**Set a line limit of {rule.shaft:.0f} A at most for {at} at the motor shaft"
    text += "" if math.isinf(rule.wheel) else f", {rule.wheel:.0f} A for {at} at the wheel"
    text += ":** in every power level."
    return f"{text} {rule.certain:.0f} A keeps to it even with no losses at all."


def _speed(page: Page, rule: RuleLimits) -> str:
    speed, fmt = allowed(page, "rule_speed"), page.fmt
    if speed is None:
        return ""
    limit, cap = fmt.entered("speed", speed), fmt.at_most("speed", rule.speed_cap)
    rpm = fmt.at_most("motor speed", rule.motor_speed)
    return f"**Set the speed cap to {cap} ({rpm} at the motor) for {limit}:** the tyre may be larger than entered."


def derivation(page: Page, rule: RuleLimits) -> list[Step]:
    """The limit without any loss, and the cap."""
    steps, power, speed = [], allowed(page, "rule_power"), allowed(page, "rule_speed")
    pack, over = page.build.pack, page.build.controller.overshoot
    if power is not None:
        full = float(rest_voltage(pack.chemistry, pack.cells_in_series, 1.0))
        steps.append(
            Step(
                "Line current that can never make too much power",
                r"I = \frac{P}{U_{full}\,(1 + o)}",
                f"{put(power, 6)} / ({put(full, 5)} × (1 + {put(over)}))",
                power / full / (1 + over),
                "A",
                "P power allowed, W; U_full voltage of the full pack at rest, V; o overshoot of the controller. "
                "Losses in motor, controller, chain and pack at each speed allow a little more. Left out: "
                "losses smaller than entered, dyno rollers, and how the rules measure",
                CONTROLLER,
                "current",
            )
        )
    if speed is not None:
        steps.append(
            Step(
                "Speed cap",
                r"v_c = \frac{v}{1 + e}",
                f"{put(speed, 6)} / (1 + {put(radius_doubt(page))})",
                rule.speed_cap,
                "m/s",
                "v speed allowed, m/s; e share by which the tyre may be larger than entered. Left out: wheel slip, "
                "and rolling downhill",
                f"{GEARING}. {PRACTICE}",
                "speed",
            )
        )
    return steps


def alt(page: Page, rule: RuleLimits) -> str:
    """What the chart shows."""
    return f"Power at shaft and wheel against speed. {verdict(page, rule).replace('*', '')}"


def table(page: Page, rule: RuleLimits) -> pd.DataFrame:
    """Power at some speeds."""
    fmt, step = page.fmt, max(1, rule.speed.size // 12)
    return pd.DataFrame(
        [
            {
                "speed": fmt("speed", rule.speed[row]),
                "at the shaft": fmt("power", rule.shaft_power[row], 2),
                "at the wheel": fmt("power", rule.wheel_power[row], 2),
            }
            for row in range(0, rule.speed.size, step)
        ]
    )


def on_the_sheet(page: Page, rule: RuleLimits) -> str:
    """Line limit and cap in a few words."""
    parts = []
    if math.isinf(rule.shaft):
        parts.append("no line limit needed")
    elif not math.isnan(rule.shaft):
        parts.append(f"line {rule.shaft:.0f} A at most (at the shaft)")
    if not math.isnan(rule.speed_cap):
        parts.append(f"cap {page.fmt.at_most('speed', rule.speed_cap)}")
    return ", ".join(parts)
