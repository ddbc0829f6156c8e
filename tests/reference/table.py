"""What a reference run is boiled down to, and the file that keeps it for 200 random builds."""

import csv
import math
from pathlib import Path

import numpy as np

from tests.reference.bike import ENERGY, SPEED
from tests.reference.builds import random_build
from tests.reference.simulate import simulate

FILE = Path(__file__).parent.parent / "physics" / "reference_runs.csv"
SEEDS = range(200)
DURATION = 20.0  # s
SHARES = (0.2, 0.4, 0.6, 0.8, 0.9)  # of the top speed: the speeds whose times are kept
MOMENTS = np.arange(0.05, DURATION, 0.1)  # s, when the limit that holds is kept
LETTERS = "0123456789ab"  # one for each place in LIMITS
NUMBERS = (
    "top_speed", "end_speed", "distance", "minimum_voltage", "minimum_cell_voltage", "energy_used", "cut_out_time",
    "cut_out_current", "cut_out_voltage", "cut_out_acceleration", "cut_out_sag_rate", "cut_out_cell_sag_rate",
    *(f"time_to_{share:g}" for share in SHARES),
)


def summary(seed):
    """One row: the numbers above, the rule that opened, and the limit at every moment as one letter.

    Parameters
    ----------
    seed : int
        Seed of the build.

    Returns
    -------
    dict
        Column to value; NaN where there is none.
    """
    run = simulate(random_build(seed), DURATION)
    seen, (end, _) = run.sample_pieces(), run.state(DURATION)
    cut_out = run.cut_out or (math.nan, "", math.nan, math.nan, math.nan)
    before = run.rates_at_cut_out() if run.cut_out else (math.nan, math.nan, math.nan)
    top = seen.speed.max()
    return {
        "seed": seed, "top_speed": top, "end_speed": max(end[SPEED], 0.0), "distance": end[1],
        "minimum_voltage": seen.bus.min(), "minimum_cell_voltage": seen.weakest.min(), "energy_used": end[ENERGY],
        "cut_out_time": cut_out[0], "cut_out_current": cut_out[2], "cut_out_voltage": cut_out[3],
        "cut_out_acceleration": before[0], "cut_out_sag_rate": before[1], "cut_out_cell_sag_rate": before[2],
        **{f"time_to_{share:g}": run.time_to(share * top) for share in SHARES},
        "rule": cut_out[1], "limits": "".join(LETTERS[place] for place in run.sample(MOMENTS).limit),
    }  # fmt: skip


def write(seeds=SEEDS, path=FILE):
    """Work out every row and write the file."""
    rows = []
    for seed in seeds:
        row = summary(seed)
        rows.append({name: f"{row[name]:.9g}" if name in NUMBERS else row[name] for name in row})
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write("# Written by `python -m tests.reference --write`: one reference run for each seed.\n")
        file.write(f"# {DURATION:g} s from rest, SI; limits: places in physics.limits.LIMITS, base 12.\n")
        writer = csv.DictWriter(file, rows[0].keys(), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def read(path=FILE):
    """The file's rows as dicts, numbers as floats."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    for row in rows:
        row["seed"] = int(row["seed"])
        row.update({name: float(row[name]) for name in NUMBERS})
    return rows
