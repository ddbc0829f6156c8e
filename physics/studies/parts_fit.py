"""Whether the parts of a build fit each other: what each is asked for against what the others allow.

The motor's highest speed is that of a wheel that spins freely on a full pack, field weakening and all: on a stand,
on ice, or with the chain off. A motor and a controller must survive it, however fast the bike itself would get.
Everything the current heats is judged by its root mean square and its integral of the square over time, which is
how makers of fuses state what melts them (IEC 60269-1, I2t): what a cable, a fuse or a connector can carry is for
their makers to say.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq

from physics.build import Build, PowerLevel
from physics.build.batch import Batch
from physics.components import motor
from physics.components.cell import chemistry
from physics.components.chain import pitch_diameter
from physics.components.charging import allowed_current
from physics.simulation.ratings import rating_use
from physics.simulation.result import RunResult
from physics.studies.force import phase_limit_that_holds
from physics.studies.speed_ratings import (
    BACK_EMF,
    ELECTRICAL_FREQUENCY,
    PACK_VOLTAGE,
    TYRE_LOAD,
    TYRE_SPEED,
    Rating,
    speed_ratings,
)

(
    MOTOR_HEAT, FRONT_WHEEL, PEAK_CURRENT, PEAK_TIME, FUSE, CABLE, CONNECTOR, REGEN, CHAIN, VOLTAGE_CLASS,
) = (
    "motor heat", "front wheel", "peak current", "peak time", "fuse", "cable", "connector", "regen", "chain",
    "voltage class",
)  # fmt: skip
LINES = (
    PACK_VOLTAGE, BACK_EMF, ELECTRICAL_FREQUENCY, MOTOR_HEAT, FRONT_WHEEL, PEAK_CURRENT, PEAK_TIME, FUSE, CABLE,
    CONNECTOR, REGEN, TYRE_SPEED, TYRE_LOAD, CHAIN, VOLTAGE_CLASS,
)  # fmt: skip
"""Every line, in V, V, Hz, s, A peak, A, s, A, A, A, A, m/s, kg, N and V."""

LOW_VOLTAGE = 60.0
"""V DC up to which a voltage counts as low (class A): ISO 6469-3 and UN Regulation No. 136, from memory."""

CHAIN_STRENGTH = 12500.0 * 4.4482216 / 0.0254**2
"""Least tensile strength of a roller chain over its pitch squared, N/m2: 12,500 lbf for one inch, ANSI B29.1, as
public summaries of it print it."""

CHAIN_SHARE = 1.0 / 6.0
"""Of that strength, what a chain may be pulled with for ever: the rule of thumb beside it there."""

_AT_THE_LIMIT = 0.99
_FASTEST = 1e5  # rad/s
_NOTHING = 1e-6  # N m, so that a motor without any loss has a highest speed too


class Duty(NamedTuple):
    """What a run's line current asks of all it flows through.

    Attributes
    ----------
    highest : float, A
        With the controller's overshoot.
    root_mean_square : float, A
        Over the time under power.
    square_integral : float, A2 s
        Of the current's square over time.
    time : float, s
        Until the end of the run or a cut-out.
    """

    highest: float
    root_mean_square: float
    square_integral: float
    time: float


class PartsFit(NamedTuple):
    """How the parts fit.

    Attributes
    ----------
    lines : dict of str to Rating
        One for each of LINES: what is asked for, and what is allowed; infinite where that is not known.
    duty : Duty
        Of the line current.
    motor_speed : float, rad/s
        The motor's highest.
    """

    lines: dict[str, Rating]
    duty: Duty
    motor_speed: float


def parts_fit(
    build: Build,
    run: RunResult,
    *,
    fuse: float = math.inf,
    cable: float = math.inf,
    connector: float = math.inf,
    chain_pitch: float | None = None,
) -> PartsFit:
    """Hold the parts of a build against each other.

    Parameters
    ----------
    build : Build
        With the ratings that are known.
    run : RunResult
        Its run, one row: the pull that pack, fuse, cable and connector must carry.
    fuse, cable, connector : float, A
        What their makers allow for ever; infinite where that is not known.
    chain_pitch : float, m, optional
        By default the build's.

    Returns
    -------
    PartsFit

    Notes
    -----
    The chain's pull is that of the motor at its phase limit over the sprocket's pitch radius. Regen may not pass
    what the cells may be charged with at today's temperature, overshoot counted; below the lowest at which they
    may be charged that is nothing.

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.simulation.run import run
    >>> build = example_build().change({"controller.voltage_maximum": 90.0})
    >>> found = parts_fit(build, run(build, 20.0))
    >>> [name for name in LINES if found.lines[name].passed]
    ['pack voltage', 'back-EMF', 'voltage class']
    """
    control, line, rules, batch = build.controller, build.driveline, build.pack.protection, Batch.of(build)
    use, duty = rating_use(batch, run), line_duty(run, control.overshoot)
    fastest = highest_motor_speed(build)
    ratio = line.primary_ratio * line.rear_teeth / line.front_teeth
    free = speed_ratings(build, fastest * float(batch["bike.rolling_radius"][0]) / ratio)
    riding = speed_ratings(build, float(run.top_speed[0]))
    level = PowerLevel("in use", control.phase_current_limit, control.line_current_limit)
    pitch = line.chain_pitch if chain_pitch is None else chain_pitch
    torque = float(motor.torque_constant(build.motor.kv_rpm_per_volt)) * control.phase_current_limit
    radius = float(pitch_diameter(pitch, line.front_teeth)) / 2.0
    held = run.phase_current[0] >= _AT_THE_LIMIT * control.phase_current_limit
    at_limit = float(np.sum(np.diff(run.time) * (held[1:] & held[:-1])))
    lines = {
        PACK_VOLTAGE: riding[PACK_VOLTAGE],
        BACK_EMF: free[BACK_EMF],
        ELECTRICAL_FREQUENCY: free[ELECTRICAL_FREQUENCY],
        MOTOR_HEAT: Rating(at_limit, time_to_foldback(build)),
        FRONT_WHEEL: Rating(control.phase_current_limit, float(phase_limit_that_holds(build, [level])[0])),
        PEAK_CURRENT: Rating(float(use.current[0]), rules.peak_current),
        PEAK_TIME: Rating(
            float(use.time_above[0]), rules.peak_time if math.isfinite(rules.continuous_current) else math.inf
        ),
        FUSE: Rating(duty.root_mean_square, fuse),
        CABLE: Rating(duty.root_mean_square, cable),
        CONNECTOR: Rating(duty.root_mean_square, connector),
        REGEN: Rating(control.regen_current * (1.0 + control.overshoot), _charge_current(build, batch)),
        TYRE_SPEED: riding[TYRE_SPEED],
        TYRE_LOAD: riding[TYRE_LOAD],
        CHAIN: Rating(torque * line.primary_ratio / radius, CHAIN_SHARE * CHAIN_STRENGTH * pitch * pitch),
        VOLTAGE_CLASS: Rating(riding[PACK_VOLTAGE].value, LOW_VOLTAGE),
    }
    return PartsFit(lines, duty, fastest)


def highest_motor_speed(build: Build) -> float:
    """The motor's highest speed, rad/s: where a full pack and the field weakening leave torque for its iron loss
    alone.

    Parameters
    ----------
    build : Build
        The speed cap counts; the line limit, the load and what saturates or warms do not.

    Returns
    -------
    float, rad/s

    Notes
    -----
    R. Krishnan, Permanent Magnet Synchronous and Brushless DC Motor Drives, CRC Press, 2010, chapter 5: the
    largest i_q inside the voltage circle and the field weakening,
    `physics.components.motor.largest_quadrature_current`. For a machine that is given by its torque table, the
    table's last speed.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build()  # 24 cells of 4.2 V
    >>> round(highest_motor_speed(build) / (100.8 * build.motor.kv_rpm_per_volt * math.pi / 30), 3)
    1.0
    """
    machine, control, line = build.motor, build.controller, build.driveline
    if machine.torque_table:
        return float(machine.torque_table[-1][0])
    ratio = line.primary_ratio * line.rear_teeth / line.front_teeth
    cap = control.speed_cap * ratio / float(Batch.of(build)["bike.rolling_radius"][0])
    flux = float(motor.flux_linkage_per_pole_pair(machine.kv_rpm_per_volt)) / machine.pole_pairs
    bus = build.pack.cells_in_series * chemistry(build.pack.chemistry).voltage_maximum * control.modulation

    def spare(speed: float) -> float:
        """Torque beyond the iron loss, N m."""
        centre_d, centre_q, impedance = motor.voltage_circle_centre(
            machine.pole_pairs * speed, flux, machine.phase_resistance, machine.phase_inductance
        )
        current = motor.largest_quadrature_current(
            centre_d,
            centre_q,
            bus / math.sqrt(3) / impedance,
            control.phase_current_limit,
            control.field_weakening_current,
        )
        loss = motor.iron_loss_drag_torque(machine.iron_loss_torque, machine.iron_loss_damping, speed)
        return float(1.5 * machine.pole_pairs * flux * current - loss) - _NOTHING

    highest, lowest = min(cap, _FASTEST), 1e-3
    if spare(highest) >= 0:
        return highest
    return float(brentq(spare, lowest, highest, rtol=1e-9)) if spare(lowest) > 0 else 0.0


def time_to_foldback(build: Build) -> float:
    """How long the motor stands its phase limit until its winding folds the limits back, s, if it kept all its
    heat.

    Parameters
    ----------
    build : Build
        From today's motor temperature.

    Returns
    -------
    float, s
        0 where it is that hot already. On the safe side: iron takes some of the heat.

    Notes
    -----
    C dT/dt = (3/2) I^2 R, R in a straight line with temperature (IEC 60034-1), solved: t = C / (P a) ln(P2 / P1),
    with P1 and P2 the heat at both ends and P a its rise for each kelvin.

    Examples
    --------
    >>> from physics.build import example_build
    >>> 1.0 < time_to_foldback(example_build()) < 600.0
    True
    """
    machine = build.motor
    start = float(Batch.of(build)["conditions.motor_temperature"][0])
    if start >= machine.winding_foldback_start:
        return 0.0
    first, last = (
        1.5
        * build.controller.phase_current_limit**2
        * float(motor.winding_resistance(machine.phase_resistance, temperature))
        for temperature in (start, machine.winding_foldback_start)
    )
    rise = (last - first) / (machine.winding_foldback_start - start)
    return machine.winding_heat_capacity / rise * math.log(last / first)


def line_duty(run: RunResult, overshoot: float = 0.0) -> Duty:
    """What a run's line current asks of all it flows through.

    Parameters
    ----------
    run : RunResult
        One row.
    overshoot : float
        By which the highest swings past; too short to heat anything.

    Returns
    -------
    Duty

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.simulation.run import run
    >>> duty = line_duty(run(example_build(), 20.0))
    >>> duty.root_mean_square < duty.highest, round(duty.time)
    (True, 20)
    """
    whole = run.one(0)
    cut = float(whole.cut_out_time[0])
    until = cut if math.isfinite(cut) else float(whole.time[-1])
    under_power = whole.time <= until
    time, current = whole.time[under_power], whole.line_current[0][under_power]
    before, after = current[:-1], current[1:]
    square = float(np.sum(np.diff(time) * (before * before + before * after + after * after)) / 3.0)
    spent = float(time[-1] - time[0])
    mean = math.sqrt(square / spent) if spent > 0 else 0.0
    return Duty(float(whole.maximum_line_current[0]) * (1.0 + overshoot), mean, square, spent)


def _charge_current(build: Build, batch: Batch) -> float:
    """The most the cells may be charged with today, A."""
    kind, rules = chemistry(build.pack.chemistry), build.pack.protection
    temperature = float(batch["conditions.pack_temperature"][0])
    lowest = max(kind.charge_temperature_floor, rules.charge_temperature_minimum)
    if not lowest <= temperature <= rules.charge_temperature_maximum:
        return 0.0
    rating = float(batch["pack.charge_current"][0])
    return float(allowed_current(rating, build.pack.capacity_ah, temperature, kind.charge_temperature_full))
