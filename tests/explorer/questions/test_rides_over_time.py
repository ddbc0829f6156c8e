"""Several rides of one bike: their file, their trend in words, and the page that fits and keeps them."""

import datetime
import json
from dataclasses import replace

import numpy as np
import pytest

from explorer.components.live_chart import pack
from explorer.format import UnitFormatter
from explorer.questions.ride_log.demo_ride import demo_csv
from explorer.questions.ride_log.over_time import chart, ride_file, words
from explorer.questions.ride_log.over_time.demo_rides import demo_rides
from explorer.questions.ride_log.over_time.results import KEY, Kept
from explorer.questions.ride_log.over_time.ride_file import RideEntry, as_json, from_bytes, merged
from explorer.questions.ride_log.over_time.section import take
from explorer.questions.ride_log.over_time.trends import MONTH, counting, trend_of, warmer
from physics.build import example_build
from physics.fitting.ride_values import Measured, RideValues
from physics.fitting.trend import TooFewError
from physics.ridelog import read_log, write_csv
from physics.studies.target.ageing import AgedWindow
from physics.studies.voltage_window import ALWAYS_REACHED, NEVER_REACHED, REACHED_FROM, VoltageWindow
from tests.explorer.pages import SUPERMOTO, opened, rerun, settled, written
from tests.explorer.plain_words import slips, unsaid

METRIC = UnitFormatter("metric")
SOUND = {
    "date": "2026-05-01", "label": "Club day", "chemistry": "nmc", "cells": 24,
    "resistance": {"value": 0.058, "half_width": 0.001},
}  # fmt: skip


def ride(day, ohms=0.058, half=0.001, label="x", log="", warm=298.15):
    says = RideValues(Measured(ohms, half), None, None, warm, True, 0.9, 0.6)
    return RideEntry(day, label, log, "nmc", 24, says)


def months(*, rate, offsets=(0.0, 0.0, 0.0, 0.0), start=0.050):
    """Rides some thirty days apart along a line of so many ohm a month."""
    first = datetime.date(2026, 1, 1)
    return [
        ride(first + datetime.timedelta(days=30 * place), start + rate * 30 * place / MONTH + off)
        for place, off in enumerate(offsets)
    ]


def test_the_file_reads_back_exactly():
    """property: every number to its last bit, whatever was measured or not; a second writing is the same text."""
    rides = demo_rides(example_build())
    rides[0] = replace(rides[0], log="0123456789abcdef01234567", says=replace(rides[0].says, pack_temperature=None))
    rides[1] = replace(rides[1], says=replace(rides[1].says, resistance=Measured(1 / 17, 1 / 1700)))
    text = as_json(rides)
    again = from_bytes(text.encode())
    assert again.rides == rides
    assert not again.sentences
    assert as_json(again.rides) == text


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"date": "yesterday"}, "no date such as 2026-05-01"),
        ({"date": "2026-02-30"}, "no calendar has"),
        ({"date": "1987-02-20"}, "outside 2000 to 2099"),
        ({"date": 20260501}, "no date"),
        ({"chemistry": ["nmc"]}, "names no chemistry"),
        ({"cells": 24.5}, "no number of cells"),
        ({"cells": True}, "no number of cells"),
        ({"resistance": 0.058}, "resistance that is not a number"),
        ({"resistance": {"value": 58, "half_width": 1}}, "resistance that is not a number from 0.0001 to 10 ohm"),
        ({"resistance": {"value": 0.058, "half_width": 0}}, "half width is not a number above 0"),
        ({"resistance": {"value": 10**400, "half_width": 1}}, "resistance that is not a number"),
        ({"resistance": None}, "neither resistance nor capacity nor drag area"),
        ({"pack_temperature": 21.0}, "pack temperature that is not a number from 200 to 400"),
        ({"charge_from": 93}, "charge from that is not a number from 0 to 1"),
    ],
    ids=str,
)
def test_a_ride_that_cannot_be_used_is_left_out_with_a_sentence(change, said):
    """property: the sound ride beside it stays, and nothing is lost of it."""
    found = from_bytes(json.dumps({"headroom_rides": 1, "rides": [SOUND | change, SOUND]}).encode())
    assert len(found.rides) == 1
    assert said in found.sentences[0]
    assert "Ride 1 of the file" in found.sentences[0]


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "not JSON"),
        (b"\xff\xfe{}", "not text in UTF-8"),
        (b"[" * 100_000, "not JSON"),
        (b'{"headroom_rides": 1, "rides": [NaN]}', "Ride 1 of the file is not a table"),
        (b'{"headroom_builds": 1}', "holds no “headroom_rides”"),
        (b'{"headroom_rides": 2, "rides": []}', "version “2” of ride files; this page reads version 1"),
        (b'{"headroom_rides": true, "rides": []}', "written as version"),
        (b'{"headroom_rides": null}', "does not say for which version"),
        (b'{"headroom_rides": 1, "rides": {}}', "no list of rides"),
        (b"{" + b" " * ride_file.LARGEST + b"}", "larger than 300 kB"),
    ],
    ids=lambda value: str(value)[:30],
)
def test_hostile_files_are_refused_in_a_sentence(data, said):
    found = from_bytes(data)
    assert not found.rides
    assert said in found.sentences[0]
    assert "unchanged" in found.sentences[-1]


def test_what_a_newer_page_may_have_written_is_named():
    found = from_bytes(json.dumps({"headroom_rides": 1, "rides": [SOUND | {"wind": 3}]}).encode())
    assert len(found.rides) == 1
    assert found.sentences == ["Ride 1 of the file holds “wind”, which this page does not know. It was left out."]


def test_no_more_rides_are_taken_than_there_may_be():
    many = json.dumps({"headroom_rides": 1, "rides": [SOUND] * (ride_file.MOST_RIDES + 5)}).encode()
    found = from_bytes(many)
    assert len(found.rides) == ride_file.MOST_RIDES
    assert "205 rides; the first 200" in found.sentences[0]
    first = datetime.date(2026, 1, 1)
    full = [ride(first, label=str(number)) for number in range(ride_file.MOST_RIDES)]
    rides, sentences = merged(full, [ride(first, label="one more")], newer=False)
    assert len(rides) == ride_file.MOST_RIDES
    assert "1 more was left out" in sentences[0]


def test_of_one_ride_one_stays():
    """property: what is on the page stays when a file is opened, and gives way when its log is fitted again."""
    day, old, new = datetime.date(2026, 5, 1), 0.058, 0.060
    held, fitted = [ride(day, old, log="abcdef12")], [ride(day, new, log="abcdef12")]
    kept, sentences = merged(held, fitted, newer=False)
    assert [one.says.resistance.value for one in kept] == [old]
    assert sentences == ["1 ride of the file was here already."]
    taken, sentences = merged(held, fitted, newer=True)
    assert [one.says.resistance.value for one in taken] == [new]
    assert not sentences
    both, _ = merged([ride(day)], [ride(day), ride(day - datetime.timedelta(days=1))], newer=False)
    assert [one.date.day for one in both] == [30, 1]


def test_a_rise_is_said_with_its_interval():
    """hand-worked: 50 mΩ and 1 mΩ a month more; residuals ±0.1 mΩ at 0, 30, 60, 90 days, signs + - - +. Their sum
    with 1 and t is zero, so the slope stays 1; s² = 4 × 0.01 / 2 = 0.02, Stt = 4500 d², the slope's error is
    √(0.02 / 4500) = 0.002108 mΩ a day = 0.06417 a month; times t(2) = 4.303: ±0.276 mΩ."""
    rides = months(rate=0.001, offsets=(1e-4, -1e-4, -1e-4, 1e-4))
    found = trend_of(rides, "resistance")
    low, high = found.fit.bounds("rate")
    assert 1000 * MONTH * (high - low) / 2 == pytest.approx(0.276, abs=0.0005)
    text = words.verdict("resistance", found, rides, METRIC)
    assert "resistance rises by 1.0 mΩ a month, or 1.9 %** (95 %: 0.7 to 1.3 mΩ)" in text
    assert "4 rides between 1 January 2026 and 1 April 2026" in text


def test_no_change_and_too_few_are_said_so():
    """hand-worked: three rides thirty days apart are two spaces of thirty days."""
    flat = months(rate=0.0, offsets=(2e-3, -2e-3, 2e-3, -2e-3))
    text = words.verdict("resistance", trend_of(flat, "resistance"), flat, METRIC)
    assert "do not show that the pack resistance changes" in text
    with pytest.raises(TooFewError):
        trend_of(flat[:3], "resistance")
    assert "So far there are 3, 60 days from first to last" in words.too_few("resistance", flat[:3])
    close = [replace(one, date=flat[0].date + datetime.timedelta(days=place)) for place, one in enumerate(flat)]
    with pytest.raises(TooFewError):
        trend_of(close, "resistance")
    assert "all from one day" in words.too_few("resistance", flat[:1])
    assert "None of these rides" in words.too_few("drag_area", [])


def test_rides_of_another_pack_do_not_count():
    rides = [*months(rate=0.001), replace(ride(datetime.date(2026, 6, 1)), cells=20)]
    used = counting(rides, example_build(), "resistance")
    assert len(used) == 4
    assert "1 ride of a pack with other cells is not used" in words.left_out(rides, used)


def test_a_season_is_named():
    """hand-worked: 30 K over the 90 days in a straight line."""
    days = months(rate=0.0)
    rides = [replace(one, says=replace(one.says, pack_temperature=300.0 - 10.0 * k)) for k, one in enumerate(days)]
    assert warmer(rides) == pytest.approx(-30.0)
    assert "30 °C colder overall" in words.season(rides, METRIC)
    assert not words.season(months(rate=0.0), METRIC)


@pytest.mark.parametrize("units", ["metric", "US"])
def test_every_sentence_and_chart(units):
    """property: plain words without slips, and figures that can be sent, for every value."""
    fmt, build = UnitFormatter(units), example_build()
    rides = demo_rides(build)
    texts = [words.NOTE, words.CAPACITY_NOTE, words.STAGED, words.WHAT_IT_TAKES, words.CAUTION]
    for name in words.NAMES:
        used = counting(rides, build, name)
        found = None
        try:
            found = trend_of(used, name)
            texts.append(words.verdict(name, found, used, fmt))
            assert all(np.isfinite(step.value) for step in words.derivation(name, found, used))
        except TooFewError:
            texts.append(words.too_few(name, used))
        assert pack(chart.figure(used, used[:1], name, found, None, fmt), key="k", height=9, alt="a")
    for text in texts:
        assert not slips(text), text
        assert not unsaid(text), text


def window(lowest, highest=99.9, full=100.8):
    """A voltage window from 60 V; out of reach where there is no lowest voltage."""
    volts = np.array([60.0, full])
    status = NEVER_REACHED if np.isinf(lowest) else ALWAYS_REACHED if lowest <= 60.0 else REACHED_FROM
    nothing, charge = np.zeros(2), np.array([0.0, 1.0])
    top = 1.0 if highest == full else 0.9
    return VoltageWindow(charge, volts, nothing, nothing, nothing, nothing, 32.0, 0.5, lowest, top, highest, status)


@pytest.mark.parametrize("units", ["metric", "US"])
@pytest.mark.parametrize(
    ("now", "then", "worse", "said"),
    [
        (93.04, 93.9, 94.71, "out of reach below 94.8 V at rest"),
        (60.0, 60.0, 60.0, "still reached from any voltage"),
        (93.0, 94.0, np.inf, "Along the trend alone it would still be reached from 94.0 V at rest"),
        (93.0, np.inf, np.inf, "out of reach from any voltage"),
        (np.inf, np.inf, np.inf, "out of reach on such a day too"),
    ],
)
def test_a_cold_day_ahead_in_words(units, now, then, worse, said):
    """property: the voltage is that of the resistance's upper end, rounded up; below it the target is out of
    reach."""
    rides = months(rate=0.001, offsets=(1e-4, -1e-4, -1e-4, 1e-4))
    aged = AgedWindow(0.053, 0.058, 0.060, window(now), window(then), window(worse))
    when = datetime.date(2027, 4, 1)
    found = trend_of(rides, "resistance")
    text = words.ahead(aged, found, when, 279.15, 115 / 3.6, UnitFormatter(units))
    assert said in text
    assert "60.0 mΩ at the upper end" in text
    assert "take it as a guess" in text
    assert not slips(text), text
    assert not unsaid(text), text


def test_what_is_entered_in_the_table():
    held = Kept(tuple(months(rate=0.001)))
    take({0: {words.USE: False}, 1: {words.WHEN: "2026-03-20T00:00:00", words.RIDE: "=Wet"}, 9: {}}, held)
    assert held.entries[0] in held.unused
    assert {one.label: one.date.isoformat() for one in held.entries}["Wet"] == "2026-03-20"
    take({1: {words.WHEN: "never"}}, held)
    held.remove_unused()
    assert len(held.entries) == 3


def test_invented_rides_give_way():
    """property: no trend runs through invented and real rides together; a fit that finds nothing leaves them."""
    held = Kept(tuple(demo_rides(example_build())), demo=True)
    held.put([], newer=True)
    assert held.demo
    real = ride(datetime.date(2026, 5, 1))
    held.put([real], newer=True)
    assert held.entries == (real,)
    assert not held.demo


def dated(day, preset=SUPERMOTO):
    """The invented log as a file whose times name a day."""
    log = read_log(demo_csv(preset))
    zero = datetime.datetime.fromisoformat(f"{day}T10:00:00+00:00").timestamp()
    return write_csv(replace(log, frame=log.frame.assign(time=log.frame["time"] + zero))).encode()


def test_logs_are_fitted_kept_and_opened_again(monkeypatch):
    """property: a log's own date is used, one without waits for it; what cannot be read is said at once; what is
    saved opens as it was, known rides stay."""
    saved = {}
    monkeypatch.setattr(
        "streamlit.download_button", lambda label, data, *rest, key, **more: saved.update({key: data})
    )
    page = opened("ride_log", kept={f"fold_{KEY}": True}, units="US")
    assert "see what changes" in written(page)
    uploader = next(one for one in page.file_uploader if "ride file" in one.label)
    uploader.set_value(
        [
            ("june.csv", dated("2026-06-03"), "text/csv"),
            ("undated.csv", demo_csv(SUPERMOTO), "text/csv"),
            ("notes.csv", b"front,rear\n1.9,2.1\n", "text/csv"),
        ]
    )
    text = written(rerun(page))
    assert any("notes" in one.value for one in page.warning)
    assert "2 rides to be fitted" in text
    assert words.NO_DATE in text
    page.button(key=f"{KEY}_fit").click()
    page = settled(rerun(page), KEY)
    held = page.session_state[f"{KEY}:kept"]
    assert [(one.date.isoformat(), one.label) for one in held.entries] == [("2026-06-03", "june")]
    assert held.entries[0].says.resistance.value == pytest.approx(0.058, rel=0.01)
    assert "Too few rides to say" in written(page)
    assert "1 ride to be fitted" in written(page)
    again = from_bytes(saved[f"{KEY}_save"].encode())
    assert tuple(again.rides) == held.entries
    uploader = next(one for one in page.file_uploader if "ride file" in one.label)
    uploader.set_value([("rides.json", saved[f"{KEY}_save"].encode(), "application/json")])
    assert "1 ride of the file was here already" in written(rerun(page))


def test_the_invented_rides_show_a_trend_and_a_cold_day():
    page = opened("ride_log", kept={f"fold_{KEY}": True, f"why_{KEY}": True})
    page.button(key=f"{KEY}_take").click()
    page = settled(rerun(page), f"{KEY}_ahead")
    text = written(page)
    assert "resistance rises by" in text
    assert "On 10 May 2027, with pack and air at 6 °C" in text
    assert "invented" in text
    assert "Student's factor for 7" in text
    for name in ("capacity_ah", "drag_area"):
        page.segmented_control(key=f"{KEY}_value").set_value(name)
        assert words.NAMES[name].lower() in written(rerun(page)).lower()
    page.button(key=f"{KEY}_forget").click()
    assert "see what changes" in written(rerun(page))
