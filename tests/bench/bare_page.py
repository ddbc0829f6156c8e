"""A page of the same widgets and charts as the real one, with no computation behind them.

Without instructions it shows two groups of sliders and four charts. The file named by the environment
variable BARE_PAGE (JSON, written by page_speed.py) makes it a copy of a page as the browser shows it:

    groups: list of numbers of sliders;  figures: list of {height, moving, figure};  widgets: {kind: number}
"""

import copy
import json
import os
import sys
from pathlib import Path

if (top := str(Path(__file__).resolve().parents[2])) not in sys.path:
    sys.path.insert(0, top)

import numpy as np
import streamlit as st

from explorer.components.live_chart import live_chart, preload
from explorer.components.live_slider import Slider, live_sliders


def built_in():
    """The page where nobody says otherwise."""
    time = np.linspace(0, 20, 400).tolist()
    waves = [[float(np.sin(t / (part + 1))) for t in time] for part in range(4)]
    axes = {"xaxis": {"title": {"text": "Time, s"}}, "yaxis": {"title": {"text": "Speed, km/h"}}}
    figures = [{"height": 260, "figure": {"data": [{"x": time, "y": wave}], "layout": axes}} for wave in waves]
    return {"groups": [4, 3], "figures": figures, "widgets": {"stMetric": 4, "stText": 1}}


@st.cache_resource
def plan():
    """What to show, with the numbers of the figures as arrays."""
    path = os.environ.get("BARE_PAGE")
    wanted = json.loads(Path(path).read_text(encoding="utf-8")) if path else built_in()
    for part in wanted["figures"]:
        for trace in part["figure"]["data"]:
            for name in ("x", "y", "z"):
                if isinstance(trace.get(name), list) and all(isinstance(v, int | float) for v in trace[name][:1]):
                    trace[name] = np.array(trace[name], dtype=float)
    return wanted


def moved(figure, amount):
    """The figure, with its numbers moved a little so that the browser has to draw it again."""
    figure = copy.copy(figure)
    figure["data"] = [dict(trace) for trace in figure["data"]]
    for trace in figure["data"]:
        name = "z" if isinstance(trace.get("z"), np.ndarray) else "y"
        if isinstance(trace.get(name), np.ndarray):
            trace[name] = trace[name] * (1 + amount)
    return figure


st.set_page_config(page_title="Bare page", layout="wide")
preload()
page = plan()
draw = {
    "stMetric": lambda n: st.metric(f"Metric {n}", f"{n} km/h"),
    "stMarkdown": lambda n: st.markdown(f"A sentence, number {n}, that says something about the chart above it."),
    "stText": lambda n: st.text(f"Text {n}"),
    "stCaptionContainer": lambda n: st.caption(f"Caption {n}"),
    "stCheckbox": lambda n: st.checkbox(f"Box {n}", key=f"box{n}"),
    "stSelectbox": lambda n: st.selectbox(f"InputSpec {n}", ["one", "two", "three"], key=f"select{n}"),
    "stButton": lambda n: st.button(f"Button {n}", key=f"button{n}"),
    "stButtonGroup": lambda n: st.segmented_control(f"Pick {n}", ["one", "two"], key=f"pick{n}"),
    "stRadio": lambda n: st.radio(f"Radio {n}", ["one", "two"], key=f"radio{n}"),
    "stTextInput": lambda n: st.text_input(f"Words {n}", key=f"words{n}"),
    "stNumberInput": lambda n: st.number_input(f"Number {n}", key=f"number{n}"),
    "stFileUploader": lambda n: st.file_uploader(f"File {n}", key=f"file{n}"),
    "stAlert": lambda n: st.info(f"Note {n}"),
    "stTable": lambda n: st.table({"name": ["a", "b"], "value": [n, n + 1]}),
    "stDataFrame": lambda n: st.dataframe({"name": ["a", "b"], "value": [n, n + 1]}, key=f"frame{n}"),
    "stExpander": lambda n: st.expander(f"Folded {n}").empty(),
}

values = {}
with st.sidebar:
    st.session_state.setdefault("follow", True)
    for number, size in enumerate(page["groups"]):
        group = [
            Slider(f"s{number}_{each}", f"Slider {number + 1}.{each + 1}", 0.0, 100.0, 0.5, unit="A", digits=1,
                   help="The current in the cable." if each == 1 else "")
            for each in range(size)
        ]  # fmt: skip
        for slider in group:
            st.session_state.setdefault(slider.key, 50.0)
        values |= live_sliders(group, key=f"group{number}")
    if st.query_params.get("controls"):
        st.button("Preset", on_click=lambda: st.session_state.update({"s0_0": 12.25, "s0_1": 80.0}))

amount = sum(values.values()) / 1e4
st.text(f"Sum {sum(values.values()):.2f}")
for kind, count in page["widgets"].items():
    for number in range(count):
        if kind in draw:
            draw[kind](number)
for number, part in enumerate(page["figures"]):
    figure = moved(part["figure"], amount if part.get("moving", True) else 0.0)
    live_chart(figure, key=f"chart{number}", height=part["height"], alt=f"Chart {number + 1}.")
