"""The speedometer, as Streamlit runs it: the constant from readings, the legal band, a change of parts."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from explorer.components.live_chart import pack
from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.presets import PRESETS
from explorer.questions.speedometer import chart, readings, words
from explorer.questions.speedometer.results import Instrument
from explorer.state.link_entries import READINGS
from explorer.state.readings import HIGHEST, LOWEST, MOST
from tests.explorer.pages import opened, rerun, state_of, written


def with_readings(pairs, **link) -> str:
    kept = {READINGS: [(shown / 3.6, true / 3.6) for shown, true in pairs]}
    return written(opened("speedometer", kept=kept, **link))


@pytest.mark.parametrize(("old", "shown", "true", "new"), [(1450, 30, 16, "773"), (500, 60, 80, "667")])
def test_one_reading_gives_the_constant(old, shown, true, new):
    """common practice, no source: 1450 that shows 30 at a measured 16 needs 773; 500 that shows 60 at 80, 667."""
    assert f"Set the constant to {new}**" in with_readings([(shown, true)], speedo_constant=old)


def test_an_inverse_instrument_says_so():
    """hand-worked: 1000 x 30 / 15 = 2000 where a larger constant reads lower."""
    text = with_readings([(30, 15)], speedo_constant=1000, speedo_way="inverse")
    assert "Set the constant to 2,000**" in text
    assert "the larger the constant, the lower the reading" in text


def test_readings_that_disagree_are_flagged():
    """hand-worked: three readings 5 % high and one right: the fourth is an outlier."""
    text = with_readings([(42, 40), (63, 60), (84, 80), (60, 60)])
    assert "left out as an outlier: reading 4" in text
    assert "constant to 952**" in text


def test_resolution_of_the_display_leaves_constants_open():
    """hand-worked: 50 shown in whole numbers at a measured 50.0: from 49.95 / 50.5 to 50.05 / 49.5, 989 to 1011."""
    text = with_readings([(50, 50.0)])
    assert "Rounding allows anything from 989 to 1,011" in text
    assert "leave it at 1,000" in text


def test_legal_band():
    """published: UN Regulation No. 39, 5.4: at a true 50 km/h, 50 to 59 may be shown."""
    text = with_readings([(60, 50)])
    assert "outside the regulation's band" in text
    assert "50.0 km/h to 59.0 km/h" in text
    assert "inside the regulation's band" in with_readings([(59, 50)])
    assert "local law" in text


def test_odometer_and_true_speed():
    """hand-worked: 10 % too much: 88 shown are 80 ridden, 100 km shown are 90.9 ridden."""
    text = with_readings([(44, 40), (88, 80)], speedo_shown=88)
    assert "10.0 % high" in text
    assert "When it shows 88 km/h you are doing 80.0 km/h" in text
    assert "after 90.9 km" in text


def test_change_from_the_baseline():
    """hand-worked: 56 to 52 teeth with the sensor on the motor: 1000 becomes 1000 x 56/52 = 1077."""
    page = opened("speedometer")
    page.button(key="set_baseline").click()
    rerun(page)
    state_of(page).change("rear_teeth", 52)
    text = written(rerun(page))
    assert "the ratio from 4.667 to 4.333" in text
    assert "becomes **1,077**" in text
    state_of(page).change("speedo_sensor", "front")
    assert "sensor is on the front wheel" in written(rerun(page))
    state_of(page).change("speedo_sensor", "rear")
    assert "Nothing that changed since the baseline affects" in written(rerun(page))


@pytest.mark.parametrize("preset", PRESETS)
def test_speedometer_of_every_preset_with_its_tables(preset):
    kept = {"table_speedometer": True, "table_speedometer_next": True}
    page = opened("speedometer", kept=kept, preset=preset, units="US")
    text = written(page)
    section = text[text.index("Set the constant") :]
    assert "mph" in section
    assert "nan" not in text.lower().split()
    assert len(page.dataframe) >= 2


def test_no_readings():
    text = written(opened("speedometer", kept={READINGS: []}))
    assert "Enter a pair of speeds" in text
    assert "A display inside the band may show as much as" in text


EDITS = st.dictionaries(
    st.integers(0, 50),
    st.dictionaries(
        st.sampled_from(["indicated, km/h", "measured, km/h"]),
        st.one_of(st.none(), st.floats(), st.text(max_size=5), st.integers()),
    ),
    max_size=6,
)


@given(EDITS, st.sampled_from(["metric", "US"]))
@settings(max_examples=60, deadline=None)
def test_whatever_is_entered_into_the_table(edits, system):
    """property: anything typed ends as a speed that is accepted, or as an empty cell."""
    rows = readings.take([(10.0, 9.0)], edits, UnitFormatter(system))
    assert len(rows) <= MOST
    cells = [value for row in rows for value in row if value is not None]
    assert all(LOWEST <= value <= HIGHEST for value in cells)
    assert len(readings.as_table(rows, UnitFormatter(system))) >= readings.FEWEST


def test_the_ends_of_the_speedometers_inputs_are_accepted():
    for key in ("speedo_constant", "speedo_shown"):
        spec = INPUTS[key]
        for value in (spec.low, spec.high):
            opened("speedometer", **{key: value})


def test_one_change_and_two_agree_with_their_verb():
    """property: "changes" after one thing, "change" after two."""
    fmt = UnitFormatter()
    rear, motor = (Instrument(1000.0, False, sensor, 20.0) for sensor in ("rear", "motor"))
    one = words.change_of_parts((0.30, 4.6), (0.29, 4.6), rear, 20.7, 967.0, fmt)
    two = words.change_of_parts((0.30, 4.6), (0.29, 4.5), motor, 20.7, 967.0, fmt)
    assert "290.0 mm changes:" in one
    assert "290.0 mm change:" in two


def test_derivation_worked_out():
    """hand-worked: 1450 x 23.1 / 25 = 1339.8; the band at 83.16 km/h ends at 83.16 + 8.316 + 4 = 95.48 km/h."""
    display = Instrument(constant=1450.0, inverse=False, sensor="motor", at=20.0)
    first, band = words.derivation(25.0, 23.1, display, UnitFormatter("metric"))
    assert first.value == pytest.approx(1339.8)
    assert band.value == pytest.approx(95.476, abs=1e-3)


def test_the_figure_is_a_plain_dict():
    figure = chart.figure([20.0], [19.0], [False], 0.95, 30.0, "L3", UnitFormatter("US"))
    assert pack(figure, key="a", height=100, alt="b")


def test_no_table_is_drawn_while_folded(monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("A folded section computed something.")

    monkeypatch.setattr(readings, "edit", refuse)
    opened()
