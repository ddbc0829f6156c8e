"""Every measurement with a bound, one after another, in one table: `python -m tests.bench`, some 25 minutes.

`python -m tests.bench page_speed drag_speed` measures those alone. Each has a process of its own; run it on a
machine that does nothing else. It ends non-zero where a figure is not met.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

from tests.bench.figures import measured

BENCHES = ("page_speed", "drag_speed", "sessions", "batch_speed", "gearing_speed", "uncertainty_memory")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__.split("\n")[0])
    parser.add_argument("names", nargs="*", metavar="name", help=f"of {', '.join(BENCHES)}; all if none is given")
    names = parser.parse_args().names or BENCHES
    if unknown := set(names) - set(BENCHES):
        parser.error(f"no measurement is called {', '.join(sorted(unknown))}; there are {', '.join(BENCHES)}")
    found = []
    for name in names:
        with ProcessPoolExecutor(1, get_context("spawn")) as alone:
            found += alone.submit(measured, name).result()
    print(f"\n{'':64}{'wanted':>16}{'measured':>10}")
    for figure in found:
        print(figure)
    if missed := sum(not figure.met for figure in found):
        raise SystemExit(f"{missed} of {len(found)} are not met.")


if __name__ == "__main__":
    main()
