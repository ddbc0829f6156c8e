"""The speedometer in words: the new constant, the band of the regulation, what a change of parts does, why."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import REGULATION_39, SPEEDOMETER
from explorer.format import UnitFormatter, plain_number, with_sign
from explorer.inputs.speedometer import FRONT_WHEEL, MOTOR
from explorer.page.page import Page
from explorer.questions.speedometer.results import Instrument, after_change, gearing_of, nearest_changes
from physics.build import Build
from physics.studies.legal_speed import fastest_wrong_reading, is_within_legal_band, legal_band, slowest_true_speed
from physics.studies.speedometer import PooledCalibration, display_error, odometer_error, true_speed

CAUTION = (
    "The band is the one for type approval; what a modified bike's speedometer must show on the road is for "
    "local law and the inspection body to say. Take readings at a steady speed on a closed, straight road and "
    "let a helper or a camera note them: do not read two displays while riding."
)
SOURCE = (
    "Band: never reads low, and never high by more than 10 % of the true speed plus 4 km/h (UN Regulation No. "
    "39, Revision 2, paragraph 5.4, 2018), the same for all classes at type approval. The test speeds are from "
    "memory (paragraph 5.2.5)."
)
ASK = (
    "**Enter a pair of speeds** below, or better three pairs at different speeds: what the speedometer "
    "showed, and what GPS or a stopwatch over a measured stretch gave at the same moment."
)
CLEAR = "Clear the readings"
INVENTED = "These four readings are invented, to show how it works. Type yours over them."
READINGS_ALT = "Readings of the speedometer: indicated and measured speed."
OTHER_PARTS = "What other sprockets or tyres would do"
NO_BASELINE = (
    "To see what new sprockets or a new tyre do to the reading, press “Set as baseline” under the run, "
    "then change them: the constant for the new parts appears here."
)
_TYRES = {
    0.97: "rear tyre 3 % smaller", 0.985: "rear tyre worn, 1.5 % smaller", 1.03: "rear tyre 3 % larger",
}  # fmt: skip


def reading_columns(fmt: UnitFormatter) -> tuple[str, str]:
    """Headings of the table of readings."""
    unit = fmt.unit("speed")
    return f"indicated, {unit}", f"measured, {unit}"


def alt(band: str) -> str:
    """The chart in words."""
    return f"Indicated against true speed with the band of the regulation and the readings. {band}"


def constant_text(value: float) -> str:
    """A constant: whole from a hundred up, with more digits below."""
    return plain_number(value, 0 if abs(value) >= 100 else 2)


def new_constant(pooled: PooledCalibration | None, old: float, inverse: bool) -> str:
    """The new constant, its spread, and what the instruments' steps leave open; or what is needed for one."""
    if pooled is None:
        return ASK
    if not pooled.success:
        return f"**The readings give no constant yet.** {pooled.message}"
    if constant_text(pooled.constant) == constant_text(old):
        text = f"**The constant is right: leave it at {constant_text(old)}.**"
    else:
        text = f"**Set the constant to {constant_text(pooled.constant)}** (now {constant_text(old)})."
    low, high = pooled.interval
    if np.isfinite(low) and np.isfinite(high):
        text += f" {pooled.message} They put it between {constant_text(low)} and {constant_text(high)} (95 %)"
        sure = low if inverse else high
        text += f"; use {constant_text(sure)} if it must never read low."
    else:
        text += f" {pooled.message}"
    first, last = pooled.resolution_range
    if first <= last:
        reach = constant_text(last) if np.isfinite(last) else "any larger value"
        text += f" Rounding allows anything from {constant_text(first)} to {reach}."
    if inverse:
        text += " Your speedometer works the other way round: the larger the constant, the lower the reading."
    return text


def ratio_of(pooled: PooledCalibration | None, old: float, inverse: bool) -> float:
    """Measured over indicated speed as the display is set now; NaN where it is not known."""
    if pooled is None or not pooled.success:
        return float("nan")
    return old / pooled.constant if inverse else pooled.constant / old


def what_it_reads(ratio: float, top_speed: float, shown: float, fmt: UnitFormatter) -> str:
    """How wrong the display is now: by how much, at a reading, at top speed, over a distance."""
    error = display_error(1.0, ratio)
    if abs(error) < 0.0005:
        return "As set, it shows the true speed."
    much = f"{plain_number(100 * abs(error), 1)} % {'high' if error > 0 else 'low'}"
    hundred = float(fmt.si("road distance", 100.0))
    true, surplus = odometer_error(hundred, error)
    counted = "more than" if surplus > 0 else "less than"
    top = f"; at the build's top speed of {fmt('speed', top_speed, 1)} it shows "
    return (
        f"As set, it reads {much}. When it shows {fmt.entered('speed', shown)} you are doing "
        f"{fmt('speed', true_speed(shown, error), 1)}{top}{fmt('speed', top_speed * (1 + error), 1)}. An "
        f"odometer on the same constant shows {fmt('road distance', hundred, 0)} after "
        f"{fmt('road distance', true, 1)}: "
        f"{fmt('road distance', abs(surplus), 1)} {counted} you rode."
    )


def legal(
    indicated: Sequence[float],
    measured: Sequence[float],
    top_speed: float,
    shown: float,
    vehicle_class: str,
    fmt: UnitFormatter,
) -> str:
    """How the readings lie in the band, and how far a display inside it can be off."""
    text = ""
    if len(indicated):
        inside = np.atleast_1d(is_within_legal_band(np.array(indicated), np.array(measured), vehicle_class))
        if inside.all():
            text = "**All readings are inside the regulation's band.** "
        else:
            bad = int(np.argmin(inside))
            low, high = legal_band(measured[bad], vehicle_class)
            count = int((~inside).sum())
            lie = "One reading is" if count == 1 else f"{count} of {len(inside)} readings are"
            text = (
                f"**{lie} outside the regulation's band:** at a true {fmt('speed', measured[bad], 1)} it "
                f"may show {fmt('speed', low, 1)} to {fmt('speed', high, 1)}, but shows "
                f"{fmt('speed', indicated[bad], 1)}. "
            )
    wrong = fmt("speed", fastest_wrong_reading(top_speed, vehicle_class), 1)
    return text + (
        f"A display inside the band may show as much as {wrong} at a true {fmt('speed', top_speed, 1)}; and "
        f"when it shows {fmt.entered('speed', shown)}, you may be doing as little as "
        f"{fmt('speed', slowest_true_speed(shown, vehicle_class), 1)}."
    )


def change_of_parts(
    before: tuple[float, float],
    after: tuple[float, float],
    display: Instrument,
    reads: float,
    constant: float,
    fmt: UnitFormatter,
) -> str:
    """What a change of sprockets or tyre does to a display that was right.

    Parameters
    ----------
    before, after : tuple of (radius, ratio)
        Rolling radius, m, and ratio of baseline and build.
    display : Instrument
        How the display is set.
    reads : float, m/s
        What it shows afterwards at the speed asked about.
    constant : float
        What it needs afterwards.
    fmt : UnitFormatter
        The rider's units.
    """
    if display.sensor == FRONT_WHEEL:
        return (
            "The sensor is on the front wheel: neither sprockets nor the rear tyre change the reading. "
            "Only another front tyre does, in proportion to its rolling circumference."
        )
    parts = []
    if abs(after[1] / before[1] - 1) > 1e-9 and display.sensor == MOTOR:
        parts.append(f"the ratio from {before[1]:.3f} to {after[1]:.3f}")
    if abs(after[0] / before[0] - 1) > 1e-9:
        radius = [fmt("length", r, 1) for r in (before[0], after[0])]
        parts.append(f"the rolling radius from {radius[0]} to {radius[1]}")
    if not parts:
        return "Nothing that changed since the baseline affects this speedometer."
    return (
        f"**From the baseline to this build** {' and '.join(parts)} change{'' if parts[1:] else 's'}: a display "
        f"that was right before shows {fmt('speed', reads, 1)} at a true {fmt('speed', display.at, 1)}. A constant "
        f"of {constant_text(display.constant)} that was right before becomes **{constant_text(constant)}**."
    )


def since_the_baseline(page: Page, display: Instrument) -> str:
    """What the display reads after the change from the baseline to the build."""
    if page.baseline is None:
        return NO_BASELINE
    reads, constant = after_change(page.baseline, page.build, display)
    return change_of_parts(gearing_of(page.baseline), gearing_of(page.build), display, reads, constant, page.fmt)


def other_parts(build: Build, display: Instrument, fmt: UnitFormatter) -> pd.DataFrame:
    """What a display that is right now would show after the nearest changes, and the constant for each."""
    rows = []
    for what, size, other in nearest_changes(build, display.sensor):
        reads, constant = after_change(build, other, display)
        rows.append(
            {
                "change": _TYRES[size] if what == "tyre" else f"{what} sprocket {size}",
                "constant": constant_text(constant),
                f"at a true {fmt('speed', display.at)} shows": fmt("speed", reads, 1),
                "off by, %": with_sign(100 * (reads / display.at - 1), 1),
            }
        )
    return pd.DataFrame(rows)


def readings_table(
    readings: Sequence[tuple[float, float]],
    pooled: PooledCalibration | None,
    display: Instrument,
    vehicle_class: str,
    fmt: UnitFormatter,
) -> pd.DataFrame:
    """Each reading with its error, its own constant, and the band."""

    def speed(value: float) -> float:
        return round(float(fmt.number("speed", value)), 1)

    unit, old = fmt.unit("speed"), display.constant
    indicated, measured = reading_columns(fmt)
    rows = []
    for index, (shown, true) in enumerate(readings):
        low, high = legal_band(true, vehicle_class)
        own = old * shown / true if display.inverse else old * true / shown
        rows.append(
            {
                indicated: speed(shown),
                measured: speed(true),
                "reads high by, %": round(100 * float(display_error(shown, true)), 1),
                "constant from it alone": constant_text(own),
                f"may show, {unit}": f"{speed(low)} to {speed(high)}",
                "in the band": "yes" if low <= shown <= high else "no",
                "outlier": "yes, left out" if pooled is not None and pooled.disagrees[index] else "no",
            }
        )
    return pd.DataFrame(rows)


def derivation(indicated: float, measured: float, display: Instrument, fmt: UnitFormatter) -> list[Step]:
    """The new constant from one reading, and the regulation's band at the measured speed."""
    unit, inverse, constant = fmt.unit("speed"), display.inverse, display.constant
    ratio = indicated / measured if inverse else measured / indicated
    shown, true = (float(fmt.number("speed", value)) for value in (indicated, measured))
    over, under = (shown, true) if inverse else (true, shown)
    measured_km_h = measured * 3.6
    return [
        Step(
            "Constant from one reading",
            r"k' = k\,\frac{v_{shown}}{v_{true}}" if inverse else r"k' = k\,\frac{v_{true}}{v_{shown}}",
            f"{put(constant, 6)} × {put(over, 5)} / {put(under, 5)}",
            constant * ratio,
            "",
            f"k constant set now; v speeds, {unit}. With several readings: the least-squares line through zero",
            SPEEDOMETER,
            digits=5,
        ),
        Step(
            f"Highest it may show at a true {fmt('speed', measured, 1)}",
            r"V_1 \le V_2 + 0.1\,V_2 + 4",
            f"{put(measured_km_h, 5)} + 0.1 × {put(measured_km_h, 5)} + 4",
            measured_km_h * 1.1 + 4,
            "km/h",
            "V₁ speed shown, V₂ true speed, km/h; and never less than V₂",
            REGULATION_39,
            digits=4,
        ),
    ]
