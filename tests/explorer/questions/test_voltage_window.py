"""Voltage window and pulls: verdicts and tables as Streamlit shows them."""

from tests.explorer.pages import opened, rerun, written


def test_voltage_window_counts_pulls():
    text = written(opened("voltage_window", target=100))
    assert "within 30 s takes at least" in text or "is reached within 30 s from any charge" in text
    assert "pull" in text


def test_voltage_window_out_of_reach():
    assert "out of reach within 30 s today at any charge" in written(opened("voltage_window", target=200))


def test_pull_by_pull_table():
    page = rerun(opened("voltage_window", target=90), "table_voltage_window_pulls", "table_voltage_window")
    frames = [frame.value for frame in page.dataframe]
    assert any("pull" in frame.columns for frame in frames)
    assert not any(frame.astype(str).eq("nan").any().any() for frame in frames)
