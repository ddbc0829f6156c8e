"""What was entered into the page's small tables, as parameters of the share link. No Streamlit here.

    readings=41:39.1_60:57.4   the speedometer's readings, indicated and measured, km/h; either may be missing
    chain=428_116_12_56_10_15  the chain on the bike: size, links, front and rear teeth it runs on now, and how far
                               the axle can go forward and back, mm
    facts, were                remembered facts, and what they were applied to: see explorer/state/memories.py
    packs                      packs on offer: see explorer/state/offers.py
    experiment=tuck            the experiment that a teacher hands out, by its key
    projector=yes              shown alone and large, as before a class

These belong to the session, not to a build: the session holds them under the keys below.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from typing import Any

from explorer.state import memories, offers
from explorer.state.memories import MEMORIES, WERE
from explorer.state.offers import OFFERS
from explorer.state.readings import HIGHEST, LOWEST, MOST, are_invented
from physics.components.chain import CHAIN_SIZES

READINGS, CHAIN = "speedometer:readings", "gearing:chain"
EXPERIMENT, PROJECTOR = "experiments:linked", "experiments:projector"
KEYS = ("readings", "chain", "facts", "were", "packs", "experiment", "projector")
_FIELDS: dict[str, tuple[type, float, float, float]] = {
    "links": (int, 1, 40, 200), "front": (int, 1, 6, 60), "rear": (int, 1, 6, 150),
    "forward": (float, 1000, 0, 0.1), "back": (float, 1000, 0, 0.1),
}  # fmt: skip
"""Kind, parts of the link's unit in one of the session's, lowest and highest, as the fields accept them."""


def texts(session: Mapping[Any, Any]) -> dict[str, str]:
    """The link's parameters for what a session holds; nothing for what was never entered.

    Examples
    --------
    >>> texts({"speedometer:readings": [(10.0, None)], "gearing:chain": {"size": "428", "links": 116}})
    {'readings': '36:', 'chain': '428_116____'}
    """
    found = {}
    rows = session.get(READINGS)
    if rows is not None and not are_invented(rows):
        found["readings"] = "_".join(":".join(_number(value, 3.6) for value in row) for row in rows)
    chain = session.get(CHAIN)
    if chain:
        parts = [str(chain.get("size", ""))]
        parts += [_number(chain.get(name), scale) for name, (_, scale, _, _) in _FIELDS.items()]
        found["chain"] = "_".join(parts)
    if EXPERIMENT in session:
        found["experiment"] = session[EXPERIMENT]
    if session.get(PROJECTOR):
        found["projector"] = "yes"
    if packs := offers.as_text(session.get(OFFERS, {})):
        found["packs"] = packs
    if rows := session.get(MEMORIES):
        found["facts"] = memories.as_text(rows)
    if were := session.get(WERE):
        found["were"] = memories.were_as_text(were)
    return found


def _number(value: float | None, scale: float) -> str:
    return "" if value is None else f"{value * scale:.10g}"


def read(link: Mapping[str, str]) -> tuple[dict[str, Any], list[str]]:
    """What a link's parameters mean for the session.

    Parameters
    ----------
    link : dict of str to str
        The parameters of the page's address.

    Returns
    -------
    tuple of (dict, list of str)
        What to put into the session, and a sentence for each that could not be used.
    """
    held: dict[str, Any] = {}
    notes = []
    for key, place, parsed, what in (
        ("readings", READINGS, _readings, "speedometer readings"),
        ("chain", CHAIN, _chain, "chain"),
        ("experiment", EXPERIMENT, _experiment, "experiment"),
        ("projector", PROJECTOR, {"yes": True}.__getitem__, "view"),
        ("packs", OFFERS, offers.from_text, "packs on offer"),
        ("facts", MEMORIES, memories.from_text, "remembered facts"),
        ("were", WERE, memories.were_from_text, "values from before the remembered facts"),
    ):
        if key in link:
            value = _sound(parsed, link[key])
            if value is None:
                notes.append(f"The link's {what} could not be read; the page starts without it.")
            else:
                held[place] = value
    return held, notes


def _sound(parsed: Callable[[str], Any], text: str) -> Any:
    try:
        return parsed(text[:2000])
    except (ValueError, KeyError):
        return None


def _readings(text: str) -> list[tuple[float | None, float | None]]:
    rows = []
    for pair in text.split("_")[:MOST] if text else []:
        shown, true = (_inside(part, 3.6, LOWEST, HIGHEST) if part else None for part in pair.split(":"))
        rows.append((shown, true))
    return rows


def _chain(text: str) -> dict[str, Any]:
    size, *parts = text.split("_")
    if size not in CHAIN_SIZES:
        raise ValueError
    held: dict[str, Any] = {"size": size}
    for (name, (kind, scale, low, high)), part in zip(_FIELDS.items(), parts, strict=True):
        if part:
            held[name] = kind(_inside(part, scale, low, high))
    return held


def _experiment(text: str) -> str:
    if not re.fullmatch("[a-z_]{1,40}", text):
        raise ValueError
    return text


def _inside(text: str, scale: float, low: float, high: float) -> float:
    value = float(text) / scale
    if not (math.isfinite(value) and low - 1e-9 <= value <= high + 1e-9):
        raise ValueError
    return value
