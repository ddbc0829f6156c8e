"""Efficiency from the pulls of a ride log: how much of the pack's energy reaches the road."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.components import road_load
from physics.components.air import STANDARD_GRAVITY
from physics.fitting.prediction import predicted_pulls
from physics.fitting.regression import linear_fit
from physics.fitting.result import CANNOT_TELL, TOO_FEW, FitResult, failed
from physics.ridelog.report import RideLog
from physics.ridelog.segments import Segment, samples_of, widest
from physics.simulation.machine import Machine


def fit_driveline_efficiency(
    time: ArrayLike,
    speed: ArrayLike,
    voltage: ArrayLike,
    current: ArrayLike,
    *,
    mass: float,
    drag_area: float,
    rolling_resistance: float,
    air_density: float,
    equivalent_mass: float | None = None,
    headwind: ArrayLike = 0.0,
    slope: ArrayLike = 0.0,
    pull: ArrayLike | None = None,
) -> FitResult:
    """Fit the share of the pack's energy that reaches the road during pulls.

    Energy at the road since the start of a pull, 1/2 m_eq (v^2 - v0^2) + integral of (road load x speed), against
    electrical energy, integral of (voltage x current): the slope of the line is the efficiency of controller,
    motor and driveline together, averaged over the pulls by energy. Each pull has its own intercept, which
    takes up the error of its first speed.

    Parameters
    ----------
    time : array, shape (n,), s
        Increasing within a pull.
    speed : array, shape (n,), m/s
        Speed over the ground.
    voltage : array, shape (n,), V
        Pack voltage under load.
    current : array, shape (n,), A
        Line current, discharge positive.
    mass : float, kg
        Bike and rider.
    drag_area : float, m2
        As fitted by `fit_coast_down` in the same seat position.
    rolling_resistance : float
        Dimensionless.
    air_density : float, kg/m3
        Above zero.
    equivalent_mass : float, kg, optional
        With the turning parts; `mass` if not given.
    headwind : float or array, m/s
        Wind against the bike.
    slope : float or array
        Sine of the slope, uphill positive.
    pull : array of int, shape (n,), optional
        Which pull a sample belongs to.

    Returns
    -------
    FitResult
        driveline_efficiency (0..1), then start_energy_1, ... (J). The drag area and mass given are taken as
        exact: 5 % too much mass reads as about 5 % too much efficiency. A value above 1 is refused (-2).

    Examples
    --------
    >>> t = np.linspace(0.0, 5.0, 51)
    >>> power = 200.0 * 2.0 * (3.0 + 2.0 * t) / 0.8
    >>> fit = fit_driveline_efficiency(t, 3.0 + 2.0 * t, np.full(51, 100.0), power / 100.0, mass=200.0,
    ...                                drag_area=0.0, rolling_resistance=0.0, air_density=1.2)
    >>> round(fit.value("driveline_efficiency"), 6)
    0.8
    """
    t, v, u, i = (np.asarray(x, float) for x in (time, speed, voltage, current))
    m = float(mass if equivalent_mass is None else equivalent_mass)
    labels = np.zeros(t.size, int) if pull is None else np.asarray(pull)
    wind, sine = (np.broadcast_to(np.asarray(x, float), t.shape) for x in (headwind, slope))
    whole = np.isfinite(t) & np.isfinite(v) & np.isfinite(u) & np.isfinite(i)
    blocks = []
    for label in np.unique(labels):
        rows = np.flatnonzero((labels == label) & whole)
        if rows.size < 5:
            continue
        air = v[rows] + wind[rows]
        drag, _ = road_load.drag_force(road_load.drag_factor(air_density, drag_area), air)
        weight = float(mass) * STANDARD_GRAVITY
        force = weight * (rolling_resistance * np.sqrt(1.0 - sine[rows] ** 2) + sine[rows]) + drag
        step = np.diff(t[rows])
        spent, used = (
            np.concatenate([[0.0], np.cumsum(step * 0.5 * (x[1:] + x[:-1]))])
            for x in (force * v[rows], u[rows] * i[rows])
        )
        blocks.append((0.5 * m * v[rows] ** 2 + spent, used))
    names = ("driveline_efficiency", *(f"start_energy_{k + 1}" for k in range(len(blocks))))
    n = sum(block[0].size for block in blocks)
    if not blocks:
        return failed(names, n, TOO_FEW, "A pull needs at least 5 whole samples of speed, voltage and current.")
    design = np.zeros((n, len(names)))
    row = 0
    for k, (_, used) in enumerate(blocks):
        design[row : row + used.size, 0] = used
        design[row : row + used.size, k + 1] = 1.0
        row += used.size
    fit = linear_fit(
        design,
        np.concatenate([block[0] for block in blocks]),
        names,
        in_time_order=True,
        judged=("driveline_efficiency",),
    )
    if fit.success and not 0.0 < fit.values[0] <= 1.0:
        return failed(
            names,
            n,
            CANNOT_TELL,
            f"This log cannot tell: it gives an efficiency of {fit.values[0]:.2f}, which no machine has. "
            "Check mass, drag area, and the sign and scale of the current.",
        )
    return fit


def fit_efficiency_of_build(
    log: RideLog, build: Build, segments: Sequence[Segment], drag_area: float, rolling: float, charge: Floats
) -> tuple[FitResult, float, Floats]:
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
        "mass": float(m.mass[0]),
        "equivalent_mass": float(m.inertia[0]),
        "drag_area": drag_area,
        "rolling_resistance": rolling,
        "air_density": density,
        "headwind": build.conditions.headwind,
        "slope": np.sin(build.conditions.slope),
    }
    columns = [rows[name].to_numpy(float) for name in ("time", "speed", "pack_voltage", "line_current")]
    fit = fit_driveline_efficiency(*columns, pull=rows["part"].to_numpy(), **known)
    if not fit.success:
        return fit, np.nan, np.empty(0)
    changed = build.change({"bike.drag_area": drag_area, "bike.rolling_coefficient": rolling})
    result = predicted_pulls([changed] * len(pulls), log, pulls, [charge[s.first] for s in pulls])
    pieces = []
    for index, segment in enumerate(pulls):
        # over the speeds that were ridden, so that both shares mean the same
        ridden = (result.speed[index] >= segment.start_speed) & (result.speed[index] <= segment.end_speed)
        ridden &= np.concatenate([[True], np.diff(result.time) > 0])
        picked = (result.time, result.speed[index], result.pack_voltage[index], result.line_current[index])
        pieces.append([*(values[ridden] for values in picked), np.full(int(ridden.sum()), index)])
    *run_columns, labels = (np.concatenate(values) for values in zip(*pieces, strict=True))
    own = fit_driveline_efficiency(*run_columns, pull=labels, **known)
    time = columns[0] if fit.residuals.size == len(rows) else np.empty(0)
    return fit, own.value("driveline_efficiency") if own.success else np.nan, time
