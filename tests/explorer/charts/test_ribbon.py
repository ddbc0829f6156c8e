"""The ribbon of limits: without gaps, changing where the limit does, each limit with a look of its own."""

import itertools

from explorer.charts import ribbon
from explorer.components import palette
from physics.limits import LIMITS
from tests.explorer.pages import page_of


def test_ribbon_covers_the_run_without_gaps():
    """property: stretches follow each other from the first instant to the last."""
    result = page_of().run
    bars = ribbon.stretches(result.time, result.limit[0], result.limit_since[0])
    assert bars[0][1] == result.time[0]
    assert bars[-1][2] == result.time[-1]
    assert all(now[2] == after[1] and now[0] != after[0] for now, after in itertools.pairwise(bars))


def test_ribbon_changes_where_the_limit_does():
    """hand-worked: a limit seen first at 2 s that has held since 1.4 s; one that says 0.3 s, but not by 1 s."""
    bars = ribbon.stretches([0.0, 1.0, 2.0, 3.0], [1, 1, 2, 2], [0.0, 0.0, 1.4, 1.4])
    assert bars == [(1, 0.0, 1.4), (2, 1.4, 3.0)]
    bars = ribbon.stretches([0.0, 1.0, 2.0], [1, 1, 2], [0.0, 0.0, 0.3])
    assert bars == [(1, 0.0, 1.0), (2, 1.0, 2.0)]


def test_every_limit_has_a_look_of_its_own_by_pattern_or_colour():
    assert set(ribbon.LOOKS) == set(LIMITS)
    assert len(set(ribbon.LOOKS.values())) == len(LIMITS)
    assert all(colour in palette.LIGHT and colour in palette.DARK for colour, _ in ribbon.LOOKS.values())
    assert all(pattern in palette.PATTERNS for _, pattern in ribbon.LOOKS.values())
