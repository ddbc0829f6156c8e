"""The ride log, as Streamlit runs it: what the invented log tells, cut-outs, columns; hostile uploads included."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from streamlit.testing.v1 import AppTest

from explorer.components.live_chart import pack
from explorer.format import UnitFormatter
from explorer.questions.ride_log import chart, results
from explorer.questions.ride_log import columns as log_columns
from explorer.questions.ride_log import source as log_source
from explorer.questions.ride_log.demo_ride import demo_csv, truly
from explorer.state import build_files
from physics.ridelog import read_log, synthetic_log, write_csv
from physics.ridelog.segments import MOST_PARTS, Segment, find_segments, widest
from tests.explorer.pages import SUPERMOTO, opened, rerun, settled, state_of, written
from tests.physics.ridelog.test_gpx import SAMPLE


@pytest.fixture(scope="module")
def with_demo() -> AppTest:
    page = opened("ride_log")
    page.button(key="ride_log_take").click()
    return rerun(page)


def test_nothing_is_worked_out_while_folded(monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("A folded section computed something.")

    monkeypatch.setattr(log_source, "reading", refuse)
    opened()


def test_what_happens_to_a_log_is_said():
    text = written(opened("ride_log"))
    assert "kept only until the session ends" in text
    assert "goes nowhere else" in text


def test_demo_log_finds_what_was_put_in(with_demo):
    """property: the invented bike's own values are found, with what the page says of them."""
    text, real = written(with_demo), truly(SUPERMOTO)
    assert "invented" in text
    assert "Log and build differ" in text
    table = with_demo.dataframe[0].value.set_index("value")["the log says"]
    assert float(table["pack resistance"].split()[0]) == pytest.approx(1000 * real["pack.resistance"], rel=0.01)
    assert float(table["drag area"].split()[0]) == pytest.approx(real["bike.drag_area"], rel=0.02)
    assert float(table["line limit"].split()[0]) == pytest.approx(real["controller.line_current_limit"], rel=0.01)
    smaller = 1000 * real["bike.rolling_radius"]
    assert float(table["rolling radius of the tyre"].split()[0]) == pytest.approx(smaller, rel=0.003)
    assert "No cut-out is in this log" in text
    assert "use both or neither" in text
    assert "soft_l1 (robust)" in list(with_demo.dataframe[0].value["fitted by"])


def test_demo_log_is_a_file_like_any_other():
    log = read_log(demo_csv(SUPERMOTO))
    assert log.report.wrong_rows == 0
    assert len(log.report.dropouts) == 1


def test_fitted_values_go_in_with_one_click():
    page = opened("ride_log")
    page.button(key="ride_log_take").click()
    rerun(page)
    before = dict(state_of(page).values)
    page.button(key="ride_log_apply").click()
    rerun(page)
    state = state_of(page)
    assert state.baseline == before
    assert state.values["pack_resistance"] == pytest.approx(58.0, abs=0.5)
    assert state.values["tyre"].endswith("mm")
    assert state.values["charge"] == before["charge"]
    assert "The log agrees with the build" in written(page)
    state.undo()
    assert state.values == before


def test_the_fitted_build_opens_as_it_was_saved(monkeypatch):
    """property: what is saved of a fit is what putting it into the build makes, in the page's own kind of file."""
    saved = {}
    monkeypatch.setattr(
        "streamlit.download_button", lambda label, data, *rest, key, **more: saved.update({key: data})
    )
    page = opened("ride_log")
    page.button(key="ride_log_take").click()
    rerun(page)
    again = build_files.from_bytes(saved["ride_log_download_build"]().encode())
    page.button(key="ride_log_apply").click()
    rerun(page)
    state = state_of(page)
    assert again.builds == [(state.name, state.values)]
    assert not again.sentences


def test_the_cleaned_log_reads_back():
    log = read_log(demo_csv(SUPERMOTO))
    again = read_log(write_csv(log).encode())
    assert np.allclose(again.frame.to_numpy(), log.frame.to_numpy(), equal_nan=True)


def test_a_gpx_track_is_read():
    """published: the GPX 1.1 sample of the physics tests, an open standard; it has no electrics, and says so."""
    data = SAMPLE if isinstance(SAMPLE, bytes) else SAMPLE.encode()
    text = written(upload(opened("ride_log", kept={"ride_log_columns": True}), data, "ride.gpx"))
    assert "A GPX track has time, position and altitude" in text
    assert "cannot tell" in text


def test_a_file_that_is_too_large_is_refused():
    """property: beyond the cap nothing is parsed; the refusal says how large a log may be."""
    page = uploaded(b"time,speed\n" + b"1,2\n" * (9 * 1024 * 1024))
    assert "larger than 32 MiB" in written(page)


def test_only_the_widest_of_very_many_parts_are_fitted():
    parts = [Segment("pull", 10.0 * k, 10.0 * k + 5, 100 * k, 100 * k + 50, 0.0, float(k)) for k in range(30)]
    kept = widest(parts, "pull")
    assert [segment.end_speed for segment in kept] == [float(k) for k in range(30 - MOST_PARTS, 30)]
    assert widest(parts, "coast-down") == []


def test_every_fold_of_the_section():
    folds = ("segments", "residuals", "report", "columns")
    page = opened("ride_log", kept={f"ride_log_{fold}": True for fold in folds}, units="US")
    page.button(key="ride_log_take").click()
    text = written(rerun(page))
    assert "rows are used" in text
    assert "speed was lost" in text
    assert "independent ones" in text
    frames = [frame.value for frame in page.dataframe]
    assert any("part" in frame.columns for frame in frames)
    assert any(log_columns.COLUMN in frame.columns for frame in frames)
    page.selectbox(key=next(box.key for box in page.selectbox if (box.key or "").startswith("ride_log_residual_")))
    for option in list(page.selectbox(key="ride_log_residual_5").options):
        page.selectbox(key="ride_log_residual_5").set_value(option)
        rerun(page)


def test_trusting_the_tyre_gives_a_ratio():
    page = opened("ride_log", kept={"ride_log:trusted": "tyre"})
    page.button(key="ride_log_take").click()
    rerun(page)
    table = page.dataframe[0].value.set_index("value")
    # the tyre is smaller than the page thinks: read as a ratio it is 56 / 12 / 0.985
    assert float(table.loc["gear ratio", "the log says"]) == pytest.approx(56 / 12 / 0.985, rel=0.003)


def test_parts_that_are_left_out_are_not_used():
    page = opened("ride_log")
    page.button(key="ride_log_take").click()
    rerun(page)
    segments = page.session_state[log_source._MEMO]["segments"][1]
    held = page.session_state[log_source._KEPT]
    held.left_out |= {round(10 * segment.start) for segment in segments if segment.kind == "coast-down"}
    text = written(rerun(page))
    assert "This log cannot tell drag area and rolling resistance" in text


def test_a_long_log_is_fitted_once_beside_the_page(monkeypatch):
    """property: a log is fitted when it is opened and when it is asked for, not when the build is changed."""
    made = []
    fit_log = results.fit_log.fit_log
    monkeypatch.setattr(results, "_LONG", 1000)
    monkeypatch.setattr(results.fit_log, "fit_log", lambda *given: made.append(given) or fit_log(*given))
    page = opened("ride_log")
    page.button(key="ride_log_take").click()
    settled(rerun(page), "ride_log")
    assert "Log and build differ" in written(page)
    assert len(made) == 1
    state_of(page).change("line_3", 185.0)
    rerun(page)
    assert len(made) == 1
    assert "185" in page.dataframe[0].value.set_index("value")["the build has"]["line limit"]
    page.button(key="ride_log_again").click()
    settled(rerun(page), "ride_log")
    assert len(made) == 2
    assert made[1][1].controller.line_current_limit == 185.0


def uploaded(data: bytes, name: str = "ride.csv") -> AppTest:
    page = opened("ride_log")
    return upload(page, data, name)


def upload(page: AppTest, data: bytes, name: str = "ride.csv") -> AppTest:
    page.file_uploader[0].set_value((name, data, "text/csv"))
    return rerun(page)


def cut_out_log(throttle: bool) -> bytes:
    """A pull that ends at 5 s in a fall of the current from 190 A and 68 V to nothing."""
    t = np.arange(0.0, 30.0, 0.1)
    on = t < 10.0
    speed = np.where(on, np.minimum(2.0 * t, 20.0), 20.0 * np.exp(-(t - 10.0) / 40.0))
    current = np.where(on, np.minimum(40.0 * t, 190.0), 0.0)
    voltage = 96.0 - 0.148 * current
    others = {"throttle": np.ones(t.size)} if throttle else {}
    return write_csv(synthetic_log(t, speed, voltage, current, others=others, seed=3)).encode()


def test_cut_out_is_found_with_its_likely_rule():
    text = written(upload(opened("ride_log", undervoltage=2.85), cut_out_log(True)))
    assert "**The pack cut out at 10.0 s**" in text
    assert "likely the under-voltage rule" in text


def test_without_throttle_a_cut_out_is_uncertain():
    text = written(upload(opened("ride_log", undervoltage=2.85), cut_out_log(False)))
    assert "The pack may have cut out" in text
    assert "a throttle shut quickly looks the same" in text


def test_a_log_without_current_says_what_it_cannot_tell():
    rows = "\n".join(f"{0.1 * i:.1f},{min(2 * i, 80)}" for i in range(600))
    text = written(uploaded(f"time,speed\n{rows}\n".encode()))
    assert "cannot tell" in text
    assert "cannot tell whether the pack cut out" in text


def test_a_ride_without_current_is_a_ride_and_no_slow_pull():
    """property: a bicycle's ride has length, times, parts; full throttle it was at the rider's word alone."""
    t = np.arange(0.0, 300.0, 1.0)
    speed = np.interp(t % 100, [0, 5, 20, 60, 95, 100], [0, 0, 7, 7, 2, 0])
    page = uploaded(write_csv(synthetic_log(t, speed, noise=0, sample_rate=1.0)).encode())
    text = written(page)
    assert "**The ride: 1.5 km in 4:59 min, top speed 25 km/h**" in text
    assert "2 stops on the way" in text
    assert "than predicted" not in text
    (flat_out,) = [toggle for toggle in page.toggle if "full throttle" in toggle.label]
    flat_out.set_value(True)
    assert "than predicted" in written(rerun(page))


def test_columns_can_be_chosen_where_none_was_found():
    """A file without a known column: a plain refusal, then the rider's spec reads it; it is remembered."""
    rows = "\n".join(f"{0.1 * i:.1f};{min(2 * i, 80)}" for i in range(300))
    data = f"alpha;beta\n{rows}\n".encode()
    page = uploaded(data)
    assert "cannot be read" in written(page)
    held = page.session_state[log_source._KEPT]
    held.columns["beta"] = ("speed", "km/h")
    rerun(page)
    assert "The log" in written(page) or "This log" in written(page)
    page.button(key="ride_log_forget").click()
    rerun(page)
    assert page.session_state[log_source._KEPT].data is None
    upload(page, data)
    assert "cannot be read" not in written(page)


def test_a_new_choice_takes_the_quantity_from_another_column(monkeypatch):
    mine = log_source.Source()
    monkeypatch.setattr(log_columns.log_source, "source", lambda: mine)
    guesses = [log_columns.ColumnGuess("a", "speed", "km/h", ""), log_columns.ColumnGuess("b", None, None, "")]
    log_columns.take({1: {log_columns.HOLDS: "speed", log_columns.UNIT: "degC"}}, ["a", "b"], guesses)
    held = mine
    assert held.columns["b"] == ("speed", "km/h")
    log_columns.take({0: {log_columns.HOLDS: "speed"}, 9: {}}, ["a", "b"], guesses)
    assert held.columns == {"b": None, "a": ("speed", "km/h")}


def test_the_table_of_columns_holds_no_formula():
    """hand-worked: a header that a spreadsheet would run is shown without what makes it one."""
    guess = log_columns.ColumnGuess("=cmd|' /C calc'!A0", None, None, "")
    assert list(log_columns.table([guess])[log_columns.COLUMN]) == ["cmd|' /C calc'!A0"]


def test_an_upload_that_is_gone_is_none(monkeypatch):
    """hand-worked: what the server has let go of has no content, and changes nothing."""
    page = opened("ride_log")
    page.file_uploader[0].set_value(("ride.csv", cut_out_log(True), "text/csv"))
    monkeypatch.setattr("explorer.questions.ride_log.upload.UploadedFile", int)
    assert rerun(page).session_state[log_source._KEPT].data is None


def test_nothing_of_a_log_outlives_forget(with_demo):
    page = opened("ride_log")
    upload(page, cut_out_log(True))
    page.button(key="ride_log_forget").click()
    rerun(page)
    assert page.session_state[log_source._KEPT].data is None
    assert log_source._MEMO not in page.session_state


@pytest.mark.parametrize(
    "name", ["../../../etc/passwd", "a\u202egnp.csv", "![x](http://x/y.png).csv", "<b>.csv", "x" * 300]
)
def test_names_are_text_only(name):
    page = uploaded(cut_out_log(True), name)
    assert not any(name in block.value for block in [*page.markdown, *page.caption, *page.error, *page.info])
    assert len(page.session_state[log_source._KEPT].name) <= log_source.LONGEST_NAME


HOSTILE = {
    "empty": b"",
    "blank": b" \n\n \n",
    "zeros": b"\0" * 5000,
    "one line": b"time,speed",
    "wrong columns": b"cat,dog\nred,blue\n" * 50,
    "huge cell": b"time,speed\n0," + b"9" * 19000 + b"\n1,2\n2,3\n",
    "huge line": b"time,speed\n0," + b"9" * 500000 + b"\n",
    "huge numbers": b"time,speed,voltage,current\n" + b"".join(b"%d,1e308,-1e308,1e300\n" % i for i in range(50)),
    "not numbers": b"time,speed\n" + b"".join(b"%d,nan\n" % i for i in range(50)),
    "standing": b"time,speed,voltage,current\n" + b"".join(b"%d,0,80,0\n" % i for i in range(200)),
    "two rows": b"time,speed,voltage,current\n0,0,80,0\n1,5,79,20\n",
    "backwards": b"time,speed\n" + b"".join(b"%d,5\n" % (100 - i) for i in range(90)),
    "many columns": b",".join(b"c%d" % i for i in range(255)) + b"\n" + b",".join([b"1"] * 255) + b"\n",
    "links": b"time,[x](http://x),![y](http://y/z.png)\n" + b"".join(b"%d,a,b\n" % i for i in range(40)),
    "formula": b"time,speed,=cmd()\n" + b"".join(b"%d,%d,=1+1\n" % (i, i) for i in range(40)),
    "entity": b'<?xml version="1.0"?><!DOCTYPE g [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><gpx>&b;</gpx>',
    "reversed current": b"time,speed,voltage,current\n"
    + b"".join(b"%d,%d,%d,%d\n" % (i, i % 20, 90 - i % 20, -5 * (i % 20)) for i in range(200)),
    "latin": "time;vitesse;tension\n".encode("latin-1") + b"".join(b"0,%d;1,5;\xe9\n" % i for i in range(40)),
}


@pytest.mark.parametrize("case", HOSTILE)
def test_hostile_files(case):
    """property: a sentence or an answer, never an exception."""
    page = uploaded(HOSTILE[case], "log.csv")
    text = written(page)
    assert "nan" not in text.lower().split()
    assert not any("](http" in block.value for block in [*page.markdown, *page.caption, *page.error, *page.info])


_START = write_csv(
    synthetic_log(
        np.arange(0.0, 30.0, 0.1),
        np.minimum(np.arange(300) * 0.2, 25.0),
        np.linspace(98, 85, 300),
        np.linspace(0, 150, 300),
        seed=2,
    )
).encode()
_CELL = st.one_of(st.floats().map(repr), st.text(max_size=12), st.sampled_from(["", "-", "1e999", "12:00", "NaN"]))


@st.composite
def _broken(draw):
    """A good log with bytes overwritten, rows cut or cells put in."""
    kind = draw(st.sampled_from(["bytes", "text", "cells", "table"]))
    if kind == "bytes":
        return draw(st.binary(max_size=300))
    if kind == "text":
        return draw(st.text(max_size=300)).encode("utf-8", "replace")
    if kind == "cells":
        lines = _START.decode().splitlines()
        for _ in range(draw(st.integers(1, 8))):
            row, cells = draw(st.integers(0, len(lines) - 1)), draw(st.lists(_CELL, min_size=1, max_size=6))
            lines[row] = ",".join(cells)
        return "\n".join(lines).encode("utf-8", "replace")
    names = draw(
        st.lists(
            st.sampled_from(["time", "speed", "volts", "current", "rpm", "throttle", "alt", "x"]),
            min_size=2,
            max_size=6,
        )
    )
    rows = draw(st.lists(st.lists(_CELL, min_size=1, max_size=7), max_size=12))
    return "\n".join([",".join(names), *(",".join(row) for row in rows)]).encode("utf-8", "replace")


@pytest.fixture(scope="module")
def standing_page():
    return opened(
        "ride_log", kept={f"ride_log_{fold}": True for fold in ("segments", "report", "columns", "residuals")}
    )


@given(_broken())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_fuzzed_uploads_never_raise_on_the_page(standing_page, data):
    """property: whatever the bytes, the page answers or says why not."""
    page = standing_page
    if page.session_state[log_source._KEPT].data is not None:
        page.button(key="ride_log_forget").click()
        rerun(page)
    upload(page, data)
    held = page.session_state[log_source._KEPT]
    assert held.data == data or not data


def test_figures_are_plain_dicts():
    log = read_log(demo_csv(SUPERMOTO))
    segments = find_segments(log)
    ride = chart.whole_ride(log, segments, [True] * len(segments), UnitFormatter("US"))
    left_over = chart.residuals([], np.zeros(20), "V", "x")
    assert pack(ride, key="a", height=100, alt="b")
    assert pack(left_over, key="a", height=100, alt="b")
    assert {"pull", "coast-down", "steady", "standstill"} <= {trace["name"] for trace in ride["data"]}
