"""Reading ride logs: layouts, units, times, wrong rows, and what the report says of them."""

import datetime
import io

import numpy as np
import pandas as pd
import pint
import pytest

from physics.ridelog import LogError, guess_columns, read_log, synthetic_log, write_csv
from physics.ridelog import reader as ridelog
from physics.ridelog.quantities import QUANTITIES, factor_to_si

ROWS = [(0.0, 36.0, 96.2, 10.0), (0.1, 37.8, 95.5, 60.0), (0.2, 39.6, 94.9, 110.0), (0.3, 41.4, 94.2, 160.0)]
NAMES = ("Time (s)", "Speed (km/h)", "Pack voltage (V)", "Battery current (A)")


REGISTRY = pint.UnitRegistry()


def _text(delimiter=",", decimal=".", names=NAMES, rows=ROWS):
    lines = [delimiter.join(names)]
    lines += [delimiter.join(f"{x:g}".replace(".", decimal) for x in row) for row in rows]
    return "\n".join(lines) + "\n"


def _check(log):
    assert log.frame["time"].tolist() == pytest.approx([0.0, 0.1, 0.2, 0.3])
    assert log.frame["speed"].tolist() == pytest.approx([10.0, 10.5, 11.0, 11.5])
    assert log.frame["pack_voltage"].tolist() == pytest.approx([96.2, 95.5, 94.9, 94.2])
    assert log.frame["line_current"].tolist() == pytest.approx([10.0, 60.0, 110.0, 160.0])
    assert log.report.rows_kept == 4


@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."), ("|", ",")]
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_every_layout_reads_the_same(delimiter, decimal, encoding, ending):
    """property: delimiter, decimal mark, encoding and line ends change nothing."""
    log = read_log(_text(delimiter, decimal).replace("\n", ending).encode(encoding))
    _check(log)
    assert (log.report.delimiter, log.report.decimal) == (delimiter, decimal)
    assert log.report.wrong_rows == 0


def test_quotes_preamble_units_row_and_trailing_delimiter():
    """hand-worked: what loggers put around the same four rows."""
    quoted = "\n".join(",".join(f'"{c}"' for c in line.split(";")) for line in _text(";", ",").splitlines())
    _check(read_log(quoted.encode()))
    _check(read_log(b"Logger of the club\nSerial 12\n\n" + _text().encode()))
    units = "time,speed,pack voltage,battery current\n[s],[km/h],[V],[A]\n" + _text().split("\n", 1)[1]
    log = read_log(units.encode())
    _check(log)
    assert all("the unit is in the name" in g.reason for g in log.guesses)
    _check(read_log(_text().replace("\n", ",\n").encode()))
    _check(read_log(_text(" ", names=("time", "speed", "voltage", "current")).encode()))


def test_numbers_with_units_and_thousands():
    """hand-worked: units behind numbers and blanks between thousands are read."""
    log = read_log(b"time;rpm;volts\n0,0 s;1 200,5 rpm;96,2V\n0,1 s;1'300;96\n")
    assert log.frame["motor_speed"].tolist() == pytest.approx([1200.5 * np.pi / 30, 1300 * np.pi / 30])
    assert log.frame["pack_voltage"].tolist() == [96.2, 96.0]


@pytest.mark.parametrize(
    ("cells", "unit"),
    [
        (["0", "0.1", "0.2", "0.3"], "s"),
        (["5000", "5100", "5200", "5300"], "ms"),
        (["1700000000000", "1700000000100", "1700000000200", "1700000000300"], "ms"),
        (["5000000", "5100000", "5200000", "5300000"], "us"),
        (
            [
                "2026-03-01T09:00:00.0Z",
                "2026-03-01T09:00:00.1Z",
                "2026-03-01T09:00:00.2Z",
                "2026-03-01T09:00:00.3Z",
            ],
            "ISO 8601",
        ),
        (
            ["2026-03-01 09:00:00", "2026-03-01 09:00:00.1", "2026-03-01 09:00:00.2", "2026-03-01 09:00:00.3"],
            "ISO 8601",
        ),
        (["23:59:59.9", "00:00:00.0", "00:00:00.1", "00:00:00.2"], "clock"),
        (
            ["01.03.2026 14:05:01.0", "01.03.2026 14:05:01.1", "01.03.2026 14:05:01.2", "01.03.2026 14:05:01.3"],
            "clock",
        ),
        (["12:59:59.9 PM", "1:00:00.0 PM", "1:00:00.1 PM", "1:00:00.2 PM"], "clock"),
        (["00:59.9", "01:00.0", "01:00.1", "01:00.2"], "clock"),
        (["46082.375", "46082.3750011574", "46082.3750023148", "46082.3750034722"], "day"),
    ],
)
def test_ways_to_write_a_time(cells, unit):
    """hand-worked: a tenth of a second a row, however it is written (midnight included)."""
    text = "time,voltage\n" + "".join(f"{c},9{i}\n" for i, c in enumerate(cells))
    log = read_log(text.encode())
    assert log.guesses[0].unit == unit
    # Spreadsheet days carry ten decimals here, half of the last is 4 microseconds.
    assert log.frame["time"].tolist() == pytest.approx([0.0, 0.1, 0.2, 0.3], abs=5e-6)


@pytest.mark.parametrize(
    ("name", "quantity", "unit"),
    [
        ("GPS Speed [mph]", "speed", "mph"),
        ("speed_kmh", "speed", "km/h"),
        ("Velocity (m/s)", "speed", "m/s"),
        ("speed (kn)", "speed", "knot"),
        ("Geschwindigkeit", "speed", "km/h"),
        ("battVoltage_mV", "pack_voltage", "mV"),
        ("Volts", "pack_voltage", "V"),
        ("Input current", "line_current", "A"),
        ("Motor current (A)", "phase_current", "A"),
        ("phase_amps", "phase_current", "A"),
        ("ERPM", "motor_speed", "electrical rpm"),
        ("rpm", "motor_speed", "rpm"),
        ("motor temp", "motor_temperature", "degC"),
        ("MOSFET temp (°F)", "controller_temperature", "degF"),
        ("Battery temperature (K)", "pack_temperature", "K"),
        ("Throttle %", "throttle", "%"),
        ("elevation (ft)", "altitude", "ft"),
        ("Lat", "latitude_deg", "deg"),
        ("lng", "longitude_deg", "deg"),
        ("cell voltage 3", None, None),
        ("power (W)", None, None),
        ("Max speed", None, None),
        ("remark", None, None),
        ("12V aux voltage", None, None),
        ("Time_min", "time", "min"),
        ("timestamp", "time", "s"),
    ],
)
def test_what_names_say(name, quantity, unit):
    """hand-worked: ordinary column names and what they hold."""
    table = pd.DataFrame({name: ["10", "11", "12.5", "11.5", "13.5"]})
    guess = guess_columns(table)[0]
    assert (guess.quantity, guess.unit) == (quantity, unit)
    assert guess.reason.endswith(".")


def test_guesses_are_shown_and_one_column_each():
    """hand-worked: GPS speed is preferred, the other named; a rising column without a name is the time."""
    table = pd.DataFrame({"counter": ["1", "2", "3"], "speed": ["10", "11", "12"], "gps speed": ["9", "10", "11"]})
    guesses = guess_columns(table)
    assert [g.quantity for g in guesses] == ["time", None, "speed"]
    assert "'gps speed' fits better" in guesses[1].reason
    assert "rise" in guesses[0].reason


@pytest.mark.parametrize(
    ("quantity", "unit", "registry"),
    [
        ("speed", "km/h", "km/hour"),
        ("speed", "mph", "mile/hour"),
        ("speed", "knot", "knot"),
        ("line_current", "mA", "milliampere"),
        ("pack_voltage", "mV", "millivolt"),
        ("time", "us", "microsecond"),
        ("time", "ms", "millisecond"),
        ("time", "min", "minute"),
        ("time", "h", "hour"),
        ("time", "day", "day"),
        ("motor_speed", "rpm", "rpm"),
        ("altitude", "ft", "foot"),
        ("throttle", "%", "percent"),
    ],
)
def test_factors_agree_with_the_registry(quantity, unit, registry):
    """published: the pint registry (from NIST SP 811) gives the same factors."""
    wanted = REGISTRY.Quantity(1.0, registry).to_base_units().magnitude
    assert factor_to_si(quantity, unit) == (0.0, pytest.approx(wanted, rel=1e-12))


def test_temperatures_and_electrical_rpm():
    """hand-worked: 212 F is 373.15 K; 5000 electrical rpm at 5 pole pairs is 1000 rpm."""
    text = b"time,motor temp (F),erpm\n0,212,5000\n1,32,5000\n"
    log = read_log(text, pole_pairs=5)
    assert log.frame["motor_temperature"].tolist() == pytest.approx([373.15, 273.15])
    assert log.frame["motor_speed"].tolist() == pytest.approx([1000 * np.pi / 30] * 2)
    without = read_log(text)
    assert "motor_speed" not in without.frame
    assert any("pole pairs" in s for s in without.report.sentences())
    with pytest.raises(ValueError, match="pole pairs"):
        factor_to_si("motor_speed", "electrical rpm")


@pytest.mark.parametrize(
    ("times", "date"),
    [
        (("2026-05-01T23:59:59Z", "2026-05-02T00:00:00Z"), datetime.date(2026, 5, 1)),
        (("2026-05-02T01:30:00+02:00", "2026-05-02T01:30:01+02:00"), datetime.date(2026, 5, 1)),
        (("1777680000", "1777680001"), datetime.date(2026, 5, 2)),
        (("1777680000000", "1777680001000"), datetime.date(2026, 5, 2)),
        (("0", "1"), None),
        (("10:00:00", "10:00:01"), None),
    ],
)
def test_the_date_of_a_log(times, date):
    """hand-worked: 1777680000 s are 20 575 days from 1970-01-01, 2 May 2026; a date is kept in universal time."""
    log = read_log(f"time,speed\n{times[0]},1\n{times[1]},2\n".encode())
    assert log.report.date == date


def test_chosen_columns_win():
    """hand-worked: the caller's choice replaces the guess, None leaves a column out."""
    text = b"a,b,c,speed\n0,10,5,99\n1,20,6,99\n"
    log = read_log(text, columns={"a": ("time", "s"), "b": ("speed", "m/s"), "c": None})
    assert log.frame["speed"].tolist() == [10.0, 20.0]
    assert [g.quantity for g in log.guesses] == ["time", "speed", None, None]
    for wrong, match in (
        ({"z": None}, "no column 'z'"),
        ({"a": ("time", "kg")}, "cannot be read"),
        ({"a": ("mass", "kg")}, "No quantity"),
        ({"a": "time"}, "Column 'a'"),
        ({"a": ("time", "s"), "b": ("time", "s")}, "Two columns"),
    ):
        with pytest.raises(LogError, match=match):
            read_log(text, columns=wrong)


def test_wrong_rows_are_counted_and_named():
    """hand-worked: a word for a time, too many fields, no value, a repeated and a backward time."""
    text = (
        "time,speed (m/s),voltage\n0,10,96\n0.1,10,96\nlater,10,96\n0.2,,\n0.3,10,96,1,2\n0.3,11,95\n"
        "0.4,12,xx\n0.4,13,95\n0.05,9,97\n0.5,12,94\n"
    )
    report = read_log(text.encode()).report
    assert (report.rows_read, report.rows_kept, report.wrong_rows) == (10, 5, 3)
    assert (report.repeated_times, report.backward_times) == (1, 1)
    assert report.wrong_examples == (
        "Data row 3: no readable time.",
        "Data row 4: no readable value.",
        "1 row more with too many fields.",
    )
    one_more = read_log(text.replace("96,1,2", "96,1").encode()).report
    assert one_more.wrong_examples[2] == "Data row 5: too many fields."
    assert report.rows_read == report.rows_kept + report.wrong_rows + report.repeated_times + report.backward_times
    assert any("going back in time" in s for s in report.sentences())


def test_one_wild_time_costs_one_row():
    """property: a single wild stamp does not take the rows after it along."""
    text = "time,voltage\n" + "".join(f"{999 if i == 3 else i},90\n" for i in range(20))
    report = read_log(text.encode()).report
    assert (report.rows_kept, report.backward_times) == (19, 1)


def test_missing_and_implausible_cells():
    """hand-worked: one empty cell, one speed of 1 km a second, a position of 0, 0."""
    text = "time,speed (m/s),lat,lon\n0,10,50,8\n1,,50.0001,8\n2,1000,50.0002,8\n3,10,0,0\n4,10,50.0004,8\n"
    log = read_log(text.encode())
    assert log.report.implausible == (("position", 1), ("speed", 1))
    assert dict(log.report.missing)["speed"] == 1
    assert np.isnan(log.frame["speed"].to_numpy()[[1, 2]]).all()
    assert np.isnan(log.frame["latitude_deg"].to_numpy()[3])


def test_gaps_dropouts_and_unit_jumps_are_named():
    """hand-worked: a pause of 5 s, 2 s without speed, 1 s of zeros at 20 m/s, and km/h turning into m/s."""
    t = np.concatenate([np.arange(0, 10, 0.1), np.arange(15, 30, 0.1)])
    v = np.full(t.size, 20.0)
    v[20:41] = np.nan
    v[60:70] = 0.0
    v[200:] *= 3.6
    frame = pd.DataFrame({"time (s)": t, "speed (m/s)": v, "volts": 90.0})
    report = read_log(frame.to_csv(index=False).encode()).report
    assert report.gaps == ((pytest.approx(9.9), pytest.approx(15.0)),)
    assert [(round(a, 1), round(b, 1)) for a, b, _ in report.dropouts] == [(2.0, 4.0), (6.0, 6.9)]
    assert [(round(a, 1), n, f) for a, n, f in report.unit_jumps] == [(25.0, "speed", 3.6)]
    text = " ".join(report.sentences())
    assert "1 gap in the recording" in text
    assert "reads zero between" in text
    assert "factor of 3.6" in text


def test_a_ride_without_faults_has_none_named():
    """property: pulls, stops and noise alone raise no alarm."""
    t = np.arange(0.0, 120.0, 0.1)
    v = np.clip(25 * np.sin(t / 9), 0, None)
    log = synthetic_log(t, v, 90 - 0.05 * v, 5 * v, seed=4)
    again = read_log(write_csv(log).encode()).report
    assert again.gaps == again.dropouts == again.unit_jumps == ()
    assert again.wrong_rows == again.repeated_times == again.backward_times == 0


def test_reversed_current_is_noticed_and_turned():
    """hand-worked: voltage rises with a current that counts charge as positive."""
    rng = np.random.default_rng(0)
    current = np.abs(80 * np.sin(np.arange(200) / 7)) + rng.normal(0, 1, 200)
    frame = pd.DataFrame({"time": np.arange(200) / 10, "volts": 90 - 0.1 * current, "amps": -current})
    data = frame.to_csv(index=False).encode()
    assert any("turned round" in s for s in read_log(data).report.sentences())
    turned = read_log(data, reverse_current=True)
    assert turned.frame["line_current"].to_numpy() == pytest.approx(current)
    assert not any("turned round" in s for s in turned.report.sentences())


def test_speed_unit_is_checked_against_positions():
    """hand-worked: 20 m/s north, written as 72 and taken for m/s, is named."""
    n = 60
    frame = pd.DataFrame(
        {
            "time": np.arange(n),
            "speed (m/s)": np.full(n, 72.0),
            "lat": 50 + np.arange(n) * 20 / 111229.0,
            "lon": np.full(n, 8.0),
        }
    )
    notes = " ".join(read_log(frame.to_csv(index=False).encode()).report.sentences())
    assert "3.60 times the speed from the positions" in notes


@pytest.mark.parametrize(
    ("data", "match"),
    [
        (b"", "empty"),
        (b"  \n \n", "empty"),
        (b"time,speed\n", "fewer than two lines"),
        (b"time,speed\n\n\n", "fewer"),
        (b"hello\nworld\n", "No delimiter"),
        (b"\x00\x01\x02" * 50, "zero bytes"),
        (b"time,speed\nx,y\nz,w\n", "time"),
        (b"speed,volts\n3,4\n2,5\n", "No column was found for time"),
        (b"time,remark\n0,a\n1,b\n", "Only the time"),
        (b"time,speed\n" + b"1," * 20000 + b"\n", "longer than"),
        (b"time," * 300 + b"\n" + b"1," * 300, "columns"),
        (b"time,speed\n0,10\n", "Fewer than two"),
        (b"time,speed\n5,10\n5,10\n5,11\n", "time that rises"),
        (b"\xff\xfea", "not text in utf-16"),
    ],
)
def test_hostile_and_empty_files(data, match):
    """hand-worked: each gets a sentence, none a traceback."""
    with pytest.raises(LogError, match=match) as caught:
        read_log(data)
    assert str(caught.value).rstrip().endswith((".", ":")) or ":" in str(caught.value)


def test_wrong_options_are_named():
    """hand-worked: encoding, delimiter, decimal mark and caps."""
    data = _text().encode()
    for options, match in (
        ({"encoding": "utf-7"}, "utf-16"),
        ({"delimiter": "#"}, "delimiter"),
        ({"decimal": "'"}, "decimal mark"),
    ):
        with pytest.raises(LogError, match=match):
            read_log(data, **options)
    with pytest.raises(ValueError, match="caps"):
        read_log(data, row_cap=0)
    for source in ("log.csv", io.StringIO("time,speed")):
        with pytest.raises(TypeError, match="binary mode"):
            read_log(source)
    _check(read_log(io.BytesIO(data)))


def test_caps_hold():
    """property: bytes beyond the cap are never read, rows beyond it are named."""

    class Endless(io.RawIOBase):
        asked = 0

        def read(self, size=-1):
            assert 0 <= size <= 1001
            self.asked += size
            return b"1,2\n" * (size // 4 + 1)

    with pytest.raises(LogError, match="larger than"):
        read_log(Endless(), byte_cap=1000)
    text = "time,voltage\n" + "".join(f"{i},90\n" for i in range(50_000))
    log = read_log(text.encode(), row_cap=45_000)
    assert len(log.frame) == 45_000
    assert "Only the first 45000 rows are read." in log.report.sentences()


def test_what_is_written_reads_back():
    """property: write then read is the same log to ten digits, in either decimal mark."""
    t = np.linspace(0, 60, 601)
    others = {
        name: np.linspace(0.1, 0.9, 601) for name in ("throttle", "altitude", "latitude_deg", "longitude_deg")
    }
    others |= {name: np.linspace(290, 330, 601) for name in QUANTITIES if name.endswith("temperature")}
    others |= {"motor_speed": 10 * t, "phase_current": 5 * t}
    log = synthetic_log(t, 0.4 * t, 96 - 0.1 * t, 2 * t, others=others, seed=9)
    for delimiter, decimal in ((",", "."), (";", ",")):
        again = read_log(write_csv(log, delimiter=delimiter, decimal=decimal).encode())
        assert list(again.frame.columns) == list(log.frame.columns)
        for name in log.frame:
            assert again.frame[name].to_numpy() == pytest.approx(log.frame[name].to_numpy(), rel=1e-9, abs=1e-9)
    with pytest.raises(ValueError, match="differ"):
        write_csv(log, delimiter=",", decimal=",")


def test_synthetic_log_noise_rate_and_dropouts():
    """property: noise has the spread asked for, the rate is kept, dropouts are lost and named, the seed repeats."""
    t = np.linspace(0.0, 200.0, 50)
    log = synthetic_log(t, np.full(50, 20.0), np.full(50, 90.0), noise={"speed": 0.2}, sample_rate=20.0, seed=3)
    assert len(log.frame) == 4001
    assert log.frame["speed"].std() == pytest.approx(0.2, rel=0.05)
    assert log.frame["pack_voltage"].std() == pytest.approx(0.1, rel=0.05)
    assert np.diff(log.frame["time"]) == pytest.approx(np.full(4000, 0.05))
    again = synthetic_log(t, np.full(50, 20.0), np.full(50, 90.0), noise={"speed": 0.2}, sample_rate=20.0, seed=3)
    assert again.frame.equals(log.frame)
    lost = synthetic_log(t, np.full(50, 20.0), noise=0, dropouts=3, seed=1)
    assert 20 <= lost.frame["speed"].isna().sum() <= 60
    assert 1 <= len(lost.report.dropouts) <= 3
    for wrong, match in (((t[::-1], t), "increasing"), ((t, t[:-1]), "alike")):
        with pytest.raises(ValueError, match=match):
            synthetic_log(*wrong)
    with pytest.raises(ValueError, match="No quantity"):
        synthetic_log(t, t, others={"torque": t})
    with pytest.raises(ValueError, match="above zero"):
        synthetic_log(t, t, sample_rate=0.0)


def test_log_columns():
    """hand-worked: what is not in the log is nan, what is no quantity is refused."""
    log = synthetic_log([0.0, 1.0], [1.0, 2.0], noise=0)
    assert np.isnan(log.column("altitude")).all()
    assert not log.holds("speed", "altitude")
    with pytest.raises(KeyError, match="torque"):
        log.column("torque")
    assert ridelog.BYTE_CAP > ridelog.ROW_CAP


def test_a_path_is_read_like_its_bytes(tmp_path):
    """property: a file on disk and its bytes give the same frame, and the cap holds for both."""
    text = write_csv(synthetic_log([0.0, 5.0], [0.0, 20.0])).encode()
    path = tmp_path / "ride.csv"
    path.write_bytes(text)
    assert read_log(path).frame.equals(read_log(text).frame)
    with pytest.raises(LogError, match="larger than"):
        read_log(path, byte_cap=100)
