"""A session of the page without a browser: it sends what a browser sent, and times the answer.

Ten browsers on a small machine would measure the browsers. A `Script` is taken from one real browser: the first
message it sends, and the one it sends when a slider moves. A `Rider` opens a session of its own over the same web
socket, sends those messages, and reads every answer to its end.
"""

from __future__ import annotations

import asyncio
import json
import random
import time
from dataclasses import dataclass, field

from streamlit.proto.Alert_pb2 import Alert
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.asyncio.client import connect

from tests.browser import helpers

PATIENCE = 30.0
"""Seconds within which a session must be answered."""
KEPT_FOR = 2
"""Answers for which a browser keeps a large message, so that the server need not send it again."""
REACH = 0.15
"""Part of its range by which the slider is moved to either side."""


@dataclass(frozen=True)
class Script:
    """What a browser sends to one page, and where its slider may go.

    Attributes
    ----------
    socket : str
        Address of the page's web socket.
    first, move : bytes
        What it sent on opening the page, and when the slider was moved.
    slider : str
        The slider's key.
    low, high : float
        Between what values riders move it.
    """

    socket: str
    first: bytes
    move: bytes
    slider: str
    low: float
    high: float

    def moved(self, value: float, known: list[str]) -> bytes:
        """The message for a move to a value, from a browser that holds the messages of these hashes."""
        sent = BackMsg.FromString(self.move)
        event = {"event": "moved", "value": {self.slider: [value, time.time_ns() // 1_000_000, 0]}}
        for widget in sent.rerun_script.widget_states.widgets:
            if widget.json_trigger_value:
                widget.json_trigger_value = json.dumps([event])
        sent.rerun_script.cached_message_hashes[:] = known
        return sent.SerializeToString()


def scripted(browser, server, slider: str) -> Script:
    """Open the page in a browser, move the slider once, and keep what was sent."""
    context = browser.new_context(viewport={"width": 1400, "height": 900}, **helpers.SAME_FOR_ALL)
    page = context.new_page()
    sent: list[bytes] = []
    sockets: list[str] = []

    def opened(socket):
        sockets.append(socket.url)
        socket.on("framesent", lambda frame: sent.append(bytes(frame)))

    page.on("websocket", opened)
    page.goto(server.url)
    helpers.settle(page, 60)
    thumb, before = helpers.slider(page, slider), len(sent)
    start, low, high = (float(thumb.evaluate(f"thumb => thumb.{name}")) for name in ("value", "min", "max"))
    thumb.press("ArrowRight")
    helpers.settle(page)
    context.close()
    reach = REACH * (high - low)
    return Script(sockets[0], sent[0], sent[before], slider, max(low, start - reach), min(high, start + reach))


@dataclass
class Rider:
    """One session.

    Attributes
    ----------
    script : Script
        What to send.
    seed : int
        Of the values it moves to.
    times : list of float, ms
        From sending a move to the end of its answer.
    faults : list of str
        Whatever went wrong.
    """

    script: Script
    seed: int
    times: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    _known: dict[str, int] = field(default_factory=dict)
    _answers: int = 0

    async def open(self) -> None:
        """Open the page and read its first answer."""
        self._socket = await connect(self.script.socket, subprotocols=["streamlit"], max_size=None)
        await self._socket.send(self.script.first)
        await self._answer()

    async def ride(self, moves: int, every: float) -> None:
        """Move the slider so many times, every so many seconds on average, half to one and a half of them apart."""
        chance = random.Random(10_000 * self.seed + len(self.times))
        await asyncio.sleep(every * chance.random())
        for _ in range(moves):
            value = round(chance.uniform(self.script.low, self.script.high), 3)
            known = [name for name, at in self._known.items() if self._answers - at < KEPT_FOR]
            start = time.perf_counter()
            await self._socket.send(self.script.moved(value, known))
            await self._answer()
            taken = time.perf_counter() - start
            self.times.append(1000 * taken)
            await asyncio.sleep(max(every * (0.5 + chance.random()) - taken, 0.0))

    async def close(self) -> None:
        """End the session."""
        await self._socket.close()

    async def _answer(self) -> None:
        """Read to the end of one run of the page."""
        self._answers += 1
        parts = 0
        async with asyncio.timeout(PATIENCE):
            while True:
                message = ForwardMsg.FromString(await self._socket.recv())
                kind = message.WhichOneof("type")
                if kind == "ref_hash":
                    self._known[message.ref_hash] = self._answers
                elif message.metadata.cacheable:
                    self._known[message.hash] = self._answers
                if kind in ("delta", "ref_hash"):
                    parts += 1
                    self._look(message.delta.new_element)
                if kind == "script_finished" and message.script_finished != ForwardMsg.FINISHED_EARLY_FOR_RERUN:
                    if message.script_finished != ForwardMsg.FINISHED_SUCCESSFULLY or not parts:
                        self.faults.append(f"The page ended with {message.script_finished} after {parts} parts.")
                    return

    def _look(self, element) -> None:
        kind = element.WhichOneof("type")
        if kind == "exception":
            self.faults.append(f"{element.exception.type}: {element.exception.message}")
        if kind == "alert" and element.alert.format == Alert.ERROR:
            self.faults.append(element.alert.body)
