"""Cautions that several parts of the page give: what can hurt someone, and whose word counts."""

from __future__ import annotations

import numpy as np

from explorer.format import UnitFormatter
from physics.build import Build
from physics.components.tyre import SPEED_SYMBOLS_KM_H, parse_tyre
from physics.studies import speed_ratings as rated

RIDE = (
    "A prediction is not permission to ride. Test on closed ground, in riding gear, with brakes, chain "
    "and tyres checked and rated for the speed. Whether a modified bike may be ridden on a public road "
    "is for local law to say, and the makers' instructions come before anything shown here."
)
FIRST = "A prediction is not permission to ride: test on closed ground, in riding gear, brakes and tyres checked."
"""The one line of the first screen."""
PROTECTION = "Enter what the BMS maker states. The page never asks you to change the BMS itself."
CUT_OUT = (
    "The BMS is there to keep the pack from catching fire. Plan so that it never cuts out; never bypass, "
    "reset or loosen it. A cut-out takes your drive away at once, even mid-corner."
)
HOT = (
    "Motor, controller and pack will burn skin long before they reach their limits, and they stay hot "
    "after a ride. If a pack smells, smokes or swells: stop, get away, and leave it to trained people."
)
COLD_CHARGE = (
    "Charging cold lithium cells damages them permanently and can make them unsafe, and regen is "
    "charging. Keep to the cell maker's temperatures and currents. Without regen the brakes alone must "
    "stop the bike."
)

COMMON_SYMBOLS = ("J", "L", "M", "P", "S", "H")
"""Speed symbols that tyres of small motorcycles often carry; common practice, no source."""


def speed_ratings(build: Build, speed: float, fmt: UnitFormatter) -> str:
    """What a speed asks of tyre, motor and controller beyond what they are rated for; empty where it does not.

    Parameters
    ----------
    build : Build
        With the ratings that are known.
    speed : float, m/s
        The highest that is shown as reached.
    fmt : UnitFormatter
        The rider's units.
    """
    asked = rated.speed_ratings(build, speed)
    volts, emf, turns = asked[rated.PACK_VOLTAGE], asked[rated.BACK_EMF], asked[rated.ELECTRICAL_FREQUENCY]
    load, at = asked[rated.TYRE_LOAD], f"At {fmt('speed', speed)}"
    texts = [_tyre_speed(build.bike.tyre, asked[rated.TYRE_SPEED], fmt)]
    if load.passed:
        texts.append(
            f"Standing still, the rear wheel carries {fmt('mass', load.value)}, more than its tyre's load index "
            f"allows ({fmt('mass', load.limit)}): fit tyres rated for the load."
        )
    if volts.passed:
        texts.append(
            f"A full pack is at {fmt('voltage', volts.value)}, above the controller's voltage rating "
            f"({fmt('voltage', volts.limit)}): do not connect them."
        )
    if emf.passed:
        texts.append(
            f"{at} the motor's back-EMF is {fmt('voltage', emf.value)}, more than the controller withstands "
            f"({fmt('voltage', emf.limit)}): if it shuts down there, it can be destroyed and lock the wheel."
        )
    if turns.passed:
        texts.append(
            f"{at} the motor runs at {turns.value:.0f} Hz, faster than the controller can follow "
            f"({turns.limit:.0f} Hz): it may lose sync with the motor."
        )
    return " ".join(text for text in texts if text)


def _tyre_speed(tyre: str, rating: rated.Rating, fmt: UnitFormatter) -> str:
    """What a speed asks of the tyres' speed symbol; empty for speeds that every common symbol covers."""
    if np.isfinite(rating.limit):
        if not rating.passed:
            return ""
        return (
            f"{fmt.apart('speed', rating.value, rating.limit)} is more than the tyre's speed symbol "
            f"{parse_tyre(tyre).speed_symbol} allows ({fmt('speed', rating.limit)}): fit tyres rated for the "
            "speed."
        )
    km_h = 3.6 * rating.value
    beaten = [mark for mark in COMMON_SYMBOLS if SPEED_SYMBOLS_KM_H[mark] < km_h]
    if not beaten:
        return ""
    limit = SPEED_SYMBOLS_KM_H[beaten[-1]] / 3.6
    needed = next((mark for mark, most in SPEED_SYMBOLS_KM_H.items() if most >= km_h), "")
    text = (
        f"{fmt.apart('speed', rating.value, limit)} is more than tyres with speed symbol {beaten[-1]} are rated "
        f"for ({fmt('speed', limit)})"
    )
    if not needed:
        return text + "."
    return f"{text}: both tyres need {needed} or a faster symbol."
