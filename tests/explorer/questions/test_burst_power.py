"""Burst power and pre-warming: verdicts and the table as Streamlit shows them."""

import numpy as np

from tests.explorer.pages import opened, rerun, written


def test_burst_says_yes_and_no():
    assert "**Yes: it gives 5.0 kW for 10 s**" in written(opened("burst_power", burst_power=5))
    assert "**No: not 100.0 kW for 60 s" in written(opened("burst_power", burst_power=100, burst_time=60))


def test_pre_warmed_table():
    page = rerun(opened("burst_power", air_temperature=-5), "table_burst_warming")
    table = next(frame.value for frame in page.dataframe if "resistance" in frame.value.columns)
    assert len(table) == 4
    resistances = [float(text.split()[0]) for text in table["resistance"]]
    assert np.all(np.diff(resistances) < 0)
