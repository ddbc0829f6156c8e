"""Cautions that several parts of the page give: what can hurt someone, and whose word counts."""

from __future__ import annotations

import numpy as np

from explorer.format import UnitFormatter
from physics.build import Build
from physics.components.tyre import SPEED_SYMBOLS_KM_H, parse_tyre
from physics.studies import speed_ratings as rated

RIDE = (
    "A prediction is no permission. Test at a closed place, in riding gear, with brakes, chain and tyres checked "
    "and rated for the speed. Whether a modified bike may be ridden on a public road is for local law to say; the "
    "makers' instructions come before anything shown here."
)
FIRST = "A prediction is not permission to ride: test at a closed place, in riding gear, brakes and tyres checked."
"""The one line of the first screen."""
PROTECTION = (
    "Enter what the maker of the pack's protection states. The page never asks you to set the protection itself."
)
CUT_OUT = (
    "The protection is there so that the pack does not catch fire. Plan so that it never cuts out; never bypass, "
    "reset or widen it. A cut-out takes the drive away at once, in a bend too."
)
HOT = (
    "Motor, controller and pack burn skin long before they reach their limits, and stay hot after a ride. Smell, "
    "smoke or a swollen pack: stop, get away, and leave it to trained people."
)
COLD_CHARGE = (
    "Charging cold lithium cells harms them for good and can make them unsafe; regenerative braking is charging. "
    "Keep to the cell maker's temperatures and currents. Without regen the brakes alone must stop the bike."
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
            f"The rear wheel carries {fmt('mass', load.value)} standing, more than its tyre's load index allows "
            f"({fmt('mass', load.limit)}): fit tyres made for the load."
        )
    if volts.passed:
        texts.append(
            f"A full pack has {fmt('voltage', volts.value)}, more than the controller's highest voltage "
            f"({fmt('voltage', volts.limit)}): do not connect them."
        )
    if emf.passed:
        texts.append(
            f"{at} the motor's back-EMF is {fmt('voltage', emf.value)}, more than the controller withstands "
            f"({fmt('voltage', emf.limit)}): should it let go of the motor there, it can be destroyed and lock the "
            "wheel."
        )
    if turns.passed:
        texts.append(
            f"{at} the motor asks for {turns.value:.0f} Hz, more than the controller can follow "
            f"({turns.limit:.0f} Hz): it may lose hold of the motor."
        )
    return " ".join(text for text in texts if text)


def _tyre_speed(tyre: str, rating: rated.Rating, fmt: UnitFormatter) -> str:
    """What a speed asks of the tyres' speed symbol; empty for speeds that every common symbol covers."""
    if np.isfinite(rating.limit):
        if not rating.passed:
            return ""
        return (
            f"{fmt.apart('speed', rating.value, rating.limit)} is more than the tyre's speed symbol "
            f"{parse_tyre(tyre).speed_symbol} allows ({fmt('speed', rating.limit)}): fit tyres made for the speed."
        )
    km_h = 3.6 * rating.value
    beaten = [mark for mark in COMMON_SYMBOLS if SPEED_SYMBOLS_KM_H[mark] < km_h]
    if not beaten:
        return ""
    limit = SPEED_SYMBOLS_KM_H[beaten[-1]] / 3.6
    needed = next((mark for mark, most in SPEED_SYMBOLS_KM_H.items() if most >= km_h), "")
    text = (
        f"{fmt.apart('speed', rating.value, limit)} is more than tyres with the speed symbol {beaten[-1]} are made "
        f"for ({fmt('speed', limit)})"
    )
    if not needed:
        return text + "."
    return f"{text}: both tyres must carry {needed} or a faster symbol."
