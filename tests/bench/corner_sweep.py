"""Every section at every corner of the inputs, and at rows drawn by lot: what is wrong on the page.

Run from the top folder: ``python -m tests.bench.corner_sweep --random 100``. The corners and what is looked for are
those of tests/explorer/page/test_page_corners.py, which unfolds only some sections at each.
"""

from __future__ import annotations

import argparse
import logging
import random
import sys
import time
import warnings
from pathlib import Path

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from explorer.inputs.catalogue import INPUTS
from tests.explorer import pairwise
from tests.explorer.corners import SECTIONS, VALUES, folds_inside, makes_a_build, shown


def by_lot(chance: random.Random) -> dict:
    """A row anywhere: each input at an end, or somewhere between."""
    row = {}
    for key, ends in VALUES.items():
        spec = INPUTS.get(key)
        row[key] = chance.choice(ends)
        if spec is None or chance.random() < 0.4:
            continue
        if spec.is_number and row[key] is not None:
            row[key] = spec.clamp(chance.uniform(spec.low, spec.high))
        elif spec.kind == "options":
            row[key] = chance.choice([option for option, _ in spec.options])
    return row


def main() -> None:
    """Sweep and print what is wrong."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--random", type=int, default=20, help="rows drawn by lot, besides the corners")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sections", nargs="*", default=list(SECTIONS), help="those unfolded")
    options = parser.parse_args()
    logging.disable(logging.CRITICAL)
    warnings.simplefilter("error", RuntimeWarning)
    chance, names = random.Random(options.seed), tuple(options.sections)
    rows = pairwise.rows(VALUES, makes_a_build)[0] + [by_lot(chance) for _ in range(options.random)]
    wrong, start = 0, time.perf_counter()
    for place, row in enumerate(rows):
        fine = makes_a_build(row)
        for name in names:
            for fault in shown(row, (name,), inside=folds_inside((name,))).faults((name,), wrong_build=not fine):
                wrong += 1
                print(f"row {place}, {name}: {fault[-600:]}", flush=True)
    print(f"{len(rows)} rows, {len(names)} sections each, {wrong} faults, {time.perf_counter() - start:.0f} s")
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
