"""Will it cut out: verdicts as Streamlit shows them."""

from tests.explorer.pages import opened, written


def test_protection_says_how_much_is_used_though_nothing_tripped():
    """A long delay and a high threshold: the trip timer runs and nothing opens."""
    text = written(opened("protection", undervoltage=3.35, undervoltage_delay=20))
    assert "% of the under-voltage limit" in text
    assert "**No" in text or "marginal" in text


def test_protection_says_yes_where_it_cuts_out():
    text = written(opened("protection", fast_current=120))
    assert "**Yes.**" in text
    assert "fast over-current" in text
    assert "From there you coast" in text


def test_a_rule_that_is_off_is_named():
    assert "Off in this build: fast over-current" in written(opened("protection", fast_current="off"))
