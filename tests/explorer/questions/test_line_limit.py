"""Today's line limit: verdicts and the table to print, as Streamlit shows them."""

from tests.explorer.pages import opened, rerun, written


def test_line_limit_follows_the_cold():
    """Colder and emptier: the verdict goes from none needed to a limit, with the rule that decides."""
    warm = written(opened("line_limit", air_temperature=25, charge=95))
    cold = written(opened("line_limit", air_temperature=-10, charge=50))
    assert "No line limit is needed today" in warm
    assert "A or less.**" in cold
    assert "the under-voltage rule is the first to leave less" in cold


def test_line_limit_table_prints_today():
    table = rerun(opened("line_limit"), "table_line_limit").table[0].value
    assert any("(today)" in str(name) for name in table.columns)
    assert any("(today)" in str(name) for name in table.index)
    assert table.shape[0] >= 5


def test_line_limit_none_survives():
    text = written(opened("line_limit", pack_temperature=-15, discharge_minimum=0))
    assert "No line limit is low enough" in text


def test_holding_the_target_is_another_pull():
    text = written(opened("line_limit", pull_hold=10, target=80))
    assert "a pull to 80 km/h, held for 10 s" in text
