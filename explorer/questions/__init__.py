"""The questions of the page, one folder each, by the moment in which they come up.

To add one, make its folder and put its name into a moment of MOMENTS below. A folder holds, as far as needed,

    __init__.py   its door: TITLE and draw
    section.py    what it draws: TITLE, the question as the rider would ask it, and draw(page)
    chart.py      its figure: a pure function from numbers to a dict, colours as "@blue" (see the palette)
    results.py    its numbers: cached, keyed by the frozen build; numbers, never figures
    words.py      its prose, and the derivation behind its verdict

`draw` gets the `explorer.page.page.Page`: `page.build`, `page.run` (a `physics.simulation.result.RunResult` of one
row), `page.baseline`, `page.baseline_run`, `page.target_speed`, `page.duration`, `page.headroom_wanted` (all SI)
and `page.fmt` (numbers to text in the rider's units: `page.fmt("speed", v)`). It ends by calling
`explorer.frame.layout.show`, which gives all sections one shape: verdict in words, chart, numbers as a table on
request, caution. It is called only while the section is unfolded, and no work is done at import. A whole section:

    from explorer.frame.layout import show
    from explorer.questions.coasting import chart, results, words

    TITLE = "How far does it roll?"

    def draw(page):
        answer = results.coasting(page.build)
        show(
            "coasting",
            verdict=words.verdict(answer, page.fmt),
            figure=chart.figure(answer, page.fmt),
            height=320,
            alt="Speed against distance while coasting.",
            table=lambda: words.table(answer, page.fmt),  # a pandas DataFrame, made only when asked for
            caution=words.CAUTION,
        )

Every input is declared once, in `explorer/inputs/catalogue.py`, so that it is checked, can be undone and goes into
the share link. Inputs that belong to one question get a group of their own there and are drawn by
`explorer.frame.sidebar.in_place(group)`; their values stand in `page.inputs` in home units. Widgets of a section
take keys that begin with its name. What is done in less than a millisecond, hardly more than a cache takes, is kept
with the page instead, by `explorer.page.page.once`. No question imports another; the setup sheet alone gathers.
"""

from __future__ import annotations

from types import ModuleType

from explorer.questions import (
    builds,
    charge_to,
    experiments,
    front_wheel,
    gearing,
    headroom,
    heat,
    hill_start,
    how_sure,
    line_limit,
    pack_gauge,
    packs_on_offer,
    parts_fit,
    regen,
    remembered,
    ride_log,
    road_needed,
    rule_limits,
    run,
    sag,
    self_check,
    setup_sheet,
    speedometer,
    voltage_window,
    way_home,
    what_gets_me_there,
)

FIRST = (run, sag, pack_gauge)
"""Drawn on the first screen, never folded."""

MOMENTS: tuple[tuple[str, tuple[ModuleType, ...]], ...] = (
    ("Choosing parts", (what_gets_me_there, gearing, hill_start, packs_on_offer, parts_fit, self_check, builds)),
    ("The night before", (charge_to, line_limit, rule_limits, setup_sheet)),
    (
        "At the track",
        (headroom, regen, voltage_window, way_home, road_needed, front_wheel, heat, speedometer),
    ),
    ("Afterwards", (ride_log, remembered, how_sure)),
    ("Learning", (experiments,)),
)
"""When a question comes up, and the questions of that moment, in order. One moment is open at a time."""

FOLDED = tuple(question for _, questions in MOMENTS for question in questions)
"""All of them, each under its question."""


def name_of(question: ModuleType) -> str:
    """The name of a question's folder, with which its keys begin.

    Examples
    --------
    >>> name_of(line_limit)
    'line_limit'
    """
    return question.__name__.rpartition(".")[2]
