"""The pack under load: the chart of its sag, and what the timers of its protection say as Streamlit shows it."""

from explorer.questions.sag.chart import figure
from tests.explorer.pages import opened, page_of, written


def timers(**link) -> str:
    """The page's words with the timers of the protection and their details in view."""
    return written(opened(kept={"view_sag": "timers", "details_sag": True}, **link))


def test_lines_of_one_panel_differ_by_dash_too():
    page = page_of()
    traces = figure(page.run, page.build, page.fmt)["data"]
    lines = [t["line"]["dash"] for t in traces if t.get("yaxis", "y") == "y" and "dash" in t["line"]]
    assert len(lines) == len(set(lines)) == 3


def test_protection_says_how_much_is_used_though_nothing_tripped():
    """A long delay and a high threshold: the trip timer runs and nothing opens."""
    text = timers(undervoltage=3.45, undervoltage_delay=20)
    assert "% of the under-voltage limit" in text
    assert "**No" in text or "marginal" in text
    assert "never bypass" in text


def test_protection_says_yes_where_it_cuts_out():
    text = timers(fast_current=120)
    assert "**Yes.**" in text
    assert "fast over-current" in text
    assert "From there you coast" in text


def test_a_rule_that_is_off_is_named():
    assert "Off in this build: fast over-current" in timers(fast_current="off")


def test_the_first_screen_carries_one_line_of_caution():
    """property: no box of warnings, and no caution of a question, until one is unfolded."""
    page = opened()
    assert not page.warning
    assert written(page).count(":material/warning:") == 1
