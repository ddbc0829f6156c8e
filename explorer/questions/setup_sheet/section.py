"""The setup sheet for the garage: what it says, and the file to print."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from zoneinfo import ZoneInfo

import pandas as pd
import streamlit as st

from explorer.format import tied
from explorer.page import words_of_keeping as words_keep
from explorer.page.page import Page
from explorer.questions.setup_sheet import content as sheet_content
from explorer.questions.setup_sheet import sheet
from explorer.questions.speedometer import section as speedometer
from explorer.state import readings, share_link
from explorer.state.names import as_file_name, as_markdown
from explorer.state.state import current

TITLE = "What do I set today, and take to the garage?"
KEY = "setup_sheet"


def draw(page: Page) -> None:
    """Verdict, the file to print, and what stands on it."""
    state = current()
    with st.spinner("Writing the sheet ..."):
        made = sheet_content.gather(
            page,
            now(),
            share_link.address(state.link(alone=True), st.context.url),
            calibration(page),
            state.phase_as,
        )
    with st.container(key=f"verdict_{KEY}"):
        st.markdown(tied(verdict(page, made)))
    st.download_button(
        "Save the setup sheet", partial(sheet.as_html, made), f"setup-sheet-{as_file_name(page.build.name)}.html",
        "text/html", key=f"{KEY}_save", on_click="ignore", icon=":material/print:", type="primary",
        help=words_keep.SAVE_SHEET,
    )  # fmt: skip
    st.caption(words_keep.PRINT)
    fold = st.expander("What stands on it", key=f"table_{KEY}", on_change="rerun")
    if fold.open:
        with fold:
            preview(made)
    st.warning(f"{made.cautions[0]} The other cautions stand on it.", icon=":material/warning:")


def verdict(page: Page, made: sheet.Sheet) -> str:
    """The three numbers of the day, and what the sheet is."""
    strong = {label: value for block in made.blocks if block.strong for label, value in block.rows}
    target = page.fmt.entered("speed", page.target_speed)
    return (
        f"**Line limit today:** {strong['Line limit, highest today']}. **Least rest voltage for {target}:** "
        f"{sheet_content.least_voltage(page)}. **Headroom before regen:** {strong['Headroom before regen']}. One "
        f"page for {as_markdown(page.build.name)}, {made.when}, holds these and all settings."
    )


def preview(made: sheet.Sheet) -> None:
    """The sheet's blocks and cautions, one under the other."""
    for block in made.blocks:
        st.markdown(f"**{block.title}**")
        rows = pd.DataFrame([map(as_markdown, row) for row in block.rows], columns=["", " "])
        st.table(rows, border="horizontal", hide_index=True, hide_header=True)
    st.markdown("\n".join(["**Cautions**", "", *(f"- {line}" for line in made.cautions)]))


def calibration(page: Page):
    """The speedometer's constant from the rider's own readings; None while there are none."""
    if readings.are_invented():
        return None
    return speedometer.pool(page, readings.whole(readings.readings()))


def now() -> str:
    """Date and time where the rider is."""
    try:
        zone = ZoneInfo(st.context.timezone or "")
    except (ValueError, OSError, LookupError, TypeError):
        zone = None
    moment = datetime.now(zone)
    return f"{moment.day} {moment:%B %Y, %H:%M}"
