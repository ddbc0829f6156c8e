"""Everything that is known of a batch of builds at one instant, and what it weighs in an integral over a step."""

import numpy as np

POWERS = (
    "pack",
    "winding",
    "iron",
    "controller",
    "driveline",
    "polarisation",
    "drag",
    "rolling",
    "climbing",
    "cells",
)
"""Where power goes, and last where it comes from; heat of the four lumped parts first."""

WITHOUT_CURRENT = ("iron", "drag", "rolling", "climbing")
"""Powers that need no current."""


STATE = (
    "speed",
    "charge",
    "pair_1_voltage",
    "pair_2_voltage",
    "pack_temperature",
    "winding_temperature",
    "case_temperature",
    "controller_temperature",
)
"""What moves from step to step, in the order of its rows."""

_FOUND = (
    "slope",
    "pack_voltage",
    "rest_voltage",
    "weakest_cell_voltage",
    "polarisation_voltage",
    "polarisation_heat",
    "ohmic_resistance",
    "quadrature_current",
    "field_current",
    "drive_force",
    "limit",
    "held_by_line",
    "acceleration",
    "line_current",
    "pair_drive",
)
_GROUPS = {
    "state": STATE,
    "found": _FOUND,
    "sources": ("pack", "winding", "case", "controller"),
    "powers": POWERS,
    "since": ("limit_since",),
}


def _places():
    """Row, or rows, of each quantity of a Moment by its name."""
    places: dict = {}
    start = 0
    for group, names in _GROUPS.items():
        places[group] = slice(start, start + len(names))
        if group in ("state", "found", "since"):
            places |= {name: start + place for place, name in enumerate(names)}
        start += len(names)
    speed = places["speed"]
    places["pair_voltage"], places["temperatures"] = slice(speed + 2, speed + 4), slice(speed + 4, speed + 8)
    places["currents"] = slice(places["quadrature_current"], places["field_current"] + 1)
    places["foreseen"] = slice(places["line_current"], places["sources"].stop)
    places["integrated"] = slice(places["acceleration"], places["powers"].stop)
    return places, start


PLACES, ROWS = _places()
"""Where the rows of each quantity of a Moment are, and how many there are."""

_FIRST = PLACES["integrated"].start
FORESEEN = slice(PLACES["foreseen"].start - _FIRST, PLACES["foreseen"].stop - _FIRST)
WORK = slice(PLACES["powers"].start - _FIRST, PLACES["powers"].stop - _FIRST)
"""Where the rows of "foreseen" and of "powers" are in "integrated", of which "acceleration" is the first."""


class Weights:
    """Weights of three moments in the integral over the step from the second to the third.

    Of the parabola through all three (the formula of Adams and Moulton, third order) where the first one says
    something about the step, and of the trapezoid where it does not.

    Parameters
    ----------
    duration : array, shape (n,), s
        Of the step.
    ratio : array, shape (n,)
        Its length over that of the one before; zero where that says nothing.
    """

    def __init__(self, duration, ratio):
        sixth, less = duration / 6, 1 / (1 + ratio)
        self.before = -sixth * ratio * ratio * less
        self.now = sixth * (3 + ratio)
        self.then = sixth * (2 + less)

    def integral(self, before, now, then):
        """Of a quantity that is known at the three moments."""
        return self.before * before + self.now * now + self.then * then


class Moment:
    """Everything at one instant: one row for each quantity, read by its name; the last axis is the builds.

    Parameters
    ----------
    rows : array, shape (ROWS, n)
        Rows as in PLACES: the state, what was found for it, heat sources, powers. "foreseen" are the rows whose
        mean over a coming step is taken from this moment and the one before.
    """

    __slots__ = ("rows",)

    def __init__(self, rows):
        self.rows = rows

    def __getitem__(self, name: str) -> np.ndarray:
        return self.rows[PLACES[name]]

    def __setitem__(self, name: str, values) -> None:
        self.rows[PLACES[name]] = values

    def take(self, places) -> "Moment":
        """The builds at some places, copied."""
        return Moment(self.rows[:, places])
