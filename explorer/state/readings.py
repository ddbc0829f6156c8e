"""What a session keeps of the speedometer's readings, and what it begins with. No Streamlit here."""

from __future__ import annotations

from physics.units import to_si

Reading = tuple[float | None, float | None]
"""Indicated and measured speed, m/s; None where nothing was entered."""

MOST = 30
LOWEST, HIGHEST = 0.3, 150.0
"""m/s: what a reading may be."""
_INVENTED = {
    "metric": ("km/h", ((41.0, 39.1), (60.0, 57.4), (82.0, 78.2), (101.0, 96.6))),
    "US": ("mph", ((25.0, 23.8), (37.0, 35.4), (51.0, 48.7), (63.0, 60.2))),
}


def invented(system: str) -> list[Reading]:
    """Readings that show how it works, in figures a display of these units could show. Invented."""
    unit, rows = _INVENTED[system]
    return [(float(to_si(shown, unit)), float(to_si(true, unit))) for shown, true in rows]


def are_invented(rows: list[Reading]) -> bool:
    """Whether these are readings that nobody took, in whatever units."""
    return any(rows == invented(system) for system in _INVENTED)


def complete(rows: list[Reading]) -> list[tuple[float, float]]:
    """The readings of which both speeds were entered."""
    return [(shown, true) for shown, true in rows if shown is not None and true is not None]
