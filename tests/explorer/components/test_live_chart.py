"""The chart component: what is sent to the browser, and what happens where it cannot load."""

import json

import numpy as np
import pandas as pd
import plotly.graph_objects as go
import pytest
from streamlit.testing.v1 import AppTest

from explorer.components.live_chart import pack, unpack


def sent(figure):
    return unpack(pack(figure, key="k", height=300, alt="What it shows."))


def test_head_and_figure():
    """property: what is packed comes back."""
    answer = sent({"data": [{"y": [1, 2.5]}], "layout": {"title": {"text": "A"}}})
    assert answer["key"] == "k"
    assert answer["height"] == 300
    assert answer["alt"] == "What it shows."
    assert answer["figure"] == {"data": [{"y": [1, 2.5]}], "layout": {"title": {"text": "A"}}}


@pytest.mark.parametrize("array", [np.linspace(-5, 5, 200), np.arange(200), pd.Series(np.linspace(0, 1, 99))])
def test_long_arrays_are_packed(array):
    """property: a packed array keeps seven digits (the resolution of a 32-bit float, 2**-24)."""
    y = sent({"data": [{"y": array}]})["figure"]["data"][0]["y"]
    assert y.dtype == np.float32
    np.testing.assert_allclose(y, np.asarray(array), rtol=2**-23)


def test_packed_numbers_are_short():
    """hand-worked: 3,000 numbers of 4 bytes in base 64 are 16,000 characters."""
    assert len(pack({"data": [{"y": np.linspace(0, 1, 3000)}]}, key="k", height=1, alt="a")) < 16_000 + 150


def test_two_dimensions_keep_their_shape():
    """property: rows and columns are not exchanged."""
    grid = np.arange(60.0).reshape(5, 12)
    np.testing.assert_array_equal(sent({"data": [{"z": grid}]})["figure"]["data"][0]["z"], grid)


def test_custom_data_keeps_all_digits():
    """property: customdata is printed as it stands and stays in double precision."""
    values = np.full((20, 2), 0.1)
    back = sent({"data": [{"customdata": values}]})["figure"]["data"][0]["customdata"]
    np.testing.assert_array_equal(back, values)


@pytest.mark.parametrize("gap", [np.nan, np.inf, -np.inf, np.float64("nan")])
def test_gaps_are_legal_json(gap):
    """property: JSON has no NaN and no infinity; a browser would refuse the whole figure."""
    figure = {"data": [{"y": [1.0, gap], "x": np.array([gap, 2.0])}]}
    body = pack(figure, key="k", height=1, alt="a").split(b"\n")[1]
    assert json.loads(body, parse_constant=pytest.fail)["data"][0] == {"y": [1.0, None], "x": [None, 2.0]}


def test_gaps_in_a_packed_array_stay_gaps():
    """property: NaN survives in packed numbers."""
    values = np.linspace(0, 1, 50)
    values[7] = np.nan
    assert np.isnan(sent({"data": [{"y": values}]})["figure"]["data"][0]["y"]).nonzero()[0].tolist() == [7]


def test_figure_objects_work_too():
    """property: a plotly Figure gives the same as the dict, without its template."""
    figure = go.Figure(go.Scatter(y=np.linspace(0, 1, 50), line={"color": "#08487d"}))
    answer = sent(figure)["figure"]
    assert "template" not in answer["layout"]
    assert answer["data"][0]["y"].size == 50


def test_what_a_figure_cannot_hold_is_named():
    """property: the error says what and where."""
    with pytest.raises(TypeError, match=r"cannot hold a set \(in y\)"):
        sent({"data": [{"y": {1, 2}}]})


def one_chart():
    from explorer.components.live_chart import live_chart, preload

    preload()
    live_chart({"data": [{"y": [1, 2], "line": {"color": "@blue"}}]}, key="run", height=300, alt="A line.")


def test_a_page_mounts_the_component():
    """property: the page holds one block of bytes with the figure, and no error."""
    page = AppTest.from_function(one_chart).run()
    assert not page.exception
    mounted = [part.proto for part in page.get("bidi_component") if part.proto.component_name == "live_chart"]
    assert [unpack(part.bytes)["alt"] for part in mounted] == ["A line."]


def test_a_page_falls_back_to_the_plain_chart():
    """property: after the browser has reported a failure the plain chart is drawn, colours resolved."""
    page = AppTest.from_function(one_chart)
    page.session_state["live_chart_failed"] = True
    page.run()
    assert not page.exception
    assert not page.get("bidi_component")
    figure = json.loads(page.get("plotly_chart")[0].proto.spec)
    assert figure["data"][0]["line"]["color"] == "#08487d"
