"""How long the whole gearing map takes, against single runs: 12 x 56 pairs in one batch.

Run it as `python -m tests.bench.gearing_speed`. Times are the least of several, so that other work on the machine
counts as little as may be; what is judged are ratios of times taken side by side. The bound: for each 100 pairs at
most three times one build's run.
"""

import sys
import time

from physics.build import Bike, Build, Controller, Driveline, Motor, Pack, Protection
from physics.simulation.run import run
from physics.studies.gearing import gearing_map
from tests.bench.figures import Figure

FRONT, REAR = range(9, 21), range(25, 81)
MOST = 3.0
DURATION, SPEED = 30.0, 50 / 3.6

BUILD = Build(
    Pack(24, 26.0, resistance=0.046, protection=Protection(continuous_current=180.0, peak_current=240.0)),
    Motor(62.0),
    Controller(210.0, 480.0),
    Driveline(12, 56),
    Bike(118.0, 82.0, drag_area=0.48),
)


def least_times(*works, repeats: int = 7) -> list[float]:
    """Least time of each piece of work, s, taken in turns."""
    least = [float("inf")] * len(works)
    for _ in range(repeats):
        for place, work in enumerate(works):
            start = time.perf_counter()
            work()
            least[place] = min(least[place], time.perf_counter() - start)
    return least


def measure() -> dict[str, float]:
    """Single run, whole map in one batch, and the map in the default chunks."""
    single, batch, chunked = least_times(
        lambda: run(BUILD, DURATION),
        lambda: gearing_map(BUILD, FRONT, REAR, SPEED, DURATION, memory=2**40),
        lambda: gearing_map(BUILD, FRONT, REAR, SPEED, DURATION),
    )
    hundreds = len(FRONT) * len(REAR) / 100
    return {
        "single run, s": single,
        "map in one batch, s": batch,
        "map in chunks, s": chunked,
        "one batch: single runs per 100 pairs": batch / single / hundreds,
        "in chunks: single runs per 100 pairs": chunked / single / hundreds,
    }


def figures() -> list[Figure]:
    """What has a bound."""
    name = "one batch: single runs per 100 pairs"
    return [Figure(f"the map of all sprocket pairs, {name}", MOST, measure()[name])]


def main() -> int:
    """Print the ratios; 1 where the bound is broken."""
    found = measure()
    for name, value in found.items():
        print(f"{name:40s} {value:8.3f}")
    good = found["one batch: single runs per 100 pairs"] <= MOST
    print(f"bound: at most {MOST:g} single runs per 100 pairs in one batch: {'held' if good else 'BROKEN'}")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
