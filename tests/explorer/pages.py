"""Pages for tests: one made without a screen, and one as Streamlit runs it with some sections unfolded."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest

from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.page.page import Page
from explorer.questions.registry import FOLDED, name_of
from explorer.state.state import State
from physics.simulation.run import run

APP = str(Path(__file__).parents[2] / "explorer" / "app.py")
EVERYTHING = (("Everything", FOLDED),)
"""All questions in one moment; tests/explorer/conftest.py puts it in the place of the five."""
SUPERMOTO = "supermoto"
"""The demo that tests open where they name no other: their numbers are worked out for it."""
CUTS_OUT = {"line_3": 260.0, "phase_3": 600.0, "charge": 20.0}
"""Changes to it with which its pack cuts out."""


def page_of(
    preset: str = SUPERMOTO, units: str = "metric", baseline: dict[str, Any] | None = None, **changes: Any
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


def opened(*names: str, kept: dict[str, Any] | None = None, **link: Any) -> AppTest:
    """The page with just these sections unfolded, this in its session and these inputs in its address.

    It is that of the supermoto unless the address names another preset; `preset=None` names none.
    """
    page = AppTest.from_file(APP, default_timeout=60)
    for key, value in ({"preset": SUPERMOTO} | link).items():
        if value is not None:
            page.query_params[key] = str(value)
    page.session_state["moment"] = EVERYTHING[0][0]
    for name in map(name_of, FOLDED):
        page.session_state[f"section_{name}"] = name in names
    for key, value in (kept or {}).items():
        page.session_state[key] = value
    return rerun(page)


def rerun(page: AppTest, *unfold: str) -> AppTest:
    """The page once more, with what stands under these keys unfolded."""
    for key in unfold:
        page.session_state[key] = True
    page.run()
    assert not page.exception, [error.value for error in page.exception]
    return page


def settled(page: AppTest, name: str, within: float = 60.0) -> AppTest:
    """The page once the work of a section, done beside it, has ended."""
    end = time.monotonic() + within
    while not all(job.ended for job in page.session_state[f"background:{name}"].jobs.values()):
        assert time.monotonic() < end, "the work took too long"
        time.sleep(0.05)
    return rerun(page)


def state_of(page: AppTest) -> State:
    """What the page remembers."""
    return page.session_state["headroom_state"]


def written(page: AppTest) -> str:
    """All that stands on the page in words."""
    blocks = [*page.markdown, *page.caption, *page.info, *page.error, *page.warning, *page.text]
    return " ".join(str(block.value) for block in blocks).replace("\u00a0", " ")
