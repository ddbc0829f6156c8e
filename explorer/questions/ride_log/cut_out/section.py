"""What would have saved the pull that a cut-out ended, or where the model differs from the log."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from explorer.frame.background_job import watch
from explorer.frame.layout import say, show_derivation
from explorer.frame.offer import show_saved
from explorer.page.page import Page
from explorer.questions.ride_log.cut_out import words
from explorer.questions.ride_log.cut_out.results import Ridden, cut_outs_of, keep, ridden_of, saving_of, tried
from explorer.questions.ride_log.source import KEY, SAVING
from physics.fitting.build import LogFit
from physics.ridelog.reader import RideLog
from physics.ridelog.segments import Segment


def draw(page: Page, log: RideLog, segments: Sequence[Segment], fit: LogFit | None) -> None:
    """The log's cut-outs, and of one, the rider's choice of several, what would have saved its pull.

    Parameters
    ----------
    page : Page
        What the section is given.
    log : RideLog
        The log.
    segments : sequence of Segment
        Its parts.
    fit : LogFit or None
        What it says about the build; None while that is being worked out.
    """
    keep(None)
    cuts = cut_outs_of(log, page.build)
    pulls = () if fit is None else ridden_of(log, segments, cuts, page, fit)
    say(f"{KEY}_cut_outs", words.cut_outs(cuts, pulls, log, page.fmt))
    if not pulls:
        return
    known = [pull for pull in pulls if pull is not None]
    if not known:
        st.caption(words.NO_BEGINNING)
        return
    index = 0
    if len(known) > 1:
        index = st.selectbox(
            words.WHICH,
            range(len(known)),
            format_func=lambda row: words.choice(known[row], page.fmt),
            key=f"{KEY}_cut_out_{len(known)}",
        )
    _answer(page, known[index])


def _answer(page: Page, ridden: Ridden) -> None:
    if not ridden.replay.agrees:
        say(SAVING, words.differs(ridden, page))
        show_derivation(SAVING, lambda: words.derivation(ridden, None, page))
        return
    job, _ = saving_of(ridden, page)
    if job.error is not None:
        raise job.error
    if not job.ended:
        watch(job, SAVING, words.SEARCHING, stops=False)
    elif job.result is not None:
        found = job.result
        keep((ridden, found))
        show_saved(
            KEY,
            found,
            page,
            verdict=words.saved(ridden, found, page),
            derivation=lambda: words.derivation(ridden, found, page),
            changes=lambda one: tried(ridden, one),
            before=page.inputs | tried(ridden),
            tip=words.TRY_HELP,
        )
