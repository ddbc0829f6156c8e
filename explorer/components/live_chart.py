"""A Plotly chart that redraws in place: no blank flash, and the rider's zoom is kept.

The figure travels as one block of bytes (a line with key, height and alt text, then the figure as
JSON with its numbers as packed 32-bit floats) to a script that calls ``Plotly.react``. That script,
from ``explorer/web``, and plotly.js, from the installed ``plotly`` package, are fetched once for all
charts of the page; what each chart brings along only says where they are. Colours are tokens of
:mod:`explorer.components.palette`, resolved in the browser, so that a change of theme needs no rerun.

Where the component cannot be registered or its script cannot load, the same figure is drawn by
``st.plotly_chart``.
"""

from __future__ import annotations

import base64
import json
import math
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import streamlit as st

from explorer.components import palette

_HERE = Path(__file__).parent
_PLOTLY, _WEB = "headroom.plotly", "headroom.web"
_FAILED = "live_chart_failed"
_PACK_FROM = 16
"""Arrays shorter than this are as short in plain text."""


def live_chart(figure: Any, *, key: str, height: int, alt: str, packed: bytes | None = None) -> None:
    """Draw a figure, or redraw it where it stands.

    Parameters
    ----------
    figure : dict or plotly.graph_objects.Figure
        A dict with ``data`` and ``layout`` is the faster of the two. It may hold numpy arrays and
        colour tokens (``"@blue"``, ``"@amber/0.3"``) and leaves background, font and size to the page.
        ``layout.uirevision`` says when a zoom is to be forgotten; by default it never is.
    key : str
        Unique on the page. Also the name of the file a rider saves.
    height : int
        Height in pixels.
    alt : str
        What the chart shows, in words, for those who cannot see it.
    packed : bytes, optional
        What `pack` makes of the same, where that is known already.

    Examples
    --------
    >>> live_chart({"data": [{"x": [0, 1], "y": [0, 2]}]}, key="run", height=300, alt="A line.")  # doctest: +SKIP
    """
    if not st.session_state.get(_FAILED):
        try:
            mount = _component()
            _serve()
        except Exception:
            st.session_state[_FAILED] = True
        else:
            mount(
                key=key,
                data=packed or pack(figure, key=key, height=height, alt=alt),
                height=height,
                on_failed_change=_fall_back,
            )
            return
    _plain_chart(figure, key=key, height=height, alt=alt)


def works() -> bool:
    """Whether charts redraw in place."""
    return not st.session_state.get(_FAILED)


def preload() -> None:
    """Make the browser fetch what charts need now, while the page still computes its first figures."""
    if st.session_state.get(_FAILED):
        return
    try:
        _serve()
        _preloader()(key="live_chart_preload", height=1)
    except Exception:
        st.session_state[_FAILED] = True


def pack(figure: Any, *, key: str, height: int, alt: str) -> bytes:
    """Return what the browser is sent: a line about the chart, then the figure, both JSON.

    Examples
    --------
    >>> pack({"data": [{"y": [1.0, float("nan")]}]}, key="a", height=9, alt="b").splitlines()[1]
    b'{"data":[{"y":[1.0,null]}]}'
    """
    if hasattr(figure, "to_plotly_json"):
        figure = figure.to_plotly_json()
        figure["layout"].pop("template", None)
    head = json.dumps({"key": key, "height": height, "alt": alt})
    body = json.dumps(_plain(figure), separators=(",", ":"), allow_nan=False)
    return f"{head}\n{body}".encode()


def unpack(data: bytes) -> dict[str, Any]:
    """Read back what :func:`pack` wrote: key, height, alt, and the figure with its arrays.

    Examples
    --------
    >>> unpack(pack({"data": []}, key="a", height=9, alt="b"))["figure"]
    {'data': []}
    """
    head, body = data.decode().split("\n", 1)
    return {**json.loads(head), "figure": _with_arrays(json.loads(body))}


def _plain(part: Any, name: str = "") -> Any:
    """Return a figure's part with nothing in it that JSON cannot hold."""
    if isinstance(part, dict):
        return {str(inner): _plain(value, str(inner)) for inner, value in part.items()}
    if isinstance(part, str | bool | int) or part is None:
        return part
    if isinstance(part, float):
        return float(part) if math.isfinite(part) else None
    if isinstance(part, np.ndarray):
        return _plain_array(part, name)
    if isinstance(part, list | tuple):
        return [_plain(value, name) for value in part]
    if hasattr(part, "to_plotly_json"):
        return _plain(part.to_plotly_json(), name)
    if hasattr(part, "to_numpy"):
        return _plain_array(part.to_numpy(), name)
    if isinstance(part, np.generic):
        return _plain(part.item(), name)
    raise TypeError(f"A figure cannot hold a {type(part).__name__} (in {name or 'its top level'}).")


def _plain_array(array: np.ndarray, name: str) -> Any:
    """Return an array as packed numbers, or as a list where it is short or holds text.

    Drawing needs no more than the seven digits of a 32-bit float; ``customdata`` is printed as it is
    and keeps all of its digits.
    """
    if array.dtype.kind not in "fiu" or array.size < _PACK_FROM or array.ndim > 2:
        return _plain(array.tolist(), name)
    kind = "f8" if name == "customdata" else "f4"
    packed = np.ascontiguousarray(array, dtype="<" + kind)
    spec = {"dtype": kind, "bdata": base64.b64encode(packed.tobytes()).decode()}
    if array.ndim == 2:
        spec["shape"] = f"{array.shape[0]}, {array.shape[1]}"
    return spec


def _with_arrays(part: Any) -> Any:
    if isinstance(part, dict) and "bdata" in part:
        array = np.frombuffer(base64.b64decode(part["bdata"]), dtype="<" + part["dtype"])
        shape = part.get("shape")
        return array.reshape([int(size) for size in shape.split(",")]) if shape else array
    if isinstance(part, dict):
        return {name: _with_arrays(value) for name, value in part.items()}
    if isinstance(part, list):
        return [_with_arrays(value) for value in part]
    return part


_LOADER = """
let draw;
try {
  const { begin } = await import(new URL(SCRIPT, document.baseURI).href);
  draw = begin(PALETTE, PLOTLY);
} catch (error) {
  console.error(error);
  draw = ({ setStateValue }) => setStateValue("failed", true);
}
"""


@cache
def _loader() -> str:
    colours = {"light": palette.LIGHT, "dark": palette.DARK, "series": palette.SERIES}
    constants = {
        "SCRIPT": _address(_WEB, "live_chart.js"),
        "PLOTLY": _address(_PLOTLY, "plotly.min.js"),
        "PALETTE": colours,
    }
    return "".join(f"const {name} = {json.dumps(value)};\n" for name, value in constants.items()) + _LOADER


@cache
def _component() -> Any:
    style = (_HERE / "live_chart.css").read_text(encoding="utf-8")
    script = _loader() + "export default draw;\n"
    return st.components.v2.component("live_chart", js=script, css=style, isolate_styles=False)


@cache
def _preloader() -> Any:
    script = _loader() + "export default function () {}\n"
    return st.components.v2.component("live_chart_preload", js=script, isolate_styles=False)


def _address(component: str, file: str) -> str:
    return f"_stcore/bidi-components/{component}/{file}"


def _serve() -> None:
    """Let the running server hand out the charts' script, and plotly.js of the installed plotly package."""
    import plotly
    from streamlit.components.v2.manifest_scanner import ComponentConfig, ComponentManifest
    from streamlit.runtime import Runtime

    manager = Runtime.instance().bidi_component_registry
    for component, root, folder, file in (
        (_PLOTLY, Path(plotly.__file__).parent, "package_data", "plotly.min.js"),
        (_WEB, _HERE, "web", "live_chart.js"),
    ):
        if manager.get_component_path(component):
            continue
        package, name = component.split(".")
        parts = [ComponentConfig(name=name, asset_dir=folder)]
        manager.register_from_manifest(ComponentManifest(package, "1", parts), root)
        if not (Path(manager.get_component_path(component) or "") / file).is_file():
            raise FileNotFoundError(f"{root.name} holds no {file}.")


def _fall_back() -> None:
    st.session_state[_FAILED] = True


def _plain_chart(figure: Any, *, key: str, height: int, alt: str) -> None:
    import plotly.graph_objects as go

    if hasattr(figure, "to_plotly_json"):
        figure = figure.to_plotly_json()
    figure = palette.resolve(figure, dark=st.context.theme.type == "dark")
    st.plotly_chart(
        go.Figure(figure),
        key=key + "_plain",
        height=height,
        alt=alt,
        config={"displaylogo": False, "showSendToCloud": False},
    )
