"""The page with just some of its questions unfolded, as Streamlit runs it."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest

from explorer.questions import FOLDED, name_of
from explorer.state.state import State

APP = str(Path(__file__).parents[3] / "explorer" / "app.py")


def opened(*names: str, kept: dict[str, Any] | None = None, **link: object) -> AppTest:
    """The page with these questions unfolded, these entries in its session and these inputs in its address."""
    page = AppTest.from_file(APP, default_timeout=60)
    for key, value in link.items():
        page.query_params[key] = str(value)
    for name in map(name_of, FOLDED):
        page.session_state[f"section_{name}"] = name in names
    for key, value in (kept or {}).items():
        page.session_state[key] = value
    return rerun(page)


def rerun(page: AppTest) -> AppTest:
    """The page once more."""
    page.run()
    assert not page.exception, [error.value for error in page.exception]
    return page


def settled(page: AppTest, name: str, within: float = 60.0) -> AppTest:
    """The page once the work of a question, done beside it, has ended."""
    end = time.monotonic() + within
    while not all(job.ended for job in page.session_state[f"background:{name}"].jobs.values()):
        assert time.monotonic() < end, "the work took too long"
        time.sleep(0.05)
    return rerun(page)


def written(page: AppTest) -> str:
    """All text of the page, with plain spaces."""
    blocks = [*page.markdown, *page.caption, *page.info, *page.error, *page.warning, *page.text]
    return " ".join(str(block.value) for block in blocks).replace("\u00a0", " ")


def state_of(page: AppTest) -> State:
    """What the page remembers."""
    return page.session_state["headroom_state"]
