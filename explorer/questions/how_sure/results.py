"""How sure the prediction is: tolerances, the band beside the run, and the longer work. Numbers only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.how_sure import TYPICAL_DRAG, TYPICAL_RESISTANCE
from physics.build import Build
from physics.studies.uncertainty import NORMAL, UNIFORM, Likely, Sensitivity, Tolerance, likely, sensitivity

UNKNOWNS = {
    "sure_drag": ("bike.drag_area", NORMAL, True),
    "sure_rolling": ("bike.rolling_coefficient", NORMAL, True),
    "sure_resistance": ("pack.resistance", NORMAL, True),
    "sure_kv": ("motor.kv_rpm_per_volt", NORMAL, True),
    "sure_weight": ("bike.bike_mass", NORMAL, False),
    "sure_air": ("conditions.air_temperature", UNIFORM, False),
    "sure_pack_temperature": ("conditions.pack_temperature", NORMAL, False),
    "sure_wind": ("conditions.headwind", NORMAL, False),
    "sure_charge": ("conditions.charge", NORMAL, False),
    "sure_weakest": ("pack.charge_spread", NORMAL, False),
}
"""Input to field path, shape, and whether it is a share of the value."""

SAMPLES, BASE = 1024, 512
"""For the section itself, beside the page: samples of bands and chances, and rows of the ranking's design."""

CHUNK_MEMORY = 2**24
"""Bytes; small chunks leave the page its turn, and a stop is heard soon."""


def tolerances(inputs: dict[str, Any]) -> tuple[Tolerance, ...]:
    """How well each unknown is known, as the rider says it; a typical value counts as badly known.

    Parameters
    ----------
    inputs : dict
        Every input by key, in home units.

    Returns
    -------
    tuple of Tolerance
        One for each of UNKNOWNS, in that order.
    """
    made = []
    for key, (path, shape, relative) in UNKNOWNS.items():
        value = float(inputs[key])
        if key == "sure_drag" and inputs["drag_area"] is None:
            value = max(value, TYPICAL_DRAG)
        if key == "sure_resistance" and inputs["pack_resistance"] is None:
            value, shape = max(value, TYPICAL_RESISTANCE), UNIFORM
        made.append(Tolerance(path, abs(INPUTS[key].si(value)), shape, relative))
    return tuple(made)


@dataclass(frozen=True)
class Sure:
    """What was found.

    Attributes
    ----------
    likely : Likely or None
        Bands and chances, None where nothing was run.
    sensitivity : Sensitivity or None
        Which unknown matters most, None where the search was stopped.
    """

    likely: Likely | None
    sensitivity: Sensitivity | None


def search(
    build: Build, known: tuple[Tolerance, ...], target_speed: float, duration: float
) -> Callable[[Callable[[int, int], None], Callable[[], bool]], Sure]:
    """The work of a background job.

    Parameters
    ----------
    build, known, target_speed, duration
        As `physics.studies.uncertainty.likely` takes them.

    Returns
    -------
    callable
        For `explorer.frame.background_job.Job`.
    """

    def work(progress, cancelled) -> Sure:
        whole = SAMPLES + BASE * (len(known) + 2)
        found = likely(
            build, known, target_speed, duration, count=SAMPLES, cancelled=cancelled, memory=CHUNK_MEMORY,
            progress=lambda done, _: progress(done, whole),
        )  # fmt: skip
        ranked = None
        if not cancelled():
            ranked = sensitivity(
                build, known, duration, base=BASE, cancelled=cancelled, memory=CHUNK_MEMORY,
                progress=lambda done, _: progress(SAMPLES + done, whole),
            )  # fmt: skip
        return Sure(found, ranked)

    return work
