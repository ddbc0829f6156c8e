"""GPX 1.1 tracks: position, altitude and time; distance on the ellipsoid and speed from it.

Only the standard library's expat parser is used, event by event. A document type declaration is refused before
anything in it is read, so no entity is ever declared or expanded.

Sources
-------
GPX 1.1 schema, http://www.topografix.com/GPX/1/1/gpx.xsd: trkpt has the attributes lat and lon in decimal degrees
(WGS 84) and may hold ele in metres and time in UTC after ISO 8601; a trkseg is a span without a break. A speed in
metres per second is a child of trkpt in GPX 1.0 and an extension in 1.1 (from memory); it is held
against the positions.
WGS 84: NIMA TR8350.2, 3rd ed. (2000), table 3.1 (a = 6378137 m, 1/f = 298.257223563). Radii of curvature:
J. P. Snyder, Map Projections: A Working Manual, USGS Professional Paper 1395 (1987), eqs. 4-18 and 4-20
(from memory).
"""

from __future__ import annotations

from xml.parsers import expat

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.ridelog.report import LogError
from physics.ridelog.text import times_of

SEMI_MAJOR_AXIS = 6378137.0
ECCENTRICITY_SQUARED = (2.0 - 1.0 / 298.257223563) / 298.257223563
DEEPEST = 64
LONGEST_TEXT = 256
DEEPEST_SPEED = 3
"""Levels below a point: as a child of its own (GPX 1.0), or within its extensions (1.1)."""
_HELD = ("lat", "lon", "ele", "time", "speed")
_READ = (("latitude_deg", "lat"), ("longitude_deg", "lon"), ("altitude", "ele"), ("speed", "speed"))
LONGEST_TAG = 16_384
"""Bytes of one tag or comment. The parser holds a tag until its end, with all attributes."""


def distance_between(
    latitude_1: ArrayLike, longitude_1: ArrayLike, latitude_2: ArrayLike, longitude_2: ArrayLike
) -> Floats:
    """Return the distance between two near points on the WGS 84 ellipsoid.

    ds^2 = (M dphi)^2 + (N cos(phi) dlambda)^2 with the radii of curvature M and N at the middle latitude phi:
    within 1e-6 of the geodesic up to 10 km and 3e-5 up to 50 km, below 70 degrees of latitude. (A sphere is wrong
    by up to 5e-3.)

    Parameters
    ----------
    latitude_1, longitude_1, latitude_2, longitude_2 : float or array, degrees
        North and east positive.

    Returns
    -------
    float or array, m

    Examples
    --------
    >>> round(distance_between(44.5, 0.0, 45.5, 0.0))
    111132
    """
    one, east_one, two, east_two = (
        np.radians(np.asarray(x, float)) for x in (latitude_1, longitude_1, latitude_2, longitude_2)
    )
    middle = 0.5 * (one + two)
    bend = 1.0 - ECCENTRICITY_SQUARED * np.sin(middle) ** 2
    meridian = SEMI_MAJOR_AXIS * (1.0 - ECCENTRICITY_SQUARED) / bend**1.5
    prime = SEMI_MAJOR_AXIS / np.sqrt(bend)
    turn = np.mod(east_two - east_one + np.pi, 2.0 * np.pi) - np.pi
    distance = np.hypot(meridian * (two - one), prime * np.cos(middle) * turn)
    return distance


def speed_from_positions(
    time: ArrayLike, latitude: ArrayLike, longitude: ArrayLike, segment: ArrayLike | None = None
) -> Floats:
    """Return the speed between the neighbours of each point: distance over both steps by their time.

    Parameters
    ----------
    time : array, shape (n,), s
        Increasing.
    latitude, longitude : array, shape (n,), degrees
        Positions; nan where lost.
    segment : array of int, shape (n,), optional
        Points of different segments are never joined.

    Returns
    -------
    array, shape (n,), m/s
        nan where a neighbour is missing on both sides. Noise of the positions never cancels in a distance, so at
        standstill it reads a little above zero.

    Examples
    --------
    >>> speed_from_positions([0.0, 1.0, 2.0], [0.0, 0.0, 0.0], [0.0, 0.0001, 0.0002]).round(2).tolist()
    [11.13, 11.13, 11.13]
    """
    t, lat, lon = (np.asarray(x, float) for x in (time, latitude, longitude))
    n = t.size
    if n < 2:
        return np.full(n, np.nan)
    part = np.zeros(n, int) if segment is None else np.asarray(segment)
    way = distance_between(lat[:-1], lon[:-1], lat[1:], lon[1:])
    step = np.diff(t)
    good = np.isfinite(way) & (step > 0.0) & (np.diff(part) == 0)
    way, step = np.where(good, way, 0.0), np.where(good, step, 0.0)
    sum_way = np.concatenate([[0.0], way]) + np.concatenate([way, [0.0]])
    sum_step = np.concatenate([[0.0], step]) + np.concatenate([step, [0.0]])
    return np.where(sum_step > 0.0, sum_way / np.where(sum_step > 0.0, sum_step, 1.0), np.nan)


class _Track:
    """Collects track points while expat walks through the file."""

    def __init__(self, row_cap: int) -> None:
        self.row_cap = row_cap
        self.points: list[tuple[str, str, str, str, str, int]] = []
        self.depth = 0
        self.segment = -1
        self.root: str | None = None
        self.point: dict[str, str] | None = None
        self.point_depth = 0
        self.text: list[str] | None = None
        self.full = False

    @staticmethod
    def refuse(*_: object) -> None:
        raise LogError(
            "The GPX file declares a document type (DOCTYPE), which is refused; a GPX 1.1 track needs none."
        )

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        if self.depth > DEEPEST:
            raise LogError(f"The GPX file nests elements more than {DEEPEST} deep.")
        local = name.rpartition(" ")[2]
        if self.root is None:
            self.root = local
            if local != "gpx":
                raise LogError(
                    f"The file is XML, but its first element is {local[:40]!r}; accepted is 'gpx' (GPX 1.1)."
                )
        if local == "trkseg":
            self.segment += 1
        elif local == "trkpt":
            self.point = {"lat": attributes.get("lat", ""), "lon": attributes.get("lon", "")}
            self.point_depth = self.depth
        elif self.point is not None and (
            (local in ("ele", "time") and self.depth == self.point_depth + 1)
            or (local == "speed" and local not in self.point and self.depth <= self.point_depth + DEEPEST_SPEED)
        ):
            self.text = []

    def characters(self, text: str) -> None:
        if self.text is not None and len(self.text) < LONGEST_TEXT:
            self.text.append(text[:LONGEST_TEXT])

    def end(self, name: str) -> None:
        local = name.rpartition(" ")[2]
        if local in ("ele", "time", "speed") and self.text is not None and self.point is not None:
            self.point[local] = "".join(self.text)[:LONGEST_TEXT].strip()
            self.text = None
        elif local == "trkpt" and self.point is not None:
            if len(self.points) < self.row_cap:
                lat, lon, ele, time, speed = (self.point.get(key, "") for key in _HELD)
                self.points.append((lat, lon, ele, time, speed, self.segment))
            else:
                self.full = True
            self.point = None
        self.depth -= 1


def read_track(data: bytes, row_cap: int) -> tuple[pd.DataFrame, NDArray[np.int_], bool]:
    """Read the track points of a GPX file.

    Parameters
    ----------
    data : bytes
        The file, in any encoding XML allows.
    row_cap : int
        Points beyond are left out.

    Returns
    -------
    (frame, segment, full) : DataFrame, ndarray, bool
        Columns time (s since 1970), latitude_deg, longitude_deg, altitude and speed (m/s, where most points have
        one), nan where unreadable; the number of the track segment; and whether the cap was reached.

    Raises
    ------
    LogError
        When the file is no GPX track, breaks off, or declares a document type.
    """
    track = _Track(row_cap)
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = track.refuse
    parser.EntityDeclHandler = track.refuse
    parser.StartElementHandler = track.start
    parser.EndElementHandler = track.end
    parser.CharacterDataHandler = track.characters
    try:
        for start in range(0, len(data), LONGEST_TAG):
            parser.Parse(data[start : start + LONGEST_TAG], False)
            if start + LONGEST_TAG - parser.CurrentByteIndex > 2 * LONGEST_TAG:
                raise LogError(
                    f"A tag or comment of the GPX file is longer than {LONGEST_TAG} bytes at line "
                    f"{parser.CurrentLineNumber}; a track point needs two attributes."
                )
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise LogError(
            f"The GPX file breaks off or is not well-formed XML at line {error.lineno}: "
            f"{expat.errors.messages.get(error.code, 'error')}."
        ) from None
    except (ValueError, LookupError) as error:
        if isinstance(error, LogError):
            raise
        raise LogError(f"The GPX file names an encoding that cannot be read: {str(error)[:100]}.") from None
    if not track.points:
        raise LogError("The GPX file holds no track points (trkpt); routes and waypoints have no times to use.")
    table = pd.DataFrame(track.points, columns=[*_HELD, "segment"])
    frame = pd.DataFrame(
        {
            "time": times_of(table["time"], "ISO 8601"),
            **{
                name: pd.to_numeric(table[short], errors="coerce").to_numpy(float, na_value=np.nan)
                for name, short in _READ
            },
        }
    )
    if 2 * frame["speed"].notna().sum() < len(frame):
        frame = frame.drop(columns="speed")
    return frame, table["segment"].to_numpy(int), track.full
