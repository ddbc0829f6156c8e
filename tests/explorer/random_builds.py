"""Inputs drawn by lot, anywhere in their ranges, so that sentences meet what nobody thinks of."""

from __future__ import annotations

import functools
import random
from typing import Any

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.power_levels import level_in_use
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from physics.build.fields import BuildError

Inputs = dict[str, Any]


def random_inputs(seed: int) -> Inputs:
    """A preset of which about half the inputs are drawn anew; they need not make a build."""
    draw = random.Random(seed)
    values = dict(PRESETS[draw.choice(list(PRESETS))].values())
    wild = draw.choice((0.15, 0.5))
    for key, spec in INPUTS.items():
        if draw.random() >= wild:
            continue
        if spec.kind == "options":
            values[key] = draw.choice(spec.options)[0]
        elif spec.kind == "flag":
            values[key] = draw.random() < 0.5
        elif spec.is_number:
            drawn = spec.clamp(draw.uniform(spec.low, spec.high))
            values[key] = None if spec.kind != "number" and draw.random() < 0.3 else drawn
    values["level"] = level_in_use(values)
    if draw.random() < 0.7:  # mostly flat enough to ride
        values |= {"slope": PRESETS[next(iter(PRESETS))].values()["slope"], "headwind": 0.0}
    return values


@functools.cache
def sound_inputs(count: int, first: int = 1) -> tuple[Inputs, ...]:
    """That many inputs that make a build."""
    found: list[Inputs] = []
    seed = first
    while len(found) < count:
        inputs = random_inputs(seed)
        seed += 1
        try:
            make_build(inputs)
        except BuildError:
            continue
        found.append(inputs)
    return tuple(found)
