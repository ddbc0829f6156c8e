"""Ten sessions at once on one server, against ten on a server of the bare page; and the server's memory.

Run from the top folder: ``python -m tests.bench.sessions``; some six minutes. All sessions move the slider that
redraws most, equally often, at moments and to values of their own, so that no answer lies in a cache and nobody
moves in step with another. The bare page is that of page_speed.py: same widgets, same figures, nothing behind
them. The two servers take turns under the load.

Judged is what ten visitors ask of a server: ten times a `rider.Rider`, a session that sends what a browser sends
and reads every answer to its end, but draws nothing. The 95th percentile of all their moves is compared with the
bare page's. Visitors draw on machines of their own; here a browser would take the processor away from the server,
and it would be the browser that was measured. Judged, too, are faults of any session, browser or log, and memory:
one session moves its slider until every cache of the page is full, and 200 times more, and the server must stay as
large as it is, within a tenth.

Printed and not judged: the ratio of each turn, since the machine's clock wanders and the turns tell by how much;
one session alone; processor time; and a second load, in which nine sessions are riders and one is a real browser on
this machine, timed from its key press to the charts it has drawn.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import random
import re
import statistics
import sys
import tempfile
import threading
import time
from concurrent.futures import Future
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import psutil

from tests.bench import page_speed
from tests.bench.figures import Figure
from tests.bench.rider import Rider, Script, scripted
from tests.browser import helpers

SLOWER, GROWTH = 3.0, 0.10
"""Wanted at most: 95th percentile of the real page over the bare page's; growth of memory."""
LONGEST = 300.0
"""Seconds within which any part of the load must be over."""
COUNTED = 200
"""Moves over which the memory of one session is watched."""
_FAULT = re.compile(r"Traceback|\w*(Error|Exception|Warning)\b")


@dataclass
class Loaded:
    """One server, its riders, and what was measured, in ms: times of a move, and processor time of one.

    `turns` has one list for each turn of the load that is judged; `beside` holds the times of riders who ride while
    a browser is used, `browser` those of that browser.
    """

    name: str
    server: helpers.Server
    slider: str
    script: Script
    riders: list[Rider] = field(default_factory=list)
    turns: list[list[float]] = field(default_factory=list)
    processor: list[float] = field(default_factory=list)
    alone: list[float] = field(default_factory=list)
    beside: list[float] = field(default_factory=list)
    browser: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    @property
    def times(self) -> list[float]:
        """Of every move of the load that is judged."""
        return [time for turn in self.turns for time in turn]

    @property
    def processes(self) -> list[psutil.Process]:
        """The server, and what it has started."""
        first = psutil.Process(self.server.process.pid)
        return [first, *first.children(recursive=True)]

    def memory(self) -> float:
        """Resident memory, MB."""
        return sum(process.memory_info().rss for process in self.processes) / 1e6

    def seconds(self) -> float:
        """Processor time so far, s."""
        return sum(sum(process.cpu_times()[:2]) for process in self.processes)

    def wrong(self) -> list[str]:
        """Everything that went wrong: in the sessions, in the browser, in the server's log."""
        log = [line for line in self.server.text().splitlines() if _FAULT.search(line)]
        return [fault for rider in self.riders for fault in rider.faults] + self.faults + log


class Elsewhere:
    """A thread in which riders ride, while the browser is used in this one."""

    def __init__(self):
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()

    def begin(self, *work) -> Future:
        """Start coroutines together."""

        async def together():
            async with asyncio.timeout(LONGEST):
                await asyncio.gather(*work)

        return asyncio.run_coroutine_threadsafe(together(), self._loop)

    def end(self) -> None:
        """Stop the thread."""
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()


def percentile(times: list[float], part: float) -> float:
    """The time below which a part of them lies."""
    return sorted(times)[int(part * (len(times) - 1))]


def bare_copy(stack: ExitStack, browser, real: helpers.Server, slider: str | None):
    """The slider to move, and a server of the bare page that shows what the real one shows."""
    page, _ = page_speed.opened(browser, real)
    page.evaluate(page_speed.WATCH)
    if slider:
        moving = page_speed.press(page, helpers.slider(page, slider), "ArrowRight")[1]
    else:
        slider, moving = page_speed.busiest(page)
    print(f"Every session moves the slider {slider!r}, which redraws {len(moving)} charts.")
    plan = Path(stack.enter_context(tempfile.TemporaryDirectory())) / "page.json"
    plan.write_text(json.dumps(page_speed.copy_of(page, moving)), encoding="utf-8")
    page.context.close()
    bare = helpers.serving("tests/bench/bare_page.py", name="sessions-bare", BARE_PAGE=str(plan))
    return slider, stack.enter_context(bare)


def ten_riders(loaded: Loaded, elsewhere: Elsewhere, moves: int, every: float) -> None:
    """One turn of the load that is judged: every rider makes its moves."""
    before = loaded.seconds()
    elsewhere.begin(*(rider.ride(moves, every) for rider in loaded.riders)).result()
    loaded.turns.append([time for rider in loaded.riders for time in rider.times[-moves:]])
    loaded.processor.append(1000 * (loaded.seconds() - before) / len(loaded.turns[-1]))


def one_alone(loaded: Loaded, elsewhere: Elsewhere, moves: int) -> None:
    """One turn of a rider who has the server to itself, and waits for nothing between two moves."""
    rider = Rider(loaded.script, seed=len(loaded.alone) + 500, times=loaded.alone, faults=loaded.faults)
    elsewhere.begin(rider.open()).result()
    elsewhere.begin(rider.ride(moves, 0.0)).result()
    elsewhere.begin(rider.close()).result()


def with_browser(loaded: Loaded, elsewhere: Elsewhere, browser, moves: int, every: float) -> None:
    """One turn of the load that is printed: a browser in the place of the first rider."""
    page, _ = page_speed.opened(browser, loaded.server)
    page.on("pageerror", lambda error: loaded.faults.append(str(error)))
    page.evaluate(page_speed.WATCH)
    box, script = helpers.box(page, loaded.slider), loaded.script
    chance = random.Random(len(loaded.browser))
    riding = elsewhere.begin(*(rider.ride(moves, every) for rider in loaded.riders[1:]))
    page.wait_for_timeout(1000 * every * chance.random())
    for _ in range(moves):
        start = time.perf_counter()
        box.fill(f"{chance.uniform(script.low, script.high):.3f}")
        loaded.browser.append(page_speed.press(page, box, "Enter", redraws=True)[0])
        page.wait_for_timeout(1000 * max(every - (time.perf_counter() - start), 0.0))
    riding.result()
    loaded.beside += [time for rider in loaded.riders[1:] for time in rider.times[-moves:]]
    page.context.close()


def watch_memory(loaded: Loaded, elsewhere: Elsewhere, fill: int) -> float:
    """Let one session move its slider; print the server's memory; return the growth after the caches are full."""
    rider, sizes = Rider(loaded.script, seed=1000, faults=loaded.faults), []
    elsewhere.begin(rider.open()).result()
    for moves in (fill, *[COUNTED // 4] * 4):
        elsewhere.begin(rider.ride(moves, 0.0)).result()
        sizes.append(loaded.memory())
    print(f"One session, after {fill} moves that fill the caches, and after each of {COUNTED // 4} more: "
          f"{', '.join(f'{size:.0f}' for size in sizes)} MB")  # fmt: skip
    return max(sizes[1:]) / sizes[0] - 1


def measure(options) -> tuple[dict[str, Loaded], float]:
    """Load both servers in turns, then watch the memory of the real one."""
    with ExitStack() as stack:
        browser = stack.enter_context(helpers.browsing())
        elsewhere = Elsewhere()
        stack.callback(elsewhere.end)
        real = stack.enter_context(helpers.serving(name="sessions-real"))
        slider, bare = bare_copy(stack, browser, real, options.slider)
        both = {}
        for name, server, key in (("real", real, slider), ("bare", bare, "s0_0")):
            script = scripted(browser, server, key)
            both[name] = one = Loaded(name, server, key, script)
            one.riders = [Rider(script, seed) for seed in range(options.sessions)]
            before = one.memory()
            elsewhere.begin(*(rider.open() for rider in one.riders)).result()
            print(f"{name}: {before:.0f} MB, and {(one.memory() - before) / len(one.riders):.2f} MB more for each "
                  f"of {len(one.riders)} sessions opened")  # fmt: skip
        for _ in range(options.turns):
            for one in both.values():
                ten_riders(one, elsewhere, options.moves, options.every)
            for one in both.values():
                one_alone(one, elsewhere, options.moves)
        for _ in range(options.browser_turns):
            for one in both.values():
                with_browser(one, elsewhere, browser, options.moves, options.every)
        for one in both.values():
            elsewhere.begin(*(rider.close() for rider in one.riders)).result()
        print(f"real: {both['real'].memory():.0f} MB after the load")
        grown = watch_memory(both["real"], elsewhere, options.fill) if options.fill else 0.0
        for one in both.values():
            one.faults = one.wrong()
        return both, grown


def options_of(arguments: list[str] | None = None) -> argparse.Namespace:
    """How to measure."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--sessions", type=int, default=10, help="at least 2")
    parser.add_argument("--moves", type=int, default=8, help="of each session in each turn")
    parser.add_argument("--turns", type=int, default=6, help="of the load that is judged")
    parser.add_argument("--browser-turns", type=int, default=1, help="of the load with a browser in it")
    parser.add_argument("--every", type=float, default=2.0, help="seconds between two moves of a session, at least")
    parser.add_argument("--fill", type=int, default=220, help="moves that fill the page's caches; 0: no memory")
    parser.add_argument("--slider", help="key of the slider to move; the one that redraws most where not given")
    return parser.parse_args(arguments)


def figures() -> list[Figure]:
    """What has a bound."""
    both, grown = measure(options_of([]))
    real, bare = both["real"], both["bare"]
    slower = percentile(real.times, 0.95) / percentile(bare.times, 0.95)
    return [
        Figure("ten sessions: 95th percentile, ratio to the bare page", SLOWER, slower),
        Figure("ten sessions: faults", 0.0, len(real.faults)),
        Figure("one session, caches full: growth of memory over 200 moves", GROWTH, grown),
    ]


def main() -> None:
    """Measure, print, and fail where something wanted is missed."""
    options = options_of()
    lack = helpers.missing()
    if lack:
        raise SystemExit(f"Cannot measure: {lack}.")
    both, grown = measure(options)
    real, bare = both["real"], both["bare"]
    highest = ([percentile(turn, 0.95) for turn in one.turns] for one in (real, bare))
    ratios = ", ".join(f"{mine / other:.2f}" for mine, other in zip(*highest, strict=True))
    print(f"\nRatio of the 95th percentiles, turn by turn: {ratios}")
    rows = {
        "move to answer's end, 95th percentile, JUDGED": lambda one: percentile(one.times, 0.95),
        "move to answer's end, median": lambda one: statistics.median(one.times),
        "processor time of a move": lambda one: statistics.median(one.processor),
        "alone: move to answer's end, median": lambda one: statistics.median(one.alone),
    }
    beside = {
        "beside a browser: move to answer's end, median": lambda one: statistics.median(one.beside),
        "beside a browser: move to answer's end, 95th percentile": lambda one: percentile(one.beside, 0.95),
        "that browser: key to charts, median": lambda one: statistics.median(one.browser),
    }
    print(f"\n{'ms':58}{'real':>10}{'bare':>10}{'ratio':>8}")
    for name, value in (rows | (beside if real.browser else {})).items():
        print(f"{name:58}{value(real):10.1f}{value(bare):10.1f}{value(real) / value(bare):8.2f}")
    missed = [f"{one.name}: {fault}" for one in (real, bare) for fault in one.faults]
    slower = percentile(real.times, 0.95) / percentile(bare.times, 0.95)
    if slower > SLOWER:
        missed.append(f"The 95th percentile is {slower:.1f} times the bare page's; wanted at most {SLOWER:g}.")
    if options.fill:
        print(f"Memory of the real page grew by {100 * grown:.1f} % over {COUNTED} moves with its caches full.")
    if grown > GROWTH:
        missed.append(f"Memory grew by {100 * grown:.0f} %; wanted at most {100 * GROWTH:.0f} %.")
    if missed:
        raise SystemExit("\n".join(missed[:20]))


if __name__ == "__main__":
    main()
