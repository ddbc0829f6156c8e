"""The page and other machines: it asks none, and serves the local network by a key alone."""

import argparse
import asyncio
import http.client
import os
import re
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from streamlit import net_util
from streamlit.web.server import server_util

from explorer import network
from explorer.frame import server as starting

TOP = Path(__file__).parents[2]


def test_a_foreign_page_is_refused_without_asking_another_machine(monkeypatch):
    """property: where no name can be looked up and nothing be fetched, the answer is no, at once."""

    def nobody(*_, **__):
        raise AssertionError("Another machine was asked.")

    monkeypatch.setattr(net_util, "_external_ip", None)
    monkeypatch.setattr(net_util, "_internal_ip", None)
    monkeypatch.setattr(net_util, "_make_blocking_http_get", nobody)
    monkeypatch.setattr(socket, "getaddrinfo", nobody)
    starting.ask_nobody()
    assert not server_util.is_url_from_allowed_origins("http://elsewhere.example")
    assert server_util.is_url_from_allowed_origins("http://localhost:8501")


@pytest.mark.parametrize("headless", [True, False])
def test_the_rider_s_browser_opens_unless_told_not_to(monkeypatch, headless):
    """property: at the address that is served, once."""
    opened = []
    monkeypatch.setattr(starting.cli_util, "open_browser", opened.append)
    monkeypatch.setattr(starting.st, "get_option", {"server.headless": headless, "server.address": "127.0.0.1"}.get)

    async def serve():
        async with starting.prepare(None):
            await asyncio.sleep(0)

    asyncio.run(serve())
    assert [address.split(":8")[0] for address in opened] == ([] if headless else ["http://127.0.0.1"])


@pytest.mark.parametrize("address", ["0.0.0.0", "8.8.8.8", "elsewhere.example", "::1", "192.168.1"])
def test_only_an_address_of_the_local_network_is_served(address):
    """property: neither all addresses at once, nor a public one, nor a name."""
    with pytest.raises(argparse.ArgumentTypeError):
        network.local(address)


def test_what_is_served_is_that_address_alone():
    """property: hosts and origins are the address, wherever Streamlit looks for one."""
    held = network.settings("192.168.1.20", 8600)
    assert held["server.allowedHosts"] == [held["server.address"]] == ["192.168.1.20"]
    assert held["server.corsAllowedOrigins"] == held["client.allowedOrigins"] == ["http://192.168.1.20:8600"]


def free_port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def wait_for(running, port):
    while running.poll() is None:
        try:
            socket.create_connection(("127.0.0.1", port), 1.0).close()
            return
        except OSError:
            time.sleep(0.1)


@pytest.fixture(scope="module")
def server():
    """The command of the README, on this machine's own address; port and key."""
    port = free_port()
    command = [sys.executable, "-m", "explorer.network", "127.0.0.1", "--port", str(port)]
    running = subprocess.Popen(command, cwd=TOP, env=os.environ.copy(), stdout=subprocess.PIPE, text=True)
    try:
        key = next(found[1] for line in running.stdout if (found := re.search(r"\?key=(\S+)", line)))
        wait_for(running, port)
        yield port, key
    finally:
        running.terminate()
        running.wait(20)


def test_a_foreign_page_that_is_first_sets_off_no_request():
    """property: before any visit, the web socket is refused to it and nothing leaves this machine."""
    port = free_port()
    command = [sys.executable, "-m", "streamlit", "run", "explorer/app.py", "--server.headless=true"]
    with socket.create_server(("127.0.0.1", 0)) as way_out:
        way_out.setblocking(False)
        proxy = f"http://127.0.0.1:{way_out.getsockname()[1]}"
        env = os.environ | {"http_proxy": proxy, "https_proxy": proxy, "no_proxy": ""}
        running = subprocess.Popen([*command, f"--server.port={port}"], cwd=TOP, env=env)
        try:
            wait_for(running, port)
            assert ask(port, "/_stcore/stream", **SOCKET, Origin="http://elsewhere.example")[0] == 403
            with pytest.raises(BlockingIOError):
                way_out.accept()
            assert ask(port, "/_stcore/stream", **SOCKET, Origin=f"http://127.0.0.1:{port}")[0] == 101
        finally:
            running.terminate()
            running.wait(20)


SOCKET = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
          "Sec-WebSocket-Key": "AAAAAAAAAAAAAAAAAAAAAA=="}  # fmt: skip


def ask(port, path, **headers):
    """Status, headers and text of an answer."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        connection.request("GET", path, headers=headers)
        answer = connection.getresponse()
        text = "" if answer.status == 101 else answer.read().decode()
        return answer.status, answer.headers, text
    finally:
        connection.close()


def test_without_the_key_nothing_is_served_and_with_it_all(server):
    """property: page, files, settings and the web socket of a session open with the key alone."""
    port, key = server
    wrong = {"Cookie": f"{network.COOKIE}=x{key}"}
    for path in ("/", "/?key=", f"/?key={key}x", "/_stcore/host-config", "/_stcore/health", "/static/index.html"):
        for headers in ({}, wrong):
            status, _, text = ask(port, path, **headers)
            assert (status, text) == (403, network.REFUSED), path
    assert ask(port, "/_stcore/stream", **SOCKET)[0] == 403
    assert ask(port, "/_stcore/stream", **SOCKET, **wrong)[0] == 403

    status, headers, _ = ask(port, f"/?cells=24&key={key}")
    assert (status, headers["Location"]) == (303, "/?cells=24")
    cookie = headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    mine = {"Cookie": cookie.split(";")[0]}
    status, _, text = ask(port, "/", **mine)
    assert status == 200
    assert "<html" in text
    assert ask(port, "/_stcore/stream", **SOCKET, **mine)[0] == 101
    assert f"127.0.0.1:{port}" in ask(port, "/_stcore/host-config", **mine)[2]
    assert ask(port, "/_stcore/stream", **SOCKET, **mine, Host="elsewhere.example")[0] == 403
