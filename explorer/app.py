"""Headroom: the order of the page, and nothing else. Start it with `streamlit run explorer/app.py`."""

import os
import sys

if (top := os.path.dirname(os.path.dirname(os.path.abspath(__file__)))) not in sys.path:  # runs at every change
    sys.path.insert(0, top)

import streamlit as st

from explorer.components.live_chart import preload
from explorer.frame import drag as following
from explorer.frame import header as answer
from explorer.frame import keep, layout
from explorer.frame import sidebar as inputs
from explorer.questions import FOLDED, run, sag
from explorer.state import state

answer.set_up()
preload()
following.start()

remembered = state.current()
with st.sidebar:
    keep.switch(remembered)
    inputs.side(remembered)
    keep.keep_and_share(remembered)
state.write_link(remembered)
answer.masthead(remembered)
page = answer.page(remembered)
answer.verdict(page)
run.draw(page)
answer.compare(remembered, page)
answer.section_heading("What the pack does under load")
sag.draw(page)
layout.draw_folded(page, FOLDED)
answer.foot()
following.end(page)
