"""What the browser tests and the page benchmark share: the server, the browser, and how to wait."""

from __future__ import annotations

import contextlib
import os
import re
import shlex
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
APP = "explorer/app.py"
ARTIFACTS = ROOT / ".browser-artifacts"
SETTLED = "[data-testid=stApp][data-test-script-state=notRunning]"
FLAGS = [
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
]
INSIDE = re.compile(r"(https?|wss?)://(127\.0\.0\.1|localhost)[:/]|data:|blob:|about:")
"""Addresses on this machine; Chromium resolves no others."""
UNANSWERED = """(() => {
  // The page shows that it waits only when the server's answer begins, on a busy machine long after a click.
  const send = WebSocket.prototype.send;
  WebSocket.prototype.send = function (message) {
    if (!this.heard) this.addEventListener("message", () => (window.unanswered = false));
    this.heard = window.unanswered = true;
    return send.call(this, message);
  };
})()"""
SUPERMOTO = "preset=supermoto"
"""The demo that pages show where their address names no other: the tests' numbers are worked out for it."""
SAME_FOR_ALL = {"locale": "en-GB", "timezone_id": "UTC", "color_scheme": "light"}


def command(name: str) -> str:
    """Return the README's command below the marker ``<!-- command: name -->``."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.search(rf"<!-- command: {name} -->\s*```\w*\n(.+)\n```", text)
    if not found:
        raise LookupError(f"README.md holds no command marked {name!r}.")
    return found[1].strip()


def open_command(app: str = APP) -> str:
    """Return the last step of the README's command that opens the page, or another page in its place.

    The environment is prepared: it runs the tests, with the Python that serves the page here. `.ci/run` takes the
    command whole.
    """
    line = command("open").split("&&")[-1].strip()
    return line.replace(".venv/bin/python", shlex.quote(sys.executable)).replace(APP, shlex.quote(app))


def chromium() -> str | None:
    """Return the path of an installed Chromium, if there is one."""
    names = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
    return next((path for name in names if (path := shutil.which(name))), None)


def missing() -> str:
    """Say what a browser test lacks on this machine; nothing if it can run."""
    try:
        import playwright  # noqa: F401
    except ImportError:
        return "playwright is not installed (tests/requirements.txt)"
    return "" if chromium() else "no Chromium is installed"


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Server:
    """A running page."""

    def __init__(self, app: str, log: Path, **environment: str):
        self.log = log
        log.parent.mkdir(parents=True, exist_ok=True)
        port = free_port()
        self.url = f"http://127.0.0.1:{port}"
        settings = {"STREAMLIT_SERVER_PORT": str(port), "STREAMLIT_SERVER_HEADLESS": "true", **environment}
        with log.open("wb") as out:
            self.process = subprocess.Popen(
                ["bash", "-c", open_command(app)],
                cwd=ROOT,
                env={**os.environ, **settings},
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def wait(self, patience: float = 300.0) -> None:
        """Return as soon as the server answers."""
        end = time.monotonic() + patience
        while time.monotonic() < end:
            if self.process.poll() is not None:
                break
            with (
                contextlib.suppress(OSError),
                urllib.request.urlopen(f"{self.url}/_stcore/health", timeout=2) as answer,
            ):
                if answer.status == 200:
                    return
            time.sleep(0.05)
        raise RuntimeError(f"The page did not start.\n{self.text()}")

    def text(self) -> str:
        """What the server has printed."""
        return self.log.read_text(encoding="utf-8", errors="replace")

    def stop(self) -> None:
        """End the server and what it started."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGTERM)
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(10)
            return
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)


@contextlib.contextmanager
def serving(app: str = APP, name: str = "server", **environment: str) -> Iterator[Server]:
    """Run a page as the README says and stop it at the end."""
    worker = os.environ.get("PYTEST_XDIST_WORKER", "alone")
    server = Server(app, ARTIFACTS / f"{name}-{worker}.log", **environment)
    try:
        server.wait()
        yield server
    finally:
        server.stop()


def flags() -> list[str]:
    """What Chromium is started with: it asks no other machine; as root it needs one more."""
    return [*FLAGS, "--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else FLAGS


@contextlib.contextmanager
def browsing() -> Iterator:
    """Run the installed Chromium."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium(), args=flags())
        try:
            yield browser
        finally:
            browser.close()


@contextlib.contextmanager
def remembering() -> Iterator:
    """Run the installed Chromium as a rider has it: what one page fetched and compiled serves the next."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder, sync_playwright() as play:
        options = {"executable_path": chromium(), "args": flags(), **SAME_FOR_ALL}
        context = play.chromium.launch_persistent_context(folder, **options)
        try:
            yield context
        finally:
            context.close()


@contextlib.contextmanager
def opening(context, server: Server, path: str = "/", width: int = 1400, height: int = 900, **media) -> Iterator:
    """Open a page as a stranger would; note what it prints and what it asks of other machines; close it.

    An empty path opens the bare address; any other that names no preset is that of the supermoto.
    """
    before = set(context.pages)
    page = context.new_page()
    try:
        forget = {"origin": server.url, "storageTypes": "cookies,local_storage,indexeddb"}
        context.new_cdp_session(page).send("Storage.clearDataForOrigin", forget)
        page.add_init_script(UNANSWERED)
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(**{"color_scheme": SAME_FOR_ALL["color_scheme"], **media})
        page.set_default_timeout(120_000)  # a busy machine is slow, not wrong
        page.console, page.refused = [], []
        page.on("console", lambda message: page.console.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: page.console.append(f"pageerror: {error}"))
        page.on("request", lambda request: None if INSIDE.match(request.url) else page.refused.append(request.url))
        page.goto(server.url + _of_the_supermoto(path))
        yield page
    finally:
        for one in set(context.pages) - before:
            one.close()


def _of_the_supermoto(path: str) -> str:
    if not path or "preset=" in path:
        return path
    return path + ("&" if "?" in path else "?") + SUPERMOTO


def settle(page, patience: float = 120.0) -> None:
    """Wait until the script has ended and every chart is drawn, and both stay so for a moment."""
    page.wait_for_selector(SETTLED, timeout=1000 * patience)
    page.wait_for_function(
        """quiet => {
          const busy = window.unanswered
            || document.querySelector("[data-testid=stApp]")?.dataset.testScriptState !== "notRunning"
            || document.querySelector(".headroom-chart:not([data-state=drawn], [data-state=failed])")
            || [...document.querySelectorAll("[class*=st-key-chart]:not([class*=_plain])")].some(
              (host) => !host.querySelector(".headroom-chart")) // its script is on its way
            || document.querySelector("[data-testid=stSkeleton]")
            || !document.querySelector(".headroom-chart, [data-testid=stPlotlyChart]"); // nothing is there yet
          const now = performance.now();
          if (busy || !window.quietSince) window.quietSince = now;
          return !busy && now - window.quietSince > quiet;
        }""",
        arg=250,
        timeout=1000 * patience,
    )
    page.evaluate("window.quietSince = 0")


def fits(page) -> bool:
    """Whether nothing scrolls sideways."""
    return page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def unfold_all(page, part: str = "stMain") -> None:
    """Open every section of a part of the page, and what is folded in them, level by level."""
    for _ in range(6):
        count = page.evaluate(
            """part => {
              const folds = [...document.querySelectorAll(`[data-testid=${part}] details:not([open]) > summary`)];
              folds.forEach((fold) => fold.click());
              return folds.length;
            }""",
            part,
        )
        if not count:
            return
        settle(page)


def open_moment(page, name: str) -> None:
    """Open a moment, where it is not open yet."""
    tap = page.locator(".st-key-moments button", has_text=name)
    if tap.get_attribute("aria-checked") != "true":
        tap.click()
        settle(page)


def unfold(page, title: str) -> None:
    """Unfold a question, in the moment in which it stands."""
    from explorer.questions.registry import MOMENTS  # the page is heavy, and the benchmarks need none of it

    found = [name for name, questions in MOMENTS if title in [question.TITLE for question in questions]]
    if found:
        open_moment(page, found[0])
    page.get_by_text(title, exact=True).click()
    settle(page)


def widest(page) -> list[str]:
    """What reaches beyond the screen."""
    return page.evaluate(
        """() => [...document.querySelectorAll("body *")]
            .filter((one) => one.getBoundingClientRect().right > innerWidth + 1)
            .slice(0, 8).map((one) => `${one.tagName}.${one.className}`.slice(0, 120))"""
    )


def slider(page, key: str):
    """The moving part of a slider of :mod:`explorer.components.live_slider`."""
    return page.locator(f".slider[data-key='{key}'] .range")


def box(page, key: str):
    """The box of a slider."""
    return page.locator(f".slider[data-key='{key}'] .box")


def chart(page, key: str):
    """A chart of :mod:`explorer.components.live_chart`."""
    return page.locator(f".headroom-chart[data-key='{key}']")


def drawn(page, key: str) -> dict:
    """What a chart shows at the moment: its data and layout, as Plotly holds them."""
    return page.evaluate(
        """key => {
          const plot = document.querySelector(`.headroom-chart[data-key="${key}"] .headroom-chart-plot`);
          const plain = (name, value) => {
            // Whether a chart took its size when it was first drawn or a moment later is not shown; the size is.
            if (name[0] === "_" || ["template", "datarevision", "autosize"].includes(name)) return undefined;
            if (value?.bdata) value = value._inputArray;
            if (ArrayBuffer.isView(value)) return Array.from(value);
            const rows = Array.isArray(value) && ArrayBuffer.isView(value[0]);
            return rows ? value.map((row) => Array.from(row)) : value;
          };
          const { xaxis, yaxis } = plot._fullLayout;
          const shown = { data: plot.data, layout: plot.layout, ranges: { x: xaxis?.range, y: yaxis?.range } };
          return JSON.parse(JSON.stringify(shown, plain));
        }""",
        key,
    )


def at_rest(part) -> dict[str, float]:
    """Bring a part of the page into view; its place once it lies still, as a hand waits before it reaches there."""
    part.scroll_into_view_if_needed()
    place = None
    while place != (place := part.bounding_box()):
        part.page.wait_for_timeout(100)
    return place


def drag(page, key: str, seconds: float = 3.0, let_go: bool = True) -> dict[str, float]:
    """Drag a slider to and fro with the mouse; return how often a second each chart was drawn meanwhile."""
    count = """() => Object.fromEntries([...document.querySelectorAll(".headroom-chart")]
        .map((chart) => [chart.dataset.key, Number(chart.dataset.drawn)]))"""
    track = at_rest(slider(page, key))
    middle = track["y"] + track["height"] / 2
    page.mouse.move(track["x"] + track["width"] / 2, middle)
    page.mouse.down()
    before, start, moved = page.evaluate(count), time.monotonic(), 0
    while time.monotonic() - start < seconds:
        moved += 1
        part = abs(moved % 40 - 20) / 20
        page.mouse.move(track["x"] + track["width"] * (0.3 + 0.4 * part), middle)
        page.wait_for_timeout(25)
    after, lasted = page.evaluate(count), time.monotonic() - start
    if let_go:
        page.mouse.up()
    return {name: (drawn - before.get(name, 0)) / lasted for name, drawn in after.items()}
