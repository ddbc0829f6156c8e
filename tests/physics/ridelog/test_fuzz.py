"""Whatever the bytes: a ride log in good order, or a LogError with a sentence."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from physics.ridelog import LogError, RideLog, find_segments, read_log, synthetic_log, write_csv
from physics.ridelog.cut_out import find_cut_out
from physics.ridelog.quantities import QUANTITIES
from tests.physics.ridelog.test_gpx import SAMPLE

BASE = write_csv(
    synthetic_log(
        np.arange(0.0, 6.0, 0.1), np.linspace(0, 20, 60), np.linspace(96, 90, 60), np.linspace(0, 100, 60), seed=1
    )
).encode()


def _reads_or_says(data, **options):
    said = None
    try:
        log = read_log(data, **options)
    except LogError as error:
        said = str(error)
    if said is not None:
        assert len(said) > 15
        return
    assert isinstance(log, RideLog)
    t = log.frame["time"].to_numpy()
    assert t[0] == 0.0
    assert t.size >= 2
    assert np.isfinite(t).all()
    assert (np.diff(t) > 0).all()
    for name in log.frame.columns[1:]:
        x = log.frame[name].to_numpy()
        x = x[~np.isnan(x)]
        assert (x >= QUANTITIES[name].low).all()
        assert (x <= QUANTITIES[name].high).all()
    report = log.report
    assert report.rows_kept == t.size
    assert report.rows_read == report.rows_kept + report.wrong_rows + report.repeated_times + report.backward_times
    assert all(isinstance(s, str) for s in report.sentences())
    find_segments(log)
    find_cut_out(log)


@given(st.binary(max_size=400))
@settings(max_examples=60, deadline=None)
def test_random_bytes(data):
    """property: any bytes."""
    _reads_or_says(data)


@given(st.text(max_size=300), st.sampled_from(["utf-8", "utf-16", "latin-1"]))
@settings(max_examples=60, deadline=None)
def test_random_text(text, encoding):
    """property: any text."""
    _reads_or_says(text.encode(encoding, errors="replace"))


CELL = st.one_of(
    st.floats(width=32).map(str),
    st.integers(-(10**6), 10**15).map(str),
    st.text("0123456789.,:-+eE'\" \tn", max_size=9),
    st.sampled_from(["", "nan", "inf", "-", "12:34:56.7", "2026-03-01T09:00:00Z", "1e999", "0x1F", "=1+1"]),
)


@given(
    st.sampled_from([",", ";", "\t", "|", " "]),
    st.lists(st.lists(CELL, max_size=5), min_size=1, max_size=12),
    st.booleans(),
)
@settings(max_examples=100, deadline=None)
def test_random_tables(delimiter, rows, header):
    """property: any cells under a proper header, or under none."""
    lines = [delimiter.join(["time", "speed", "voltage", "current"])] if header else []
    _reads_or_says("\n".join(lines + [delimiter.join(row) for row in rows]).encode())


@given(st.integers(0, len(BASE)), st.integers(0, len(BASE)), st.binary(max_size=6))
@settings(max_examples=60, deadline=None)
def test_truncated_and_spoiled_logs(cut, place, junk):
    """property: a good log cut anywhere, with a few bytes overwritten anywhere."""
    _reads_or_says(BASE[:cut])
    _reads_or_says(BASE[:place] + junk + BASE[place + len(junk) :])


@given(st.integers(0, len(SAMPLE)), st.integers(0, len(SAMPLE)), st.text(max_size=5))
@settings(max_examples=60, deadline=None)
def test_truncated_and_spoiled_tracks(cut, place, junk):
    """property: a good track cut anywhere, with a few characters overwritten anywhere."""
    _reads_or_says(SAMPLE[:cut].encode())
    _reads_or_says((SAMPLE[:place] + junk + SAMPLE[place + len(junk) :]).encode(errors="replace"))


@pytest.mark.parametrize(
    "options",
    [
        {"delimiter": ";"},
        {"decimal": ","},
        {"encoding": "utf-16"},
        {"columns": {"time (s)": None}},
        {"row_cap": 2},
        {"byte_cap": 10},
    ],
)
def test_wrong_options_on_a_good_log(options):
    """property: options that do not fit the file end in a sentence or a log, never in anything else."""
    _reads_or_says(BASE, **options)
