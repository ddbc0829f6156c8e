"""The page with every input at an end of its range, and what must hold of all it shows.

Used by test_page_corners.py and, at a larger size, by ``python -m tests.bench.corner_sweep``.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np
from streamlit.testing.v1 import AppTest

from explorer.components import live_chart
from explorer.format import spelled
from explorer.frame import header as answer
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.spec import InputSpec
from explorer.inputs.to_build import make_build
from explorer.questions import registry
from explorer.questions.registry import FIRST, FOLDED, name_of
from explorer.state.state import CHARGE_AS, PHASE_AS, State
from physics.build.fields import BuildError
from tests.explorer.pages import EVERYTHING

APP = str(Path(__file__).parents[2] / "explorer" / "app.py")
TYRES = ("3.50-8", "140/70-18")
"""The smallest and the largest rear tyre that are likely to be entered."""
SETTINGS = {"units": ("metric", "US"), "phase_as": PHASE_AS, "charge_as": CHARGE_AS}
BACKGROUND = tuple(
    f"background:{name}" for name in ("what_gets_me_there", "how_sure", "gearing", "remembered", "warm_up")
)
SECTIONS = {name_of(question): question for question in FOLDED}
GAPS = {
    "chart_headroom_current": "no charge is low enough, or the pack may not be charged",
    "chart_headroom_temperature": "no charge is low enough, or the pack may not be charged",
    "chart_gearing_map": "the line between two limits ends",
    "chart_voltage_window": "the target is out of reach",
    "chart_remembered": "from one unknown to the next",
    "chart_front_wheel_speed": "the front stays down; entries of the legend that draw nothing",
}
"""Charts that leave gaps by intent, and where."""
_NOT_A_NUMBER = re.compile(r"(?<![\w-])(nan|[+-]?inf(inity)?|NaT)(?!\w)", re.IGNORECASE)
_TEXTS = ("title", "header", "subheader", "markdown", "caption", "text", "code", "info", "warning", "success")


def ends(spec: InputSpec) -> tuple:
    """The ends of an input: lowest and highest, off where it can be; first and last of a list."""
    if spec.kind == "options":
        return spec.options[0][0], spec.options[-1][0]
    if spec.kind == "flag":
        return False, True
    if spec.kind == "text":
        return TYRES
    numbers = (float(spec.low), float(spec.high))
    return numbers if spec.kind == "number" else (*numbers, None)


VALUES = {key: ends(spec) for key, spec in INPUTS.items()} | SETTINGS


def folds_inside(names) -> list[str]:
    """Keys of the derivations and tables of sections, and of the first screen's details."""
    names = (*names, "answer", "timers", *map(name_of, FIRST))
    return [f"{kind}_{name}" for name in names for kind in ("why", "table", "details")]


def makes_a_build(row: dict[str, Any]) -> bool:
    """Whether the settings go together."""
    try:
        make_build(row)
    except BuildError:
        return False
    return True


class Shown:
    """What one run of the page shows."""

    def __init__(self, page: AppTest, figures: list[tuple[str, dict]]):
        self.page, self.figures = page, figures

    @property
    def state(self) -> State:
        return self.page.session_state["headroom_state"]

    def faults(self, unfolded: Sequence[str], wrong_build: bool = False) -> list[str]:
        """What must not be: exceptions, errors, what is no number, an answer or a verdict that is missing."""
        page = self.page
        found = [f"exception: {error.value} {error.stack_trace}" for error in page.exception]
        found += [] if wrong_build else [f"error: {error.value}" for error in page.error]
        texts = [(kind, str(part.value)) for kind in _TEXTS for part in page.get(kind)]
        texts += [("metric", f"{part.label} {part.value} {part.delta}") for part in page.metric]
        for kind in ("table", "dataframe"):
            for part in page.get(kind):
                if kind == "dataframe" and part.proto.editing_mode:
                    continue  # rows the rider has not filled in are blank
                frame, named = part.value.astype(str), kind == "dataframe" and part.proto.placeholder
                frame = frame.mask(part.value.isna(), "") if named else frame
                texts += [(kind, f"{column}: {cell}") for column in frame for cell in (column, *frame[column])]
        found += [f"{kind}: {text}" for kind, text in texts if _NOT_A_NUMBER.search(text)]
        if not any(part.value.startswith(tuple(answer._ICONS.values())) for part in page.markdown):
            found.append("no answer")
        for name in unfolded:
            fold = next(
                fold for fold in page.expander if spelled(SECTIONS[name].TITLE, "US") == spelled(fold.label, "US")
            )
            if not any(len(part.value.split()) > 3 for part in fold.markdown):
                found.append(f"{name}: no verdict")
        for key, figure in self.figures:
            found += figure_faults(key, figure)
        return found


def figure_faults(key: str, figure: dict) -> list[str]:
    """Numbers of a figure that are infinite, or that are missing where the chart has no gap by intent."""
    found = []
    for trace in figure["data"]:
        for name in ("x", "y", "z"):
            values = np.asarray(trace.get(name, ()), dtype=object).ravel()
            if not values.size or isinstance(values[0], str):
                continue
            values = values.astype(float)
            if np.isinf(values).any() or (np.isnan(values).any() and key not in GAPS):
                found.append(f"{key}: {name} of {trace.get('name')!r} holds what is no number")
    layout = json.dumps(figure.get("layout", {}), default=lambda part: np.asarray(part).tolist())
    if _NOT_A_NUMBER.search(layout):
        found.append(f"{key}: {layout}")
    return found


@contextmanager
def drawn():
    """Key and figure of each chart that is drawn meanwhile."""
    figures: list[tuple[str, dict]] = []
    pack = live_chart.pack

    def noted(figure, *, key, **others):
        figures.append((key, figure))
        return pack(figure, key=key, **others)

    with mock.patch.object(live_chart, "pack", noted):
        yield figures


def link_of(row: dict[str, Any], baseline: dict[str, Any] | None = None) -> dict[str, str]:
    """The share link of a row of settings."""
    values = {key: row[key] for key in INPUTS}
    state = State(builds={"Corner": values}, name="Corner", **{name: row[name] for name in SETTINGS})
    if baseline is not None:
        state.set_baseline(baseline, "Other")
    return state.link()


def shown(row: dict[str, Any], unfolded: Sequence[str] = (), baseline=None, inside: Sequence[str] = ()) -> Shown:
    """Open the page by the link of a row of settings, with these sections unfolded, and their work done."""
    with drawn() as figures, mock.patch.object(registry, "MOMENTS", EVERYTHING):
        page = AppTest.from_file(APP, default_timeout=120)
        for key, value in link_of(row, baseline).items():
            page.query_params[key] = value
        page.session_state["moment"] = EVERYTHING[0][0]
        for name in SECTIONS:
            page.session_state[f"section_{name}"] = name in unfolded
        page.session_state["view_sag"] = "timers" if row["hold_front"] else "sag"
        page.session_state["side_view"] = (
            "All inputs" if any(key.startswith("group_") for key in inside) else "Today"
        )
        for key in inside:
            page.session_state[key] = True
        page.run()
        held = [page.session_state[key] for key in BACKGROUND if key in page.session_state]
        jobs = [job for bench in held for job in bench.jobs.values()]
        if jobs:
            for job in jobs:
                assert job.join(120)
            figures.clear()
            page.run()
    return Shown(page, figures)
