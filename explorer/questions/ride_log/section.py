"""Ride log: read it, find its parts, fit the build to it, lay the prediction over it."""

from __future__ import annotations

from functools import partial

import numpy as np
import pandas as pd
import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.derivations import parts as why_parts
from explorer.format import tied
from explorer.frame.layout import numbers, show, show_derivation
from explorer.inputs.to_build import make_build
from explorer.page import words
from explorer.page.page import Page
from explorer.questions.ride_log import chart, results
from explorer.questions.ride_log import columns as log_columns
from explorer.questions.ride_log import source as log_source
from explorer.questions.ride_log import words as said
from explorer.questions.ride_log.demo_ride import NAME, demo_csv
from explorer.questions.ride_log.source import KEY, LARGEST_MB
from explorer.state import build_files
from explorer.state.state import current
from physics.build.fields import BuildError
from physics.fitting import build as fit_log
from physics.fitting.build import LogFit
from physics.ridelog import LogError, RideLog, write_csv

TITLE = "Does my ride log agree, and what is my bike really like?"
_TRUST = {"sprockets": "the sprockets", "tyre": "the tyre"}
_NOT_AT_FIRST = (fit_log.CHARGE,)
_USE = "use"


def draw(page: Page) -> None:
    """Choose a log; then verdict, fits, prediction, parts, columns."""
    held = log_source.source()
    if held.data is None:
        with st.container(key=f"verdict_{KEY}_empty"):
            st.markdown(
                "**Open a ride log, and the page says where bike and build differ.** It takes a table of text "
                "with at least time and speed, better also pack voltage, line current, motor speed and throttle, "
                "whatever the columns are called; or a GPX track."
            )
    _choose(held)
    if held.data is None:
        st.warning(said.CAUTION, icon=":material/warning:")
        return
    log = log_source.reading(page.build.motor.pole_pairs)
    if isinstance(log, LogError):
        st.error("This file cannot be read as a ride log:", icon=":material/error:")
        st.text(str(log))
        _columns(log)
        return
    _read(page, log)


def _choose(held) -> None:
    """The upload, the demo log, and what is held."""
    if held.data is not None:
        with st.container(horizontal=True, vertical_alignment="center", key=f"{KEY}_held"):
            st.text(held.name, width="stretch")
            st.button("Forget this log", icon=":material/delete:", on_click=held.forget, key=f"{KEY}_forget")
        if held.demo:
            st.info(said.INVENTED, icon=":material/science:")
        st.caption(said.PRIVACY)
        return
    key = f"{KEY}_upload"

    def uploaded():
        file = st.session_state.get(key)
        if file is not None:
            held.hold(file.getvalue(), file.name)

    st.file_uploader("A ride log: CSV, TSV or GPX", key=key, on_change=uploaded, max_upload_size=LARGEST_MB)
    with st.container(horizontal=True, key=f"{KEY}_demo"):
        st.button(
            "Try an invented log", icon=":material/science:", on_click=log_source.take_demo, key=f"{KEY}_take"
        )  # fmt: skip
        st.download_button(
            "Save the invented log", demo_csv, NAME, "text/csv", icon=":material/download:", on_click="ignore",
            key=f"{KEY}_download_demo",
        )  # fmt: skip
    st.caption(said.PRIVACY)


def _read(page: Page, log: RideLog) -> None:
    """Everything there is to say about a log that could be read."""
    segments = results.segments_of(log)
    trusted = st.session_state.get(f"{KEY}:trusted", "sprockets")
    fit = results.fit_of(log, segments, page.build, trusted)
    with st.container(key=f"verdict_{KEY}"):
        st.markdown(tied(f"{said.found(fit, page.fmt)} {said.cannot(fit)}"))
        st.markdown(tied(said.cut_outs(results.cut_outs_of(log, page.build), log, page.fmt)))
    show_derivation(KEY, lambda: why_parts.ride_log(fit, said.LABELS))
    if more := results.more_than_fitted(segments):
        st.caption(more)
    _fitted(page, fit, log)
    pulls = [segment for segment in segments if segment.kind == "pull"]
    if pulls:
        _prediction(page, log, pulls, fit)
    elif not log.holds("speed"):
        st.markdown("Without speed in the log there is nothing to lay a prediction over.")
    _segments(page, log, segments)
    _residuals(fit)
    _report(log)
    _columns(log)
    st.warning(said.CAUTION, icon=":material/warning:")


def _fitted(page: Page, fit: LogFit, log: RideLog) -> None:
    """The table of fitted values, and what can be done with them."""
    st.dataframe(fit_table(fit, page), hide_index=True)
    told = [item.key for item in fit.items if item.identified]
    picked = st.pills(
        "Values to use", told, selection_mode="multi", default=[key for key in told if key not in _NOT_AT_FIRST],
        format_func=said.LABELS.get, key=f"{KEY}_values_{'_'.join(told)}",
    ) or []  # fmt: skip
    inputs, sentences = results.as_inputs(fit, picked, page)
    fitted = page.inputs | inputs
    try:
        make_build(fitted)
    except BuildError as error:
        st.error(" ".join(words.faults(error)))
        return
    with st.container(horizontal=True, key=f"{KEY}_use"):
        st.button(
            "Put these into the build", icon=":material/check:", type="primary", disabled=not inputs,
            on_click=current().try_out, args=(inputs, page.inputs), key=f"{KEY}_apply",
            help="The build as it was becomes the baseline. Undo takes it back.",
        )  # fmt: skip
        st.download_button(
            "Save the fitted build", partial(build_files.as_json, {page.build.name: fitted}), "fitted_build.json",
            "application/json", icon=":material/download:", on_click="ignore", key=f"{KEY}_download_build",
        )  # fmt: skip
        st.download_button(
            "Save the "
            "cleaned log", lambda: write_csv(log), "cleaned_log.csv", "text/csv", icon=":material/download:",
            on_click="ignore", key=f"{KEY}_download_log",
        )  # fmt: skip
    for sentence in sentences:
        st.caption(sentence)
    st.caption(said.CAVEAT)


def fit_table(fit: LogFit, page: Page) -> pd.DataFrame:
    """Every fitted value with its spread, and where it comes from."""
    fmt, rows = page.fmt, []
    for item in fit.items:
        row = {
            "value": said.LABELS[item.key],
            "the log says": said.amount(item.key, item.value, fmt) if item.identified else "cannot tell",
            "the build has": said.amount(item.key, item.present, fmt),
            "standard error": "",
            "95 %": "",
            "from": said.FROM[item.key],
            "fitted by": item.loss,
            "remark": "" if item.identified else item.message,
        }
        if item.identified:
            low, high = (said.amount(item.key, bound, fmt, unit=False) for bound in item.interval)
            row["standard error"] = _error_text(item, fmt)
            row["95 %"] = f"{low} to {high}"
        rows.append(row)
    return pd.DataFrame(rows)


def _error_text(item, fmt) -> str:
    """A standard error in the value's own unit, with two digits that count."""
    if item.key == fit_log.RATIO:
        return f"{item.standard_error:.2g}"
    quantity = said._QUANTITY[item.key][0]
    size = abs(float(fmt.number(quantity, item.value + item.standard_error) - fmt.number(quantity, item.value)))
    return f"{size:.2g} {fmt.unit(quantity)}"


def _prediction(page: Page, log: RideLog, pulls, fit: LogFit) -> None:
    """One pull of the log with its prediction."""
    fmt = page.fmt

    def name(place):
        pull = pulls[place]
        return (
            f"from {fmt('time', pull.start)}: {fmt('speed', max(pull.start_speed, 0.0))} to "
            f"{fmt('speed', pull.end_speed)}"
        )

    place = 0
    if len(pulls) > 1:
        place = st.selectbox("Pull", range(len(pulls)), format_func=name, key=f"{KEY}_pull_{len(pulls)}")
    made = results.prediction(log, pulls[place], page.build, fit)
    run = made.runs
    runs = list(zip(run.time, run.speed, run.pack_voltage, run.line_current, strict=True))
    now, *fitted = made.misfits
    text = said.misfit(now, fitted[0] if fitted else None, fmt)
    show(
        f"{KEY}_pull",
        verdict=text,
        figure=chart.pull(
            log, pulls[place], runs, [found.shift for found in made.misfits],
            ["predicted: as it is", "predicted: as fitted"], fmt,
        ),
        height=chart.PULL_HEIGHT,
        alt=f"Speed, voltage and line current of one pull: the log, and what was predicted. {text}",
        note=(
            "The prediction takes charge, temperatures and throttle from the log where it has them, and starts "
            "where the speeds agree best: logger and receiver delay readings by a fraction of a second."
        ),
    )  # fmt: skip


def _segments(page: Page, log: RideLog, segments) -> None:
    """The ride with its parts, and the table to pick from."""
    if not log.holds("speed"):
        return
    fold = st.expander("Parts of the ride, and which are used", key=f"{KEY}_segments", on_change="rerun")
    if not fold.open:
        return
    with fold:
        chosen = results.chosen_of(segments)
        live_chart(
            chart.whole_ride(log, segments, chosen, page.fmt), key=f"chart_{KEY}_ride", height=chart.RIDE_HEIGHT,
            alt="Speed over the whole ride, with its pulls, coast-downs, steady stretches and standstills.",
        )  # fmt: skip
        if not segments:
            st.caption("No standstill, pull, coast-down or steady stretch was found.")
            return
        frame = segment_table(segments, chosen, page)
        key = f"{KEY}_parts_{abs(hash(frame.to_csv()))}"
        st.data_editor(
            frame, key=key, hide_index=True, disabled=[name for name in frame.columns if name != _USE],
            on_change=lambda: take_parts(st.session_state[key]["edited_rows"], segments),
            alt="Parts of the ride.",
        )  # fmt: skip
        trust = f"{KEY}_trust"
        st.session_state[trust] = st.session_state.get(f"{KEY}:trusted", "sprockets")

        def trusted():
            st.session_state[f"{KEY}:trusted"] = st.session_state[trust]

        st.segmented_control(
            "Motor speed over speed gives gear ratio over tyre radius. Trust", list(_TRUST),
            format_func=_TRUST.get, key=trust, required=True, on_change=trusted,
        )  # fmt: skip


def segment_table(segments, chosen, page: Page) -> pd.DataFrame:
    """The parts of the ride as the rider sees them."""
    fmt, unit = page.fmt, page.fmt.unit("speed")
    return pd.DataFrame(
        {
            _USE: list(chosen),
            "part": [segment.kind for segment in segments],
            "from, s": [round(segment.start, 1) for segment in segments],
            "to, s": [round(segment.end, 1) for segment in segments],
            f"from, {unit}": [round(float(fmt.number("speed", max(s.start_speed, 0.0))), 1) for s in segments],
            f"to, {unit}": [round(float(fmt.number("speed", max(s.end_speed, 0.0))), 1) for s in segments],
            "remark": [segment.note for segment in segments],
        }
    )


def take_parts(edits: dict, segments) -> None:
    """Put the rider's pick into the session."""
    left_out = log_source.source().left_out
    for row, cells in edits.items():
        if _USE in cells and 0 <= int(row) < len(segments):
            start = round(10 * segments[int(row)].start)
            (left_out.discard if cells[_USE] else left_out.add)(start)


def _residuals(fit: LogFit) -> None:
    """What the fits leave over."""
    fold = st.expander("What the fits leave over", key=f"{KEY}_residuals", on_change="rerun")
    if not fold.open:
        return
    with fold:
        shown = {
            said.FROM[item.key]: item
            for item in reversed(fit.items)
            if item.identified and item.key != fit_log.CHARGE and item.fit.residuals.size > 2
        }
        shown = dict(reversed(shown.items()))
        if not shown:
            st.caption("Nothing was fitted.")
            return
        picked = st.selectbox("Fit", list(shown), key=f"{KEY}_residual_{len(shown)}")
        item = shown[picked]
        live_chart(
            chart.residuals(item.time, item.fit.residuals, f"left over, {item.unit}", picked),
            key=f"chart_{KEY}_residuals", height=chart.RESIDUAL_HEIGHT,
            alt=f"What the fit from {picked} leaves over, against time.",
        )  # fmt: skip
        spread = float(np.sqrt(np.mean(item.fit.residuals**2)))
        st.caption(
            f"{item.fit.n} readings, worth {item.fit.effective_n:.0f} independent ones; {spread:.3g} {item.unit} "
            f"left over (root mean square). The fit makes least: {item.loss}."
        )


def _report(log: RideLog) -> None:
    """What was left out and noticed while reading."""
    sentences = log.report.sentences()
    noticed = len(sentences) - 1
    label = "What was noticed while reading it" if noticed else "All of it could be read"
    fold = st.expander(label, key=f"{KEY}_report", on_change="rerun", expanded=False)
    if fold.open:
        with fold:
            for sentence in sentences[:60]:
                st.text(sentence)


def _columns(log: RideLog | LogError) -> None:
    """The columns and what each is taken for."""
    fold = st.expander(
        "Columns and units", key=f"{KEY}_columns", on_change="rerun", expanded=isinstance(log, LogError)
    )
    if fold.open:
        with fold:
            log_columns.edit(log)
            if isinstance(log, RideLog):
                numbers(f"{KEY}_rows", lambda: log.frame.head(200), "The first rows, in SI units")
