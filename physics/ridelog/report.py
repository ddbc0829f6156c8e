"""A ride log and what happened while it was read: nothing is dropped or changed without a line in its report."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
import pandas as pd

from physics.arrays import Floats
from physics.ridelog.columns import ColumnGuess
from physics.ridelog.quantities import QUANTITIES


class LogError(ValueError):
    """A file that cannot be read as a ride log; the text says what was wrong, where, and what is accepted."""


def counted(number: int, noun: str) -> str:
    """Return a number with its noun.

    Parameters
    ----------
    number : int
        How many.
    noun : str
        In the singular.

    Returns
    -------
    str
        The noun in the plural unless the number is 1.

    Examples
    --------
    >>> counted(1, "row"), counted(2, "row")
    ('1 row', '2 rows')
    """
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


@dataclass(frozen=True)
class LogReport:
    """What was read, left out and noticed.

    Parameters
    ----------
    kind : str
        "text", "GPX" or "synthetic".
    encoding, delimiter, decimal : str
        As found; empty where they do not apply.
    rows_read : int
        Data rows in the file.
    rows_kept : int
        Rows in the frame.
    wrong_rows : int
        Rows left out because no time or no value in them could be read, or they had too many fields.
    wrong_examples : tuple of str
        The first few of them, by number.
    repeated_times : int
        Rows left out because an earlier row has the same time.
    backward_times : int
        Rows left out because time runs backwards there.
    missing : tuple of (str, int)
        Cells without a readable number, by quantity; they are nan in the frame.
    implausible : tuple of (str, int)
        Cells outside what the quantity can be, by quantity; set to nan.
    gaps : tuple of (float, float)
        Start and end, s, of pauses in the recording.
    dropouts : tuple of (float, float, str)
        Start and end, s, of stretches where GPS or speed was lost, and how it shows.
    unit_jumps : tuple of (float, str, float)
        Time, s, quantity and factor where a column seems to change its unit; the values are left as they are.
    notes : tuple of str
        Anything else, in sentences.
    date : datetime.date, optional
        Of the first row, in universal time, where the file's times count from 1970 or name a date.
    """

    kind: str
    encoding: str = ""
    delimiter: str = ""
    decimal: str = ""
    rows_read: int = 0
    rows_kept: int = 0
    wrong_rows: int = 0
    wrong_examples: tuple[str, ...] = ()
    repeated_times: int = 0
    backward_times: int = 0
    missing: tuple[tuple[str, int], ...] = ()
    implausible: tuple[tuple[str, int], ...] = ()
    gaps: tuple[tuple[float, float], ...] = ()
    dropouts: tuple[tuple[float, float, str], ...] = ()
    unit_jumps: tuple[tuple[float, str, float], ...] = ()
    notes: tuple[str, ...] = ()
    date: datetime.date | None = None

    def sentences(self) -> tuple[str, ...]:
        """Return the report as plain sentences, the counts first.

        Examples
        --------
        >>> LogReport("text", rows_read=12, rows_kept=10, wrong_rows=2).sentences()[:2]
        ('10 of 12 rows are used.', '2 rows left out: no readable time, no readable value, or too many fields.')
        """
        out = [f"{self.rows_kept} of {self.rows_read} rows are used."]
        if self.wrong_rows:
            out.append(
                f"{counted(self.wrong_rows, 'row')} left out: no readable time, no readable value, or too "
                "many fields."
            )
            out.extend(self.wrong_examples)
        if self.repeated_times:
            out.append(f"{counted(self.repeated_times, 'row')} left out for repeating the time of another.")
        if self.backward_times:
            out.append(f"{counted(self.backward_times, 'row')} left out for going back in time.")
        out.extend(
            f"{_plain(name)}: {counted(count, 'cell')} without a readable number." for name, count in self.missing
        )
        out.extend(
            f"{_plain(name)}: {counted(count, 'cell')} outside what it can be, left empty."
            for name, count in self.implausible
        )
        if self.gaps:
            total = sum(end - start for start, end in self.gaps)
            out.append(
                f"{counted(len(self.gaps), 'gap')} in the recording, {total:.1f} s together, the first at "
                f"{self.gaps[0][0]:.1f} s."
            )
        out.extend(f"From {start:.1f} to {end:.1f} s: {why}." for start, end, why in self.dropouts)
        out.extend(
            f"At {time:.1f} s {_plain(name)} changes by a factor of {factor:.3g}, as if its unit changed; "
            "the values are left as they are."
            for time, name, factor in self.unit_jumps
        )
        out.extend(self.notes)
        return tuple(out)


def _plain(name: str) -> str:
    """A quantity's name as riders read it."""
    return name.removesuffix("_deg").replace("_", " ")


@dataclass(frozen=True)
class RideLog:
    """A ride log in SI.

    Parameters
    ----------
    frame : DataFrame
        One row a sample. Columns are names of `QUANTITIES`; time starts at 0 and strictly rises. A cell that could
        not be read is nan.
    report : LogReport
        What was left out and noticed.
    guesses : tuple of ColumnGuess
        What every column of the file was taken for; empty for GPX.
    """

    frame: pd.DataFrame
    report: LogReport
    guesses: tuple[ColumnGuess, ...] = ()

    def column(self, name: str) -> Floats:
        """Return one quantity as an array, nan throughout if the log does not hold it.

        Parameters
        ----------
        name : str
            One of `QUANTITIES`.
        """
        if name not in QUANTITIES:
            raise KeyError(f"No quantity is called {name!r}; accepted are {', '.join(QUANTITIES)}.")
        if name not in self.frame:
            return np.full(len(self.frame), np.nan)
        return self.frame[name].to_numpy(float)

    def holds(self, *names: str) -> bool:
        """Return whether the log holds every one of these quantities.

        Parameters
        ----------
        *names : str
            Names of `QUANTITIES`.
        """
        return all(name in self.frame for name in names)
