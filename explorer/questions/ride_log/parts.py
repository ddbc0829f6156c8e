"""The parts of the ride: drawn over it, and a table in which the rider picks those that are used."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.page.page import Page
from explorer.questions.ride_log import chart, words
from explorer.questions.ride_log.results import chosen_of
from explorer.questions.ride_log.source import KEY, source
from physics.ridelog.reader import RideLog
from physics.ridelog.segments import Segment
from physics.ridelog.track import Track

_KEPT = f"{KEY}:trusted"


def trusted() -> str:
    """Which of sprockets and tyre the rider is sure of."""
    return st.session_state.get(_KEPT, "sprockets")


def edit(page: Page, log: RideLog, segments: Sequence[Segment], track: Track | None) -> None:
    """The ride with its parts, its speeds, and the table to pick from; folded away where the log says more."""
    if track is None:
        return
    unfolded = not log.holds("line_current")
    expander = st.expander(words.PARTS, key=f"{KEY}_segments", on_change="rerun", expanded=unfolded)
    if not expander.open:
        return
    with expander:
        chosen = chosen_of(segments)
        live_chart(
            chart.whole_ride(log, segments, chosen, page.fmt),
            key=f"chart_{KEY}_ride",
            height=chart.RIDE_HEIGHT,
            alt=words.RIDE_ALT,
        )
        live_chart(
            chart.speeds(track, page.fmt),
            key=f"chart_{KEY}_speeds",
            height=chart.SPEEDS_HEIGHT,
            alt=words.speeds_alt(track, page.fmt),
        )
        if not segments:
            st.caption(words.NO_PARTS)
            return
        frame = words.parts_table(segments, chosen, page.fmt)
        key = f"{KEY}_parts_{abs(hash(frame.to_csv()))}"
        st.data_editor(
            frame,
            key=key,
            hide_index=True,
            disabled=[name for name in frame.columns if name != words.USE],
            on_change=lambda: take(st.session_state[key]["edited_rows"], segments),
            alt=words.PARTS_ALT,
        )
        _choose_trusted()


def _choose_trusted() -> None:
    key = f"{KEY}_trust"
    st.session_state[key] = trusted()

    def chosen() -> None:
        st.session_state[_KEPT] = st.session_state[key]

    st.segmented_control(
        words.TRUST,
        list(words.TRUSTED),
        format_func=words.TRUSTED.__getitem__,
        key=key,
        required=True,
        on_change=chosen,
    )


def take(edits: dict[int, dict[str, Any]], segments: Sequence[Segment]) -> None:
    """Put the rider's pick into the session.

    Parameters
    ----------
    edits : dict
        Row to column to value, as the table gives them.
    segments : sequence of Segment
        The rows.
    """
    left_out = source().left_out
    for row, cells in edits.items():
        if words.USE in cells and 0 <= int(row) < len(segments):
            start = round(10 * segments[int(row)].start)
            (left_out.discard if cells[words.USE] else left_out.add)(start)
