"""Cautions that several parts of the page give: what can hurt someone, and whose word counts."""

from __future__ import annotations

from explorer.format import UnitFormatter
from physics.components.tyre import SPEED_SYMBOLS_KM_H, parse_tyre

RIDE = (
    "A prediction is no permission. Test at a closed place, in riding gear, with brakes, chain and tyres checked "
    "and rated for the speed. Whether a modified bike may be ridden on a public road is for local law to say; the "
    "makers' instructions come before anything shown here."
)
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


def tyre_speed(tyre: str, speed: float, fmt: UnitFormatter) -> str:
    """What a speed asks of the tyres' speed symbol; empty for speeds that every common symbol covers.

    Parameters
    ----------
    tyre : str
        The rear tyre's size, perhaps with its symbol.
    speed : float, m/s
        The highest that is predicted.
    fmt : UnitFormatter
        The rider's units.
    """
    try:
        symbol = parse_tyre(tyre).speed_symbol
    except ValueError:
        symbol = ""
    km_h = 3.6 * speed
    if symbol in SPEED_SYMBOLS_KM_H:
        allowed = SPEED_SYMBOLS_KM_H[symbol]
        if km_h > allowed:
            return (
                f"{fmt.apart('speed', speed, allowed / 3.6)} is more than the tyre's speed symbol {symbol} "
                f"allows ({fmt('speed', allowed / 3.6)}): fit tyres made for the speed."
            )
        return ""
    beaten = [mark for mark in COMMON_SYMBOLS if SPEED_SYMBOLS_KM_H[mark] < km_h]
    if not beaten:
        return ""
    limit = SPEED_SYMBOLS_KM_H[beaten[-1]] / 3.6
    needed = next((mark for mark, most in SPEED_SYMBOLS_KM_H.items() if most >= km_h), "")
    text = (
        f"{fmt.apart('speed', speed, limit)} is more than tyres with the speed symbol {beaten[-1]} are made for "
        f"({fmt('speed', limit)})"
    )
    if not needed:
        return text + "."
    return f"{text}: both tyres must carry {needed} or a faster symbol."
