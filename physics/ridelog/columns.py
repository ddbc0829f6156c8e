"""What a column of a ride log holds: guessed from its name and its numbers, the reason always given."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Set
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.ridelog.quantities import DATE_WORDS, HOT, OTHER_THINGS, QUANTITIES, TIME_TEXT, UNIT_OF_SPELLING

LONGEST_CELL = 64
"""Characters; what is longer is no number and no time, and is not looked into."""

THOUSANDS = re.compile(r"^[-+]?[1-9]\d{0,2}(?:,\d{3})+$")
"""Numbers whose commas may stand between thousands."""

_BRACKET = re.compile(r"[\(\[\{<]\s*([^\)\]\}>]{1,24}?)\s*[\)\]\}>]")
_CLOCK = re.compile(r"^(?:[\d./-]{6,10}[ T,]+)?\d{1,3}:\d{2}(?::\d{2})?(?:[.,]\d+)?\s*(?:[AaPp]\.?[Mm]\.?)?$")
_DATE = re.compile(r"^(?:\d{4}[./-]\d{1,2}[./-]\d{1,2}|\d{1,2}[./-]\d{1,2}[./-]\d{2,4})$")
_PADDED = re.compile(r"^0\d{5}(?:[.,]\d+)?$")
# Names that say the unit of a time by themselves, and names of a time of day.
_TIME_NAMES = {"millis", "milliseconds", "ms", "micros", "microseconds", "nanoseconds", "seconds"}
_DAY_NAMES = {"hhmmss", "utc", "clock", "uhrzeit", "heure", "hora", "ora", "orario"}
_ISO = re.compile(r"^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}")


@dataclass(frozen=True)
class ColumnGuess:
    """What one column was taken for.

    Parameters
    ----------
    column : str
        Name in the file.
    quantity : str or None
        Our name for it; None when it is not used.
    unit : str or None
        Unit it is read in.
    reason : str
        Why, in a sentence.
    assumed : bool
        Whether neither name nor numbers say the unit.
    """

    column: str
    quantity: str | None
    unit: str | None
    reason: str
    assumed: bool = False


@dataclass
class _Reading:
    """What a column's name says: its words, the quantity, its unit, and how many words agree."""

    position: int
    column: str
    words: set[str]
    quantity: str | None
    unit: str | None
    fit: int


def split_name(name: str) -> tuple[set[str], str | None]:
    """Return the words of a column name, lower case, and the unit written in it.

    Parameters
    ----------
    name : str
        As in the file.

    Returns
    -------
    (words, unit) : set of str, str or None

    Examples
    --------
    >>> words, unit = split_name("GPS Speed (km/h)")
    >>> sorted(words), unit
    (['gps', 'speed'], 'km/h')
    >>> split_name("battVoltage_mV")[1]
    'mV'
    """
    text = unicodedata.normalize("NFC", str(name))[:200]
    if text.strip().lower() in ("km/h", "m/s"):
        return {"speed"}, text.strip().lower()
    bracket = _BRACKET.search(text)
    unit = UNIT_OF_SPELLING.get(bracket.group(1).strip().lower().replace(" ", "")) if bracket else None
    rest = _BRACKET.sub(" ", text)
    pieces = re.split(r"[\s_.,;:\-]+", rest.strip())
    if unit is None and len(pieces) > 1:
        unit = UNIT_OF_SPELLING.get(pieces[-1].lower())
    spaced = re.sub(r"([a-z])([A-Z])", r"\1 \2", rest)
    words = set(re.findall(r"[^\W\d_]+|\d+v", spaced.lower()))
    if unit == "min":
        words.discard("min")
    for label in ("erpm", "rpm", "kmh", "kph", "kmph", "mph"):
        if unit is None and label in words:
            unit = UNIT_OF_SPELLING[label]
    return words, unit


def _unit_from_numbers(quantity: str, numbers: Floats) -> tuple[str | None, str]:
    """Guess a unit from sizes alone; return (unit or None, reason)."""
    held = QUANTITIES[quantity]
    top = float(np.nanmax(np.abs(numbers))) if np.isfinite(numbers).any() else 0.0
    assumed = held.accepted[0]
    if quantity == "pack_voltage":
        return ("mV", "numbers above 1500 are taken as millivolts") if top > 1500 else ("V", "V is assumed")
    if quantity in ("line_current", "phase_current"):
        return ("mA", "numbers above 5000 are taken as milliamperes") if top > 5000 else ("A", "A is assumed")
    if quantity.endswith("temperature"):
        middle = float(np.nanmedian(numbers)) if np.isfinite(numbers).any() else 0.0
        if middle > 200:
            return "K", "numbers near 300 are taken as kelvin"
        return "degC", "degrees Celsius are assumed"
    if quantity == "throttle":
        if top <= 1.2:
            return "1", "numbers up to 1 are taken as a fraction"
        if top <= 5.5:
            return None, "numbers up to 5 look like a sensor voltage; choose its unit if it is not"
        return "%", "numbers up to 100 are taken as percent"
    return assumed, f"{assumed} is assumed"


def _is_time_of_day(texts: list[str], numbers: Floats, words: Set[str]) -> bool:
    """Whether numbers are times of day without colons, as in 140559.

    Seconds that count on would soon end in 60 to 99; where a log is too short to tell, name or a zero in front do.
    """
    whole = np.floor(numbers)
    if not ((whole >= 0) & (whole < 240_000) & (whole // 100 % 100 < 60) & (whole % 100 < 60)).all():
        return False
    if words & _DAY_NAMES or any(map(_PADDED.match, texts)):
        return True
    steps = np.diff(numbers)
    return bool(np.ptp(numbers) >= 200.0 and np.median(steps) <= 20.0)


def time_unit(values: Iterable[object], numbers: Floats, words: Set[str]) -> tuple[str | None, str]:
    """Return how a column of times is written, and why.

    Parameters
    ----------
    values : iterable
        Cells as in the file.
    numbers : array, shape (n,)
        The same as numbers, from `numbers_of`.
    words : set of str
        Of the column's name, from `split_name`.

    Returns
    -------
    (unit, reason) : str or None, str
        A unit of time, or None where the column holds none.

    Examples
    --------
    >>> time_unit(["2026-03-01"], np.array([np.nan]), {"date"})
    (None, 'it holds dates without a time of day')
    """
    texts = [str(v).strip() for v in values if isinstance(v, str) and v.strip()][:50]
    if texts and sum(bool(_ISO.match(t)) for t in texts) > 0.5 * len(texts):
        return "ISO 8601", "date and time after ISO 8601"
    if texts and sum(bool(_CLOCK.match(t)) for t in texts) > 0.5 * len(texts):
        return "clock", "clock times; two parts are read as minutes and seconds, a date before them is left out"
    if texts and sum(bool(_DATE.match(t)) for t in texts) > 0.5 * len(texts):
        return None, "it holds dates without a time of day"
    x = numbers[np.isfinite(numbers)]
    if not x.size:
        return None, "it holds no readable times"
    named = sorted(words & _TIME_NAMES)
    if named:
        return UNIT_OF_SPELLING[named[0]], "the unit is in the name"
    if x.size > 1 and not (np.diff(x) > 0).any():
        return None, "it holds no time that rises"
    if _is_time_of_day(texts, x, words):
        return "hhmmss", "hours, minutes and seconds in one number"
    steps = np.diff(x)
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    whole = bool(np.all(x == np.round(x)))
    size = float(np.max(np.abs(x)))
    if size > 1e17:
        return "ns", "numbers of this size are taken as nanoseconds since 1970"
    if size > 1e14 or (whole and step >= 2e4):
        return "us", "whole numbers in large steps are taken as microseconds"
    if size > 1e11 or (whole and step >= 5.0):
        return "ms", "whole numbers in steps of 5 or more are taken as milliseconds"
    if 2e4 < size < 1e5 and 0.0 < step < 1e-3:
        return "day", "fractions of days as spreadsheets write them"
    return "s", "steps of this size are taken as seconds"


def short_cells(values: ArrayLike) -> pd.Series:
    """Return cells as text without the blanks around them, missing where one is longer than any number or time.

    Parameters
    ----------
    values : array, shape (n,)
        Cells.

    Returns
    -------
    Series of str, shape (n,)

    Examples
    --------
    >>> short_cells([" 12 ", "9" * 20_000]).isna().tolist()
    [False, True]
    """
    text = pd.Series(np.asarray(values), dtype="str").str.strip()
    return text.where((text.str.len() <= LONGEST_CELL).fillna(False).astype(bool))


def numbers_of(values: ArrayLike, decimal: str = ".") -> Floats:
    """Turn cells into floats: nan where a cell holds no finite number, or more than 64 characters.

    Blanks, apostrophes and, beside a decimal point, commas between thousands are taken out, and a unit behind the
    number is allowed.

    Parameters
    ----------
    values : Series or array
        Cells, text or numbers.
    decimal : str
        "." or ",".

    Returns
    -------
    array of float, shape (n,)
        One for each cell.

    Examples
    --------
    >>> numbers_of(["12,5", "1 200,0 V", "-"], ",").tolist()
    [12.5, 1200.0, nan]
    """
    series = pd.Series(values)
    if pd.api.types.is_numeric_dtype(series):
        out = series.to_numpy(float, na_value=np.nan).copy()
    else:
        text = short_cells(series)
        plain = text.str.replace(",", ".", regex=False) if decimal == "," else text
        out = pd.to_numeric(plain, errors="coerce").to_numpy(float, na_value=np.nan).copy()
        odd = np.isnan(out) & text.notna().to_numpy() & (text != "").to_numpy()
        if odd.any():
            rest = plain[odd].mask(plain[odd].str.match(THOUSANDS), plain[odd].str.replace(",", ""))
            rest = rest.str.replace(r"(?<=\d)[\s'\u00a0\u202f](?=\d{3})", "", regex=True)
            number = rest.str.extract(
                r"^([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d{1,3})?)\s*[^\d\s.,:;/\-]{0,6}$"
            )[0]
            out[odd] = pd.to_numeric(number, errors="coerce").to_numpy(float, na_value=np.nan)
    return np.where(np.isfinite(out), out, np.nan)


def _best_time(
    readings: list[_Reading], clocks: dict[int, tuple[str | None, str]], numbers: dict[int, Floats]
) -> _Reading | None:
    """The column that is the time: readable, rising and named so; else the first without a name that rises."""

    def rises(one: _Reading) -> bool:
        x = numbers[one.position]
        x = x[np.isfinite(x)]
        return clocks[one.position][0] in TIME_TEXT or bool(x.size > 1 and np.mean(np.diff(x) >= 0) > 0.95)

    readable = [one for one in readings if one.position in clocks and clocks[one.position][0] is not None]
    named = [one for one in readable if one.quantity == "time"]
    if named:
        return max(named, key=lambda one: (rises(one), not one.words & DATE_WORDS, one.fit, -one.position))
    for one in readable:
        x = numbers[one.position]
        if clocks[one.position][0] in TIME_TEXT[:2] or (
            x.size > 2 and np.isfinite(x).all() and (np.diff(x) > 0).all()
        ):
            return one
    return None


def guess_columns(frame: pd.DataFrame, decimal: str = ".") -> list[ColumnGuess]:
    """Guess what every column of a frame holds, and in what unit.

    Names decide first, numbers second. A quantity is given to one column only, to the one whose name fits best;
    for speed a column that names GPS wins, since a bike's own display is what the log is to check.

    Parameters
    ----------
    frame : DataFrame
        The first rows of a file as text or numbers; columns named as in the file.
    decimal : str
        Decimal mark of the cells.

    Returns
    -------
    list of ColumnGuess
        One a column, in order.

    Examples
    --------
    >>> table = pd.DataFrame({"Time [ms]": ["0", "100"], "Batt volts": ["96.1", "95.8"], "note": ["a", "b"]})
    >>> [(g.quantity, g.unit) for g in guess_columns(table)]
    [('time', 'ms'), ('pack_voltage', 'V'), (None, None)]
    """
    readings: list[_Reading] = []
    numbers = {}
    for position, column in enumerate(frame.columns):
        words, unit = split_name(column)
        numbers[position] = numbers_of(frame.iloc[:, position], decimal)
        quantity: str | None = None
        fit = 0
        if not (words & OTHER_THINGS) and not ("cell" in words and not words & set(HOT)):
            for held in QUANTITIES.values():
                fits = [len(w) for w in held.words if w <= words]
                if fits:
                    quantity, fit = held.name, max(fits) + ("gps" in words)
                    break
        readings.append(_Reading(position, str(column), words, quantity, unit, fit))
    best: dict[str, _Reading] = {}
    for one in readings:
        if (
            one.quantity
            and one.quantity != "time"
            and (one.quantity not in best or one.fit > best[one.quantity].fit)
        ):
            best[one.quantity] = one
    clocks = {
        one.position: time_unit(frame.iloc[:, one.position].tolist(), numbers[one.position], one.words)
        for one in readings
        if one.quantity in ("time", None)
    }
    clock = _best_time(readings, clocks, numbers)
    if clock is not None:
        clock.quantity = "time"
        best["time"] = clock
    for one in readings:
        # Speed in German, time in Italian.
        if one.quantity == "time" and one is not clock and "tempo" in one.words and "speed" not in best:
            one.quantity = "speed"
            best["speed"] = one
    guesses = []
    for one in readings:
        position, column, quantity, unit = one.position, one.column, one.quantity, one.unit
        if quantity is None:
            guesses.append(ColumnGuess(column, None, None, "The name says nothing we use."))
            continue
        if quantity == "time" and clocks[position][0] is None:
            guesses.append(ColumnGuess(column, None, None, f"Looks like time, but {clocks[position][1]}."))
            continue
        if best[quantity] is not one:
            other = best[quantity].column
            guesses.append(
                ColumnGuess(column, None, None, f"Also looks like {quantity}, which {other!r} fits better.")
            )
            continue
        because = "the name" if one.fit else "numbers that rise from row to row"
        if quantity == "time":
            text, why = clocks[position]
            if text is None or text in TIME_TEXT or unit not in QUANTITIES["time"].accepted or unit in TIME_TEXT:
                unit = text
            else:
                why = "the unit is in the name"
        elif unit in QUANTITIES[quantity].accepted:
            why = "the unit is in the name"
        else:
            unit, why = _unit_from_numbers(quantity, numbers[position])
        assumed = quantity == "speed" and why.endswith("assumed")
        if unit is None:
            guesses.append(ColumnGuess(column, None, None, f"Looks like {quantity}, but {why}."))
        else:
            guesses.append(
                ColumnGuess(column, quantity, unit, f"Taken as {quantity} from {because}; {why}.", assumed)
            )
    return guesses
