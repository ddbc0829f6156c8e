"""Cautions that several parts of the page give: what can hurt someone, and whose word counts."""

from __future__ import annotations

from explorer.format import UnitFormatter
from physics.components.tyre import SPEED_SYMBOLS_KM_H, parse_tyre

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
