"""How the parts fit each other in words: the list, the verdict, the duty, the derivation, the caution."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import COPPER, MACHINE, PRACTICE, TORQUE
from explorer.format import UnitFormatter, joined
from explorer.inputs.origins import DEMO, GIVEN, MARKS, TYPICAL, WORDS, origin
from explorer.page.page import Page
from physics.build import Build
from physics.build.batch import Batch
from physics.components.cell import chemistry
from physics.components.motor import torque_constant
from physics.studies import parts_fit as study
from physics.studies.parts_fit import PartsFit
from physics.studies.speed_ratings import Rating

CAUTION = (
    "Above 60 V DC a touch can kill, and a short circuit burns at any voltage. Leave the wiring, fuses and "
    "contactors of such a pack to people trained for it, who follow the makers' instructions and local law. The "
    "list says what a part must carry, never which wire or fuse to buy; a part that matches here is not "
    "necessarily safe."
)
NOT_KNOWN = "not known"
FITS, WRONG, LOOK = "fits", "**mismatch**", "check"
HIGH, LOW = "high voltage", "low voltage"


class _Line(NamedTuple):
    """How one line is written: its name, what the verdict says, its unit, the inputs its limit comes from."""

    name: str
    says: str
    quantity: str
    keys: tuple[str, ...]


_LINES = {
    study.PACK_VOLTAGE: _Line(
        "Full pack on the controller",
        "a full pack is at {value}, the controller is rated for {limit}",
        "voltage", ("controller_voltage",),
    ),
    study.BACK_EMF: _Line(
        "Back-EMF with the wheel off the ground",
        "the motor's back-EMF reaches {value} with the wheel off the ground, the controller withstands {limit}",
        "voltage", ("back_emf", "controller_voltage"),
    ),
    study.ELECTRICAL_FREQUENCY: _Line(
        "Electrical frequency there",
        "the motor then runs at {value}, the controller follows up to {limit}",
        "frequency", ("electrical_frequency",),
    ),
    study.MOTOR_HEAT: _Line(
        "Time at the phase limit, and what the motor's winding can take",
        "the run is at the phase limit for {value}, and motor heat may cut power after {limit}",
        "time", (),
    ),
    study.FRONT_WHEEL: _Line(
        "Phase limit, and what lifts the front wheel",
        "the phase limit is {value}, and {limit} lifts the front wheel",
        "phase", ("bike_mass", "rider_mass", "wheelbase", "bike_balance", "bike_height", "seat_height"),
    ),
    study.PEAK_CURRENT: _Line(
        "Highest line current, and the pack's peak current",
        "the run draws {value}, the pack's peak current is {limit}",
        "current", ("peak_current",),
    ),
    study.PEAK_TIME: _Line(
        "Time above the pack's continuous current, and its peak time",
        "the run is above the pack's continuous current for {value}, peaks may last {limit}",
        "time", ("continuous_current", "peak_time"),
    ),
    study.FUSE: _Line(
        "RMS current through the fuse",
        "the fuse is rated {limit} and carries {value} RMS: check its time-current curve",
        "current", ("fuse_current",),
    ),
    study.CABLE: _Line(
        "RMS current through the cable",
        "the cable is rated {limit} continuous and carries {value} RMS in this run",
        "current", ("cable_current",),
    ),
    study.CONNECTOR: _Line(
        "RMS current through the connector",
        "the connector is rated {limit} continuous and carries {value} RMS in this run",
        "current", ("connector_current",),
    ),
    study.REGEN: _Line(
        "Regen current, and what the cells take today",
        "regen pushes back {value}, and the cells take {limit} at today's temperature",
        "current", ("charge_current",),
    ),
    study.TYRE_SPEED: _Line(
        "Top speed, and the tyre's speed symbol",
        "the bike reaches {value}, the tyre is rated for {limit}",
        "speed", ("tyre",),
    ),
    study.TYRE_LOAD: _Line(
        "Load on the rear wheel, and the tyre's load index",
        "the rear wheel carries {value}, its tyre is rated for {limit}",
        "mass", ("tyre",),
    ),
    study.CHAIN: _Line(
        "Chain pull at the phase limit, and a sixth of a plain chain's strength",
        "the chain pull is {value}, and a plain chain of its pitch takes {limit} continuously",
        "force", (),
    ),
    study.VOLTAGE_CLASS: _Line(
        "Full pack, and the low-voltage limit",
        "At {value} when full, it counts as high voltage (above {limit} DC)",
        "voltage", ("cells",),
    ),
}  # fmt: skip


def known_by(line: str, rating: Rating, inputs: dict[str, Any]) -> str:
    """Where a line's limit comes from: GIVEN, TYPICAL, DEMO or NOT_KNOWN."""
    keys = _LINES[line].keys
    if line == study.VOLTAGE_CLASS:
        return GIVEN
    if math.isinf(rating.limit) and line != study.FRONT_WHEEL:
        return NOT_KNOWN
    found = {origin(inputs, key) for key in keys if inputs[key] is not None} or {TYPICAL}
    return next(word for word in (TYPICAL, DEMO, GIVEN) if word in found)


def state(line: str, rating: Rating, inputs: dict[str, Any]) -> str:
    """What to make of a line."""
    known = known_by(line, rating, inputs)
    if line == study.VOLTAGE_CLASS:
        return HIGH if rating.passed else LOW
    if known == NOT_KNOWN:
        return NOT_KNOWN
    if not rating.passed:
        return FITS
    return LOOK if known == TYPICAL or line == study.FRONT_WHEEL else WRONG


def verdict(page: Page, found: PartsFit) -> str:
    """What does not fit, what to look at, and what is not known."""
    states = {line: state(line, rating, page.inputs) for line, rating in found.lines.items()}
    wrong, look, unknown = ([line for line in states if states[line] == word] for word in (WRONG, LOOK, NOT_KNOWN))
    texts = []
    if wrong:
        start = "One mismatch" if len(wrong) == 1 else f"{len(wrong)} mismatches"
        texts.append(f"**{start}:** {'; '.join(_says(line, found, page.fmt, page.build) for line in wrong)}.")
    else:
        texts.append("**No mismatch found.**")
    if look:
        texts.append(f"Check: {'; '.join(_says(line, found, page.fmt, page.build) for line in look)}.")
    if unknown:
        names = joined([_SHORT[line] for line in unknown])
        texts.append(f"Not entered, so not checked: {names}.")
    if states[study.VOLTAGE_CLASS] == HIGH:
        texts.append(f"{_says(study.VOLTAGE_CLASS, found, page.fmt, page.build)}.")
    return " ".join(texts)


_SHORT = {
    study.PACK_VOLTAGE: "the controller's voltage rating",
    study.BACK_EMF: "the back-EMF it withstands",
    study.ELECTRICAL_FREQUENCY: "its maximum electrical frequency",
    study.PEAK_CURRENT: "the pack's peak current",
    study.PEAK_TIME: "its continuous current",
    study.FUSE: "the fuse",
    study.CABLE: "the cable",
    study.CONNECTOR: "the connector",
    study.TYRE_SPEED: "the tyre's speed symbol",
    study.TYRE_LOAD: "its load index",
}  # what is not known where a line is not judged


def _no_charging(build: Build, fmt: UnitFormatter) -> str:
    """Why these cells may not be charged at all today."""
    rules, now = build.pack.protection, float(Batch.of(build)["conditions.pack_temperature"][0])
    if now > rules.charge_temperature_maximum:
        return f"these cells may not be charged above {fmt('temperature', rules.charge_temperature_maximum)}"
    least = max(rules.charge_temperature_minimum, chemistry(build.pack.chemistry).charge_temperature_floor)
    return f"these cells may not be charged below {fmt('temperature', least)}"


def _says(line: str, found: PartsFit, fmt: UnitFormatter, build: Build) -> str:
    rating, look = found.lines[line], _LINES[line]
    if line == study.REGEN and rating.limit <= 0:
        return f"regen is set to {_number(look.quantity, rating.value, fmt)}, but {_no_charging(build, fmt)}"
    if line == study.MOTOR_HEAT and rating.limit <= 0:
        return "the motor is so hot from the start that heat may cut power at once"
    return look.says.format(
        value=_number(look.quantity, rating.value, fmt), limit=_number(look.quantity, rating.limit, fmt)
    )


def _number(quantity: str, value: float, fmt: UnitFormatter) -> str:
    if math.isinf(value):
        return "no limit"
    if quantity == "frequency":
        return f"{value:,.0f} Hz"
    if quantity == "phase":
        return f"{fmt('current', value)} peak"
    return fmt(quantity, value)


def table(page: Page, found: PartsFit) -> pd.DataFrame:
    """One row for each line."""
    rows = []
    for line, rating in found.lines.items():
        look = _LINES[line]
        known = known_by(line, rating, page.inputs)
        nothing = "none needed" if line == study.FRONT_WHEEL else NOT_KNOWN
        allowed = nothing if math.isinf(rating.limit) else _number(look.quantity, rating.limit, page.fmt)
        if line == study.REGEN and rating.limit <= 0:
            allowed = f"nothing: {_no_charging(page.build, page.fmt)}"
        rows.append(
            {
                "what": look.name,
                "this build": _number(look.quantity, rating.value, page.fmt),
                "allowed": allowed,
                "limit from": f"{MARKS[known]} {WORDS[known]}" if known in WORDS else known,
                "result": state(line, rating, page.inputs),
            }
        )
    return pd.DataFrame(rows)


def duty(page: Page, found: PartsFit) -> str:
    """What the run asks of everything between pack and controller."""
    duty, fmt = found.duty, page.fmt
    heat = f"{float(f'{duty.square_integral:.3g}'):,.0f}"
    return (
        f"What fuse, cable and connector must carry in this run: up to {fmt('current', duty.highest)}, "
        f"{fmt('current', duty.root_mean_square)} RMS over {fmt('time', duty.time, 0)}, and "
        f"{heat} A²s (I²t). Compare that with the makers' curves and short-time ratings: "
        "what is above a continuous rating may still be allowed for that long. Back-EMF and frequency are for a "
        "wheel off the ground on a full pack, field weakening included."
    )


def derivation(page: Page, found: PartsFit) -> list[Step]:
    """Voltages and frequency at the motor's highest speed, the run's mean current, the chain, the winding."""
    build, lines = page.build, found.lines
    machine, control = build.motor, build.controller
    most = chemistry(build.pack.chemistry).voltage_maximum
    rpm, kv = found.motor_speed * 30 / math.pi, machine.kv_rpm_per_volt
    torque = float(torque_constant(kv)) * control.phase_current_limit * build.driveline.primary_ratio
    pull = lines[study.CHAIN].value
    return [
        Step(
            "Full pack",
            r"U = n\,u",
            f"{build.pack.cells_in_series} × {put(most)}",
            lines[study.PACK_VOLTAGE].value,
            "V",
            "n cells in series; u voltage of a full cell, V",
            PRACTICE,
            digits=4,
        ),
        Step(
            "Back-EMF at the motor's highest speed",
            r"E = n / K_v",
            f"{put(rpm, 5)} / {put(kv)}",
            lines[study.BACK_EMF].value,
            "V",
            "n motor speed at which a full pack and the field weakening leave torque for the iron loss alone, rpm; "
            "Kv speed constant, rpm/V",
            MACHINE,
            digits=4,
        ),
        Step(
            "Electrical frequency there",
            r"f = p\,n / 60",
            f"{machine.pole_pairs} × {put(rpm, 5)} / 60",
            lines[study.ELECTRICAL_FREQUENCY].value,
            "Hz",
            "p pole pairs",
            MACHINE,
        ),
        Step(
            "RMS line current",
            r"I_{rms} = \sqrt{\frac{\int I^2\,dt}{t}}",
            f"√({put(found.duty.square_integral, 6)} / {put(found.duty.time)})",
            found.duty.root_mean_square,
            "A",
            "∫I² dt of the run, A²s; t its time under power, s",
            "Definition; I²t of fuses: IEC 60269-1, from memory",
        ),
        Step(
            "Chain pull at the phase limit",
            r"F = M / r",
            f"{put(torque)} / {put(torque / pull)}",
            pull,
            "N",
            "M torque at the front sprocket, N m; r its pitch radius, m",
            TORQUE,
            "force",
        ),
        *_winding(page),
    ]


def _winding(page: Page) -> list[Step]:
    """How long the winding stands the phase limit."""
    build = page.build
    start = float(page.batch["conditions.motor_temperature"][0])
    end = build.motor.winding_foldback_start
    if start >= end:
        return []
    per_kelvin = 1.5 * build.controller.phase_current_limit**2 * build.motor.phase_resistance / 255
    capacity, cold, hot = build.motor.winding_heat_capacity, start - 38.15, end - 38.15
    return [
        Step(
            "How long the winding can take the phase limit if no heat left it",
            r"t = \frac{C}{P'}\,\ln\frac{235 + T_2}{235 + T_1}",
            f"{put(capacity)} / {put(per_kelvin, 5)} × ln({put(hot, 5)} / {put(cold, 5)})",
            study.time_to_foldback(build),
            "s",
            "C heat capacity of the winding, J/K; P′ = (3/2) I² R / 255 growth of the copper loss, W/K; T₁ now, "
            "T₂ where the controller cuts power, °C",
            COPPER,
        )
    ]
