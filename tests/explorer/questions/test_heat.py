"""Heat: verdicts as Streamlit shows them."""

from tests.explorer.pages import opened, written


def test_heat_held_and_pull_by_pull():
    held = written(opened("heat"))
    assert "Heat is not the limit" in held or "Full power lasts" in held
    text = written(opened("heat", heat_view="pulls", heat_count=4))
    assert "All 4 pulls are fine" in text or "ends in a cut-out" in text
