"""The setup sheet for the garage: what it says, and the files to print."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from zoneinfo import ZoneInfo

import pandas as pd
import streamlit as st

from explorer.frame.layout import say, warn
from explorer.frame.prose import prose
from explorer.page.page import Page
from explorer.questions.ride_log.cut_out.results import kept
from explorer.questions.ride_log.cut_out.words import on_the_sheet
from explorer.questions.setup_sheet import sticker, strip, words
from explorer.questions.setup_sheet.sheet import Sheet, as_html
from explorer.questions.speedometer import readings
from explorer.questions.speedometer.results import pool
from explorer.state.names import as_file_name, as_markdown
from explorer.state.readings import are_invented, complete
from explorer.state.share_link import address
from explorer.state.state import current
from physics.studies.speedometer import PooledCalibration

TITLE = "What do I set today? Setup sheet and tank sticker"
KEY = "setup_sheet"


def draw(page: Page) -> None:
    """Verdict, the file to print, and what stands on it."""
    state, now_here = current(), now()
    link = address(state.link(alone=True), st.context.url)
    # all of it takes as long as ten sections, so it is put together when somebody wants it
    gather = partial(words.gather, page, now_here, link, calibration(page), state.phase_as, cut_out(page))
    with st.spinner(words.WRITING):
        say(KEY, words.verdict(page, now_here))
    st.download_button(
        words.SAVE,
        lambda: as_html(gather()),
        f"setup-sheet-{as_file_name(page.build.name)}.html",
        "text/html",
        key=f"{KEY}_save",
        on_click="ignore",
        icon=":material/print:",
        type="primary",
        help=words.SAVE_HELP,
    )
    st.download_button(
        strip.SAVE,
        lambda: sticker.as_html(strip.gather(page, now_here)),
        f"tank-sticker-{as_file_name(page.build.name)}.html",
        "text/html",
        key=f"{KEY}_sticker",
        on_click="ignore",
        icon=":material/content_cut:",
        help=strip.SAVE_HELP,
    )
    st.caption(words.PRINT)
    expander = st.expander(words.WHAT_STANDS, key=f"table_{KEY}", on_change="rerun")
    if expander.open:
        with expander:
            preview(gather())
    warn(words.CAUTION)


def preview(sheet: Sheet) -> None:
    """The sheet's blocks and cautions, one under the other."""
    for block in sheet.blocks:
        st.markdown(f"**{block.title}**")
        rows = pd.DataFrame([map(as_markdown, row) for row in block.rows], columns=["", " "])
        st.table(rows, border="horizontal", hide_index=True, hide_header=True)
    st.markdown(prose("\n".join(["**Cautions**", "", *(f"- {line}" for line in sheet.cautions)])))


def calibration(page: Page) -> PooledCalibration | None:
    """The speedometer's constant from the rider's own readings; None while there are none."""
    rows = readings.readings()
    return None if are_invented(rows) else pool(page, complete(rows))


def cut_out(page: Page) -> str:
    """The cut-out in the ride log that is open, in a line; empty where nothing was found of it."""
    found = kept()
    return "" if found is None else on_the_sheet(*found, page.fmt)


def now() -> str:
    """Date and time where the rider is."""
    try:
        zone = ZoneInfo(st.context.timezone or "")
    except (ValueError, OSError, LookupError, TypeError):
        zone = None
    today = datetime.now(zone)
    return f"{today.day} {today:%B %Y, %H:%M}"
