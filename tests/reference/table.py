"""What a reference run is boiled down to, and the file that keeps it for 200 random builds."""

import csv
import math
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from physics.limits import CUT_OUT
from tests.reference.bike import ENERGY, SPEED
from tests.reference.builds import ANY_LAW, random_build
from tests.reference.simulate import simulate

FILE = Path(__file__).parent / "reference_runs.csv"
SEEDS = (*range(ANY_LAW), 228, 303, 310, 415)  # the last four: other laws of the over-current timer
DURATION = 20.0  # s
SHARES = (0.2, 0.4, 0.6, 0.8, 0.9)  # of the top speed: the speeds whose times are kept
MOMENTS = np.arange(0.05, DURATION, 0.1)  # s, when the limit that holds is kept
LETTERS = "0123456789ab"  # one for each place in LIMITS
NUMBERS = (
    "top_speed",
    "end_speed",
    "distance",
    "minimum_voltage",
    "minimum_cell_voltage",
    "energy_used",
    "cut_out_time",
    "cut_out_current",
    "cut_out_voltage",
    "cut_out_acceleration",
    "cut_out_sag_rate",
    "cut_out_cell_sag_rate",
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
    found = outcome(run)
    rule = found.pop("rule")
    before = run.rates_at_cut_out() if run.cut_out else (math.nan, math.nan, math.nan)
    times = {f"time_to_{share:g}": run.time_to(share * found["top_speed"]) for share in SHARES}
    rates = dict(zip(("cut_out_acceleration", "cut_out_sag_rate", "cut_out_cell_sag_rate"), before, strict=True))
    limits = "".join(LETTERS[place] for place in run.sample(MOMENTS).limit)
    return {"seed": seed, **found, **rates, **times, "rule": rule, "limits": limits}


def outcome(run):
    """What a reference run came to: all of a row but the rates, the times and the limits."""
    seen, (end, _) = run.sample_pieces(), run.state(DURATION)
    cut_out = run.cut_out or (math.nan, "", math.nan, math.nan, math.nan)
    return {
        "top_speed": seen.speed[seen.limit != CUT_OUT].max(), "end_speed": max(end[SPEED], 0.0), "distance": end[1],
        "minimum_voltage": seen.bus.min(), "minimum_cell_voltage": seen.weakest.min(), "energy_used": end[ENERGY],
        "cut_out_time": cut_out[0], "cut_out_current": cut_out[2], "cut_out_voltage": cut_out[3],
        "rule": cut_out[1],
    }  # fmt: skip


def allowed(rows):
    """How far a run may be from the reference's rows, as `physics.simulation.run.run` promises.

    What a cut-out ends may also be off by what it moves on in the 20 ms by which its moment may be; the rest
    voltage is below twice the loaded one.

    Parameters
    ----------
    rows : list of dict
        As `read` gives them.

    Returns
    -------
    dict
        Name of a column to an array, one for each row, in its unit.
    """

    def column(name):
        return np.array([row[name] for row in rows])

    def with_cut_out(absolute, moved):
        return np.fmax(absolute, 0.02 * moved)

    slower, power = column("cut_out_acceleration"), 2.0 * column("cut_out_current") * column("cut_out_voltage")
    speed = with_cut_out(1e-3 * column("top_speed"), slower)
    return {
        "top_speed": speed,
        "end_speed": speed,
        # it coasts on with a speed that is off
        "distance": with_cut_out(
            np.maximum(5e-3 * column("distance"), 0.1), slower * (DURATION - column("cut_out_time"))
        ),
        "minimum_voltage": with_cut_out(2e-3 * column("minimum_voltage"), column("cut_out_sag_rate")),
        # of four volts: the weakest cell of a deeply sagging pack can come near zero
        "minimum_cell_voltage": with_cut_out(2e-3 * 4.0, column("cut_out_cell_sag_rate")),
        "energy_used": with_cut_out(np.maximum(5e-3 * column("energy_used"), 5.0), power),
        "cut_out_time": np.full(len(rows), 0.02),
        **{f"time_to_{share:g}": np.maximum(5e-3 * column(f"time_to_{share:g}"), 0.01) for share in SHARES},
    }


def write(seeds=SEEDS, path=FILE):
    """Work out every row and write the file."""
    with ProcessPoolExecutor() as pool:
        rows = [
            {name: f"{row[name]:.9g}" if name in NUMBERS else row[name] for name in row}
            for row in pool.map(summary, seeds)
        ]
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
