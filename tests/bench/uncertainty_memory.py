"""How much memory 10,000 samples with bands on every curve take, and how long they do.

Run it as `python -m tests.bench.uncertainty_memory`. The samples are run in a process of their own, whose highest
resident memory is read when it ends; Python, numpy and scipy are part of it. The bound: below 1 GiB.
"""

import json
import resource
import subprocess
import sys
import time

from tests.bench.figures import Figure

COUNT, DURATION, TARGET = 10_000, 30.0, 32.0
MOST_BYTES = 2**30


def work() -> dict[str, float]:
    """Run the samples here; highest resident memory in bytes, and seconds."""
    from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
    from physics.studies.uncertainty import likely
    from physics.studies.uncertainty.tolerance import default_tolerances

    rules = Protection(continuous_current=180.0, peak_current=240.0, cell_undervoltage=2.8)
    build = Build(
        Pack(24, 26.0, resistance=0.05, protection=rules),
        Motor(62.0),
        Controller(200.0, 480.0),
        Driveline(12, 56),
        Bike(118.0, 82.0, drag_area=0.48),
        Conditions(air_temperature=279.15, charge=0.95),
    )
    start = time.perf_counter()
    found = likely(build, TARGET, default_tolerances(build), DURATION, count=COUNT)
    seconds = time.perf_counter() - start
    assert found.count == COUNT
    unit = 1 if sys.platform == "darwin" else 1024
    return {"bytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit, "seconds": seconds}


def measure() -> dict[str, float]:
    """The same in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.uncertainty_memory", "--here"]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def figures() -> list[Figure]:
    """What has a bound."""
    gibibytes = measure()["bytes"] / 2**30
    return [Figure(f"{COUNT:,} samples with bands on every curve", MOST_BYTES / 2**30, gibibytes, unit="GiB")]


def main() -> int:
    """Print what was measured; 1 where the bound is broken."""
    if "--here" in sys.argv:
        print(json.dumps(work()))
        return 0
    found = measure()
    good = found["bytes"] < MOST_BYTES
    print(f"{COUNT} samples: {found['bytes'] / 2**20:.0f} MiB, {found['seconds']:.1f} s")
    print(f"bound: below {MOST_BYTES / 2**20:.0f} MiB: {'held' if good else 'BROKEN'}")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
