"""Ride logs: from a file of bytes to a frame in SI, a report of what was left out, and the column guesses.

The file may be CSV or TSV with any column names, any of the usual delimiters and either decimal mark, or a GPX 1.1
track. Nothing in it is trusted: its size, rows, columns and line length are capped, nothing in it is executed or
looked up, and what cannot be read ends in a LogError with a sentence.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from physics.arrays import Floats
from physics.ridelog.cleaning import (
    find_dropouts,
    find_gaps,
    find_unit_jumps,
    rising,
    set_implausible_empty,
    unroll_midnight,
)
from physics.ridelog.columns import ColumnGuess, guess_columns, numbers_of, split_name, time_unit
from physics.ridelog.gpx import read_track, speed_from_positions
from physics.ridelog.quantities import QUANTITIES, factor_to_si
from physics.ridelog.report import LogError, LogReport, RideLog, counted
from physics.ridelog.speed_check import AGREES, ratio_to_positions, unit_by_positions, unit_by_riding
from physics.ridelog.text import OVERFLOW, Layout, count_rows, decode, find_layout, read_chunks, times_of

BYTE_CAP = 32 * 1024 * 1024
ROW_CAP = 500_000
GUESS_ROWS = 2_000
MOST_EXAMPLES = 5
EARLIEST, LATEST = 946_684_800.0, 4_102_444_800.0
"""s since 1970: the years 2000 to 2099, in which a log may have been written."""
BACKWARD = 0.5
"""m/s; what is further below zero is no noise of a bike that stands."""


def _finish(
    frame: pd.DataFrame, report: LogReport, guesses: Sequence[ColumnGuess], segment: NDArray[np.int_] | None = None
) -> RideLog:
    """Order the rows, empty the implausible, look for trouble and start the clock at zero."""
    t = frame["time"].to_numpy()
    keep = rising(t)
    dropped = ~keep & np.isfinite(t)
    repeated = int(np.isin(t[dropped], t[keep]).sum())
    frame = frame[keep].reset_index(drop=True)
    if len(frame) < 2:
        raise LogError("Fewer than two rows have a time that rises; check which column is the time and its unit.")
    date = _date_of(float(frame["time"].iloc[0]))
    frame["time"] = frame["time"] - frame["time"].iloc[0]
    implausible = set_implausible_empty(frame)
    notes = list(report.notes)
    ratio = np.nan
    if {"latitude_deg", "longitude_deg"} <= set(frame.columns):
        part = None if segment is None else np.asarray(segment)[keep]
        gps = speed_from_positions(frame["time"], frame["latitude_deg"], frame["longitude_deg"], part)
        if "speed" not in frame:
            frame["speed"] = np.where(gps <= QUANTITIES["speed"].high, gps, np.nan)
            notes.append("Speed is worked out from the positions.")
        else:
            ratio = ratio_to_positions(
                frame["time"], frame["speed"], frame["latitude_deg"], frame["longitude_deg"], part
            )
    if "speed" in frame:
        guesses, said = _check_speed(frame, guesses, ratio)
        notes += said
    if {"line_current", "pack_voltage"} <= set(frame.columns):
        pair = frame[["line_current", "pack_voltage"]].dropna()
        if (
            len(pair) > 50
            and pair["line_current"].std() > 5.0
            and pair["pack_voltage"].std() > 0.0
            and pair["line_current"].corr(pair["pack_voltage"]) > 0.5
        ):
            notes.append(
                "Pack voltage rises with line current: the current seems to count charge as positive. "
                "Read the file again with the current turned round."
            )
    report = replace(
        report,
        rows_kept=len(frame),
        repeated_times=repeated,
        backward_times=int(dropped.sum()) - repeated,
        missing=tuple(
            (n, int(frame[n].isna().sum()) - dict(implausible).get(n, 0))
            for n in frame.columns
            if int(frame[n].isna().sum()) > dict(implausible).get(n, 0)
        ),
        implausible=implausible,
        gaps=find_gaps(frame["time"]),
        dropouts=find_dropouts(frame),
        unit_jumps=find_unit_jumps(frame),
        notes=tuple(notes),
        date=date,
    )
    order = [name for name in ("time", *QUANTITIES) if name in frame]
    return RideLog(frame[list(dict.fromkeys(order))], report, () if report.kind == "GPX" else tuple(guesses))


def _date_of(seconds: float) -> datetime.date | None:
    """The day of a time since 1970, where it is one: no clock that starts with the log runs for thirty years."""
    if not EARLIEST <= seconds < LATEST:
        return None
    return datetime.datetime.fromtimestamp(seconds, datetime.UTC).date()


def _check_speed(
    frame: pd.DataFrame, guesses: Sequence[ColumnGuess], ratio: float
) -> tuple[list[ColumnGuess], list[str]]:
    """Put a speed whose unit was assumed into the unit it turns out to be in; say what speaks against one."""
    guesses, notes = list(guesses), []
    assumed = next((i for i, guess in enumerate(guesses) if guess.quantity == "speed" and guess.assumed), None)
    found = None
    if assumed is not None:
        guess = guesses[assumed]
        unit = guess.unit or ""
        found = unit_by_positions(ratio, unit)
        if found is None and not np.isfinite(ratio):
            found = unit_by_riding(frame["time"], frame["speed"], unit)
        if found is not None:
            frame["speed"] *= found.factor
            reason = f"Taken as speed from the name; {found.reason}."
            guesses[assumed] = replace(guess, unit=found.unit, reason=reason, assumed=False)
            notes.append(f"The speed column names no unit: {found.reason}.")
    if found is None and np.isfinite(ratio) and not AGREES[0] < ratio < AGREES[1]:
        notes.append(f"The speed column reads {ratio:.2f} times the speed from the positions; check its unit.")
    speed = frame["speed"].to_numpy()
    below = speed < -BACKWARD
    if below.any():
        notes.append(
            f"{counted(int(below.sum()), 'speed')} below zero, down to {speed[below].min():.1f} m/s; they are kept."
        )
    return guesses, notes


def _read_gpx(data: bytes, row_cap: int) -> RideLog:
    frame, segment, full = read_track(data, row_cap)
    wrong = ~np.isfinite(frame["time"].to_numpy())
    examples = tuple(f"Track point {i + 1}: no readable time." for i in np.flatnonzero(wrong)[:MOST_EXAMPLES])
    if (~wrong).sum() < 2:
        raise LogError("The GPX track has no times after ISO 8601 on its points, so it holds no speeds.")
    if not np.isfinite(frame["altitude"].to_numpy()).any():
        frame = frame.drop(columns="altitude")
    notes = (f"Only the first {row_cap} points are read.",) if full else ()
    report = LogReport(
        "GPX", rows_read=len(frame), wrong_rows=int(wrong.sum()), wrong_examples=examples, notes=notes
    )
    speed = [ColumnGuess("speed", "speed", "m/s", "As GPX has it.", assumed=True)]
    return _finish(frame[~wrong].reset_index(drop=True), report, speed, segment[~wrong])


def _choose(layout: Layout, columns: dict | None) -> list[ColumnGuess]:
    """Return the guesses, those the caller chose put in place of ours."""
    sample = next(iter(read_chunks(layout, GUESS_ROWS)), None)
    if sample is None or not len(sample):
        raise LogError("The file has a header but no rows.")
    guesses = guess_columns(sample.drop(columns=OVERFLOW), layout.decimal)
    chosen = dict(columns or {})
    for name, choice in list(chosen.items()):
        if name in layout.columns and choice == ("time", None):
            cells = sample.iloc[:, layout.columns.index(name)]
            unit, why = time_unit(cells.tolist(), numbers_of(cells, layout.decimal), split_name(name)[0])
            if unit is None:
                accepted = ", ".join(QUANTITIES["time"].accepted)
                raise LogError(f"Column {name!r} cannot be the time: {why}. Accepted units are {accepted}.")
            chosen[name] = ("time", unit)
    for name, choice in chosen.items():
        if name not in layout.columns:
            raise LogError(f"There is no column {name!r}; the file has {', '.join(layout.columns[:30])}.")
        if choice is not None:
            try:
                quantity, unit = choice
                factor_to_si(quantity, unit, pole_pairs=1)
            except (TypeError, ValueError) as error:
                raise LogError(f"Column {name!r}: {error}") from None
    taken = {choice[0] for choice in chosen.values() if choice is not None}
    if len(taken) < sum(choice is not None for choice in chosen.values()):
        raise LogError("Two columns were chosen for one quantity; choose one.")
    out = []
    for guess in guesses:
        if guess.column in chosen:
            choice = chosen[guess.column]
            out.append(
                ColumnGuess(guess.column, None, None, "Chosen: not used.")
                if choice is None
                else ColumnGuess(guess.column, choice[0], choice[1], "Chosen.")
            )
        elif guess.quantity in taken:
            out.append(ColumnGuess(guess.column, None, None, f"Another column was chosen for {guess.quantity}."))
        else:
            out.append(guess)
    return out


def _values(
    cells: pd.Series, quantity: str, unit: str | None, decimal: str, pole_pairs: int | None, sign: dict[str, float]
) -> Floats:
    offset, factor = factor_to_si(quantity, unit, pole_pairs)
    return (numbers_of(cells, decimal) + offset) * factor * sign.get(quantity, 1.0)


def read_log(
    source: bytes | BinaryIO | Path,
    *,
    columns: dict | None = None,
    delimiter: str | None = None,
    decimal: str | None = None,
    encoding: str | None = None,
    pole_pairs: int | None = None,
    reverse_current: bool = False,
    byte_cap: int = BYTE_CAP,
    row_cap: int = ROW_CAP,
) -> RideLog:
    """Read a ride log from bytes, an open binary file or a path.

    Parameters
    ----------
    source : bytes, binary file or pathlib.Path
        CSV, TSV or GPX 1.1. A file is read up to `byte_cap` and no further.
    columns : dict, optional
        Column name to (quantity, unit), or to None for a column not to be used; the rest is guessed, and so is the
        unit of a time for which None is given.
    delimiter : str, optional
        ";", tab, "|", "," or " "; found if not given.
    decimal : {".", ","}, optional
        Found if not given.
    encoding : str, optional
        "utf-8", "utf-8-sig", "utf-16" or "latin-1"; found if not given.
    pole_pairs : int, optional
        Needed where motor speed is in electrical rpm.
    reverse_current : bool
        True where the file counts charge current as positive.
    byte_cap, row_cap : int
        Largest file, and most rows read; rows beyond are named in the report.

    Returns
    -------
    RideLog

    Raises
    ------
    LogError
        With a sentence that says what was wrong, where, and what is accepted.

    Examples
    --------
    >>> log = read_log(b"Time (s);Speed (km/h);Volts\\n0,0;36,0;96,2\\n0,1;39,6;95,9\\n0,2;43,2;95,7\\n")
    >>> log.frame["speed"].round(6).tolist(), [g.unit for g in log.guesses]
    ([10.0, 11.0, 12.0], ['s', 'km/h', 'V'])
    """
    if not isinstance(byte_cap, int) or not isinstance(row_cap, int) or byte_cap < 1 or row_cap < 2:
        raise ValueError("The caps must be whole numbers: at least 1 byte and 2 rows.")
    if isinstance(source, Path):
        with source.open("rb") as file:
            source = file.read(byte_cap + 1)
    if not isinstance(source, (bytes, bytearray, memoryview)) and hasattr(source, "read"):
        source = source.read(byte_cap + 1)
    if not isinstance(source, (bytes, bytearray, memoryview)):
        raise TypeError("A log is read from bytes or from a file opened in binary mode.")
    data = bytes(source)
    if len(data) > byte_cap:
        raise LogError(f"The file is larger than {byte_cap / 1048576:.3g} MiB; cut the log into shorter rides.")
    if not data.strip():
        raise LogError("The file is empty; accepted are CSV, TSV and GPX 1.1.")
    if data[:200].lstrip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n")[:1] == b"<":
        return _read_gpx(data, row_cap)
    text, found_encoding = decode(data, encoding)
    layout = find_layout(text, found_encoding, delimiter, decimal)
    guesses = _choose(layout, columns)
    notes = [layout.note] if layout.note else []
    for i, guess in enumerate(guesses):
        if guess.unit == "electrical rpm" and pole_pairs is None:
            guesses[i] = ColumnGuess(guess.column, None, None, "Electrical rpm needs the motor's pole pairs.")
            notes.append(f"Column {guess.column!r} is electrical rpm and is left out; give the motor's pole pairs.")
    used = {g.quantity: g for g in guesses if g.quantity is not None}
    clock = used.pop("time", None)
    if clock is None or clock.unit is None:
        almost = " ".join(
            f"{guess.column!r}: {guess.reason}" for guess in guesses if guess.reason.startswith("Looks like time")
        )
        names = ", ".join(map(repr, layout.columns[:30]))
        raise LogError(f"No column was found for time among {names}; choose one. {almost[:300]}".strip())
    if not used:
        raise LogError("Only the time was recognised; choose what the other columns hold.")
    sign = {"line_current": -1.0, "phase_current": -1.0} if reverse_current else {}
    parts: list[pd.DataFrame] = []
    wrong: list[str] = []
    rows_read = unread = 0
    # One row beyond the cap tells whether anything was left unread.
    for chunk in read_chunks(layout, row_cap + 1):
        time = times_of(chunk[clock.column], clock.unit, layout.decimal) * factor_to_si("time", clock.unit)[1]
        held = {"time": time}
        held |= {
            name: _values(chunk[g.column], name, g.unit, layout.decimal, pole_pairs, sign)
            for name, g in used.items()
        }
        part = pd.DataFrame(held)
        bad_time = ~np.isfinite(time)
        too_wide = chunk[OVERFLOW].notna().to_numpy()
        nothing = part.drop(columns="time").isna().all(axis=1).to_numpy()
        bad = bad_time | too_wide | nothing
        for i in np.flatnonzero(bad)[: MOST_EXAMPLES - len(wrong)]:
            why = "too many fields" if too_wide[i] else "no readable time" if bad_time[i] else "no readable value"
            wrong.append(f"Data row {rows_read + int(i) + 1}: {why}.")
        part["wrong"] = bad
        rows_read += len(chunk)
        parts.append(part)
    frame = pd.concat(parts, ignore_index=True)
    if rows_read > row_cap:
        frame, rows_read = frame.iloc[:row_cap], row_cap
        notes.append(f"Only the first {row_cap} rows are read.")
    else:
        unread = max(count_rows(layout) - rows_read, 0)
    bad = frame["wrong"].to_numpy(bool)
    frame = frame.loc[~bad].drop(columns="wrong").reset_index(drop=True)
    if len(frame) < 2:
        first = f" {wrong[0]}" if wrong else ""
        cells = next(iter(read_chunks(layout, GUESS_ROWS)))[clock.column]
        unit, why = time_unit(cells.tolist(), numbers_of(cells, layout.decimal), split_name(clock.column)[0])
        if unit not in (None, clock.unit):
            raise LogError(
                f"Column {clock.column!r} cannot be read as a time in {clock.unit!r}; {unit!r} would work: {why}."
            )
        raise LogError(
            f"Fewer than two of {rows_read} rows could be read.{first} Check the delimiter, the decimal "
            "mark and which column is the time."
        )
    if clock.unit in ("clock", "hhmmss"):
        frame["time"] = unroll_midnight(frame["time"])
    if unread:
        wrong.append(f"{counted(unread, 'row')} more with too many fields.")
    report = LogReport(
        "text",
        layout.encoding,
        layout.delimiter,
        layout.decimal,
        rows_read=rows_read + unread,
        wrong_rows=int(bad.sum()) + unread,
        wrong_examples=tuple(wrong),
        notes=tuple(notes),
    )
    return _finish(frame, report, guesses)
