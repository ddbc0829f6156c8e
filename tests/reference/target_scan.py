"""What single changes reach a target, by trying 200 values on each side of the present one, for 100 random builds.

`python -m tests.reference.target_scan --write` tries them and writes them down (a quarter of an hour on one core).
Every value is a run of its own with the protection as it is; nothing of `physics.studies.target` but the levers'
ranges is used.
"""

import argparse
import csv
import random
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from physics.build.batch import Batch
from physics.simulation.run import run
from physics.studies.target.levers import default_levers
from tests.reference.builds import random_build

FILE = Path(__file__).parent / "target_scan.csv"
COUNT = 100
VALUES = 200
DURATION = 10.0  # s
COLUMNS = ("seed", "target", "lever", "down", "up", "most")


def case(seed):
    """A random build and a target speed, m/s; None where it reaches the target as it is without a cut-out."""
    build = random_build(seed)
    now = run(build, DURATION)
    target = float(now.top_speed[0]) * random.Random(seed).choice((0.9, 1.005, 1.02, 1.05, 1.1, 1.3))
    if (now.reaches(target) & (now.status == 0))[0]:
        return None
    return build, target


def side(build, lever, way):
    """The values tried on one side of the present one, outward; of teeth and cells every one."""
    present = lever.present(build)
    end = lever.high if way > 0 else lever.low
    if (end - present) * way <= 0:
        return np.zeros(0)
    if lever.whole:
        return np.arange(present + way, end + way / 2, way)
    return np.r_[np.linspace(present, end, VALUES + 1)[1:-1], end]


def scan(seed):
    """Rows of one build, one for each lever; None where `case` gives none.

    How much of its range the lever uses down and up at the first value that is good and has a good one beside it,
    and the highest speed among values that do not cut out, m/s; NaN where there is none.
    """
    given = case(seed)
    if given is None:
        return None
    build, target = given
    levers = default_levers(build)
    sides = {(lever.key, way): side(build, lever, way) for lever in levers for way in (-1, 1)}
    by_key = {lever.key: lever for lever in levers}
    tried = [
        Batch.vary(build, by_key[key].changes(build, values)) for (key, _), values in sides.items() if len(values)
    ]
    result = run(Batch.join(tried), DURATION)
    good, start, rows = result.reaches(target) & (result.status == 0), 0, {}
    for (key, way), values in sides.items():
        chosen = slice(start, start + len(values))
        start += len(values)
        row = rows.setdefault(key, {"seed": seed, "target": target, "lever": key, "most": np.nan})
        fine = good[chosen]
        if not by_key[key].whole:
            fine = fine & (np.r_[False, fine[:-1]] | np.r_[fine[1:], True])
        row["down" if way < 0 else "up"] = float((fine.argmax() + 1) / len(values)) if fine.any() else np.nan
        closed = result.top_speed[chosen][result.status[chosen] == 0]
        row["most"] = float(np.fmax(row["most"], closed.max())) if closed.size else row["most"]
    return list(rows.values())


def read():
    """The rows of the file, numbers as numbers."""
    with FILE.open(newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return [
        {
            name: value if name == "lever" else int(value) if name == "seed" else float(value)
            for name, value in row.items()
        }
        for row in rows
    ]


def write():
    """The first COUNT random builds that do not reach their target."""
    with ProcessPoolExecutor() as pool:
        kept = [rows for rows in pool.map(scan, range(2 * COUNT)) if rows][:COUNT]
    with FILE.open("w", newline="") as file:
        file.write(
            f"# {VALUES} values on each side of the present one, runs of {DURATION:g} s; see target_scan.py.\n"
        )
        file.write("# down, up: fraction of the range used by the first good value; most: m/s without a cut-out.\n")
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        for rows in kept:
            writer.writerows(
                {name: f"{value:.9g}" if isinstance(value, float) else value for name, value in row.items()}
                for row in rows
            )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tests.reference.target_scan", description=__doc__)
    parser.add_argument("--write", action="store_true", help=f"write {FILE.name} afresh")
    if parser.parse_args().write:
        write()
    else:
        parser.print_help()
