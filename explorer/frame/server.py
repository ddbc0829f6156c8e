"""What happens once, when the server starts and before it answers anybody."""

from __future__ import annotations

import asyncio
import importlib
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import streamlit as st
from streamlit import cli_util, net_util
from streamlit.web.server import server_util

THIS_MACHINE = "127.0.0.1"


def ask_nobody() -> None:
    """Keep Streamlit from asking an outside service for this machine's address when a foreign page calls.

    It asks once and keeps the answer. There is no setting for that, so the answer is given beforehand: this machine
    alone, whose pages it lets in anyway.
    """
    for kept in ("_external_ip", "_internal_ip"):
        setattr(net_util, kept, THIS_MACHINE)


@asynccontextmanager
async def prepare(app: st.App) -> AsyncIterator[None]:
    """Start without asking anybody, load the page before the first visit, and open the rider's browser.

    Parameters
    ----------
    app : streamlit.App
        What is served. Streamlit opens the browser for a plain script only, so it is done here, as it would.
    """
    ask_nobody()
    load = threading.Thread(target=importlib.import_module, args=["explorer.whole"], daemon=True)
    load.start()  # while the browser starts
    if not st.get_option("server.headless"):
        address = st.get_option("server.address") or THIS_MACHINE
        asyncio.get_running_loop().call_soon(cli_util.open_browser, server_util.get_url(address))
    yield
