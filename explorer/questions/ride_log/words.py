"""Prose of the section "Ride log"."""

from __future__ import annotations

import numpy as np

from explorer.format import UnitFormatter, plain_number
from physics.fitting import build as fit_log
from physics.fitting.build import Fitted, LogFit
from physics.fitting.prediction import Misfit

PRIVACY = (
    "The log is read on the machine this page runs on, goes nowhere else, and is kept only until the session ends "
    "or you press “Forget this log”."
)
INVENTED = (
    "This is the invented ride of the demo bike: simulated, with noise, a lost stretch of speed and a worn tyre."
)
CAUTION = (
    "Let a recorder do the reading while you ride. Coast-downs and pulls belong on a closed, straight, level road "
    "with room to brake, both ways, on a calm day. A fitted value is no proof that a part may be used so: the "
    "makers' limits come first. A cut-out in the log is a reason for a lower line limit, never for taking a "
    "protection away."
)
CAVEAT = (
    "The 95 % intervals allow for readings that are not independent in time. In simulated logs they hold the "
    "truth in 90 to 99 % of cases; less often where a receiver smooths its speed over more than about two "
    "seconds. They take mass, wind, capacity, chemistry and the motor's own drag from the build: 5 % too much "
    "mass reads as 5 % too much drag area."
)

LABELS = {
    fit_log.RESISTANCE: "pack resistance",
    fit_log.CHARGE: "charge at the start",
    fit_log.DRAG_AREA: "drag area",
    fit_log.ROLLING: "rolling resistance",
    fit_log.RADIUS: "rolling radius of the tyre",
    fit_log.RATIO: "gear ratio",
    fit_log.LINE_LIMIT: "line limit",
    fit_log.EFFICIENCY: "efficiency of the driveline",
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


def found(fit: LogFit, fmt: UnitFormatter) -> str:
    """What the log says, the most telling differences first."""
    told = [item for item in fit.items if item.identified]
    if not told:
        return "**This log tells nothing about the build.** The table says what it lacks."
    differ = [item for item in told if apart(item) > 2 and abs(item.value / item.present - 1) > 0.005]
    differ.sort(key=lambda item: -abs(item.value / item.present - 1))
    if not differ:
        return f"**The log agrees with the build** in everything it can tell: {_listed(told)}."
    parts = [
        f"{LABELS[item.key]} {amount(item.key, item.value, fmt)} (the build has "
        f"{amount(item.key, item.present, fmt)})"
        for item in differ[:4]
    ]
    if len(differ) > len(parts):
        parts.append(f"and {_listed(differ[len(parts) :])}")
    text = f"**Log and build differ:** {'; '.join(parts)}."
    agree = [item for item in told if item not in differ]
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
                f" {_PAIR[one].capitalize()} and {_PAIR[other]} are fixed together better than either alone "
                f"(correlation\u00a0{_signed(size)}): use both or neither."
            )
    return text.strip()


def _signed(value: float) -> str:
    """A number with its sign, a true minus where it has one."""
    return f"{value:+.2f}".replace("-", "\u2212")


def _listed(items) -> str:
    names = [LABELS[item.key] for item in items]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def misfit(now: Misfit, fitted: Misfit | None, fmt: UnitFormatter) -> str:
    """How far prediction and log are apart, in numbers."""

    def all_of(found: Misfit) -> str:
        said = []
        for name, quantity, digits in (
            ("speed", "speed", 1), ("pack_voltage", "voltage", 1), ("line_current", "current", 0),
        ):  # fmt: skip
            if np.isfinite(found.spread[name]):
                said.append(fmt(quantity, found.spread[name], digits))
        return ", ".join(said)

    text = f"**In this pull, log and prediction differ by {all_of(now)}** (root mean square)"
    mean = now.mean["speed"]
    if np.isfinite(mean):
        way = "slower" if mean < 0 else "faster"
        text += f"; the bike was {fmt('speed', abs(mean), 1)} {way} than predicted on average"
    text += "."
    if fitted is not None:
        text += f" With the fitted values it would be {all_of(fitted)}."
    return text


def cut_outs(cuts, log, fmt: UnitFormatter) -> str:
    """The cut-outs in the log, or that there is none."""
    if not log.holds("line_current"):
        return "The log has no line current, so it cannot tell whether the pack cut out."
    if not cuts:
        return "No cut-out is in this log."
    said = []
    for cut in cuts[:3]:
        sure = "The pack cut out" if cut.certain else "The pack may have cut out"
        text = f"**{sure} at {fmt('time', cut.time)}**, at {fmt('current', cut.current_before)}"
        if np.isfinite(cut.voltage_before):
            text += f" and {fmt('voltage', cut.voltage_before)}"
        rule = f"; likely its {cut.likely_rule} rule" if cut.likely_rule else "; by which rule cannot be told"
        said.append(f"{text}{rule}. {cut.reason}")
    more = f" And {len(cuts) - 3} more." if len(cuts) > 3 else ""
    return " ".join(said) + more
