"""Ride log: read it, find its parts, fit the build to it, lay the prediction over it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.frame.layout import numbers, show, show_derivation, warn
from explorer.frame.prose import prose, table_spelled
from explorer.inputs.to_build import make_build
from explorer.page.page import Page
from explorer.page.words import faults
from explorer.questions.ride_log import chart, columns, over_time, parts, results, two_rides, words
from explorer.questions.ride_log import source as log_source
from explorer.questions.ride_log.cut_out import section as cut_out
from explorer.questions.ride_log.source import KEY
from explorer.questions.ride_log.upload import choose
from explorer.state import build_files
from explorer.state.state import current
from physics.build.fields import BuildError
from physics.fitting import build as fit_log
from physics.fitting.build import LogFit
from physics.ridelog import LogError, RideLog, write_csv
from physics.ridelog.segments import Segment

TITLE = "Does my ride log agree, and what is my bike really like?"
_NOT_AT_FIRST = (fit_log.CHARGE,)
_MOST_SENTENCES, _MOST_ROWS = 60, 200


def draw(page: Page) -> None:
    """One ride, then several."""
    _one_ride(page)
    over_time.draw(page)
    two_rides.draw(page)


def _one_ride(page: Page) -> None:
    """Choose a log; then verdict, fits, prediction, parts, columns."""
    source = log_source.source()
    if source.data is None:
        with st.container(key=f"verdict_{KEY}_empty"):
            st.markdown(words.WHAT_IT_TAKES)
    choose(source)
    if source.data is None:
        warn(words.CAUTION)
        return
    log = log_source.reading(page.build.motor.pole_pairs)
    if isinstance(log, LogError):
        st.error(words.UNREADABLE, icon=":material/error:")
        st.text(str(log))
        _columns(log)
    else:
        _read(page, log)


def _read(page: Page, log: RideLog) -> None:
    """Everything there is to say about a log that could be read."""
    segments = results.segments_of(log)
    fit = results.fit_of(log, segments, page.build, parts.trusted())
    track = results.track_of(log)
    with st.container(key=f"verdict_{KEY}"):
        if track is not None:
            st.markdown(prose(words.ridden(track, segments, page.fmt)))
        if fit is not None:
            st.markdown(prose(f"{words.verdict(fit, page.fmt)} {words.cannot(fit)}"))
    if fit is not None:
        show_derivation(KEY, lambda: words.derivation(fit))
    cut_out.draw(page, log, segments, fit)
    if fit is not None:
        _found(page, fit, log, segments)
    if not log.holds("speed"):
        st.markdown(words.NO_SPEED)
    parts.edit(page, log, segments, track)
    if fit is not None:
        _residuals(fit)
    _report(log)
    _columns(log)
    warn(words.CAUTION)


def _found(page: Page, fit: LogFit, log: RideLog, segments: Sequence[Segment]) -> None:
    """What the fits say, in a table, and laid over a pull."""
    if log_source.source().ridden != page.build:
        with st.container(horizontal=True, vertical_alignment="center", key=f"{KEY}_ridden"):
            st.caption(prose(words.RIDDEN), width="stretch")
            st.button(words.FIT_AGAIN, on_click=log_source.fit_again, key=f"{KEY}_again")
    if not _says_how_hard(log) and any(segment.kind == "coast-down" for segment in segments):
        st.caption(words.UNSURE_COAST)
    if more := words.widest_only(results.more_than_fitted(segments)):
        st.caption(more)
    _fitted(page, fit, log)
    if pulls := [segment for segment in segments if segment.kind == "pull"]:
        _prediction(page, log, pulls, fit)


def _fitted(page: Page, fit: LogFit, log: RideLog) -> None:
    """The table of fitted values, and what can be done with them."""
    st.dataframe(table_spelled(words.fit_table(fit, page.fmt)), hide_index=True)
    identified = [item.key for item in fit.items if item.identified]
    picked = st.pills(
        words.TO_USE,
        identified,
        selection_mode="multi",
        default=[key for key in identified if key not in _NOT_AT_FIRST],
        format_func=words.LABELS.__getitem__,
        key=f"{KEY}_values_{'_'.join(identified)}",
    )
    inputs, sentences = results.as_inputs(fit, picked or [], page)
    fitted = page.inputs | inputs
    try:
        make_build(fitted)
    except BuildError as error:
        st.error(" ".join(faults(error)))
        return
    with st.container(horizontal=True, key=f"{KEY}_use"):
        st.button(
            words.APPLY,
            icon=":material/check:",
            type="primary",
            disabled=not inputs,
            on_click=current().try_out,
            args=(inputs, page.inputs),
            key=f"{KEY}_apply",
            help=words.APPLY_HELP,
        )
        st.download_button(
            words.SAVE_BUILD,
            partial(build_files.as_json, {page.build.name: fitted}),
            "fitted_build.json",
            "application/json",
            icon=":material/download:",
            on_click="ignore",
            key=f"{KEY}_download_build",
        )
        st.download_button(
            words.SAVE_LOG,
            lambda: write_csv(log),
            "cleaned_log.csv",
            "text/csv",
            icon=":material/download:",
            on_click="ignore",
            key=f"{KEY}_download_log",
        )
    for sentence in sentences:
        st.caption(prose(sentence))
    st.caption(prose(words.CAVEAT))


def _prediction(page: Page, log: RideLog, pulls: Sequence[Segment], fit: LogFit) -> None:
    """One pull of the log with its prediction."""
    index = 0
    if len(pulls) > 1:
        index = st.selectbox(
            "Pull",
            range(len(pulls)),
            format_func=lambda row: words.pull_name(pulls[row], page.fmt),
            key=f"{KEY}_pull_{len(pulls)}",
        )
    if not _says_how_hard(log):
        # Full throttle is the rider's word alone: a bicycle's ride is no slow pull of this bike.
        st.caption(words.NOT_FLAT_OUT)
        if not st.toggle(words.FLAT_OUT, key=f"{KEY}_flat_out_{log_source.source().token}_{pulls[index].first}"):
            return
    prediction = results.prediction(log, pulls[index], page.build, fit)
    run, misfits = prediction.runs, prediction.misfits
    text = words.misfit(misfits[0], misfits[1] if len(misfits) > 1 else None, page.fmt)
    show(
        f"{KEY}_pull",
        verdict=text,
        figure=chart.pull(
            log,
            pulls[index],
            [(run.time, *each) for each in zip(run.speed, run.pack_voltage, run.line_current, strict=True)],
            [misfit.shift for misfit in misfits],
            words.PREDICTED,
            page.fmt,
        ),
        height=chart.PULL_HEIGHT,
        alt=words.pull_alt(text),
        note=words.PULL_NOTE,
    )


def _says_how_hard(log: RideLog) -> bool:
    """Whether the log tells how hard the bike was ridden."""
    return log.holds("line_current") or log.holds("throttle")


def _residuals(fit: LogFit) -> None:
    """What the fits leave over."""
    expander = st.expander(words.LEFT_OVER, key=f"{KEY}_residuals", on_change="rerun")
    if not expander.open:
        return
    with expander:
        fits = words.with_residuals(fit)
        if not fits:
            st.caption(words.NO_FIT)
            return
        picked = st.selectbox("Fit", list(fits), key=f"{KEY}_residual_{len(fits)}")
        item = fits[picked]
        live_chart(
            chart.residuals(item.time, item.fit.residuals, words.residuals_title(item), picked),
            key=f"chart_{KEY}_residuals",
            height=chart.RESIDUAL_HEIGHT,
            alt=words.residuals_alt(picked),
        )
        st.caption(prose(words.residuals_note(item)))


def _report(log: RideLog) -> None:
    """What was left out and noticed while reading."""
    sentences = log.report.sentences()
    label = words.NOTICED if len(sentences) > 1 else words.ALL_READ
    expander = st.expander(label, key=f"{KEY}_report", on_change="rerun", expanded=False)
    if expander.open:
        with expander:
            for sentence in sentences[:_MOST_SENTENCES]:
                st.text(sentence)


def _columns(log: RideLog | LogError) -> None:
    """The columns and what each is taken for."""
    unreadable = isinstance(log, LogError)
    expander = st.expander(words.COLUMNS, key=f"{KEY}_columns", on_change="rerun", expanded=unreadable)
    if expander.open:
        with expander:
            columns.edit(log)
            if isinstance(log, RideLog):
                numbers(f"{KEY}_rows", lambda: log.frame.head(_MOST_ROWS), words.FIRST_ROWS)
