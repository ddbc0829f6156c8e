"""Hill start with the sprockets near the present ones, cached. Numbers only."""

from __future__ import annotations

import streamlit as st

from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.page.results import BY_BUILD
from explorer.page.tolerances import iron, tolerances
from physics.build import Build
from physics.studies.day.hill_start import HillStart, Passenger, hill_start
from physics.studies.uncertainty import Tolerance

FRONT_ROUND, REAR_ROUND, REAR_STEP = 1, 8, 2
"""How far the pairs go from the present one, and in what steps, teeth."""
BEHIND, ABOVE = 0.30, 0.30
"""A passenger's place: behind the rider's, and centre of gravity above the seat, m; common practice, no source."""


def passenger_of(page: Page) -> Passenger:
    """Who sits behind the rider, if anybody."""
    values = page.inputs
    place, seat = (INPUTS[key].si(values[key]) for key in ("seat_place", "seat_height"))
    return Passenger(float(values["hill_passenger"]), place - BEHIND, seat + ABOVE)


def hill_of(page: Page) -> HillStart:
    """What starts, in each level and with each near pair; the present pair first."""
    line = page.build.driveline
    pairs = [(line.front_teeth, line.rear_teeth)]
    for front in range(line.front_teeth - FRONT_ROUND, line.front_teeth + FRONT_ROUND + 1):
        for rear in range(line.rear_teeth - REAR_ROUND, line.rear_teeth + REAR_ROUND + 1, REAR_STEP):
            if all(INPUTS[key].low <= teeth <= INPUTS[key].high for key, teeth in _teeth(front, rear)):
                pairs.append((front, rear))
    known = tolerances(page.inputs) + iron(page.build, page.inputs)  # a start asks for all the torque there is
    return _hill(page.build, tuple(pairs), passenger_of(page), known)


def _teeth(front: int, rear: int) -> tuple[tuple[str, int], tuple[str, int]]:
    return ("front_teeth", front), ("rear_teeth", rear)


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD | {Passenger: repr})
def _hill(
    build: Build, pairs: tuple[tuple[int, int], ...], passenger: Passenger, known: tuple[Tolerance, ...]
) -> HillStart:
    return hill_start(build, pairs, passenger, known)
