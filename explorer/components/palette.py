"""The colours of the page and its charts, once, for the light and the dark theme.

A figure names a colour by token, ``"@blue"``, or with an opacity, ``"@blue/0.25"``. The chart
component turns tokens into the colours of the theme the rider looks at, so that a change of theme
needs no new figure. The six series colours differ by at least 13 (100 x the distance in the Oklab
space) from each other and from the text, in normal sight and in simulated protanopia, deuteranopia
and tritanopia, and by a contrast of at least 3 to 1 from the page behind them (WCAG 2.2, success
criterion 1.4.11). Where more than six things must be told apart, add a pattern or a label: colour is
never the only sign.
"""

from __future__ import annotations

import re
from typing import Any

SERIES = ("blue", "amber", "teal", "violet", "brick", "olive")
PATTERNS = ("", "/", ".", "x", "-", "\\", "+", "|")

LIGHT = {
    "background": "#fbfbf9",
    "panel": "#eef1f1",
    "text": "#1f2a33",
    "muted": "#52606a",
    "grid": "#dde2e3",
    "axis": "#7f8a92",
    "accent": "#1b6478",
    "blue": "#08487d",
    "amber": "#d87419",
    "teal": "#0d9db0",
    "violet": "#6b5ec9",
    "brick": "#9a5756",
    "olive": "#554200",
}

DARK = {
    "background": "#10161a",
    "panel": "#182026",
    "text": "#e6ebee",
    "muted": "#a9b5bd",
    "grid": "#2a343b",
    "axis": "#6b7880",
    "accent": "#429eb5",
    "blue": "#7585e2",
    "amber": "#ffa18f",
    "teal": "#09737f",
    "violet": "#bcb3f5",
    "brick": "#836000",
    "olive": "#a99100",
}

_TOKEN = re.compile(r"@([a-z]+)(?:/(0|1|0?\.\d+))?")


def colour(token: str, *, dark: bool = False) -> str:
    """Turn one colour token into a colour a browser understands.

    Parameters
    ----------
    token : str
        ``"@name"`` or ``"@name/opacity"``; any other text is returned as it is.
    dark : bool
        The theme.

    Examples
    --------
    >>> colour("@blue")
    '#08487d'
    >>> colour("@blue/0.25")
    'rgba(8,72,125,0.25)'
    >>> colour("red")
    'red'
    """
    match = _TOKEN.fullmatch(token)
    table = DARK if dark else LIGHT
    if not match or match[1] not in table:
        return token
    hexadecimal = table[match[1]]
    if match[2] is None:
        return hexadecimal
    red, green, blue = (int(hexadecimal[start : start + 2], 16) for start in (1, 3, 5))
    return f"rgba({red},{green},{blue},{match[2]})"


def resolve(part: Any, *, dark: bool = False) -> Any:
    """Return a copy of a figure (dicts, lists, text) with every colour token resolved."""
    if isinstance(part, str):
        return colour(part, dark=dark) if part.startswith("@") else part
    if isinstance(part, dict):
        return {name: resolve(value, dark=dark) for name, value in part.items()}
    if isinstance(part, list | tuple):
        return [resolve(value, dark=dark) for value in part]
    return part
