"""What a reader costs grows no faster than its file, whatever the file's shape."""

import time

import numpy as np
import pytest

from explorer.state import build_files
from physics.build import example_build
from physics.fitting.pack import pack_course
from physics.ridelog import LogError, find_segments, read_log, synthetic_log
from physics.ridelog.cut_out import find_cut_out

GOOD = "time,speed,voltage\n" + "".join(f"{i / 10},{i % 60},96\n" for i in range(300))
GPX = '<gpx version="1.1"><trk><trkseg>'
POINT = '<trkpt lat="50" lon="8"><time>2026-03-01T09:00:{:02d}Z</time></trkpt>'


def _cell(size: int) -> str:
    return GOOD + "30," + "7" * size + "?!?!,96\n"


def _spaced(size: int) -> str:
    return GOOD + "30,1" + " 234" * size + "?!?!,96\n"


def _early(size: int) -> str:
    return "time,speed\n0.0," + "7" * (size % 19_000) + "?!\n" + "\n".join(f"{i},{i}:{i}?!" for i in range(1, size))


def _blank(size: int) -> str:
    return GOOD.replace("\n", "\n" * (size // 300), 300)


def _wide(size: int) -> str:
    return GOOD + "1," * size + "\n" + GOOD


def _backward(size: int) -> str:
    return "time,speed\n" + "".join(f"{size - i},{i % 60}\n" for i in range(size))


def _attributes(size: int) -> str:
    return GPX + "<trkpt " + " ".join(f'a{i}="1"' for i in range(size)) + "/></trkseg></trk></gpx>"


def _text_in_a_point(size: int) -> str:
    return GPX + f"<trkpt lat='1' lon='1'><time>{'7' * size}</time></trkpt></trkseg></trk></gpx>"


def _points(size: int) -> str:
    return GPX + "".join(POINT.format(i % 60) for i in range(size)) + "</trkseg></trk></gpx>"


def _read(data: bytes) -> None:
    try:
        log = read_log(data)
    except LogError:
        return
    find_segments(log)
    find_cut_out(log)


def _open_builds(data: bytes) -> None:
    build_files.from_bytes(data)


def _nested(size: int) -> str:
    return '{"builds": ' + "[" * size + "]" * size + "}"


def _many(size: int) -> str:
    return '{"builds": {' + ",".join(f'"b{i}": {{"x": 1}}' for i in range(size)) + "}}"


def _seconds(read, data: bytes) -> float:
    times = []
    for _ in range(3):
        start = time.process_time()
        read(data)
        times.append(time.process_time() - start)
    return min(times)


@pytest.mark.parametrize(
    ("shape", "size", "read"),
    [
        (_cell, 20_000, _read),
        (_spaced, 20_000, _read),
        (_early, 9_000, _read),
        (_blank, 1_500_000, _read),
        (_wide, 100_000, _read),
        (_backward, 20_000, _read),
        (_attributes, 100_000, _read),
        (_text_in_a_point, 1_000_000, _read),
        (_points, 10_000, _read),
        (_nested, 20_000, _open_builds),
        (_many, 5_000, _open_builds),
    ],
)
def test_twice_the_size_takes_no_more_than_twice_the_time(shape, size, read):
    """property: at most 2.5 times, and a tenth of a second for what is measured badly."""
    short, long = (_seconds(read, shape(factor * size).encode()) for factor in (1, 2))
    assert long <= 2.5 * short + 0.1
    assert short < 2.0


def test_very_many_attributes_are_refused():
    """hand-worked: one element longer than a tag may be ends in a sentence."""
    with pytest.raises(LogError, match="longer than 16384 bytes"):
        read_log(_attributes(20_000).encode())


def test_a_cell_too_long_is_no_number():
    """hand-worked: 300 good rows and one whose speed is no number."""
    log = read_log(_cell(20_000).encode())
    assert log.report.rows_kept == 301
    assert dict(log.report.missing) == {"speed": 1}


def test_the_pack_of_a_long_log():
    """property: the course of a pack over twice the rows takes no more than twice the time."""
    build = example_build()

    def course(rows: int) -> float:
        t = np.arange(rows) / 10
        log = synthetic_log(t, t * 0.0 + 10.0, t * 0.0 + 95.0, 100.0 * (t % 20 < 5), noise=0)
        columns = [log.column(name) for name in ("time", "line_current", "pack_voltage")]
        return _seconds(lambda _: pack_course(build, *columns), b"")

    short, long = course(40_000), course(80_000)
    assert long <= 2.5 * short + 0.1
