"""Ride logs: read and cleaned, taken apart into pulls and coast-downs; written, for demos and tests."""

from physics.ridelog.columns import ColumnGuess, guess_columns
from physics.ridelog.reader import read_log
from physics.ridelog.report import LogError, LogReport, RideLog
from physics.ridelog.segments import Segment, find_segments
from physics.ridelog.writer import synthetic_log, write_csv

__all__ = [
    "ColumnGuess",
    "LogError",
    "LogReport",
    "RideLog",
    "Segment",
    "find_segments",
    "guess_columns",
    "read_log",
    "synthetic_log",
    "write_csv",
]
