"""Fixtures of the browser tests.

Each process of the tests has a browser and, on ports of its own, servers of the page and of the bare page of
tests/bench; they end with the last test of this folder. ``new_rider`` opens fresh pages that reach nothing but this
machine; where a test fails their pictures, consoles and server logs are kept under .browser-artifacts/.
"""

from __future__ import annotations

import contextlib
import os
import re

import pytest

from tests.browser import helpers


def pytest_collection_modifyitems(items):
    """Mark the tests of this folder."""
    here = os.path.dirname(__file__)
    for item in items:
        if str(item.path).startswith(here):
            item.add_marker(pytest.mark.browser)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """Let fixtures see whether their test failed."""
    report = yield
    setattr(item, f"report_{report.when}", report)
    return report


@pytest.fixture(scope="package")
def browser():
    """The installed Chromium. Without one: skipped, but a failure where CI=true."""
    lack = helpers.missing()
    if lack and os.environ.get("CI") == "true":
        pytest.fail(f"The browser tests cannot run: {lack}.")
    if lack:
        pytest.skip(f"The browser tests cannot run: {lack}.")
    with helpers.remembering() as running:
        yield running


@pytest.fixture(scope="package")
def page_server(browser):
    """The page, started with the README's own command."""
    with helpers.serving(name="page") as server:
        yield server


@pytest.fixture(scope="package")
def bare_server(browser):
    """The bare page: the components without the model."""
    with helpers.serving("tests/bench/bare_page.py", name="bare") as server:
        yield server


@pytest.fixture
def new_rider(browser, request):
    """Return a function that opens a page: ``new_rider(server, "/?a=b", width=390)``."""
    open_now = []
    stack = contextlib.ExitStack()

    def start(server, path="/", settled=True, **options):
        page = stack.enter_context(helpers.opening(browser, server, path, **options))
        open_now.append((page, server))
        if settled:
            helpers.settle(page)
        return page

    with stack:
        yield start
        report = getattr(request.node, "report_call", None)
        for number, (page, server) in enumerate(open_now):
            if report is not None and report.failed:
                _keep(request.node.nodeid, number, page, server)


@pytest.fixture
def journey(new_rider, page_server):
    """A function that opens the page; at the end every page it opened must have stayed quiet."""
    opened = []

    def start(path="/", **options):
        opened.append(new_rider(page_server, path, **options))
        return opened[-1]

    yield start
    for page in opened:
        helpers.settle(page)
        assert [line for line in page.console if line.startswith(("error", "pageerror"))] == []
        assert page.refused == []
        assert page.get_by_test_id("stException").count() == 0
        assert page.locator(".headroom-chart[data-state=failed]").count() == 0
    assert "Traceback" not in page_server.text()


def _keep(nodeid, number, page, server):
    """Keep what may explain a failure."""
    folder = helpers.ARTIFACTS / re.sub(r"[^\w.-]+", "_", nodeid.split("/")[-1])
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"console{number}.txt").write_text("\n".join(page.console), encoding="utf-8")
    (folder / f"server{number}.txt").write_text(server.text(), encoding="utf-8")
    page.screenshot(path=folder / f"page{number}.png", full_page=True)
