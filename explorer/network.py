"""The page for a phone beside the track, on purpose: `python -m explorer.network` serves the local network.

Whoever opens the link it prints gets the page; whoever lacks the key of that link gets nothing of it. The key is
made anew at every start. `streamlit run explorer/app.py` goes on listening to this machine alone.
"""

from __future__ import annotations

import argparse
import hmac
import ipaddress
import os
import secrets
import socket
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlencode

import streamlit as st
from starlette.middleware import Middleware

from explorer.frame.server import prepare

KEY, PORT = "key", 8501
COOKIE = "headroom_key"
REFUSED = "This page opens only with the whole link that the terminal printed, key included."
CAUTION = (
    "The link works for everyone on this network who has it, until you stop the server with Ctrl+C. Nothing is "
    "encrypted: use a network whose users you trust, such as your phone's hotspot, never a public one."
)
_UNROUTED = ("192.0.2.1", 9)  # kept for examples, RFC 5737; nothing is sent to it

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Served = Callable[[Scope, Receive, Send], Awaitable[None]]


class Doorkeeper:
    """Lets a request through that brings the key, before anything of the page is served or a session begins.

    The link brings the key once; a cookie of this server brings it from then on, so that it leaves the address bar
    and is in no link that is passed on.

    Parameters
    ----------
    app : ASGI application
        What is behind the door.
    key : str
        What opens it.
    """

    def __init__(self, app: Served, key: str) -> None:
        self._app, self._key = app, key.encode()

    def _fits(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self._key)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request, or refuse it."""
        if scope["type"] not in ("http", "websocket") or self._fits(_cookie(scope)):
            await self._app(scope, receive, send)
            return
        query = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008, "reason": ""})
        elif scope["method"] == "GET" and any(name == KEY and self._fits(value) for name, value in query):
            rest = urlencode([pair for pair in query if pair[0] != KEY])
            await _answer(send, 303, "", location=f"/?{rest}" if rest else "/", cookie=self._key.decode())
        else:
            await _answer(send, 403, REFUSED)


def _cookie(scope: Scope) -> str:
    """The key that a request brings in its cookie; empty where there is none."""
    lines = [value.decode("latin-1") for name, value in scope["headers"] if name == b"cookie"]
    try:
        held = SimpleCookie("; ".join(lines)).get(COOKIE)
    except CookieError:
        return ""
    return held.value if held else ""


async def _answer(send: Send, status: int, text: str, location: str = "", cookie: str = "") -> None:
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"cache-control", b"no-store")]
    if location:
        headers.append((b"location", location.encode()))
    if cookie:
        headers.append((b"set-cookie", f"{COOKIE}={cookie}; Path=/; HttpOnly; SameSite=Lax".encode()))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": text.encode()})


def own_address() -> str:
    """This machine's address in the local network; that of this machine alone where it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_UNROUTED)  # only picks the way out
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def local(address: str) -> str:
    """An address from the command line, where it belongs to a local network.

    Raises
    ------
    argparse.ArgumentTypeError
        For all others.

    Examples
    --------
    >>> local("192.168.1.20")
    '192.168.1.20'
    """
    try:
        given = ipaddress.IPv4Address(address)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{address!r} is not an address such as 192.168.1.20") from None
    if not given.is_private or given.is_unspecified:
        raise argparse.ArgumentTypeError(f"{address} is not the address of a machine on a local network")
    return address


def settings(address: str, port: int) -> dict[str, Any]:
    """What differs from the page's own settings: where it listens, and which hosts and origins it answers."""
    origin = [f"http://{address}:{port}"]
    return {
        "server.address": address,
        "server.port": port,
        "server.headless": True,
        "server.allowedHosts": [address],
        "server.corsAllowedOrigins": origin,
        "client.allowedOrigins": origin,
        "browser.serverAddress": address,
    }


def main() -> None:
    """Serve the local network until stopped."""
    parser = argparse.ArgumentParser(prog="python -m explorer.network", description="Serve the local network.")
    parser.add_argument("address", nargs="?", type=local, help="of this machine; found if not given")
    parser.add_argument("--port", type=int, default=PORT, help=f"{PORT} if not given")
    asked = parser.parse_args()
    address = asked.address or local(own_address())
    key = secrets.token_urlsafe(16)
    here = Path(__file__).parent
    os.chdir(here.parent)  # where the page's settings stand
    print(f"\nOpen on the phone: http://{address}:{asked.port}/?{KEY}={key}\n\n{CAUTION}\n", flush=True)
    served = st.App(here / "app.py", lifespan=prepare, middleware=[Middleware(Doorkeeper, key=key)])
    served.run(config=settings(address, asked.port))


if __name__ == "__main__":
    main()
