"""Logs as loggers write them: times in two columns or without colons, speeds without a unit, names, marks."""

import numpy as np
import pandas as pd
import pytest

from physics.ridelog import LogError, guess_columns, read_log
from physics.ridelog.gpx import distance_between
from physics.ridelog.text import find_layout

SECONDS = np.arange(0.0, 200.0, 0.5)
# Stands, pulls at 2 m/s2 to 20 m/s, holds, brakes at 2.5 m/s2, stands.
SPEED = np.interp(SECONDS, [0, 10, 20, 150, 158, 200], [0, 0, 20, 20, 0, 0])


def _clock(seconds: float, form: str) -> str:
    whole = int(seconds)
    return form.format(whole // 3600 % 24, whole // 60 % 60, whole % 60 + seconds % 1)


def _log(columns: dict) -> bytes:
    return pd.DataFrame(columns).to_csv(index=False, sep=";").encode()


@pytest.mark.parametrize("date", ["2026-03-01", "01.03.2026", "3/1/2026", "20260301", "010326"])
@pytest.mark.parametrize("form", ["{:02d}:{:02d}:{:04.1f}", "{:02d}{:02d}{:04.1f}"])
def test_date_and_time_in_columns_of_their_own(date, form):
    """hand-worked: the date beside a time of day changes nothing, and midnight is passed."""
    time = [_clock(86_340.0 + s, form) for s in SECONDS]
    dates = np.where(SECONDS < 60.0, date, date.replace("1", "2", 1) if date[:4] != "2026" else date)
    log = read_log(_log({"Date": dates, "Time": time, "Speed (m/s)": SPEED}))
    assert [guess.quantity for guess in log.guesses] == [None, "time", "speed"]
    assert log.frame["time"].to_numpy() == pytest.approx(SECONDS)


@pytest.mark.parametrize(
    ("cells", "name", "unit"),
    [
        (["090500", "090501", "090502"], "time", "hhmmss"),
        (["140500.00", "140501.00", "140502.00"], "UTC", "hhmmss"),
        (["100", "101", "102"], "millis", "ms"),
        (["1700000000000000000", "1700000001000000000"], "timestamp", "ns"),
        (["100", "101", "102"], "Zeit", "s"),
        (["100", "101", "102"], "temps", "s"),
        (["100", "101", "102"], "Tiempo", "s"),
        (["100", "101", "102"], "tempo", "s"),
        (["14:05:00", "14:05:01"], "Uhrzeit", "clock"),
        (["14:05:00", "14:05:01"], "heure", "clock"),
        (["2026-03-01T14:05:00", "2026-03-01T14:05:01"], "data", "ISO 8601"),
        (["140558", "140559", "140560", "140561"], "time", "s"),
    ],
)
def test_what_times_are_written_in(cells, name, unit):
    """hand-worked: times by name and look, in five languages."""
    (guess,) = guess_columns(pd.DataFrame({name: cells}))
    assert (guess.quantity, guess.unit) == ("time", unit)


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("Speed kmph", "km/h"), ("kmph", "km/h"), ("km/h", "km/h"), ("m/s", "m/s"), ("vitesse (km/h)", "km/h"),
        ("Velocidad [m/s]", "m/s"), ("velocità km/h", "km/h"), ("velocita\u0300 (m/s)", "m/s"),
        ("Geschw. (km/h)", "km/h"),
    ],
)  # fmt: skip
def test_what_speeds_are_called(name, unit):
    """hand-worked: headers in five languages."""
    (guess,) = guess_columns(pd.DataFrame({name: ["10", "11", "10.5"]}))
    assert (guess.quantity, guess.unit) == ("speed", unit)


def test_tempo_is_a_speed_beside_a_time():
    """hand-worked: German for speed, Italian for time."""
    table = pd.DataFrame({"Tempo": ["10", "11", "9", "10"], "Zeit": ["1", "2", "3", "4"]})
    assert [guess.quantity for guess in guess_columns(table)] == ["speed", "time"]
    table = pd.DataFrame({"tempo": ["1", "2", "3", "4"], "velocità": ["10", "11", "9", "10"]})
    assert [guess.quantity for guess in guess_columns(table)] == ["time", "speed"]


def test_a_time_chosen_by_hand_finds_or_names_its_unit():
    """hand-worked: "time" chosen without a unit takes the one its cells are in; a wrong one names it."""
    data = _log({"when": [_clock(s, "{:02d}:{:02d}:{:04.1f}") for s in SECONDS], "speed (m/s)": SPEED})
    assert read_log(data, columns={"when": ("time", None)}).guesses[0].unit == "clock"
    with pytest.raises(LogError, match="'clock' would work"):
        read_log(data, columns={"when": ("time", "s")})
    with pytest.raises(LogError, match="dates without a time of day"):
        read_log(_log({"d": ["2026-03-01"] * 9, "speed": SPEED[:9]}), columns={"d": ("time", None)})


def _places(metres: np.ndarray) -> dict:
    return {"lat": 50.0 + metres / 111_229.0, "lon": np.full(metres.size, 8.0)}


@pytest.mark.parametrize(
    ("unit", "factor"), [("m/s", 1.0), ("km/h", 3.6), ("mph", 3600 / 1609.344), ("knot", 3600 / 1852)]
)
def test_positions_decide_the_unit_of_a_speed(unit, factor):
    """hand-worked: 20 m/s north at most, a degree of latitude at 50 N being 111 229 m; positions once a second."""
    metres = np.concatenate([[0.0], np.cumsum(np.diff(SECONDS) * (SPEED[1:] + SPEED[:-1]) / 2)])
    held = metres[(np.arange(SECONDS.size) // 2) * 2]
    log = read_log(_log({"time": SECONDS, "speed": SPEED * factor} | _places(held)))
    assert log.guesses[1].unit == unit
    assert log.frame["speed"].to_numpy() == pytest.approx(SPEED)
    assert any("positions" in note for note in log.report.notes) == (unit != "km/h")


def test_positions_that_update_seldom_raise_no_alarm():
    """property: ten rows a second, one position in five seconds, the right unit in the name."""
    t = np.arange(0.0, 300.0, 0.1)
    held = np.floor(t / 5) * 5 * 20.0
    log = read_log(_log({"time": t, "speed (m/s)": np.full(t.size, 20.0)} | _places(held)))
    assert not log.report.notes


def test_how_hard_a_bike_brakes_decides_where_there_are_no_positions():
    """hand-worked: braking at 2.5 m/s2 would be 0.7 m/s2 if the numbers were km/h; 9 m/s2 if km/h were m/s."""
    log = read_log(_log({"time": SECONDS, "speed": SPEED}))
    assert log.guesses[1].unit == "m/s"
    assert "choose km/h" in log.report.notes[0]
    assert log.frame["speed"].to_numpy() == pytest.approx(SPEED)
    assert read_log(_log({"time": SECONDS, "speed": 3.6 * SPEED})).guesses[1].unit == "km/h"
    assert (
        read_log(_log({"time": SECONDS, "speed": SPEED}), columns={"speed": ("speed", "km/h")}).guesses[1].unit
        == "km/h"
    )
    coasting = 15.0 * np.exp(-SECONDS / 60.0)  # never comes from a standstill
    assert read_log(_log({"time": SECONDS, "speed": coasting * 3.6})).guesses[1].unit == "km/h"


def test_speeds_below_zero_are_reported():
    """hand-worked: 20 rows at -0.9 m/s are kept and named, noise of 0.2 m/s is not."""
    speed = SPEED.copy()
    speed[:20] = -0.9
    (note,) = read_log(_log({"time": SECONDS, "speed (m/s)": speed})).report.notes
    assert note == "20 speeds below zero, down to -0.9 m/s; they are kept."
    speed[:20] = -0.2
    assert not read_log(_log({"time": SECONDS, "speed (m/s)": speed})).report.notes


@pytest.mark.parametrize(
    "wrapped", ["<speed>{}</speed>", "<extensions><a:tp><a:speed>{}</a:speed></a:tp></extensions>"]
)
@pytest.mark.parametrize("factor", [1.0, 3.6])
def test_speed_of_gpx_points(wrapped, factor):
    """hand-worked: 20 m/s north, each second; the receiver's own speed is taken, and brought to m/s."""
    points = "".join(
        f'<trkpt lat="{50 + i * 20 / 111_229:.8f}" lon="8"><time>2026-03-01T09:{i // 60:02d}:{i % 60:02d}Z</time>'
        f"{wrapped.format(f'{factor * (20 + 0.1 * (i % 2)):.3f}')}</trkpt>"
        for i in range(90)
    )
    text = f'<gpx xmlns:a="urn:a" version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>'
    log = read_log(text.encode())
    assert log.frame["speed"].to_numpy() == pytest.approx(20 + 0.1 * (np.arange(90) % 2), abs=5e-4)
    assert bool(log.report.notes) == (factor != 1.0)
    assert distance_between(50.0, 8.0, 50 + 20 / 111_229, 8.0) == pytest.approx(20.0, abs=0.05)


@pytest.mark.parametrize(
    "names", [("time", "overflow", "speed"), ("a", "a", "a #2"), ("a #2", "a", "a"), ("", "column 1", "")]
)
def test_any_names_of_columns(names):
    """property: columns of any name, twice or more, are read, each under a name of its own."""
    text = ",".join(names) + "\n" + "".join(f"{i},{i % 7},{i % 5}\n" for i in range(50))
    columns = find_layout(text).columns
    assert len(set(columns)) == 3
    log = read_log(text.encode(), columns={columns[0]: ("time", "s"), columns[1]: ("speed", "m/s")})
    assert log.report.rows_kept == 50


def test_a_spreadsheets_own_file():
    """hand-worked: a ZIP archive and a compound file, as spreadsheet programs write them."""
    for start in (b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
        with pytest.raises(LogError, match="save it as CSV"):
            read_log(start + bytes(400))


def test_commas_between_thousands():
    """hand-worked: 1,200 m is 1200 m beside decimal points and alone, with a word; 0,5 makes commas decimal."""
    rows = "".join(f"{i}.5\t1,{200 + i}\n" for i in range(20))
    assert read_log(f"time\taltitude\n{rows}".encode()).frame["altitude"].iloc[0] == 1200.0
    log = read_log(("time\taltitude\n" + rows.replace(".5", "")).encode())
    assert log.frame["altitude"].iloc[0] == 1200.0
    assert log.report.notes == ("Commas are taken as marks between thousands: 1,200 is 1200.",)
    log = read_log(("time;volts\n" + rows.replace(".5", "").replace("\t", ";")).encode())
    assert log.frame["pack_voltage"].iloc[0] == 1.2
    assert log.report.notes == ("Commas are taken as decimal marks: 1,200 is 1.200.",)
    log = read_log(("time\taltitude\n" + rows.replace(".5", ",5")).encode())
    assert log.frame["altitude"].iloc[0] == 1.2
    assert not log.report.notes
