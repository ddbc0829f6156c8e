"""From a ride log to a build: every fit in the terms of the build's own fields, ready to be put into it.

The pack's reference resistance comes from physics/fitting/pack.py. What the motor drags and what rolling resistance
grows with speed are taken out of a coast-down; the share of energy that reaches the road is compared with what the
build's own run gives over the same pulls.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from physics.build.batch import Batch
from physics.components import motor, road_load
from physics.fitting.gearing import effective_line_limit, fit_coast_down, fit_driveline_efficiency, fit_gear_ratio
from physics.fitting.pack import charge_at, fit_pack_of_build, pack_course, start_charge
from physics.fitting.prediction import predicted_pulls
from physics.fitting.result import CANNOT_TELL, TOO_FEW, FitResult, failed
from physics.ridelog.segments import samples_of
from physics.simulation.operating_point import Machine

RESISTANCE, CHARGE, DRAG_AREA, ROLLING, RADIUS, RATIO, EFFICIENCY, LINE_LIMIT = (
    "pack_resistance", "charge", "drag_area", "rolling_coefficient", "rolling_radius", "ratio", "efficiency",
    "line_limit",
)  # fmt: skip
TRUSTED = ("sprockets", "tyre")
SOFT_L1, LEAST_SQUARES, PLATEAU = "soft_l1 (robust)", "least squares", "median of a plateau"
MOST_PARTS = 12  # of one kind; of more, those over the widest span of speed are fitted
MOST_ROWS = 1000  # of one coast-down; of more, every second, third, ... is fitted


@dataclass(frozen=True, eq=False)
class Fitted:
    """One value of the build, as the log has it.

    Parameters
    ----------
    key : str
        What it is: one of the names at the top of this file.
    path : str
        Field of the build; empty where several fields make it up.
    value, standard_error : float
        SI; nan where the log does not hold it.
    interval : (float, float)
        Two-sided 95 %.
    present : float
        The build's own.
    told : bool
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
    told: bool
    message: str
    fit: FitResult
    time: np.ndarray
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
    total_efficiency : float
        Share of the pack's energy that reaches the road in the log's pulls; nan where it cannot be told.
    correlated : tuple of (str, str, float)
        Pairs of values the log fixes together better than either alone.
    """

    items: tuple[Fitted, ...]
    rest_voltage: float
    total_efficiency: float
    correlated: tuple[tuple[str, str, float], ...]

    def item(self, key: str) -> Fitted:
        """Return the value called `key`."""
        return next(item for item in self.items if item.key == key)

    def changes(self, keys=None) -> dict[str, float]:
        """Return the fields of the build to change, by path, of those of `keys` (all by default) that were told."""
        return {
            item.path: item.value
            for item in self.items
            if item.told and item.path and (keys is None or item.key in keys)
        }


def widest(segments, kind) -> list:
    """Return the parts of one kind over the widest span of speed, twelve at the most, in the order of time.

    Parameters
    ----------
    segments : sequence of Segment
        Any.
    kind : str
        One of `ridelog_segments.KINDS`.

    Returns
    -------
    list of Segment
    """
    those = sorted((s for s in segments if s.kind == kind), key=lambda s: -abs(s.end_speed - s.start_speed))
    return sorted(those[:MOST_PARTS], key=lambda s: s.start)


def fit_road_of_build(log, build, segments) -> tuple[FitResult, np.ndarray]:
    """Fit drag area and rolling resistance of a build to the coast-downs of a log.

    What the motor drags (iron loss through the chain) and the part of rolling resistance that grows with speed are
    the build's; they are put as a + b v^2 over the speeds at hand and taken off. Slope by altitude where the log
    has it, else the build's; wind as the build has it.

    Parameters
    ----------
    log : RideLog
        With speed.
    build : Build
        Its mass, turning parts and air.
    segments : sequence of Segment
        The coast-downs among them are used.

    Returns
    -------
    (fit, time) : FitResult, array
        drag_area (m2), rolling_resistance, then start speeds; and the time of each residual.
    """
    rows = samples_of(log, "coast-down", widest(segments, "coast-down"))
    longest = rows.groupby("part").size().max() if len(rows) else 0
    rows = rows.iloc[:: max(1, -(-int(longest) // MOST_ROWS))]
    m = Machine(Batch.of(build))
    mass, inertia = float(m.mass[0]), float(m.inertia[0])
    density = float(2.0 * m.drag_factor[0] / build.bike.drag_area) if build.bike.drag_area > 0 else 1.2
    rows = rows[rows["speed"] > 0.0] if "speed" in rows else rows.iloc[:0]
    altitude = rows["altitude"].to_numpy() if "altitude" in rows and rows["altitude"].notna().sum() > 1 else None
    fit = fit_coast_down(
        rows["time"].to_numpy(float), rows["speed"].to_numpy(float) if len(rows) else np.empty(0), mass,
        air_density=density, equivalent_mass=inertia, run=rows["part"].to_numpy(), altitude=altitude,
        headwind=build.conditions.headwind, slope=np.sin(build.conditions.slope),
    )  # fmt: skip
    if not np.isfinite(fit.values).any():
        return fit, np.empty(0)
    v = rows["speed"].to_numpy(float)
    turns = float(m.speed_ratio[0])
    dragged = motor.iron_loss_drag_torque(m.iron_torque[0], m.iron_damping[0], v * turns)
    extra = dragged * turns / float(m.efficiency[0]) + m.rolling_squared[0] * v**2
    b, a = np.polyfit(v**2, extra, 1)
    off = np.zeros(fit.values.size)
    off[0], off[1] = 2.0 * b / density, a / road_load.normal_load(mass, build.conditions.slope)
    # fit_coast_down leaves out parts that are too short; the times then no longer pair with its residuals
    time = rows["time"].to_numpy(float) if len(rows) == fit.residuals.size else np.empty(0)
    return replace(fit, values=fit.values - off, interval=fit.interval - off[:, None]), time


def fit_efficiency_of_build(log, build, segments, drag_area, rolling, charge):
    """Fit the share of energy that reaches the road in a log's pulls, and what it makes of the driveline.

    The same sum is made over the build's own run of the same pulls, so that what both leave out cancels; the
    driveline's efficiency is the build's times logged share over predicted share.

    Parameters
    ----------
    log : RideLog
        With speed, voltage and current.
    build : Build
        With the pack and line limit already as fitted, where they are.
    segments : sequence of Segment
        The pulls among them are used.
    drag_area, rolling : float
        As fitted, m2 and dimensionless.
    charge : array, shape (n,)
        Charge at every row.

    Returns
    -------
    (fit, predicted, time) : FitResult, float, array
        driveline_efficiency is the whole share, pack to road; the predicted share; the time of each residual.
    """
    names = ("driveline_efficiency",)
    if not log.holds("speed", "pack_voltage", "line_current"):
        return failed(names, 0, TOO_FEW, "The log has no speed, voltage or line current."), np.nan, np.empty(0)
    pulls = widest(segments, "pull")
    rows = samples_of(log, "pull", pulls).dropna(subset=["speed", "pack_voltage", "line_current"])
    batch = Batch.of(build)
    m = Machine(batch)
    density = float(2.0 * m.drag_factor[0] / build.bike.drag_area) if build.bike.drag_area > 0 else 1.2
    known = {
        "mass": float(m.mass[0]), "equivalent_mass": float(m.inertia[0]), "drag_area": drag_area,
        "rolling_resistance": rolling, "air_density": density, "headwind": build.conditions.headwind,
        "slope": np.sin(build.conditions.slope),
    }  # fmt: skip
    columns = [rows[name].to_numpy(float) for name in ("time", "speed", "pack_voltage", "line_current")]
    fit = fit_driveline_efficiency(*columns, pull=rows["part"].to_numpy(), **known)
    if not fit.success:
        return fit, np.nan, np.empty(0)
    changed = build.change({"bike.drag_area": drag_area, "bike.rolling_coefficient": rolling})
    made = predicted_pulls([changed] * len(pulls), log, pulls, [charge[s.first] for s in pulls])
    pieces = []
    for place, segment in enumerate(pulls):
        # over the speeds that were ridden, so that both shares mean the same
        ridden = (made.speed[place] >= segment.start_speed) & (made.speed[place] <= segment.end_speed)
        ridden &= np.concatenate([[True], np.diff(made.time[place]) > 0])
        picked = (made.time[place], made.speed[place], made.pack_voltage[place], made.line_current[place])
        pieces.append([*(values[ridden] for values in picked), np.full(int(ridden.sum()), place)])
    *run_columns, labels = (np.concatenate(values) for values in zip(*pieces, strict=True))
    own = fit_driveline_efficiency(*run_columns, pull=labels, **known)
    time = columns[0] if fit.residuals.size == len(rows) else np.empty(0)
    return fit, own.value("driveline_efficiency") if own.success else np.nan, time


def fit_log(log, segments, build, trusted: str = "sprockets") -> LogFit:
    """Fit everything a log can say about a build.

    Parameters
    ----------
    log : RideLog
        Any; what it lacks is said in the result.
    segments : sequence of Segment
        Those that count.
    build : Build
        Where the fits start, and whose values they are compared with.
    trusted : {"sprockets", "tyre"}
        Motor speed against speed gives ratio over radius: which of the two is taken as it is.

    Returns
    -------
    LogFit
    """
    if trusted not in TRUSTED:
        raise ValueError(f"What is trusted is {trusted!r}; accepted are {' and '.join(map(repr, TRUSTED))}.")
    segments = tuple(segments)
    use = np.zeros(len(log.frame), bool)
    for segment in segments:
        use[segment.first : segment.last] = True
    if not log.holds("speed"):
        use[:] = True  # without speed there are no segments, and the pack does not need them
    own = Batch.of(build)
    items = []

    def add(key, path, fit, name, present, *, time, unit, loss, value=None, share=1.0):
        told = fit.tells(name)
        found = fit.value(name) if value is None else value
        message = fit.message
        if told and path and not _accepted(build, {path: found}):
            told, message = False, "This log cannot tell: it gives a value that no bike has. Check the columns."
        error, bounds = fit.error(name) * share, tuple(b * share for b in fit.bounds(name))
        items.append(
            Fitted(
                key,
                path,
                found,
                error,
                bounds,
                float(present),
                told,
                message,
                fit,
                time if time.size == fit.residuals.size else np.empty(0),
                unit,
                loss,
            )
        )
        return items[-1]

    pack, pack_time = fit_pack_of_build(log, build, use)
    growth = build.pack.resistance_growth
    add(
        RESISTANCE,
        "pack.resistance",
        pack,
        "resistance",
        own["pack.resistance"][0],
        time=pack_time,
        unit="V",
        loss=SOFT_L1,
        share=1.0 / growth,
        value=pack.value("resistance") / growth,
    )
    rest_voltage = pack.value("rest_voltage") if pack.tells("rest_voltage") else np.nan
    charge_now, charge_fit = _charge_fit(pack, build, log)
    add(
        CHARGE,
        "conditions.charge",
        charge_fit,
        "charge",
        build.conditions.charge,
        time=np.empty(0),
        unit="",
        loss=SOFT_L1,
    )

    road, road_time = fit_road_of_build(log, build, segments)
    area = add(
        DRAG_AREA,
        "bike.drag_area",
        road,
        "drag_area",
        build.bike.drag_area,
        time=road_time,
        unit="m/s",
        loss=LEAST_SQUARES,
    )
    rolling = add(
        ROLLING,
        "bike.rolling_coefficient",
        road,
        "rolling_resistance",
        build.bike.rolling_coefficient,
        time=road_time,
        unit="m/s",
        loss=LEAST_SQUARES,
    )

    _add_gearing(add, log, build, own, trusted, use)
    limit = effective_line_limit(np.where(use, log.column("line_current"), np.nan))
    add(
        LINE_LIMIT,
        "controller.line_current_limit",
        limit,
        "line_limit",
        build.controller.line_current_limit,
        time=np.empty(0),
        unit="A",
        loss=PLATEAU,
    )

    known = {item.path: item.value for item in items if item.told and item.path and item.key != CHARGE}
    charge = np.full(len(log.frame), charge_now)
    if log.holds("pack_voltage", "line_current"):
        charge = pack_course(
            build, *(log.column(n) for n in ("time", "line_current", "pack_voltage")), start_charge=charge_now
        )[2]
    total, predicted, total_time = fit_efficiency_of_build(
        log, build.change(_accepted(build, known)), segments, area.value if area.told else area.present,
        rolling.value if rolling.told else rolling.present, charge,
    )  # fmt: skip
    present = build.driveline.efficiency
    share = present / predicted if np.isfinite(predicted) and predicted > 0 else np.nan
    _add_efficiency(add, total, share, present, total_time)
    correlated = tuple(
        pair
        for fit in (pack, road)
        for pair in fit.correlated
        if not any("start_speed" in name for name in pair[:2])
    )
    return LogFit(tuple(items), rest_voltage, total.values[0] if total.success else np.nan, correlated)


def _accepted(build, changes):
    """Those of some changes that a build accepts one by one."""
    good = {}
    for path, value in changes.items():
        try:
            build.change({path: value})
        except ValueError:
            continue
        good[path] = value
    return good


def _charge_fit(pack, build, log):
    """Charge at the start of the log from the fitted rest voltage, with its spread."""
    begin, _ = start_charge(log, build)
    names = ("charge",)
    if not pack.tells("rest_voltage"):
        return begin, failed(names, pack.n, pack.status if not pack.success else CANNOT_TELL, pack.message)
    volts, error = pack.value("rest_voltage"), pack.error("rest_voltage")
    found, less, more = (charge_at(build, each) for each in (volts, volts - error, volts + error))
    spread = 0.5 * (more - less)
    interval = np.array([[charge_at(build, bound) for bound in pack.bounds("rest_voltage")]])
    one = replace(
        pack,
        names=names,
        values=np.array([found]),
        standard_error=np.array([spread]),
        interval=interval,
        correlation=np.eye(1),
        correlated=(),
        untold=(),
        status=min(pack.status, 1) or 1,
    )
    return found, one


def _add_gearing(add, log, build, own, trusted, use):
    """Rolling radius or ratio from motor speed against speed."""
    radius = float(own["bike.rolling_radius"][0])
    d = build.driveline
    ratio = d.primary_ratio * d.rear_teeth / d.front_teeth
    w, v = (np.where(use, log.column(name), np.nan) for name in ("motor_speed", "speed"))
    if log.holds("motor_speed", "speed"):
        found = fit_gear_ratio(w, v, log.column("time"), tyre_radius=radius, ratio=ratio)
        fit = found.fit
    else:
        fit = failed(("metres_per_radian",), 0, TOO_FEW, "The log has no motor speed, or no speed over the ground.")
    nothing = np.empty(0)
    name, loss = "metres_per_radian", SOFT_L1
    if trusted == "sprockets":
        add(
            RADIUS,
            "bike.rolling_radius",
            fit,
            name,
            radius,
            time=nothing,
            unit="m/s",
            loss=loss,
            share=ratio,
            value=fit.value(name) * ratio,
        )
        return
    metres, error = fit.value(name), fit.error(name)
    low, high = fit.bounds(name)
    turned = replace(
        fit, names=("ratio",), values=np.array([radius / metres]),
        standard_error=np.array([radius * error / metres**2]),
        interval=np.array([[radius / high if high > 0 else np.nan, radius / low if low > 0 else np.inf]]),
        untold=("ratio",) if fit.untold else (),
    )  # fmt: skip
    add(RATIO, "", turned, "ratio", ratio, time=nothing, unit="m/s", loss=loss)


def _add_efficiency(add, total, share, present, time):
    """Efficiency of the driveline from the whole share and the predicted one."""
    value = total.value("driveline_efficiency") * share
    if total.success and not 0.3 <= value <= 1.0:
        said = "This log cannot tell: no prediction to compare the pulls with."
        if np.isfinite(value):
            said = (
                f"This log cannot tell: the driveline alone would have to be {100 * value:.0f} % efficient. "
                "Motor, controller, mass or drag of the build must be different."
            )
        total = replace(total, status=CANNOT_TELL, message=said, untold=("driveline_efficiency",))
    add(
        EFFICIENCY,
        "driveline.efficiency",
        total,
        "driveline_efficiency",
        present,
        time=time,
        unit="J",
        loss=LEAST_SQUARES,
        value=value,
        share=share,
    )
