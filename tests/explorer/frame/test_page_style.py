"""The page's rules of style."""

import re
from pathlib import Path

import explorer.frame


def test_no_rule_of_the_screen_looks_upward():
    """property: with :has() a browser looks again at all that surrounds a chart whenever the chart changes."""
    rules = (Path(explorer.frame.__file__).parent / "page.css").read_text(encoding="utf-8")
    screen, paper = re.sub(r"/\*.*?\*/", "", rules, flags=re.DOTALL).split("@media print")
    assert ":has(" not in screen
    assert "@media" not in paper
