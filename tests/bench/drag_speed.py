"""Measure how often a second the charts are drawn while a slider is dragged, against a page without computation.

Run from the top folder: ``python -m tests.bench.drag_speed``. The real page is opened as the README says, with its
first screen and nothing unfolded; so is a bare page with the same widgets and figures and nothing behind them. Both
are dragged to and fro with the mouse in the same browser, taking turns, so that a busy machine slows both: judge
the ratios.
"""

from __future__ import annotations

import argparse
import itertools
import json
import statistics
import sys
import tempfile
from contextlib import ExitStack
from pathlib import Path

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench import page_speed
from tests.bench.figures import Figure
from tests.browser import helpers

FOLLOW = ("chart_run", "chart_sag", "chart_pack_gauge")
SLIDER = "in:air_temperature"
"""It moves all of them."""
LEAST = 8.0
"""Draws a second that are wanted."""

WATCH = """() => {
  window.draws = {};
  for (const chart of document.querySelectorAll(".headroom-chart")) {
    const note = () => (window.draws[chart.dataset.key] ??= []).push(performance.now());
    new MutationObserver(note).observe(chart, { attributes: true, attributeFilter: ["data-drawn"] });
  }
}"""


def opened(browser, server):
    """A page, watched."""
    context = browser.new_context(viewport={"width": 1400, "height": 900}, **helpers.SAME_FOR_ALL)
    page = context.new_page()
    page.goto(server.url)
    helpers.settle(page, 90)
    page.evaluate(WATCH)
    return page


def dragged(page, key: str, seconds: float) -> tuple[dict[str, float], dict[str, list[float]]]:
    """Drag a slider; return draws a second and gaps between them in milliseconds, for each chart."""
    page.bring_to_front()
    page.evaluate("window.draws = {}")
    rates = helpers.drag(page, key, seconds, let_go=False)
    draws = page.evaluate("window.draws")
    page.mouse.up()
    helpers.settle(page, 90)
    return rates, {name: [b - a for a, b in itertools.pairwise(times)] for name, times in draws.items()}


def measure(slider: str, seconds: float, rounds: int) -> dict[str, dict[str, tuple[float, float, float]]]:
    """Draws a second, median gap and 95th percentile of the gaps, for each chart of both pages."""
    with ExitStack() as stack:
        browser = stack.enter_context(helpers.browsing())
        plan = Path(stack.enter_context(tempfile.TemporaryDirectory())) / "page.json"
        real = opened(browser, stack.enter_context(helpers.serving(name="drag-real")))
        copy = page_speed.copy_of(real, set(FOLLOW))
        copy["figures"] = [figure for figure in copy["figures"] if figure["moving"]]
        plan.write_text(json.dumps(copy), encoding="utf-8")
        server = helpers.serving("tests/bench/bare_page.py", name="drag-bare", BARE_PAGE=str(plan))
        bare = opened(browser, stack.enter_context(server))
        turns = {"real": (real, slider, FOLLOW), "bare": (bare, "s0_0", [f"chart{n}" for n in range(len(FOLLOW))])}
        rates = {name: {key: [] for key in FOLLOW} for name in turns}
        gaps = {name: {key: [] for key in FOLLOW} for name in turns}
        for turn in range(rounds + 1):
            for name, (page, key, charts) in turns.items():
                a_second, between = dragged(page, key, seconds if turn else 1.0)
                for known, chart in zip(FOLLOW, charts, strict=True):
                    if turn:  # the first is to warm up
                        rates[name][known].append(a_second[chart])
                        gaps[name][known] += between.get(chart, [])
    return {name: {key: summary(rates[name][key], gaps[name][key]) for key in FOLLOW} for name in turns}


def summary(rates: list[float], gaps: list[float]) -> tuple[float, float, float]:
    """Mean rate, median gap, 95th percentile of the gaps."""
    gaps = sorted(gaps) or [float("nan")]
    return statistics.mean(rates), statistics.median(gaps), gaps[int(0.95 * (len(gaps) - 1))]


def figures() -> list[Figure]:
    """What has a bound."""
    found = measure(SLIDER, 4.0, 3)
    return [
        Figure(f"draws a second while dragging: {key.removeprefix('chart_')}", LEAST, found["real"][key][0], True)
        for key in FOLLOW
    ]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seconds", type=float, default=4.0)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--slider", default=SLIDER, help="key of the slider to drag")
    options = parser.parse_args()
    lack = helpers.missing()
    if lack:
        raise SystemExit(f"Cannot measure: {lack}.")
    found = measure(options.slider, options.seconds, options.rounds)
    print(f"{'':44}{'real':>10}{'bare':>10}{'ratio':>8}")
    for key in FOLLOW:
        for place, name in enumerate(("draws a second", "gap, median ms", "gap, 95th percentile ms")):
            real, bare = found["real"][key][place], found["bare"][key][place]
            print(f"{key.removeprefix('chart_') + ': ' + name:44}{real:10.1f}{bare:10.1f}{real / bare:8.2f}")


if __name__ == "__main__":
    main()
