"""What one ride says of a build that may be held against other rides: each value as it would be on the same day.

Resistance is brought to 25 degrees C and half charge by the pack model, drag area is free of the air's density, and
capacity comes from the charge drawn between two rest voltages. Left out: the meter's own errors of scale, which are
the same on every ride, wind that was not entered, and a pack whose middle is warmer than its sensor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from physics.build import Build
from physics.build.batch import Batch
from physics.components.cell import chemistry
from physics.components.cell_resistance import resistance_temperature_factor
from physics.fitting.coast_down import fit_coast_down_of_build
from physics.fitting.pack import charge_at, fit_pack_of_build, pack_course, warmed
from physics.fitting.result import FitResult
from physics.ridelog.report import RideLog
from physics.ridelog.segments import Segment, find_segments
from physics.simulation.plant import SECONDS_PER_HOUR

ENTERED_DOUBT, LOGGED_DOUBT = 3.0, 1.5
"""K, half of a 95 % interval: how far the pack may be from a temperature entered, or logged; common practice, no
source."""
GROWTH_DOUBT = 0.10
"""Half of a 95 % interval of a growth in the cold that was entered, as a share; common practice, no source."""
TABLE_DOUBT = 0.015
"""V a cell, half of a 95 % interval: how far a cell is from its chemistry's table of rest voltage; common practice,
no source."""
SMALLEST_SPAN = 0.30
"""Of the charge; a log that spans less says nothing of capacity: the table's doubt alone would be a tenth of it."""
WIDEST_CAPACITY = 0.15
"""Half of the 95 % interval over the value; beyond it a capacity is none."""
LONGEST_PAUSE = 0.01
"""Of the log's length, without readings: beyond it the charge drawn is not known."""
ROUNDS, CLOSE = 12, 1e-4


@dataclass(frozen=True)
class Measured:
    """A value and half of its 95 % interval.

    Parameters
    ----------
    value, half_width : float
        SI.
    """

    value: float
    half_width: float


@dataclass(frozen=True)
class RideValues:
    """What one ride says of a build; None where it cannot tell.

    Parameters
    ----------
    resistance : Measured, ohm
        Of the pack, 10 s into a discharge at 25 degrees C and half charge.
    capacity_ah : Measured, Ah
        Of the pack.
    drag_area : Measured, m2
        Of bike and rider.
    pack_temperature : float, K
        Mean while current flowed.
    temperature_logged : bool
        Whether the log has it; else it follows from the one entered for the start.
    charge_from, charge_to : float
        At the first and last reading, 0 to 1.
    """

    resistance: Measured | None
    capacity_ah: Measured | None
    drag_area: Measured | None
    pack_temperature: float | None
    temperature_logged: bool
    charge_from: float | None
    charge_to: float | None


def ride_values(log: RideLog, build: Build, segments: Sequence[Segment] | None = None) -> RideValues:
    """Fit what can be held against other rides of the same build.

    Parameters
    ----------
    log : RideLog
        Any.
    build : Build
        Its mass, cells, chemistry and growth in the cold are taken as they are; its pack temperature counts at the
        start where the log has none, its air temperature for the density of the air.
    segments : sequence of Segment, optional
        Those that count; all by default.

    Returns
    -------
    RideValues
    """
    segments = find_segments(log) if segments is None else tuple(segments)
    use = np.zeros(len(log.frame), bool)
    for segment in segments:
        use[segment.first : segment.last] = True
    if not log.holds("speed"):
        use[:] = True
    pack, _ = fit_pack_of_build(log, build, use)
    course = _course(log, build, pack)
    warm, begin, end = course or (None, None, None)
    logged = bool(np.isfinite(log.column("pack_temperature")).any())
    road, _ = fit_coast_down_of_build(log, build, segments)
    return RideValues(
        resistance=_resistance(build, pack, warm, LOGGED_DOUBT if logged else ENTERED_DOUBT),
        capacity_ah=fit_capacity(log, build, use) if course else None,
        drag_area=_measured(road, "drag_area"),
        pack_temperature=warm,
        temperature_logged=logged,
        charge_from=begin,
        charge_to=end,
    )


def fit_capacity(log: RideLog, build: Build, use: NDArray[np.bool_] | None = None) -> Measured | None:
    """Capacity of a pack from the charge drawn and how far its rest voltage fell meanwhile.

    With capacity C the rest voltage falls by s = dU/dQ on average; the fit of `fit_pack_of_build` gives what it
    falls beyond that, k. The capacity with which k is nought is looked for by C <- C / (1 + k / s). The interval
    holds the spread of k and the doubt of the table of rest voltage at both ends, in quadrature.

    Parameters
    ----------
    log : RideLog
        With pack voltage and line current.
    build : Build
        Its chemistry and cells; its capacity is the start.
    use : array of bool, shape (n,), optional
        Rows to compare; all if not given.

    Returns
    -------
    Measured or None
        Ah; None where the log has pauses, draws too little, or leaves more than 15 % open.
    """
    length = float(np.ptp(log.column("time")))
    if sum(end - start for start, end in log.report.gaps) > LONGEST_PAUSE * length:
        return None
    capacity = build.pack.capacity_ah
    table = np.sqrt(2.0) * TABLE_DOUBT * build.pack.cells_in_series
    for _ in range(ROUNDS):
        tried = build.change({"pack.capacity_ah": capacity})
        fit, _ = fit_pack_of_build(log, tried, use)
        if "fall_per_charge" not in fit.names or not fit.identifies("rest_voltage"):
            return None
        rested, charge = _rested(log, tried, fit)
        drawn = (charge[0] - charge[-1]) * capacity * SECONDS_PER_HOUR
        fall = float(rested[0] - rested[-1])
        if not fall * drawn > 0:
            return None
        share = fit.value("fall_per_charge") * drawn / fall
        capacity /= float(np.clip(1.0 + share, 0.5, 2.0))
        if abs(share) < CLOSE:
            low, high = fit.bounds("fall_per_charge")
            width = float(np.hypot(0.5 * (high - low) * drawn, table)) / abs(fall)
            whole = abs(charge[0] - charge[-1]) >= SMALLEST_SPAN and width <= WIDEST_CAPACITY
            return Measured(capacity, width * capacity) if whole else None
    return None


def _rested(log: RideLog, build: Build, fit: FitResult) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Rest voltage and charge over a log, from the fitted rest voltage at its start."""
    time, current, voltage = (log.column(name) for name in ("time", "line_current", "pack_voltage"))
    begin = charge_at(build, fit.value("rest_voltage"))
    rested, _, charge = pack_course(build, time, current, voltage, start_charge=begin)
    return rested, charge


def _course(log: RideLog, build: Build, fit: FitResult) -> tuple[float, float, float] | None:
    """Mean pack temperature while current flowed, and charge at both ends; None where the log cannot tell."""
    if not fit.identifies("resistance"):
        return None
    rested, charge = _rested(log, build, fit)
    time, current, voltage = (log.column(name) for name in ("time", "line_current", "pack_voltage"))
    flowing = np.nan_to_num(np.abs(current))
    warm = log.column("pack_temperature")
    if not np.isfinite(warm).any():
        warm = warmed(Batch.of(build), time, flowing, np.nan_to_num(rested - voltage))
    known = np.isfinite(warm)
    weight = flowing[known]
    if not weight.sum() > 0:
        return None
    return float(warm[known] @ weight / weight.sum()), float(charge[0]), float(charge[-1])


def _measured(fit: FitResult, name: str) -> Measured | None:
    """A value of a fit with half of its interval, where it may be used."""
    if name not in fit.names or not fit.identifies(name):
        return None
    low, high = fit.bounds(name)
    value = fit.value(name)
    return Measured(value, 0.5 * (high - low)) if value > 0 and np.isfinite(high - low) and high > low else None


def _resistance(build: Build, fit: FitResult, warm: float | None, doubt: float) -> Measured | None:
    """Resistance at 25 degrees C, its interval with what temperature and growth in the cold leave open."""
    found = _measured(fit, "resistance")
    if found is None or warm is None:
        return None
    kind = chemistry(build.pack.chemistry)
    growth = build.pack.cold_growth or kind.cold_growth
    unsure = GROWTH_DOUBT if build.pack.cold_growth else kind.cold_growth_high / kind.cold_growth - 1.0

    def factor(temperature: float, share: float = 1.0) -> float:
        return float(np.log(resistance_temperature_factor(temperature, growth * share)))

    parts = (
        found.half_width / found.value,
        0.5 * (factor(warm - doubt) - factor(warm + doubt)),
        factor(warm, 1.0 + unsure) - factor(warm),
    )
    return Measured(found.value, found.value * float(np.sqrt(np.sum(np.square(parts)))))
