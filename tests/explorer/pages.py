"""Pages for tests: one made without a screen, and one as Streamlit runs it with some sections unfolded."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest

from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.presets import FIRST, PRESETS
from explorer.inputs.to_build import make_build
from explorer.page.page import Page
from explorer.questions import FOLDED, name_of
from physics.simulation.run import run

APP = str(Path(__file__).parents[2] / "explorer" / "app.py")
CUTS_OUT = {"line_3": 260.0, "phase_3": 600.0, "charge": 30.0}
"""Changes to the demo with which its pack cuts out."""


def page_of(
    preset: str = FIRST, units: str = "metric", baseline: dict[str, Any] | None = None, **changes: Any
) -> Page:
    """The page of a preset with some inputs changed; its baseline is the preset with others changed."""
    start = PRESETS[preset].values()
    inputs = start | changes
    build = make_build(inputs, "test")
    before = None if baseline is None else make_build(start | baseline, "before")
    duration = float(inputs["duration"])
    return Page(
        build=build,
        baseline=before,
        runs=run([build] if before is None else [build, before], duration),
        target_speed=INPUTS["target"].si(inputs["target"]),
        duration=duration,
        headroom_wanted=float(inputs["headroom_wanted"]),
        fmt=UnitFormatter(units),
        inputs=inputs,
    )


def opened(*names: str, **link: Any) -> AppTest:
    """The page with just these sections unfolded."""
    page = AppTest.from_file(APP, default_timeout=60)
    for key, value in link.items():
        page.query_params[key] = str(value)
    for name in map(name_of, FOLDED):
        page.session_state[f"section_{name}"] = name in names
    return rerun(page)


def rerun(page: AppTest, *unfold: str) -> AppTest:
    """The page once more, with what stands under these keys unfolded."""
    for key in unfold:
        page.session_state[key] = True
    page.run()
    assert not page.exception, [error.value for error in page.exception]
    return page


def written(page: AppTest) -> str:
    """All that stands on the page in words."""
    blocks = [*page.markdown, *page.caption, *page.info, *page.error, *page.warning]
    return " ".join(block.value for block in blocks).replace("\u00a0", " ")
