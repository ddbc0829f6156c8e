"""Several rides: those to be fitted, the trend of what they say, and what an older pack will need in the cold."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from typing import Any

import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.frame.background_job import watch
from explorer.frame.layout import say, show_derivation, warn
from explorer.frame.prose import prose
from explorer.page.page import Page
from explorer.page.words import faults
from explorer.questions.ride_log import rides as all_rides
from explorer.questions.ride_log.over_time import chart, results, words
from explorer.questions.ride_log.over_time.results import KEY, Wish
from explorer.questions.ride_log.over_time.ride_file import EARLIEST, LATEST, RideEntry, as_json
from explorer.questions.ride_log.over_time.trends import counting, trend_of
from explorer.questions.ride_log.rides import HeldRide
from explorer.state.names import as_markdown
from physics.build.fields import BuildError
from physics.fitting.trend import TooFewError, Trend
from physics.ridelog import RideLog

COLDEST_TO_WARMEST = (253.15, 323.15)
"""K, of the days that may be entered."""
BOX = 170
"""Pixels, the width of a box for a date or a temperature."""


def draw(page: Page) -> None:
    """A fold; it computes nothing until it is opened."""
    expander = st.expander(words.TITLE, key=f"fold_{KEY}", on_change="rerun")
    if expander.open:
        with expander:
            _unfolded(page)


def _unfolded(page: Page) -> None:
    job = results.fitting(page)
    held = results.kept()
    if held.entries:
        _trend(page, held)
        _table(page, held)
    else:
        say(KEY, words.WHAT_IT_TAKES)
    for sentence in held.sentences:
        st.warning(as_markdown(sentence), icon=":material/info:")
    if job is not None:
        watch(job, KEY, words.FITTING, stops=len(held.asked) > 1)
    else:
        waiting, unread = results.waiting(page)
        for ride, error in unread:
            st.warning(as_markdown(f"{ride.name}: {error}"), icon=":material/info:")
        if waiting:
            _staged(page, waiting)
    all_rides.upload(KEY, words.UPLOAD, results.opened)
    _buttons(page, held)


def _trend(page: Page, held: results.Kept) -> None:
    """The verdict, the chart and the look ahead for one value."""
    place = f"{KEY}_value"
    st.session_state.setdefault(place, "resistance")
    name = (
        st.segmented_control(
            words.VALUE, list(words.NAMES), format_func=words.NAMES.__getitem__, key=place, required=True
        )
        or "resistance"
    )
    used = [ride for ride in held.entries if ride not in held.unused]
    counted = counting(used, page.build, name)
    found: Trend | None = None
    try:
        found = trend_of(counted, name)
        text = words.verdict(name, found, counted, page.fmt) + words.season(counted, page.fmt)
    except TooFewError:
        text = words.too_few(name, counted)
    tells = [ride for ride in used if getattr(ride.says, name) is not None]
    text += words.left_out(tells, counted)
    say(f"{KEY}_trend", text)
    if found is not None:
        shown = found
        show_derivation(KEY, lambda: words.derivation(name, shown, counted))
    shown_too = [ride for ride in held.entries if ride not in counted and getattr(ride.says, name) is not None]
    if counted or shown_too:
        until = float(_until(held).toordinal()) if name == "resistance" else None
        live_chart(
            chart.figure(counted, shown_too, name, found, until, page.fmt),
            key=f"chart_{KEY}",
            height=chart.HEIGHT,
            alt=words.chart_alt(name, text),
        )
    st.caption(prose(words.CAPACITY_NOTE if name == "capacity_ah" else words.NOTE))
    if name == "resistance" and found is not None:
        _ahead(page, held, counted, found)
    warn(words.CAUTION)


def _temperature_box(page: Page, label: str, key: str, kelvin: float, changed: Callable[[], None]) -> None:
    """A day's temperature in the rider's unit, from `COLDEST_TO_WARMEST`."""
    low, high, now = (round(float(page.fmt.number("temperature", one)), 1) for one in (*COLDEST_TO_WARMEST, kelvin))
    st.session_state[key] = min(max(now, low), high)
    st.number_input(
        f"{label}, {page.fmt.unit('temperature')}",
        key=key,
        min_value=low,
        max_value=high,
        step=1.0,
        format="%.0f",
        on_change=changed,
        width=BOX,
    )


def _kelvin(page: Page, key: str) -> float:
    """What was entered in a temperature box."""
    return float(page.fmt.si("temperature", st.session_state[key]))


def _until(held: results.Kept) -> datetime.date:
    last = max(ride.date for ride in held.entries)
    until = held.until or last + datetime.timedelta(days=results.YEAR)
    return min(max(until, last), _latest(held))


def _latest(held: results.Kept) -> datetime.date:
    """As far ahead as may be asked."""
    return max(ride.date for ride in held.entries) + datetime.timedelta(days=5 * results.YEAR)


def _ahead(page: Page, held: results.Kept, counted: Sequence[RideEntry], found: Trend) -> None:
    """The day and its temperature, and from what voltage the target is then reached."""
    when, cold = f"{KEY}_until", f"{KEY}_cold"
    last = max(ride.date for ride in held.entries)
    st.session_state[when] = _until(held)

    def chosen() -> None:
        if isinstance(day := st.session_state[when], datetime.date):
            held.until = day
        held.cold = _kelvin(page, cold)

    with st.container(horizontal=True, key=f"{KEY}_day"):
        st.date_input(
            words.UNTIL,
            key=when,
            min_value=last,
            max_value=_latest(held),
            on_change=chosen,
            width=BOX,
        )
        _temperature_box(page, words.AT, cold, held.cold, chosen)
    job = results.cold_day(page, counted, found, st.session_state[when], held.cold)
    if not job.ended:
        watch(job, results.AHEAD_JOB, words.LOOKING, stops=False)
    elif isinstance(job.error, BuildError):
        st.caption(" ".join(faults(job.error)))
    elif isinstance(job.error, ValueError):
        st.caption(str(job.error))
    elif job.error is not None:
        raise job.error
    elif job.result is not None:
        text = words.ahead(job.result, found, st.session_state[when], held.cold, page.target_speed, page.fmt)
        say(f"{KEY}_ahead", text)


def _table(page: Page, held: results.Kept) -> None:
    """The rides; date, name and use can be changed."""
    frame = words.table(held.entries, [ride not in held.unused for ride in held.entries], page.fmt)
    key = f"{KEY}_rides_{abs(hash(frame.to_csv()))}"
    st.data_editor(
        frame,
        key=key,
        hide_index=True,
        disabled=[name for name in frame.columns if name not in (words.USE, words.WHEN, words.RIDE)],
        column_config={
            words.WHEN: st.column_config.DateColumn(
                required=True, min_value=EARLIEST, max_value=LATEST, format="YYYY-MM-DD"
            )
        },
        on_change=lambda: take(st.session_state[key]["edited_rows"], held),
        alt=words.TABLE_ALT,
    )


def take(edits: dict[Any, dict[str, Any]], held: results.Kept) -> None:
    """Put what was entered into the rides.

    Parameters
    ----------
    edits : dict
        Row to column to value, as the table gives them.
    held : Kept
        The rides, in the order of the rows.
    """
    rows = list(held.entries)
    for row, cells in edits.items():
        if not 0 <= int(row) < len(rows):
            continue
        ride = rows[int(row)]
        if words.USE in cells:
            held.unused = held.unused - {ride} if cells[words.USE] else held.unused | {ride}
        changes: dict[str, Any] = {}
        if words.WHEN in cells and (day := _day(cells[words.WHEN])) is not None:
            changes["date"] = day
        if words.RIDE in cells and (label := results.label_of(cells[words.RIDE])):
            changes["label"] = label
        if changes:
            held.change(ride, **changes)


def _day(text: Any) -> datetime.date | None:
    """The date a cell of the table holds, if any that is accepted."""
    try:
        day = datetime.date.fromisoformat(str(text)[:10])
    except ValueError:
        return None
    return day if EARLIEST <= day <= LATEST else None


def _staged(page: Page, waiting: Sequence[tuple[HeldRide, RideLog, Wish]]) -> None:
    """The files that wait, each with its date and temperature."""
    with st.container(border=True, key=f"{KEY}_staged"):
        st.markdown(words.staged_note(len(waiting)))
        for ride, _, wish in waiting:
            _wish(page, ride, wish)
        ready = [(ride, wish) for ride, _, wish in waiting if wish.date is not None]
        st.button(
            words.FIT,
            icon=":material/ssid_chart:",
            type="primary",
            disabled=not ready,
            on_click=results.fit_all,
            args=(ready,),
            key=f"{KEY}_fit",
        )
        if len(ready) < len(waiting):
            st.caption(words.NO_DATE)
        st.caption(prose(words.STAGED))


def _wish(page: Page, ride: HeldRide, wish: Wish) -> None:
    """Date and temperature of one file."""
    when, warm = f"{KEY}_date_{ride.token}", f"{KEY}_warm_{ride.token}"
    st.session_state[when] = wish.date

    def chosen() -> None:
        day = st.session_state[when]
        wish.date = day if isinstance(day, datetime.date) else None
        wish.temperature = _kelvin(page, warm)

    with st.container(horizontal=True, vertical_alignment="bottom", key=f"{KEY}_row_{ride.token}"):
        st.text(ride.name, width="stretch")
        st.date_input(
            words.DATE,
            value=None,
            key=when,
            min_value=EARLIEST,
            max_value=LATEST,
            on_change=chosen,
            width=BOX,
        )
        _temperature_box(page, words.TEMPERATURE, warm, wish.temperature, chosen)
        st.button(
            "",
            icon=":material/close:",
            help=words.DROP,
            key=f"{KEY}_drop_{ride.token}",
            on_click=results.drop,
            args=(ride.token,),
        )


def _buttons(page: Page, held: results.Kept) -> None:
    """Save, let go, try."""
    if held.demo:
        st.info(words.INVENTED, icon=":material/science:")
    with st.container(horizontal=True, key=f"{KEY}_buttons"):
        if not held.entries:
            st.button(
                words.TAKE_DEMO,
                icon=":material/science:",
                on_click=results.take_demo,
                args=(page.build,),
                key=f"{KEY}_take",
            )
            return
        st.download_button(
            words.SAVE,
            as_json(held.entries),
            "rides.json",
            "application/json",
            icon=":material/download:",
            on_click="ignore",
            key=f"{KEY}_save",
        )
        st.button(
            words.REMOVE,
            on_click=held.remove_unused,
            disabled=not held.unused,
            key=f"{KEY}_remove",
        )
        st.button(words.FORGET, icon=":material/delete:", on_click=held.forget, key=f"{KEY}_forget")
