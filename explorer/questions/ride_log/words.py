"""The ride log in words: what it says of the build, what it cannot tell, its parts, its cut-outs, and why."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import LEAST_SQUARES
from explorer.format import UnitFormatter, joined, plain_number, with_sign
from physics.fitting import build as fit_log
from physics.fitting.build import Fitted, LogFit
from physics.fitting.prediction import Misfit
from physics.ridelog.report import counted
from physics.ridelog.segments import MOST_PARTS, Segment
from physics.ridelog.track import Track

WHAT_IT_TAKES = (
    "**Open a ride log and see where your bike differs from the build.** Any text table with at least time and "
    "speed will do, whatever its columns are called, or a GPX track; pack voltage, line current, motor speed "
    "and throttle tell more."
)
UNREADABLE = "This file cannot be read as a ride log:"
READING, FITTING = "Reading the log", "Fitting"
NO_SPEED = "Without speed in the log there is nothing to compare a prediction with."

PRIVACY = (
    "The log is read on the machine this page runs on, goes nowhere else, and is kept only until the "
    "session ends or you press one of the “Forget” buttons."
)
INVENTED = (
    "This is an invented ride on the demo bike: simulated, with noise, a lost stretch of speed and a worn tyre."
)
CAUTION = (
    "Let the logger do the reading while you ride. Do coast-downs and pulls on a closed, straight, level "
    "road with room to brake, both ways, on a calm day. A fitted value does not mean a part may be used "
    "that way: the makers' limits come first. A cut-out in the log is a reason for a lower line limit, "
    "never for bypassing the BMS."
)
CAVEAT = (
    "The 95 % intervals allow for readings that are not independent in time. On simulated logs they "
    "contain the true value in 90 to 99 % of cases; less often if the receiver smooths speed over more "
    "than about two seconds. They take mass, wind, capacity, chemistry and the motor's own drag from the "
    "build: 5 % too much mass reads as 5 % too much drag area."
)
UPLOAD, TAKE_DEMO, SAVE_DEMO, FORGET, FORGET_OTHERS = (
    "A ride log: CSV, TSV or GPX", "Try an invented log", "Save the invented log", "Forget this log",
    "Forget the other logs",
)  # fmt: skip
TO_USE, APPLY, SAVE_BUILD, SAVE_LOG = (
    "Values to use", "Put these into the build", "Save the fitted build", "Save the cleaned log",
)  # fmt: skip
RIDDEN = "The log was fitted with the build as it stood then, and is compared with the build as it is now."
FIT_AGAIN = "Fit again with the build as it is"
APPLY_HELP = "The old build becomes the baseline. Undo reverses it."

PREDICTED = ("predicted: as it is", "predicted: as fitted")
PULL_NOTE = (
    "The prediction takes charge, temperatures and throttle from the log where it has them, and starts "
    "where the speeds agree best: loggers and receivers lag by a fraction of a second."
)

NOT_FLAT_OUT = (
    "The log has neither throttle nor line current, so it does not say how hard this pull was. It is "
    "compared with a full-throttle prediction only if you say so."
)
FLAT_OUT = "I rode this pull at full throttle, with this bike"
UNSURE_COAST = (
    "Without throttle or line current, some coast-downs may have been on a closing throttle. Under "
    "“Parts of the ride”, pick those where the bike rolled freely on level ground."
)
PARTS, PARTS_ALT, USE = "Parts of the ride, and which are used", "Parts of the ride.", "use"
RIDE_ALT = "Speed over the whole ride, with its pulls, coast-downs, steady stretches and standstills."
NO_PARTS = "No standstill, pull, coast-down or steady stretch was found."
TRUST = "Motor speed over road speed gives gear ratio over tyre radius. Trust"
TRUSTED = {"sprockets": "the sprockets", "tyre": "the tyre"}

LEFT_OVER, NO_FIT = "Fit errors", "Nothing was fitted."
NOTICED, ALL_READ = "Notes from reading it", "Everything was read"
COLUMNS, COLUMNS_ALT = "Columns and units", "The file's columns and what each is taken for."
GPX = "A GPX track has time, position and altitude. Speed is its own if it has one, or comes from the positions."
REVERSE = "In this file, current into the pack is positive"
FIRST_ROWS = "The first rows, in SI units"

LABELS = {
    fit_log.RESISTANCE: "pack resistance",
    fit_log.CHARGE: "charge at the start",
    fit_log.DRAG_AREA: "drag area",
    fit_log.ROLLING: "rolling resistance",
    fit_log.RADIUS: "rolling radius of the tyre",
    fit_log.RATIO: "gear ratio",
    fit_log.LINE_LIMIT: "line limit",
    fit_log.EFFICIENCY: "driveline efficiency",
}
_QUANTITY = {
    fit_log.RESISTANCE: ("resistance", 1),
    fit_log.CHARGE: ("charge", 1),
    fit_log.DRAG_AREA: ("area", 3),
    fit_log.ROLLING: ("share", 2),
    fit_log.RADIUS: ("length", 1),
    fit_log.LINE_LIMIT: ("current", 1),
    fit_log.EFFICIENCY: ("share", 1),
}
FROM = {
    fit_log.RESISTANCE: "voltage against current, through the pack model",
    fit_log.CHARGE: "rest voltage at the start of the log",
    fit_log.DRAG_AREA: "coast-downs",
    fit_log.ROLLING: "coast-downs",
    fit_log.RADIUS: "motor speed against speed, sprockets trusted",
    fit_log.RATIO: "motor speed against speed, tyre trusted",
    fit_log.LINE_LIMIT: "plateau of the line current",
    fit_log.EFFICIENCY: "energy of the pulls, against the predicted share",
}
_PAIR = {"drag_area": "drag area", "rolling_resistance": "rolling resistance", "rest_voltage": "rest voltage",
         "resistance": "pack resistance", "fall_per_charge": "fall of the rest voltage"}  # fmt: skip


def amount(key: str, value: float, fmt: UnitFormatter, *, unit: bool = True) -> str:
    """A fitted value as text."""
    if not np.isfinite(value):
        return "not known"
    if key == fit_log.RATIO:
        return plain_number(value, 3)
    quantity, digits = _QUANTITY[key]
    return fmt(quantity, value, digits) if unit else fmt.digits(quantity, value, digits)


def apart(item: Fitted) -> float:
    """How many standard errors lie between the log and the build."""
    if not item.identified or not item.standard_error > 0:
        return 0.0
    return abs(item.value - item.present) / item.standard_error


def verdict(fit: LogFit, fmt: UnitFormatter) -> str:
    """What the log says, the most telling differences first."""
    identified = [item for item in fit.items if item.identified]
    if not identified:
        return "**This log says nothing about the build.** The table says what is missing."
    differ = [item for item in identified if apart(item) > 2 and abs(item.value / item.present - 1) > 0.005]
    differ.sort(key=lambda item: -abs(item.value / item.present - 1))
    if not differ:
        return f"**The log agrees with the build** on everything it can tell: {_listed(identified)}."
    parts = [
        f"{LABELS[item.key]} {amount(item.key, item.value, fmt)} (the build has "
        f"{amount(item.key, item.present, fmt)})"
        for item in differ[:4]
    ]
    if len(differ) > len(parts):
        parts.append(f"and {_listed(differ[len(parts) :])}")
    text = f"**Log and build differ:** {'; '.join(parts)}."
    agree = [item for item in identified if item not in differ]
    if agree:
        text += f" They agree on {_listed(agree)}."
    return text


def cannot(fit: LogFit) -> str:
    """What the log cannot tell, and which values it fixes only together."""
    text = ""
    missing = [item for item in fit.items if not item.identified]
    if missing:
        text = f"This log cannot tell {_listed(missing)}."
    for one, other, size in fit.correlated:
        if one in _PAIR and other in _PAIR:
            text += (
                f" {_PAIR[one].capitalize()} and {_PAIR[other]} are better known together than either "
                f"alone (correlation\u00a0{with_sign(size, 2)}): use both or neither."
            )
    return text.strip()


def _listed(items: Sequence[Fitted]) -> str:
    return joined([LABELS[item.key] for item in items])


def misfit(now: Misfit, fitted: Misfit | None, fmt: UnitFormatter) -> str:
    """How far prediction and log are apart, in numbers."""

    def all_of(one: Misfit) -> str:
        texts = []
        for name, quantity, digits in (
            ("speed", "speed", 1),
            ("pack_voltage", "voltage", 1),
            ("line_current", "current", 0),
        ):
            if np.isfinite(one.spread[name]):
                texts.append(fmt(quantity, one.spread[name], digits))
        return ", ".join(texts)

    text = f"**In this pull, log and prediction differ by {all_of(now)}** (RMS)"
    mean = now.mean["speed"]
    if np.isfinite(mean):
        way = "slower" if mean < 0 else "faster"
        text += f"; the bike was {fmt('speed', abs(mean), 1)} {way} than predicted on average"
    text += "."
    if fitted is not None:
        text += f" With the fitted values it would be {all_of(fitted)}."
    return text


def ridden(track: Track, segments: Sequence[Segment], fmt: UnitFormatter) -> str:
    """What the speed of the ride says by itself: way, times, speeds, stops, climbs, parts."""
    minutes, seconds = divmod(round(track.duration), 60)
    text = (
        f"**The ride: {fmt('road distance', track.length)} in {minutes}:{seconds:02d} min, top speed "
        f"{fmt('speed', track.top_speed)}**, {fmt('speed', track.moving_speed)} on average while moving, "
        f"{counted(track.stops, 'stop')} on the way"
    )
    if np.isfinite(track.climbed):
        text += f", {fmt('altitude', track.climbed)} up and {fmt('altitude', track.descended)} down"
    kinds = [segment.kind for segment in segments]
    text += ". It has " + " and ".join(counted(kinds.count(kind), kind) for kind in ("pull", "coast-down"))
    pulls = [segment for segment in segments if segment.kind == "pull"]
    if pulls:
        best = max(pulls, key=lambda pull: (pull.end_speed - pull.start_speed) / pull.duration)
        text += (
            f"; the strongest went from {fmt('speed', max(best.start_speed, 0.0))} to "
            f"{fmt('speed', best.end_speed)} in {fmt('time', best.duration)}"
        )
    return text + "."


def speeds_alt(track: Track, fmt: UnitFormatter) -> str:
    """The chart of how long each speed was ridden, in words."""
    most = int(np.argmax(track.bin_times))
    low, high = (fmt.digits("speed", edge) for edge in track.bin_edges[most : most + 2])
    return f"Time spent at each speed; most at {low} to {high} {fmt.unit('speed')}."


def fit_table(fit: LogFit, fmt: UnitFormatter) -> pd.DataFrame:
    """Every fitted value with its spread, and where it comes from."""
    rows = []
    for item in fit.items:
        row = {
            "value": LABELS[item.key],
            "the log says": amount(item.key, item.value, fmt) if item.identified else "cannot tell",
            "the build has": amount(item.key, item.present, fmt),
            "standard error": "",
            "95 %": "",
            "from": FROM[item.key],
            "fitted by": item.loss,
            "remark": "" if item.identified else item.message,
        }
        if item.identified:
            low, high = (amount(item.key, bound, fmt, unit=False) for bound in item.interval)
            row["standard error"] = _standard_error(item, fmt)
            row["95 %"] = f"{low} to {high}"
        rows.append(row)
    return pd.DataFrame(rows)


def _standard_error(item: Fitted, fmt: UnitFormatter) -> str:
    """A standard error in the value's own unit, with two digits that count."""
    if item.key == fit_log.RATIO:
        return f"{item.standard_error:.2g}"
    quantity = _QUANTITY[item.key][0]
    size = abs(float(fmt.number(quantity, item.value + item.standard_error) - fmt.number(quantity, item.value)))
    return f"{size:.2g} {fmt.unit(quantity)}"


def widest_only(kinds: Sequence[str]) -> str:
    """What is said where a log holds more parts of these kinds than are fitted."""
    if not kinds:
        return ""
    names = "s and ".join(kinds)
    return f"Of more than {MOST_PARTS} {names}s, those over the widest span of speed are fitted."


def pull_name(pull: Segment, fmt: UnitFormatter) -> str:
    """A pull by when it began and its speeds."""
    start, end = fmt("speed", max(pull.start_speed, 0.0)), fmt("speed", pull.end_speed)
    return f"from {fmt('time', pull.start)}: {start} to {end}"


def pull_alt(verdict: str) -> str:
    """The chart of a pull in words."""
    return f"Speed, voltage and line current of one pull: the log, and what was predicted. {verdict}"


def parts_table(segments: Sequence[Segment], chosen: Sequence[bool], fmt: UnitFormatter) -> pd.DataFrame:
    """The parts of the ride as the rider sees them."""
    unit = fmt.unit("speed")
    return pd.DataFrame(
        {
            USE: list(chosen),
            "part": [segment.kind for segment in segments],
            "from, s": [round(segment.start, 1) for segment in segments],
            "to, s": [round(segment.end, 1) for segment in segments],
            f"from, {unit}": [round(float(fmt.number("speed", max(s.start_speed, 0.0))), 1) for s in segments],
            f"to, {unit}": [round(float(fmt.number("speed", max(s.end_speed, 0.0))), 1) for s in segments],
            "remark": [segment.note for segment in segments],
        }
    )


def with_residuals(fit: LogFit) -> dict[str, Fitted]:
    """The fits of which anything is left over to draw, by what they come from; of two from one source the first."""
    shown = {
        FROM[item.key]: item
        for item in reversed(fit.items)
        if item.identified and item.key != fit_log.CHARGE and item.fit.residuals.size > 2
    }
    return dict(reversed(shown.items()))


def residuals_title(item: Fitted) -> str:
    """Of the axis of what a fit leaves over."""
    return f"error, {item.unit}"


def residuals_alt(source: str) -> str:
    """The chart of what a fit leaves over in words."""
    return f"Errors of the fit from {source}, against time."


def residuals_note(item: Fitted) -> str:
    """How many readings a fit is made of, and how much it leaves over."""
    spread = float(np.sqrt(np.mean(item.fit.residuals**2)))
    return (
        f"{item.fit.n} readings, worth {item.fit.effective_n:.0f} independent ones; {spread:.3g} "
        f"{item.unit} error (RMS). The fit minimises: {item.loss}."
    )


def most_columns(shown: int, count: int) -> str:
    """What is said where a file has more columns than are shown."""
    return f"The first {shown} of {count} columns are shown."


def derivation(fit: LogFit) -> list[Step]:
    """How far each value of a log stands from the build's, in standard errors."""
    return [
        Step(
            "How far the log is from the build, in standard errors",
            r"z = \frac{|x_{log} - x_{build}|}{s}",
            f"({' − '.join(put(value, 6) for value in sorted((item.value, item.present), reverse=True))}) / "
            f"{put(item.standard_error, 5)}",
            abs(item.value - item.present) / item.standard_error,
            "",
            "x the value, in SI units; s its standard error from the fit. Beyond 2 the two disagree",
            LEAST_SQUARES,
            name=LABELS[item.key],
        )
        for item in fit.items
        if item.identified and item.standard_error > 0
    ]
