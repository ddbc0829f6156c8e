"""Rides that are known by their positions alone: way, times, speeds, stops, climbs; the road load out of them."""

import numpy as np
import pandas as pd
import pytest

from physics.build import example_build
from physics.fitting.build import DRAG_AREA, RESISTANCE, ROLLING, fit_log
from physics.ridelog import find_segments, read_log, synthetic_log
from physics.ridelog.track import track_of
from physics.scenarios.ride import Leg, ride

LEGS = (Leg("stand", 5.0), Leg("pull", 20.0), Leg("coast", 40.0), Leg("brake", 4.0), Leg("stand", 6.0)) * 3
METRES_A_DEGREE = 111_229.0  # of latitude at 50 N, WGS 84


@pytest.fixture(scope="module")
def ridden():
    """A ride, and the track that a receiver with a position a second, good to 0.3 m, would have written."""
    made = ride(example_build(), LEGS)
    time, speed = np.asarray(made.time), np.asarray(made.speed[0])
    way = np.concatenate([[0.0], np.cumsum(np.diff(time) * 0.5 * (speed[1:] + speed[:-1]))])
    seconds = np.arange(0.0, np.floor(time[-1]) + 1.0)
    metres = np.interp(seconds, time, way) + np.random.default_rng(7).normal(0.0, 0.3, seconds.size)
    stamps = pd.to_datetime(seconds, unit="s", origin="2026-03-01T09:00:00").strftime("%Y-%m-%dT%H:%M:%SZ")
    points = "".join(
        f'<trkpt lat="{50 + north / METRES_A_DEGREE:.8f}" lon="8"><time>{stamp}</time></trkpt>'
        for north, stamp in zip(metres, stamps, strict=True)
    )
    log = read_log(f'<gpx version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>'.encode())
    return log, seconds, np.interp(seconds, time, way), np.interp(seconds, time, speed)


def test_a_ride_from_its_positions(ridden):
    """property: what was ridden comes back; noise of the positions never cancels, hence a hundredth of the way."""
    log, seconds, way, speed = ridden
    track = track_of(log)
    assert track.duration == seconds[-1]
    assert track.length == pytest.approx(way[-1], rel=0.01)
    assert track.top_speed == pytest.approx(speed.max(), abs=0.5)
    assert track.bin_times.sum() == pytest.approx(track.duration - track.unknown_time)
    assert np.isnan(track.climbed)


def test_the_road_load_from_positions_alone(ridden):
    """property: drag area and rolling resistance of the bike ridden, within three standard errors."""
    log, *_ = ridden
    build = example_build()
    kinds = [segment.kind for segment in find_segments(log)]
    assert (kinds.count("pull"), kinds.count("coast-down")) == (3, 3)
    guess = build.change({"bike.drag_area": 0.7 * build.bike.drag_area, "bike.rolling_coefficient": 0.03})
    fit = fit_log(log, guess)
    for key, truth in ((DRAG_AREA, build.bike.drag_area), (ROLLING, build.bike.rolling_coefficient)):
        item = fit.item(key)
        assert item.identified
        assert abs(item.value - truth) < 3.0 * item.standard_error
        assert item.standard_error < 0.15 * truth
    assert not fit.item(RESISTANCE).identified


def test_times_speeds_and_stops():
    """hand-worked: 10 s at 3 m/s, a stop of 5 s, 20 s at 8 m/s, a pause of the recording of 30 s, 10 s at 8 m/s."""
    t = np.concatenate([np.arange(0.0, 35.1, 0.1), np.arange(65.0, 75.1, 0.1)])
    v = np.where(t < 10.0, 3.0, np.where(t < 15.0, 0.0, 8.0))
    log = read_log(pd.DataFrame({"time": t, "speed (m/s)": v}).to_csv(index=False).encode())
    track = track_of(log, speed_step=2.0)
    assert track.length == pytest.approx(10 * 3 + 30 * 8, abs=1.0)  # half a step at either end of the stop
    assert (track.duration, track.stops) == (pytest.approx(75.0), 1)
    assert track.unknown_time == pytest.approx(29.9, abs=0.2)
    assert track.moving_time == pytest.approx(40.0, abs=0.2)
    assert track.bin_edges.tolist() == [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    assert track.bin_times == pytest.approx([5.0, 10.0, 0.0, 0.0, 30.0], abs=0.2)


@pytest.mark.parametrize("noise", [0.0, 1.0])
def test_climbs(noise):
    """hand-worked: up 50 m, down 30, up 10 of which noise of 1 m may add 2 m at each end; 3 m are none."""
    heights = np.interp(np.arange(400.0), [0, 100, 200, 300, 350, 400], [100, 150, 120, 130, 127, 130])
    heights += noise * np.random.default_rng(1).uniform(-1.0, 1.0, 400)
    log = synthetic_log(
        np.arange(400.0), np.full(400, 10.0), others={"altitude": heights}, noise=0, sample_rate=1.0
    )
    track = track_of(log)
    assert track.climbed == pytest.approx(60.0, abs=1e-9 + 4.0 * noise)
    assert track.descended == pytest.approx(30.0, abs=1e-9 + 4.0 * noise)


def test_without_speed_there_is_no_track():
    """property: nothing is made up."""
    assert track_of(read_log(b"time,volts\n0,96\n1,95\n2,96\n")) is None
