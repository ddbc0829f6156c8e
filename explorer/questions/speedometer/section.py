"""Speedometer: a new constant from readings, what a change of gearing or tyre does to it, the legal band."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import streamlit as st

from explorer.derivations import parts as why_parts
from explorer.format import tied
from explorer.frame import sidebar as inputs
from explorer.frame.layout import numbers, show, show_derivation
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.speedometer import INVERSE, MOTOR, REAR_WHEEL, SPEEDOMETER, SPEEDOMETER_READING, STEPS
from explorer.page.page import Page
from explorer.questions.speedometer import chart, words
from explorer.state import readings
from explorer.state.state import current
from physics.build.batch import Batch
from physics.studies.legal_speed import legal_band
from physics.studies.speedometer import (
    PooledCalibration,
    constant_after_change,
    display_error,
    pooled_calibration,
    reading_after_change,
)

TITLE = "Is my speedometer right, and what is its new constant?"
KEY = "speedometer"


def draw(page: Page) -> None:
    """The answer, the readings and inputs, the band, and what a change of parts does."""
    old, inverse = float(page.inputs["speedo_constant"]), page.inputs["speedo_way"] == INVERSE
    rows = readings.whole(readings.readings())
    pooled = pool(page, rows)
    with st.container(key=f"verdict_{KEY}_constant"):
        st.markdown(tied(verdict(page, pooled, old, inverse)))
    if rows:
        show_derivation(KEY, lambda: why_parts.speedometer(page, *rows[0], old, inverse))
    table, settings = st.columns(2, gap="medium")
    with table:
        readings.edit(page.fmt)
        if rows:
            st.button("Clear the readings", icon=":material/delete:", on_click=readings.clear, key=f"{KEY}_clear")
        if readings.are_invented():
            st.caption("These four readings are invented, to show how it works. Put your own over them.")
        inputs.in_place(SPEEDOMETER_READING)
    with settings:
        _constant(page)
        inputs.in_place(SPEEDOMETER)
    ratio = words.ratio_of(pooled, old, inverse)
    indicated, measured = [shown for shown, _ in rows], [true for _, true in rows]
    top, shown_now = float(page.run.top_speed[0]), INPUTS["speedo_shown"].si(page.inputs["speedo_shown"])
    kind = page.inputs["speedo_class"]
    text = words.legal(indicated, measured, top, shown_now, kind, page.fmt)
    if np.isfinite(ratio):
        text = f"{words.what_it_reads(ratio, top, shown_now, page.fmt)}\n\n{text}"
    show(
        KEY,
        verdict=text,
        figure=chart.figure(indicated, measured, pooled.disagrees if pooled else [], ratio, top, kind, page.fmt),
        height=chart.HEIGHT,
        alt=f"Indicated against true speed with the band of the regulation and the readings. {text}",
        note=words.SOURCE,
        table=lambda: readings_table(page, rows, pooled, old, inverse),
    )
    show(f"{KEY}_change", verdict=change_text(page, old, inverse), caution=words.CAUTION)
    if page.inputs["speedo_sensor"] in (MOTOR, REAR_WHEEL):
        label = "What other teeth or another tyre would do"
        numbers(f"{KEY}_next", lambda: next_changes(page, old, inverse), label)


def pool(page: Page, rows) -> PooledCalibration | None:
    """All readings as one constant; None where there are none."""
    if not rows:
        return None
    unit = page.fmt.si("speed", 1.0)
    return pooled_calibration(
        float(page.inputs["speedo_constant"]), [shown for shown, _ in rows], [true for _, true in rows],
        inverse=page.inputs["speedo_way"] == INVERSE,
        display_resolution=float(unit * STEPS[page.inputs["speedo_display_step"]]),
        gps_resolution=float(unit * STEPS[page.inputs["speedo_gps_step"]]),
    )  # fmt: skip


def verdict(page: Page, pooled: PooledCalibration | None, old: float, inverse: bool) -> str:
    """The new constant, or what is needed for one."""
    if pooled is None:
        return (
            "**Enter a pair of speeds** below, or better three at different speeds: what the display showed, and "
            "what "
            "GPS or a stopwatch over a measured stretch gave at the same moment."
        )
    return words.new_constant(pooled, old, inverse)


def _constant(page: Page) -> None:
    """The box for the constant: a plain number, since no slider would help."""
    spec, state, key = INPUTS["speedo_constant"], current(), "in:speedo_constant"
    st.session_state[key] = float(page.inputs["speedo_constant"])

    def entered():
        value, sentence = spec.clean(st.session_state[key])
        if value is not None or not sentence:
            state.change(spec.key, value)

    st.number_input(
        spec.label, float(spec.low), float(spec.high), step=1.0, format="%g", key=key, help=spec.help,
        on_change=entered,
    )  # fmt: skip


def gearing_of(build) -> tuple[float, float]:
    """Rolling radius of the rear wheel, m, and motor turns per wheel turn."""
    d = build.driveline
    return float(Batch.of(build)["bike.rolling_radius"][0]), d.primary_ratio * d.rear_teeth / d.front_teeth


def _both(build, other, sensor, at, old, inverse):
    """Reading at a true speed and constant after a change from one build to another."""
    before, after = gearing_of(build), gearing_of(other)
    where = "motor" if sensor == MOTOR else "wheel"
    pairs = before[0], after[0], before[1], after[1]
    return (
        reading_after_change(at, where, *pairs), constant_after_change(old, where, *pairs, inverse=inverse)
    )  # fmt: skip


def change_text(page: Page, old: float, inverse: bool) -> str:
    """What the display reads after the change from the baseline to the build."""
    sensor, at = page.inputs["speedo_sensor"], INPUTS["speedo_shown"].si(page.inputs["speedo_shown"])
    if page.baseline is None:
        return (
            "To see what a change of sprockets or tyre does to the display, press “Set as baseline” under the run, "
            "then change them: the constant for the new parts appears here."
        )
    before, after = gearing_of(page.baseline), gearing_of(page.build)
    reads, new = _both(page.baseline, page.build, sensor, at, old, inverse)
    return words.after_change(before, after, sensor, at, reads, old, new, page.fmt)


def next_changes(page: Page, old: float, inverse: bool) -> pd.DataFrame:
    """What a display that is right now would show after the nearest changes, and the constant for each."""
    build, fmt = page.build, page.fmt
    sensor, at = page.inputs["speedo_sensor"], INPUTS["speedo_shown"].si(page.inputs["speedo_shown"])
    front, rear = build.driveline.front_teeth, build.driveline.rear_teeth
    radius = gearing_of(build)[0]
    tried = []
    if sensor == MOTOR:
        for end, teeth, steps in (("rear", rear, (-4, -2, -1, 1, 2, 4)), ("front", front, (-1, 1))):
            tried += [(f"{end} sprocket {teeth + s}", {f"driveline.{end}_teeth": teeth + s}) for s in steps]
    for share, what in (
        (0.97, "rear tyre 3 % smaller"), (0.985, "rear tyre worn, 1.5 % smaller"), (1.03, "rear tyre 3 % larger"),
    ):  # fmt: skip
        tried.append((what, {"bike.rolling_radius": radius * share}))
    made = []
    for what, changes in tried:
        try:
            other = replace(build, name="").change(changes)
        except ValueError:
            continue
        reads, new = _both(build, other, sensor, at, old, inverse)
        made.append((what, fmt("speed", reads, 1), f"{100 * (reads / at - 1):+.1f}".replace("-", "−"), new))
    return pd.DataFrame(
        {
            "change": [row[0] for row in made],
            "constant": [words.constant_text(row[3]) for row in made],
            f"at a true {fmt('speed', at)} shows": [row[1] for row in made],
            "off by, %": [row[2] for row in made],
        }
    )


def readings_table(page: Page, rows, pooled, old: float, inverse: bool) -> pd.DataFrame:
    """Each reading with its error, its own constant, and the band."""
    fmt, kind = page.fmt, page.inputs["speedo_class"]

    def speed(value):
        return round(float(fmt.number("speed", value)), 1)

    unit = fmt.unit("speed")
    made = []
    for place, (shown, true) in enumerate(rows):
        low, high = legal_band(true, kind)
        own = old * shown / true if inverse else old * true / shown
        made.append(
            {
                f"indicated, {unit}": speed(shown),
                f"measured, {unit}": speed(true),
                "shows too much by, %": round(100 * float(display_error(shown, true)), 1),
                "its own constant": words.constant_text(own),
                f"may show, {unit}": f"{speed(low)} to {speed(high)}",
                "in the band": "yes" if low <= shown <= high else "no",
                "stands apart": "yes, left out" if pooled is not None and pooled.disagrees[place] else "no",
            }
        )
    return pd.DataFrame(made)
