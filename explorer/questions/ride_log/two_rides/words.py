"""Two rides in words: which was faster over the same way, by how much, and what voltage it took."""

from __future__ import annotations

import numpy as np

from explorer.derivations.derivation import Step, put
from explorer.format import UnitFormatter, plain_number
from explorer.questions.ride_log.words import pull_name
from physics.ridelog.segments import Segment
from physics.ridelog.side_by_side import ROLLING, SideBySide

TITLE = "Two rides on one chart"
WHAT_IT_TAKES = (
    "**Open two ride logs and see which was faster, where, and at what voltage.** They are laid over each other "
    "from a pull or from the start of the log, by time or by distance."
)
UPLOAD = "More ride logs"
TAKE_DEMO = "Try two invented rides"
FIRST, SECOND, FROM, ALONG = "First ride", "Second ride", "From", "Against"
VIEWS = {"time": "time", "distance": "distance"}
WHOLE = "the start of the log"
NO_SPEED = "Without speed in the log a ride cannot be compared."
NO_WAY = "One of these rides goes nowhere from there."
_DIGITS = {"time": 1, "speed": 0, "voltage": 1}


def note(pulls: bool, fmt: UnitFormatter) -> str:
    """How the two are laid over each other."""
    if not pulls:
        return "Each clock starts with its log, or with the pull chosen for it."
    return (
        f"Both clocks start as the bike passes the same speed, {fmt('speed', ROLLING)} or the faster start of the "
        "two. Distance is the sum of speed over time; where speed was lost it is bridged in a straight line."
    )


def start_name(pull: Segment | None, fmt: UnitFormatter) -> str:
    """What a ride can be looked at from."""
    return WHOLE if pull is None else "the pull " + pull_name(pull, fmt)


def verdict(found: SideBySide, names: tuple[str, str], fmt: UnitFormatter) -> str:
    """Which was faster over the same distance, by how much, and how deep each pulled the voltage."""
    first, second = names
    way = fmt("distance", found.distance[-1])
    times, speeds = ([float(each[-1]) for each in both] for both in (found.times, found.speeds))
    if not (later := _more("time", times, fmt)):
        text = f"**Over {way}, both rides took {fmt('time', times[0])}.**"
    else:
        text = (
            f"**Over {way}, {second} was {_size('time', later, fmt)} {'slower' if later > 0 else 'faster'} than "
            f"{first}:** {fmt('time', times[1])} against {fmt('time', times[0])}."
        )
    if np.isfinite(speeds).all() and (faster := _more("speed", speeds, fmt)):
        way = "faster" if faster > 0 else "slower"
        text += (
            f" At the end of it, {second} was {_size('speed', faster, fmt)} {way}, at {fmt('speed', speeds[1])}."
        )
    volts = [float(each) for each in found.lowest_voltages]
    if np.isfinite(volts).all():
        if not (higher := _more("voltage", volts, fmt)):
            return text + f" The lowest voltage was {fmt('voltage', volts[0])} on both."
        way = "higher" if higher > 0 else "lower"
        text += (
            f" Its lowest voltage was {_size('voltage', higher, fmt)} {way}: {fmt('voltage', volts[1])} against "
            f"{fmt('voltage', volts[0])}."
        )
    return text


def _more(quantity: str, values: list[float], fmt: UnitFormatter) -> float:
    """How much more the second is than the first, as both are printed."""
    return fmt.difference(quantity, values[1], values[0], _DIGITS[quantity])


def _size(quantity: str, gap: float, fmt: UnitFormatter) -> str:
    """A difference in the rider's unit without its sign."""
    return f"{plain_number(abs(gap), _DIGITS[quantity])} {fmt.unit(quantity)}"


def chart_alt(text: str) -> str:
    """The chart in words."""
    return f"Speed, voltage and line current of two rides over each other. {text}"


def derivation(found: SideBySide) -> list[Step]:
    """The time between them at the end of the way both went."""
    times = [float(each[-1]) for each in found.times]
    return [
        Step(
            "How much later the second ride is there",
            r"\Delta t = t_2(d) - t_1(d), \quad d(t) = \int_0^t v\,dt",
            f"{put(times[1], 5)} − {put(times[0], 5)}",
            found.behind,
            "s",
            f"d the shorter way of the two, here {put(float(found.distance[-1]))} m; v the logged speed, by the "
            "trapezoid rule; t(d) in a straight line between two readings. Left out: the receiver's own delay and "
            "error of speed, another line through the bends, wind, slope, temperature and charge: nothing is "
            "brought to one day",
            "Definition of speed",
        )
    ]
