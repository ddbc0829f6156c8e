"""Measure how long a slider move takes until every chart is drawn again, against a page without computation.

Run from the top folder: ``python -m tests.bench.page_speed``. The real page is opened as the README says and
its widgets and figures are counted and copied; the bare page shows the same ones with nothing behind
them. Both are timed in the same browser: from the key press to the last redrawn chart, and from opening
the address to the first chart. The slider moves to values that no session has seen, and back to those. The
pages take turns, so that a busy machine slows both.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.figures import Figure
from tests.browser import helpers

COPIED = (
    "stMetric", "stMarkdown", "stText", "stCaptionContainer", "stCheckbox", "stSelectbox", "stButton",
    "stButtonGroup", "stRadio", "stTextInput", "stNumberInput", "stFileUploader", "stAlert", "stTable",
    "stDataFrame", "stExpander",
)  # fmt: skip

COUNT = """kinds => {
  const groups = [...document.querySelectorAll("[data-testid=stBidiComponentIsolated]")]
    .map((host) => host.shadowRoot.querySelectorAll(".slider").length).filter(Boolean);
  const widgets = Object.fromEntries(kinds.map((kind) => [kind,
    document.querySelectorAll(`[data-testid=${kind}]`).length]));
  return { groups, widgets };
}"""

WAYS = {"new value": "ArrowRight", "seen before": "ArrowLeft"}
"""The slider goes from its lowest value upward, and back to values whose runs are kept."""

# Notes which charts were drawn after the last key press, and when the last of them was.
WATCH = """() => {
  window.speed = { pressed: 0, drawn: 0, keys: [] };
  addEventListener("keydown", () => Object.assign(window.speed, { pressed: performance.now(), keys: [] }), true);
  for (const chart of document.querySelectorAll(".headroom-chart")) {
    const note = () => { window.speed.drawn = performance.now(); window.speed.keys.push(chart.dataset.key); };
    new MutationObserver(note).observe(chart, { attributes: true, attributeFilter: ["data-drawn"] });
  }
}"""


def copy_of(page, moving: set[str]) -> dict:
    """What the bare page needs to show the same widgets and figures, of which the same are redrawn."""
    answer = page.evaluate(COUNT, list(COPIED))
    charts = page.locator(".headroom-chart")
    answer["figures"] = []
    for key in charts.evaluate_all("all => all.map((chart) => chart.dataset.key)"):
        shown = helpers.drawn(page, key)
        figure = {"data": shown["data"], "layout": shown["layout"]}
        height = helpers.chart(page, key).evaluate("chart => chart.clientHeight")
        answer["figures"].append({"height": height, "moving": key in moving, "figure": figure})
    return answer


def press(page, thumb, key: str, redraws: bool = False) -> tuple[float, set[str]]:
    """Move the slider once; return milliseconds to the last redrawn chart and the keys of the redrawn ones.

    Under load the page may rest before it begins to answer; `redraws` says that a chart is sure to be redrawn.
    """
    thumb.press(key)
    if redraws:
        page.wait_for_function("window.speed.keys.length > 0")
    helpers.settle(page)
    speed = page.evaluate("window.speed")
    return speed["drawn"] - speed["pressed"], set(speed["keys"])


def busiest(page) -> tuple[str, set[str]]:
    """The slider in view whose move redraws most charts, and the keys of those charts."""
    found: tuple[str, set[str]] = ("", set())
    for row in page.locator(".slider").all():
        thumb = row.locator(".range")
        if not (thumb.is_visible() and thumb.is_enabled()):
            continue
        keys = press(page, thumb, "ArrowRight")[1]
        press(page, thumb, "ArrowLeft")
        if len(keys) > len(found[1]):
            found = (row.get_attribute("data-key"), keys)
    if not found[0]:
        raise LookupError("No slider of the page redraws a chart.")
    return found


def opened(browser, server):
    """Open a page in a fresh browser profile; return it and the seconds to the first chart."""
    context = browser.new_context(viewport={"width": 1400, "height": 900}, **helpers.SAME_FOR_ALL)
    page = context.new_page()
    start = time.perf_counter()
    page.goto(server.url)
    page.wait_for_selector(".headroom-chart[data-state=drawn]", timeout=60_000)
    seconds = time.perf_counter() - start
    helpers.settle(page, 60)
    return page, seconds


def measure(real: str, moves: int, key: str | None) -> dict[str, dict[str, float]]:
    """Time the real page and its bare copy; see the module."""
    with ExitStack() as stack:
        browser = stack.enter_context(helpers.browsing())
        plan = Path(stack.enter_context(tempfile.TemporaryDirectory())) / "page.json"
        start = time.perf_counter()
        server = stack.enter_context(helpers.serving(real, name="speed-real"))
        result = {"real": {"server up, s": time.perf_counter() - start}, "bare": {}}
        page, result["real"]["first visit to first chart, s"] = opened(browser, server)
        page.evaluate(WATCH)
        slider, moving = (key, press(page, helpers.slider(page, key), "ArrowRight")[1]) if key else busiest(page)
        print(f"The slider {slider!r} redraws {len(moving)} charts: {', '.join(sorted(moving))}.")
        plan.write_text(json.dumps(copy_of(page, moving)), encoding="utf-8")
        page.context.close()

        start = time.perf_counter()
        bare = stack.enter_context(
            helpers.serving("tests/bench/bare_page.py", name="speed-bare", BARE_PAGE=str(plan))
        )
        result["bare"]["server up, s"] = time.perf_counter() - start
        page, result["bare"]["first visit to first chart, s"] = opened(browser, bare)
        page.context.close()

        pages = {}
        for name, running in (("real", server), ("bare", bare)):
            page, result[name]["next visit to first chart, s"] = opened(browser, running)
            page.evaluate(WATCH)
            thumb = helpers.slider(page, slider if name == "real" else "s0_0")
            pages[name] = (page, thumb)
            press(page, thumb, "Home")
        for way, key in WAYS.items():
            times: dict[str, list[float]] = {"real": [], "bare": []}
            for number in range(moves + 4):
                for name, (page, thumb) in pages.items():
                    milliseconds, keys = press(page, thumb, key)
                    if number >= 4 and len(keys) == len(moving):
                        times[name].append(milliseconds)
            for name, sample in times.items():
                if len(sample) < moves / 2:
                    raise RuntimeError(
                        f"The {name} page redrew its charts after too few moves; name another slider."
                    )
                sample.sort()
                result[name] |= {
                    f"key to charts, {way}, median ms": statistics.median(sample),
                    f"key to charts, {way}, 95th percentile ms": sample[int(0.95 * (len(sample) - 1))],
                }
    return result


MOST = {
    **{
        f"key to charts, {way}, {name}": most
        for way in WAYS
        for name, most in (("median ms", 1.3), ("95th percentile ms", 1.5))
    },
    "first visit to first chart, s": 1.2,
}
"""Wanted at most, as a ratio to the bare page."""


def printed(result: dict[str, dict[str, float]]) -> None:
    """All that was measured."""
    print(f"{'':36}{'real':>10}{'bare':>10}{'ratio':>8}")
    for name, real in result["real"].items():
        bare = result["bare"][name]
        print(f"{name:36}{real:10.2f}{bare:10.2f}{real / bare:8.2f}")


def figures() -> list[Figure]:
    """What has a bound."""
    result = measure(helpers.APP, 40, None)
    printed(result)
    real, bare = result["real"], result["bare"]
    return [Figure(f"{name}: ratio to the bare page", most, real[name] / bare[name]) for name, most in MOST.items()]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--moves", type=int, default=40)
    parser.add_argument("--slider", help="key of the slider to move; the one that redraws most where not given")
    parser.add_argument("--page", default=helpers.APP, help="the page to measure")
    options = parser.parse_args()
    lack = helpers.missing()
    if lack:
        raise SystemExit(f"Cannot measure: {lack}.")
    printed(measure(options.page, options.moves, options.slider))


if __name__ == "__main__":
    main()
