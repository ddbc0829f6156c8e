"""From a ride log to a build: every fit in the terms of the build's own fields, ready to be put into it.

The fits themselves stand beside this file: pack, coast_down, gearing, line_limit, efficiency.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from physics.build import Build
from physics.build.batch import Batch
from physics.fitting.coast_down import fit_coast_down_of_build
from physics.fitting.efficiency import fit_efficiency_of_build
from physics.fitting.gearing import fit_gear_ratio
from physics.fitting.line_limit import effective_line_limit
from physics.fitting.pack import charge_at, fit_pack_of_build, pack_course, start_charge
from physics.fitting.result import CANNOT_TELL, TOO_FEW, FitResult, failed
from physics.ridelog.report import RideLog
from physics.ridelog.segments import Segment, find_segments

RESISTANCE, CHARGE, DRAG_AREA, ROLLING, RADIUS, RATIO, EFFICIENCY, LINE_LIMIT = (
    "pack_resistance",
    "charge",
    "drag_area",
    "rolling_coefficient",
    "rolling_radius",
    "ratio",
    "efficiency",
    "line_limit",
)
TRUSTED = ("sprockets", "tyre")
SOFT_L1, LEAST_SQUARES, PLATEAU = "soft_l1 (robust)", "least squares", "median of a plateau"
NO_BIKE = "This log cannot tell: it gives a value that no bike has. Check the columns."


class _Value(NamedTuple):
    """Where a value stands in the build and in its fit, the unit of the residuals, and the loss."""

    path: str
    name: str
    unit: str
    loss: str


VALUES = {
    RESISTANCE: _Value("pack.resistance", "resistance", "V", SOFT_L1),
    CHARGE: _Value("conditions.charge", "charge", "", SOFT_L1),
    DRAG_AREA: _Value("bike.drag_area", "drag_area", "m/s", LEAST_SQUARES),
    ROLLING: _Value("bike.rolling_coefficient", "rolling_resistance", "m/s", LEAST_SQUARES),
    RADIUS: _Value("bike.rolling_radius", "metres_per_radian", "m/s", SOFT_L1),
    RATIO: _Value("", "ratio", "m/s", SOFT_L1),
    LINE_LIMIT: _Value("controller.line_current_limit", "line_limit", "A", PLATEAU),
    EFFICIENCY: _Value("driveline.efficiency", "driveline_efficiency", "J", LEAST_SQUARES),
}


@dataclass(frozen=True, eq=False)
class Fitted:
    """One value of the build, as the log has it.

    Parameters
    ----------
    key : str
        What it is: one of VALUES.
    path : str
        Field of the build; empty where several fields make it up.
    value, standard_error : float
        SI; nan where the log does not hold it.
    interval : (float, float)
        Two-sided 95 %.
    present : float
        The build's own.
    identified : bool
        Whether the value may be used.
    message : str
        What the fit says, in a sentence.
    fit : FitResult
        The fit it comes from; its residuals in `unit`.
    time : array, s
        When each residual was read; empty where that has no meaning.
    unit : str
        Of the residuals.
    loss : str
        Which loss was made least.
    """

    key: str
    path: str
    value: float
    standard_error: float
    interval: tuple[float, float]
    present: float
    identified: bool
    message: str
    fit: FitResult
    time: NDArray[np.float64]
    unit: str
    loss: str


@dataclass(frozen=True, eq=False)
class LogFit:
    """Everything a log says about a build.

    Parameters
    ----------
    items : tuple of Fitted
        In a fixed order; those the log cannot tell included.
    rest_voltage : float, V
        At the start of the log; nan where it cannot be told.
    correlated : tuple of (str, str, float)
        Pairs of values the log fixes together better than either alone.
    """

    items: tuple[Fitted, ...]
    rest_voltage: float
    correlated: tuple[tuple[str, str, float], ...]

    def item(self, key: str) -> Fitted:
        """Return the value called `key`."""
        return next(item for item in self.items if item.key == key)

    def compared_with(self, build: Build) -> LogFit:
        """Return the same values beside those another build has.

        What the log says is not worked out again: it was ridden with the build it was fitted with.

        Parameters
        ----------
        build : Build
            Whose values are to stand beside.
        """
        beside = {item.key: present(item.key, build) for item in self.items}
        return replace(self, items=tuple(replace(item, present=beside[item.key]) for item in self.items))

    def changes(self, keys: Collection[str] | None = None) -> dict[str, float]:
        """Return the fields of the build to change, by path: of `keys` (all by default), those identified."""
        return {
            item.path: item.value
            for item in self.items
            if item.identified and item.path and (keys is None or item.key in keys)
        }


def fit_log(
    log: RideLog, build: Build, segments: Sequence[Segment] | None = None, trusted: str = "sprockets"
) -> LogFit:
    """Fit everything a log can say about a build.

    Parameters
    ----------
    log : RideLog
        Any; what it lacks is said in the result.
    build : Build
        Where the fits start, and whose values they are compared with.
    segments : sequence of Segment, optional
        Those that count; all by default.
    trusted : {"sprockets", "tyre"}
        Motor speed against speed gives ratio over radius: which of the two is taken as it is.

    Returns
    -------
    LogFit

    Raises
    ------
    ValueError
        When something else is trusted.
    """
    if trusted not in TRUSTED:
        raise ValueError(f"What is trusted is {trusted!r}; accepted are {' and '.join(map(repr, TRUSTED))}.")
    segments = find_segments(log) if segments is None else tuple(segments)
    use = np.zeros(len(log.frame), bool)
    for segment in segments:
        use[segment.first : segment.last] = True
    if not log.holds("speed"):
        use[:] = True  # without speed there are no segments, and the pack does not need them

    pack, pack_time = fit_pack_of_build(log, build, use)
    charge, charge_fit = _charge_fit(pack, build, log)
    road, road_time = fit_coast_down_of_build(log, build, segments)
    limit = effective_line_limit(np.where(use, log.column("line_current"), np.nan))
    items = [
        _fitted(build, RESISTANCE, pack, pack_time, scale=1.0 / build.pack.resistance_growth),
        _fitted(build, CHARGE, charge_fit),
        area := _fitted(build, DRAG_AREA, road, road_time),
        rolling := _fitted(build, ROLLING, road, road_time),
        _gearing(log, build, trusted, use),
        _fitted(build, LINE_LIMIT, limit),
    ]

    known = {item.path: item.value for item in items if item.identified and item.path and item.key != CHARGE}
    course = np.full(len(log.frame), charge)
    if log.holds("pack_voltage", "line_current"):
        time, current, voltage = (log.column(name) for name in ("time", "line_current", "pack_voltage"))
        course = pack_course(build, time, current, voltage, start_charge=charge)[2]
    whole, predicted, time = fit_efficiency_of_build(
        log,
        build.change(_accepted(build, known)),
        segments,
        area.value if area.identified else area.present,
        rolling.value if rolling.identified else rolling.present,
        course,
    )
    items.append(_efficiency(build, whole, predicted, time))
    correlated = tuple(
        pair
        for fit in (pack, road)
        for pair in fit.correlated
        if not any("start_speed" in name for name in pair[:2])
    )
    rest_voltage = pack.value("rest_voltage") if pack.identifies("rest_voltage") else np.nan
    return LogFit(tuple(items), rest_voltage, correlated)


def present(key: str, build: Build) -> float:
    """What a build has of one of `VALUES`.

    Parameters
    ----------
    key : str
        One of `VALUES`.
    build : Build
        Its typical values are worked out.

    Returns
    -------
    float
        SI.
    """
    if key == RATIO:
        d = build.driveline
        return d.primary_ratio * d.rear_teeth / d.front_teeth
    return float(Batch.of(build)[VALUES[key].path][0])


def _fitted(
    build: Build,
    key: str,
    fit: FitResult,
    time: NDArray[np.float64] | None = None,
    scale: float = 1.0,
) -> Fitted:
    """One value of a fit, times a scale, as the value of a build."""
    path, name, unit, loss = VALUES[key]
    value, identified, message = fit.value(name) * scale, fit.identifies(name), fit.message
    if identified and path and not _accepted(build, {path: value}):
        identified, message = False, NO_BIKE
    low, high = fit.bounds(name)
    if time is None or time.size != fit.residuals.size:
        time = np.empty(0)
    return Fitted(
        key,
        path,
        value,
        fit.error(name) * scale,
        (low * scale, high * scale),
        present(key, build),
        identified,
        message,
        fit,
        time,
        unit,
        loss,
    )


def _accepted(build: Build, changes: dict[str, float]) -> dict[str, float]:
    """Those of some changes that a build accepts one by one."""
    good = {}
    for path, value in changes.items():
        try:
            build.change({path: value})
        except ValueError:
            continue
        good[path] = value
    return good


def _charge_fit(pack: FitResult, build: Build, log: RideLog) -> tuple[float, FitResult]:
    """Charge at the start of the log from the fitted rest voltage, with its spread."""
    begin, _ = start_charge(log, build)
    names = ("charge",)
    if not pack.identifies("rest_voltage"):
        return begin, failed(names, pack.n, pack.status if not pack.success else CANNOT_TELL, pack.message)
    volts, error = pack.value("rest_voltage"), pack.error("rest_voltage")
    charge, less, more = (charge_at(build, each) for each in (volts, volts - error, volts + error))
    fit = replace(
        pack,
        names=names,
        values=np.array([charge]),
        standard_error=np.array([0.5 * (more - less)]),
        interval=np.array([[charge_at(build, bound) for bound in pack.bounds("rest_voltage")]]),
        correlation=np.eye(1),
        correlated=(),
        unidentified=(),
        status=min(pack.status, 1) or 1,
    )
    return charge, fit


def _gearing(log: RideLog, build: Build, trusted: str, use: NDArray[np.bool_]) -> Fitted:
    """Rolling radius or ratio from motor speed against speed."""
    radius, ratio = present(RADIUS, build), present(RATIO, build)
    if log.holds("motor_speed", "speed"):
        motor_speed, speed = (np.where(use, log.column(name), np.nan) for name in ("motor_speed", "speed"))
        fit = fit_gear_ratio(motor_speed, speed, log.column("time"))
    else:
        fit = failed(("metres_per_radian",), 0, TOO_FEW, "The log has no motor speed, or no speed over the ground.")
    if trusted == "sprockets":
        return _fitted(build, RADIUS, fit, scale=ratio)
    metres, error = fit.value("metres_per_radian"), fit.error("metres_per_radian")
    low, high = fit.bounds("metres_per_radian")
    turned = replace(
        fit,
        names=("ratio",),
        values=np.array([radius / metres]),
        standard_error=np.array([radius * error / metres**2]),
        interval=np.array([[radius / high if high > 0 else np.nan, radius / low if low > 0 else np.inf]]),
        unidentified=("ratio",) if fit.unidentified else (),
    )
    return _fitted(build, RATIO, turned)


def _efficiency(build: Build, whole: FitResult, predicted: float, time: NDArray[np.float64]) -> Fitted:
    """Efficiency of the driveline from the logged and the predicted fraction of energy that reaches the road."""
    scale = build.driveline.efficiency / predicted if np.isfinite(predicted) and predicted > 0 else np.nan
    value = whole.value("driveline_efficiency") * scale
    if whole.success and not 0.3 <= value <= 1.0:
        message = "This log cannot tell: no prediction to compare the pulls with."
        if np.isfinite(value):
            message = (
                f"This log cannot tell: the driveline alone would have to be {100 * value:.0f} % efficient. "
                "Motor, controller, mass or drag of the build must be different."
            )
        whole = replace(whole, status=CANNOT_TELL, message=message, unidentified=("driveline_efficiency",))
    return _fitted(build, EFFICIENCY, whole, time, scale)
