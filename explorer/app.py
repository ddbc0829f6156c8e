"""Headroom: the order of the page, and nothing else. Start it with `streamlit run explorer/app.py`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import streamlit as st  # noqa: E402

from explorer import answer, inputs, state  # noqa: E402
from explorer.live_chart import preload  # noqa: E402
from explorer.sections import find, fold  # noqa: E402

st.set_page_config(page_title="Headroom", page_icon=":material/electric_moped:", layout="wide")
answer.style()
preload()

remembered = state.current()
with st.sidebar:
    inputs.side(remembered)
state.write_link(remembered)

answer.masthead(remembered)
page = answer.page(remembered)
if page is not None:
    answer.verdict(page)
    find("run").draw(page)
    answer.compare(remembered, page)
    answer.section_heading("What the pack does under load")
    find("sag").draw(page)
    fold.draw_folded(page)
answer.foot()
