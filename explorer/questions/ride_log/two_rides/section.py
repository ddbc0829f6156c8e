"""Two rides of the session: which, from where, and both on one chart."""

from __future__ import annotations

import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.frame.layout import say, show_derivation
from explorer.frame.prose import prose
from explorer.page.page import Page
from explorer.questions.ride_log import rides
from explorer.questions.ride_log.demo_ride import COLD_NAME, NAME, demo_csv
from explorer.questions.ride_log.source import KEY as LOG
from explorer.questions.ride_log.two_rides import chart, words
from explorer.state.names import as_chart_text, as_markdown
from explorer.state.state import current
from physics.ridelog import RideLog
from physics.ridelog.segments import Segment, find_segments
from physics.ridelog.side_by_side import course_of, side_by_side, starts_of

KEY = f"{LOG}_two_rides"
AFTER = 3.0
"""s shown beyond the longer pull."""


def draw(page: Page) -> None:
    """A fold; it computes nothing until it is opened."""
    expander = st.expander(words.TITLE, key=f"fold_{KEY}", on_change="rerun")
    if expander.open:
        with expander:
            _unfolded(page)


def _unfolded(page: Page) -> None:
    found = {}
    for ride in rides.held():
        log = rides.log_of(ride, page.build.motor.pole_pairs)
        if isinstance(log, RideLog) and log.holds("speed"):
            found[ride.token] = (ride.name, log)
    if len(found) < 2:
        say(KEY, words.WHAT_IT_TAKES)
        if rides.held() and not found:
            st.caption(words.NO_SPEED)
    else:
        _compare(page, found)
    rides.upload(KEY, words.UPLOAD)
    if len(found) < 2:
        st.button(words.TAKE_DEMO, icon=":material/science:", on_click=take_demo, key=f"{KEY}_take")


def take_demo() -> None:
    """Hold the invented ride and the same on a cold day."""
    preset = current().preset
    rides.add(NAME, demo_csv(preset))
    rides.add(COLD_NAME, demo_csv(preset, cold=True))


def _compare(page: Page, found: dict[str, tuple[str, RideLog]]) -> None:
    (one, first, pull), (two, second, other) = (
        _ride(page, found, place, label) for place, label in enumerate((words.FIRST, words.SECOND))
    )
    logs, from_pulls = (first, second), (pull, other)
    starts_at = starts_of(logs, from_pulls)
    ends = [float("inf") if part is None else part.end for part in from_pulls]
    compared = side_by_side(
        *(course_of(log, start, end) for log, start, end in zip(logs, starts_at, ends, strict=True))
    )
    if compared is None:
        st.caption(words.NO_WAY)
        return
    text = words.verdict(compared, (as_markdown(one), as_markdown(two)), page.fmt)
    say(f"{KEY}_verdict", text)
    show_derivation(KEY, lambda: words.derivation(compared))
    along = st.segmented_control(
        words.ALONG, list(words.VIEWS), format_func=words.VIEWS.__getitem__, key=f"{KEY}_along", default="time"
    )
    longest = max(end - start for end, start in zip(ends, starts_at, strict=True)) + AFTER
    shown = [course_of(log, start, start + longest) for log, start in zip(logs, starts_at, strict=True)]
    live_chart(
        chart.figure(shown, _told_apart(as_chart_text(one), as_chart_text(two)), along or "time", page.fmt),
        key=f"chart_{KEY}",
        height=chart.HEIGHT,
        alt=words.chart_alt(text),
    )
    st.caption(prose(words.note(None not in from_pulls, page.fmt)))


def _ride(
    page: Page, found: dict[str, tuple[str, RideLog]], place: int, label: str
) -> tuple[str, RideLog, Segment | None]:
    """Name and log of the ride that is chosen, and the pull from which it counts."""
    tokens = list(found)
    with st.container(horizontal=True, key=f"{KEY}_ride_{place}"):
        token = st.selectbox(
            label,
            tokens,
            index=place,
            format_func=lambda token: found[token][0],
            key=f"{KEY}_which_{place}_{len(tokens)}",
        )
        name, log = found[token]
        starts = [*(part for part in _parts(token, log) if part.kind == "pull"), None]

        def named(row: int) -> str:
            return words.start_name(starts[row], page.fmt)

        row = st.selectbox(words.FROM, range(len(starts)), format_func=named, key=f"{KEY}_from_{place}_{token}")
    return name, log, starts[row or 0]


def _parts(token: str, log: RideLog) -> tuple[Segment, ...]:
    """The parts of a ride, found once for each log that is read."""
    memo = st.session_state.setdefault(f"{KEY}:parts", {})
    if token not in memo or memo[token][0] is not log:
        memo[token] = (log, find_segments(log))
    return memo[token][1]


def _told_apart(one: str, two: str) -> tuple[str, str]:
    """Names for the legend, which takes two of one name for one."""
    return (one, two) if one != two else (f"{one} (1)", f"{two} (2)")
