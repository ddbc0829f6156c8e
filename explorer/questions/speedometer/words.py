"""Prose of the section "Speedometer"."""

from __future__ import annotations

import numpy as np

from explorer.format import UnitFormatter, plain_number
from physics.studies.legal_speed import fastest_wrong_reading, is_within_legal_band, legal_band, slowest_true_speed
from physics.studies.speedometer import PooledCalibration, display_error, odometer_error, true_speed

CAUTION = (
    "The band is the one for approving a vehicle type; what the display of a changed bike must show on the road "
    "is for local law and an inspection body to say. Take readings at a steady speed on a closed, straight road, "
    "and have somebody or a recording note them: do not look at two displays while riding."
)
SOURCE = (
    "Band: never too little, and at most 10 % of the true speed + 4 km/h too much (UN Regulation No. 39, Revision "
    "2, paragraph 5.4, 2018), the same for all classes at type approval. The test speeds are from memory "
    "(paragraph 5.2.5)."
)


def constant_text(value: float) -> str:
    """A constant: whole from a hundred up, with more digits below."""
    return plain_number(value, 0 if abs(value) >= 100 else 2)


def new_constant(pooled: PooledCalibration, old: float, inverse: bool) -> str:
    """The new constant, its spread, and what the instruments' steps leave open."""
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
        text += f"; {constant_text(sure)} is the one to take if it must never show too little."
    else:
        text += f" {pooled.message}"
    first, last = pooled.resolution_range
    if first <= last:
        reach = constant_text(last) if np.isfinite(last) else "any larger one"
        text += f" The last digits of display and measured speed leave {constant_text(first)} to {reach} open."
    if inverse:
        text += " Your instrument works the other way round: the larger the constant, the lower the reading."
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
        return "As it is set, the display shows the true speed."
    much = f"{plain_number(100 * abs(error), 1)} % too {'much' if error > 0 else 'little'}"
    true, surplus = odometer_error(100e3, error)
    kilometres = fmt("road distance", 100e3, 0)
    counted = "more than" if surplus > 0 else "less than"
    top = f"; at the build's top speed of {fmt('speed', top_speed, 1)} it shows "
    return (
        f"As it is set, the display shows {much}. When it shows {fmt('speed', shown, 1)}, you ride "
        f"{fmt('speed', true_speed(shown, error), 1)}{top}{fmt('speed', top_speed * (1 + error), 1)}. An "
        f"odometer on the same constant shows {kilometres} after {fmt('road distance', true, 1)}: "
        f"{fmt('road distance', abs(surplus), 1)} {counted} you rode."
    )


def legal(indicated, measured, top_speed: float, shown: float, vehicle_class: str, fmt: UnitFormatter) -> str:
    """How the readings lie in the band, and how far a display inside it can be off."""
    text = ""
    if len(indicated):
        inside = np.atleast_1d(is_within_legal_band(np.array(indicated), np.array(measured), vehicle_class))
        if inside.all():
            text = "**All readings lie inside the regulation's band.** "
        else:
            bad = int(np.argmin(inside))
            low, high = legal_band(measured[bad], vehicle_class)
            count = int((~inside).sum())
            lie = "One reading lies" if count == 1 else f"{count} of {len(inside)} readings lie"
            text = (
                f"**{lie} outside the regulation's band:** at a true {fmt('speed', measured[bad], 1)} it may "
                f"show "
                f"{fmt('speed', low, 1)} to {fmt('speed', high, 1)}, and shows "
                f"{fmt('speed', indicated[bad], 1)}. "
            )
    wrong = fmt("speed", fastest_wrong_reading(top_speed, vehicle_class), 1)
    return text + (
        f"A display inside the band may show as much as {wrong} at a true {fmt('speed', top_speed, 1)}; and "
        f"where it shows {fmt('speed', shown, 1)}, you may be riding as little as "
        f"{fmt('speed', slowest_true_speed(shown, vehicle_class), 1)}."
    )


def after_change(
    before, after, sensor: str, at: float, reads: float, old: float, new: float, fmt: UnitFormatter
) -> str:
    """What a change of sprockets or tyre does to a display that was right.

    `before` and `after` are (radius, ratio) of baseline and build.
    """
    if sensor == "front":
        return (
            "The display counts the front wheel: neither sprockets nor the rear tyre change what it shows. Only "
            "another front tyre does, in proportion to its rolling circumference."
        )
    parts = []
    if abs(after[1] / before[1] - 1) > 1e-9 and sensor == "motor":
        parts.append(f"the ratio from {before[1]:.3f} to {after[1]:.3f}")
    if abs(after[0] / before[0] - 1) > 1e-9:
        radius = [fmt("length", r, 1) for r in (before[0], after[0])]
        parts.append(f"the rolling radius from {radius[0]} to {radius[1]}")
    if not parts:
        return "Between the baseline and the build nothing changes that this display would notice."
    return (
        f"**From the baseline to this build** {' and '.join(parts)} change{'' if parts[1:] else 's'}: a display "
        f"that was right before shows {fmt('speed', reads, 1)} at a true {fmt('speed', at, 1)}. A constant of "
        f"{constant_text(old)} that was right before becomes **{constant_text(new)}**."
    )
