"""Several rides in words: what changes, by how much a month, what that will cost, and why it may be wrong."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.format import UnitFormatter, joined, plain_number
from explorer.questions.ride_log.over_time.ride_file import RideEntry
from explorer.questions.ride_log.over_time.trends import LEAST_DAYS, MONTH, SEASON, measured, of_day, warmer
from physics.fitting.ride_values import SMALLEST_SPAN
from physics.fitting.trend import FEWEST, Trend
from physics.ridelog.report import counted
from physics.simulation.plant import SECONDS_PER_HOUR
from physics.studies.target.ageing import AgedWindow
from physics.studies.voltage_window import ALWAYS_REACHED

TITLE = "Several rides: is my pack getting weaker?"
WHAT_IT_TAKES = (
    f"**Open the logs of several rides of this bike and see what changes.** A trend takes at least {FEWEST} rides "
    f"on different days, {LEAST_DAYS} days or more from the first to the last. The result can be saved as a small "
    "file, without the logs, and opened again next time."
)
UPLOAD = "More ride logs, or a ride file saved here"
TAKE_DEMO, SAVE, FORGET, REMOVE = (
    "Try invented rides",
    "Save these rides",
    "Forget these rides",
    "Remove those not used",
)
INVENTED = "These are seven invented rides over a year, of a pack that ages by nearly one percent a month."
FIT, FITTING = "Fit these rides", "Fitting the rides"
STAGED = (
    "Every ride is fitted with the build as it is now; its cells, capacity, mass and growth in the cold should be "
    "those it was ridden with. It counts as ridden on the level in still air. Temperature is that of the air, and "
    "of the pack at the start where the log has none."
)
DATE, TEMPERATURE, DROP = "Ridden on", "Temperature", "Leave this ride out"
NO_DATE = "A ride without a date is not fitted."
VALUE = "Value"
NAMES = {"resistance": "Pack resistance", "capacity_ah": "Capacity", "drag_area": "Drag area"}
QUANTITY = {"resistance": "resistance", "capacity_ah": "capacity", "drag_area": "area"}
_DIGITS = {"resistance": 1, "capacity_ah": 1, "drag_area": 3}
UNTIL, AT = "Look at", "Pack and air"
LOOKING = "Finding the voltage from which the target is reached"
USE, RIDE, WHEN = "use", "ride", "date"
TABLE_ALT = "The rides, what each says with half of its 95 % interval, and whether it is used."
NOTE = (
    "Resistance is brought to 25 °C and half charge, so that a cold day does not look like an old pack. The 95 % "
    "intervals cover the fit, the temperature and the growth in the cold. The band is where the next ride should "
    "fall if things go on as they have."
)
CAPACITY_NOTE = (
    f"A ride tells the capacity only where it takes {SMALLEST_SPAN:.0%} of the charge or more, without pauses in "
    "the log. The charge drawn is held against the fall of the rest voltage."
)
CAUTION = (
    "A pack whose resistance grows quickly, or that swells, smells or gets hot in one place, belongs in the hands "
    "of someone trained for lithium packs, not on the next ride. Follow the maker's limits and instructions."
)
TREND_SOURCE = (
    "N. R. Draper, H. Smith, Applied Regression Analysis, 3rd edition, Wiley, 1998, sections 1.4 and 9.2, from "
    "memory: weighted least squares"
)


def shown(name: str, value: Any, fmt: UnitFormatter) -> Any:
    """A value, as rides have it, in the rider's unit; floats or arrays."""
    return fmt.number(QUANTITY[name], SECONDS_PER_HOUR * value if name == "capacity_ah" else value)


def date(day: datetime.date, fmt: UnitFormatter) -> str:
    """A date in a sentence.

    Examples
    --------
    >>> day = datetime.date(2026, 5, 1)
    >>> date(day, UnitFormatter("metric")), date(day, UnitFormatter("US"))
    ('1 May 2026', 'May 1, 2026')
    """
    return f"{day:%B} {day.day}, {day.year}" if fmt.system == "US" else f"{day.day} {day:%B %Y}"


def too_few(name: str, rides: Sequence[RideEntry]) -> str:
    """What is said instead of a trend."""
    dates = {ride.date for ride in rides}
    text = (
        f"**Too few rides to say whether the {NAMES[name].lower()} changes.** It takes at least {FEWEST} on "
        f"different days, with {LEAST_DAYS} days or more from the first to the last. "
    )
    if not dates:
        return text + "None of these rides shows it."
    if len(dates) == 1:
        return text + "The rides that show it are all from one day."
    span = counted((max(dates) - min(dates)).days, "day")
    return text + f"So far there are {len(dates)}, {span} from first to last."


def _pair(name: str, low: float, high: float, fmt: UnitFormatter) -> tuple[str, str]:
    """Two numbers of a value in the rider's unit, with as many digits as tell them apart."""
    numbers = [float(shown(name, value, fmt)) for value in (low, high)]
    size = max(abs(number) for number in numbers) or 1.0
    digits = max(0, 1 - math.floor(math.log10(size)))
    return plain_number(numbers[0], digits), plain_number(numbers[1], digits)


def verdict(name: str, found: Trend, rides: Sequence[RideEntry], fmt: UnitFormatter) -> str:
    """Whether a value rises, falls, or shows no change, and by how much a month."""
    rate, (low, high) = MONTH * found.fit.value("rate"), (MONTH * end for end in found.fit.bounds("rate"))
    unit, noun = fmt.unit(QUANTITY[name]), NAMES[name].lower()
    first, last = date(of_day(found.first), fmt), date(of_day(found.last), fmt)
    span = f"{counted(len(rides), 'ride')} between {first} and {last}"
    if not (found.rises or found.falls):
        less, more = _pair(name, low, high, fmt)
        return (
            f"**These rides do not show that the {noun} changes.** Its trend is somewhere between {less} and "
            f"{more} {unit} a month (95 %), from {span}."
        )
    less, more = _pair(name, min(abs(low), abs(high)), max(abs(low), abs(high)), fmt)
    size, _ = _pair(name, abs(rate), max(abs(low), abs(high)), fmt)
    share = 100.0 * abs(rate) / float(found.line(found.last)[0])
    way = "rises" if found.rises else "falls"
    return (
        f"**The {noun} {way} by {size} {unit} a month, or {plain_number(share, 1)} %** (95 %: {less} to {more} "
        f"{unit}), from {span}."
    )


def season(rides: Sequence[RideEntry], fmt: UnitFormatter) -> str:
    """A warning where the rides got colder or warmer on the whole."""
    change = warmer(rides)
    if abs(change) < SEASON:
        return ""
    way = "warmer" if change > 0 else "colder"
    return (
        f" From the first ride to the last the pack was {fmt('temperature difference', abs(change))} {way} "
        "overall: if its growth in the cold is not what was entered, part of the trend is the season."
    )


def left_out(rides: Sequence[RideEntry], used: Sequence[RideEntry]) -> str:
    """What is said of rides of another pack."""
    other = len(rides) - len(used)
    if not other:
        return ""
    return f" {counted(other, 'ride')} of a pack with other cells {'is' if other == 1 else 'are'} not used."


def ahead(
    aged: AgedWindow, found: Trend, when: datetime.date, kelvin: float, target: float, fmt: UnitFormatter
) -> str:
    """From what voltage the target is out of reach on a cold day some time ahead, on the safe side."""
    cold, speed = fmt("temperature", kelvin), fmt("speed", target)
    start = f"On {date(when, fmt)}, with pack and air at {cold}, {speed} is"
    now, then, worse = (fmt("resistance", r) for r in (aged.resistance_now, aged.resistance, aged.resistance_worse))
    grown = f"the resistance then is {then} along the trend and {worse} at the upper end of its interval"
    if not np.isfinite(aged.worse.lowest_rest_voltage):
        text = f"**{start} out of reach from any voltage:** {grown}."
        if np.isfinite(aged.then.lowest_rest_voltage):
            volts = fmt.at_least("voltage", aged.then.lowest_rest_voltage)
            text += f" Along the trend alone it would still be reached from {volts} at rest."
        elif not np.isfinite(aged.now.lowest_rest_voltage):
            text += f" With {now}, the trend at the last ride, it is out of reach on such a day too."
    elif aged.worse.status == ALWAYS_REACHED:
        text = f"**{start} still reached from any voltage:** {grown}."
    else:
        volts = fmt.at_least("voltage", aged.worse.lowest_rest_voltage)
        text = f"**{start} out of reach below {volts} at rest:** {grown}"
        if aged.worse.highest_charge < aged.worse.charge[-1]:
            text += f"; above {fmt.at_most('voltage', aged.worse.highest_rest_voltage)} the pack cuts out first"
        text += "."
        if np.isfinite(aged.now.lowest_rest_voltage) and aged.now.status != ALWAYS_REACHED:
            before = fmt.at_least("voltage", aged.now.lowest_rest_voltage)
            text += f" With {now}, the trend at the last ride, it would be {before} on such a day."
    if when.toordinal() - found.last > found.last - found.first:
        text += " This looks further ahead than the rides reach back: take it as a guess."
    return text


def staged_note(count: int) -> str:
    """How many rides are waiting to be fitted."""
    return f"**{counted(count, 'ride')} to be fitted**"


def table(rides: Sequence[RideEntry], used: Sequence[bool], fmt: UnitFormatter) -> pd.DataFrame:
    """The rides, oldest first, with what each says."""
    frame: dict[str, list] = {
        USE: list(used),
        WHEN: [ride.date for ride in rides],
        RIDE: [ride.label for ride in rides],
        "pack temperature": [_or_dash("temperature", ride.says.pack_temperature, fmt) for ride in rides],
    }
    for name, quantity in QUANTITY.items():
        head = f"{NAMES[name].lower()}, {fmt.unit(quantity)}"
        digits = _DIGITS[name] - (quantity == "area" and fmt.system == "US")  # a square foot is a tenth of a m²
        frame[head] = [
            "–"
            if one is None
            else " ± ".join(plain_number(shown(name, each, fmt), digits) for each in (one.value, one.half_width))
            for one in (getattr(ride.says, name) for ride in rides)
        ]
    return pd.DataFrame(frame)


def _or_dash(quantity: str, value: float | None, fmt: UnitFormatter) -> str:
    return "–" if value is None else fmt(quantity, value)


def chart_alt(name: str, text: str) -> str:
    """The chart in words."""
    return f"{NAMES[name]} of each ride against its date, with the trend where there is one. {text}"


def nothing_found(names: Sequence[str]) -> str:
    """What is said of rides that tell nothing, or cannot be read."""
    return f"Neither resistance nor capacity nor drag area could be told from {joined(names)}."


def derivation(name: str, found: Trend, rides: Sequence[RideEntry]) -> list[Step]:
    """The weight of a ride, the rate and its interval."""
    unit, size = {"resistance": ("mΩ", 1000.0), "capacity_ah": ("Ah", 1.0), "drag_area": ("m²", 1.0)}[name]
    last = size * measured(rides, name)[-1].half_width
    low, high = found.fit.bounds("rate")
    error = found.fit.error("rate")
    factor = 0.5 * (high - low) / error if error > 0 else 0.0
    return [
        Step(
            "Standard error of the last ride",
            r"s = \frac{w}{1.96}",
            f"{put(last)} / 1.96",
            last / 1.96,
            unit,
            "w half of its 95 % interval: the root sum of squares of what the fit, the temperature and the growth "
            "in the cold may be off by. A ride weighs 1/s². Resistance is brought to 25 °C and half charge by the "
            "pack model: Arrhenius' law, and a table for the charge. Left out: errors of the meter's scale, the "
            "same on every ride; a pack warmer inside than at its sensor; wind and slope, for the drag area",
            TREND_SOURCE,
        ),
        Step(
            "Half of the 95 % interval of the trend",
            r"w_b = t_{n-2}\,s_b",
            f"{put(factor, 5)} × {put(size * MONTH * error, 5)}",
            size * MONTH * factor * error,
            f"{unit} a month",
            f"t Student's factor for {len(rides)} − 2 degrees of freedom; s the slope's standard error, from how "
            "far the rides lie off the line. Left out: that ageing may speed up, stop, or come with miles and "
            "charges rather than with months; loss of capacity, in the voltage asked for",
            TREND_SOURCE,
        ),
    ]
