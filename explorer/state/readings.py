"""What a session keeps of the speedometer's readings, and what it begins with. No Streamlit here."""

from __future__ import annotations

Reading = tuple[float | None, float | None]
"""Indicated and measured speed, m/s; None where nothing was entered."""

MOST = 30
LOWEST, HIGHEST = 0.3, 150.0
"""m/s: what a reading may be."""
INVENTED_KM_H = ((41.0, 39.1), (60.0, 57.4), (82.0, 78.2), (101.0, 96.6))
INVENTED: list[Reading] = [(shown / 3.6, true / 3.6) for shown, true in INVENTED_KM_H]
"""To show how it works. Invented."""


def complete(rows: list[Reading]) -> list[tuple[float, float]]:
    """The readings of which both speeds were entered."""
    return [(shown, true) for shown, true in rows if shown is not None and true is not None]
