"""Headroom: the order of the page, and nothing else. Start it with `streamlit run explorer/app.py`."""

import os
import sys

if (top := os.path.dirname(os.path.dirname(os.path.abspath(__file__)))) not in sys.path:  # runs at every change
    sys.path.insert(0, top)

import streamlit as st

from explorer import answer, beside, following, inputs, keep, state
from explorer.live_chart import preload
from explorer.sections import find, fold

answer.set_up()
preload()
following.start()

remembered = state.current()
with beside.undisturbed():
    with st.sidebar:
        keep.switch(remembered)
        inputs.side(remembered)
        keep.keep_and_share(remembered)
    state.write_link(remembered)
    answer.masthead(remembered)
page = answer.page(remembered)
with beside.undisturbed():
    answer.verdict(page)
    find("run").draw(page)
    answer.compare(remembered, page)
    answer.section_heading("What the pack does under load")
    find("sag").draw(page)
    fold.draw_folded(page)
    answer.foot()
    following.end(page)
beside.keep_for_good()
