"""The sections of the page, one file each, in the order of ORDER.

To add a section, put one file into this package and its name into ORDER. Nothing else needs to know it. A file
named in ORDER that is not there is left out.

A section's file holds

    TITLE = "How many volts below full before regen?"    the question it answers, as the rider would ask it
    OPEN = False                                         whether it starts unfolded (optional, False)

    def draw(page: Page) -> None:                        draws it; called only while the section is unfolded

`draw` gets the `explorer.page.Page`: `page.build`, `page.run` (a `physics.result.RunResult` of one row),
`page.baseline`, `page.baseline_run`, `page.target_speed`, `page.duration`, `page.headroom_wanted` (all SI) and
`page.write` (numbers to text in the rider's units: `page.write("speed", v)`). It ends by calling
`explorer.sections.shape.show`, which gives all sections one shape: verdict in words, chart, numbers as a table on
request, caution. A whole section:

    from explorer import results
    from explorer.charts import coasting as chart
    from explorer.sections.shape import show

    TITLE = "How far does it roll?"

    def draw(page):
        answer = results.coasting(page.build)              # cached, physics only, returns numpy or plain numbers
        show(
            "coasting",
            verdict=f"It rolls {page.write('distance', answer.distance)} before it stands.",
            figure=chart.figure(answer, page.write),       # a dict, colours as "@blue", see explorer/palette.py
            height=320,
            alt="Speed against distance while coasting.",
            table=lambda: answer.table(page.write),        # a pandas DataFrame, made only when asked for
            caution="Do it where nobody is behind you.",
        )

Inputs. Every input is declared once, in `explorer/choices.py`, so that it is checked, can be undone and goes into
the share link. Inputs that belong to one section get a group of their own there and are drawn by
`explorer.inputs.in_place(group)`; their values stand in `page.inputs` in home units.

Rules. Work that takes time goes through a function in `explorer/results.py` (or a `results_<section>.py` beside
it) under `st.cache_data(max_entries=..., show_spinner=False)`, keyed by the frozen build; it returns numbers,
never figures. What is done in less than a millisecond, hardly more than that cache takes, is kept with the page
instead, by `explorer.page.once`, where several parts ask for it. Figures are pure functions in
`explorer/charts/` from numbers to a dict and import nothing that imports Streamlit (so the dataclass a chart
takes stands beside the cached call, not in its file). A folded section computes nothing: do no work at import.
Widgets of a section take keys that begin with its name. Prose that more than one section needs goes to
`explorer/words.py`.
"""

from __future__ import annotations

import importlib
import importlib.util
from types import ModuleType

ORDER = (
    "run",
    "sag",
    "headroom",
    "what_gets_me_there",
    "gearing",
    "builds",
    "protection",
    "line_limit",
    "voltage_window",
    "burst_power",
    "front_wheel",
    "heat",
    "speedometer",
    "how_sure",
    "setup_sheet",
    "ride_log",
    "experiments",
)

ALWAYS = ("run", "sag")
"""Drawn at the top of the page, never folded."""


def find(name: str) -> ModuleType | None:
    """The module of one section, or None where there is no such file."""
    if importlib.util.find_spec(f"{__name__}.{name}") is None:
        return None
    return importlib.import_module(f"{__name__}.{name}")


def folded() -> list[tuple[str, ModuleType]]:
    """Name and module of each section that may be folded, in order."""
    found = ((name, find(name)) for name in ORDER if name not in ALWAYS)
    return [(name, module) for name, module in found if module is not None]
