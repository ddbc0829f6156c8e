"""GPX 1.1: a sample after the schema, distances on the ellipsoid, and files meant to do harm."""

import numpy as np
import pytest

from physics.ridelog import LogError, read_log
from physics.ridelog.gpx import distance_between, speed_from_positions

# Elements and attributes after the GPX 1.1 schema (http://www.topografix.com/GPX/1/1/gpx.xsd): gpx with version
# and creator; metadata; wpt, rte and trk; trkpt with lat and lon, ele in metres, time in UTC after ISO 8601;
# extensions.
SAMPLE = """<?xml version="1.0" encoding="UTF-8" standalone="no"?>
<gpx xmlns="http://www.topografix.com/GPX/1/1" xmlns:own="http://example.org/own" version="1.1" creator="by hand">
  <metadata><name>Airfield &amp; back</name><time>2026-03-01T08:00:00Z</time></metadata>
  <wpt lat="10.0" lon="10.0"><ele>1.0</ele><name>gate</name></wpt>
  <rte><rtept lat="11.0" lon="11.0"><ele>2.0</ele></rtept></rte>
  <trk><name>one</name>
    <trkseg>
      <trkpt lat="50.0000000" lon="8.0"><ele>100.0</ele><time>2026-03-01T09:00:00Z</time></trkpt>
      <trkpt lat="50.0001798" lon="8.0"><ele>100.5</ele><time>2026-03-01T09:00:01.000Z</time><sat>9</sat></trkpt>
      <trkpt lat="50.0003596" lon="8.0"><ele>101.0</ele><time>2026-03-01T10:00:02+01:00</time>
        <extensions><own:point><own:time>never</own:time><own:ele>-9</own:ele></own:point></extensions></trkpt>
    </trkseg>
    <trkseg>
      <trkpt lat="50.1" lon="8.0"><ele>110.0</ele><time>2026-03-01T09:01:00Z</time></trkpt>
      <trkpt lat="50.1001798" lon="8.0"><time>2026-03-01T09:01:01Z</time></trkpt>
      <trkpt lat="50.2" lon="8.0"><ele>1</ele></trkpt>
    </trkseg>
  </trk>
</gpx>
"""


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_schema_sample(encoding):
    """published: elements as in the GPX 1.1 schema. 0.0001798 degrees of latitude at 50 N are 20.0 m
    (111 229 m a degree), segments are not joined, a point without a time is left out and named."""
    text = SAMPLE if encoding != "utf-16" else SAMPLE.replace("UTF-8", "UTF-16")
    log = read_log(text.encode(encoding))
    assert log.frame["time"].tolist() == [0.0, 1.0, 2.0, 60.0, 61.0]
    assert log.frame["altitude"].tolist()[:4] == [100.0, 100.5, 101.0, 110.0]
    assert log.frame["speed"].to_numpy() == pytest.approx(np.full(5, 20.0), abs=0.01)
    assert (log.report.kind, log.report.wrong_rows, log.report.rows_read) == ("GPX", 1, 6)
    assert log.report.gaps == ((2.0, 60.0),)
    assert "Speed is worked out from the positions." in log.report.sentences()


def test_flinders_peak_to_buninyong():
    """published: Geocentric Datum of Australia Technical Manual, worked line Flinders Peak to Buninyong,
    54 972.271 m (from memory). 1 m: the middle-latitude form is for neighbours, 55 km is its far end."""

    def degrees(d, m, s):
        return np.copysign(abs(d) + m / 60 + s / 3600, d)

    one = degrees(-37, 57, 3.72030), degrees(144, 25, 29.52440)
    two = degrees(-37, 39, 10.15610), degrees(143, 55, 35.38390)
    assert distance_between(*one, *two) == pytest.approx(54972.271, abs=1.0)


@pytest.mark.parametrize(
    ("latitude", "north", "east"),
    [
        (0, 110574, 111320),
        (30, 110852, 96486),
        (45, 111132, 78847),
        (60, 111412, 55800),
    ],
)
def test_length_of_a_degree(latitude, north, east):
    """published: lengths of one degree on WGS 84 as commonly tabled (from memory), to the metre, a half digit."""
    assert distance_between(latitude - 0.5, 0.0, latitude + 0.5, 0.0) == pytest.approx(north, abs=0.6)
    assert distance_between(latitude, 0.0, latitude, 0.01) * 100 == pytest.approx(east, abs=0.6)


def test_distance_crosses_the_date_line():
    """property: 179.9995 E to 179.9995 W is a thousandth of a degree, not a turn of the globe."""
    assert distance_between(0.0, 179.9995, 0.0, -179.9995) == pytest.approx(111.32, abs=0.01)


def test_speed_skips_what_is_lost():
    """property: a lost position spoils only its neighbours' shares; segments are not joined."""
    t = np.arange(6.0)
    lon = np.arange(6.0) * 1e-4
    lon[2] = np.nan
    v = speed_from_positions(t, np.zeros(6), lon)
    assert np.isnan(v[2])
    assert v[[0, 1, 3, 4, 5]] == pytest.approx(np.full(5, 11.13), abs=0.01)
    apart = speed_from_positions(t, np.zeros(6), np.array([0, 1, 2, 100, 101, 102]) * 1e-4, [0, 0, 0, 1, 1, 1])
    assert apart == pytest.approx(np.full(6, 11.13), abs=0.01)
    assert np.isnan(speed_from_positions([0.0], [1.0], [1.0])).all()


BOMB = (
    '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    "<gpx><trk><name>&b;</name></trk></gpx>"
)
OUTSIDE = '<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "file:///etc/hostname"><gpx/>'
GPX = '<gpx version="1.1">'


@pytest.mark.parametrize(
    ("text", "match"),
    [
        (BOMB, "DOCTYPE"),
        (OUTSIDE, "DOCTYPE"),
        ("<html></html>", "'html'"),
        (GPX, "breaks off"),
        (GPX + "<trk></gpx>", "line 1"),
        (GPX + "&b;</gpx>", "well-formed"),
        (GPX + "</gpx>", "no track points"),
        (GPX + "<a>" * 200, "deep"),
        (GPX + "<trk><trkseg><trkpt lat='1' lon='1'/></trkseg></trk></gpx>", "no times"),
        ('<?xml version="1.0" encoding="klingon"?>' + GPX + "</gpx>", "encoding|well-formed"),
    ],
)
def test_files_meant_to_do_harm(text, match):
    """hand-worked: declared types and entities, other roots, broken and endless nesting end in a sentence."""
    with pytest.raises(LogError, match=match):
        read_log(text.encode())


def test_point_cap():
    """property: points beyond the cap are left out and named."""
    points = "".join(
        f'<trkpt lat="50" lon="{8 + i * 1e-5:.6f}"><time>2026-03-01T09:{i // 60:02d}:{i % 60:02d}Z</time></trkpt>'
        for i in range(100)
    )
    log = read_log((GPX + "<trk><trkseg>" + points + "</trkseg></trk></gpx>").encode(), row_cap=40)
    assert len(log.frame) == 40
    assert "Only the first 40 points are read." in log.report.sentences()
    assert "altitude" not in log.frame
