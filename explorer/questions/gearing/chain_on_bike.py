"""The chain on the bike, and how it goes round other sprockets. No Streamlit here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from physics.build import Build
from physics.components.chain import centre_distance, chain_length, chain_size
from physics.components.chain_fit import ChainFit, chain_fit

USUAL_DISTANCE = 0.56
"""From front sprocket to axle, m, where the rider has not counted links; common practice, no source."""


@dataclass(frozen=True)
class Chain:
    """The chain on the bike.

    Attributes
    ----------
    size : str
        Its size number.
    links : int
        Its length.
    front_teeth, rear_teeth : int
        The sprockets it runs on now.
    forward, back : float, m
        Room the adjusters leave.
    known : bool
        Whether the rider has entered it.
    """

    size: str
    links: int
    front_teeth: int
    rear_teeth: int
    forward: float
    back: float
    known: bool

    @property
    def pitch(self) -> float:
        """Pitch, m."""
        return chain_size(self.size).pitch

    @property
    def distance(self) -> float:
        """Between the shafts as the axle stands now, m; NaN where the chain cannot close."""
        try:
            return float(centre_distance(self.pitch, self.front_teeth, self.rear_teeth, self.links))
        except ValueError:
            return float("nan")

    def fit(self, front_teeth: ArrayLike, rear_teeth: ArrayLike) -> ChainFit:
        """How it goes round sprocket pairs; nothing fits where it cannot close as it is."""
        count = np.shape(front_teeth)
        nothing = ChainFit(*[np.full(count, np.nan), np.full(count, np.nan), np.zeros(count, bool)] * 2)
        if np.isnan(self.distance):
            return nothing
        try:
            return chain_fit(
                self.pitch, front_teeth, rear_teeth, self.distance, self.links, self.forward, self.back
            )
        except ValueError:  # sprockets that would touch at this distance
            return nothing


def usual_links(size: str, front_teeth: int, rear_teeth: int) -> int:
    """Even number of links nearest to the usual distance."""
    length = float(chain_length(chain_size(size).pitch, front_teeth, rear_teeth, USUAL_DISTANCE))
    return int(2 * round(length / 2))


def chain_on_bike(build: Build, entries: dict[str, Any]) -> Chain:
    """The chain as it was entered, or a usual one for a build.

    Parameters
    ----------
    build : Build
        What is ridden now.
    entries : dict
        What the rider entered: size, links, front, rear, forward and back; any may be missing.
    """
    line = build.driveline
    size = entries.get("size", "428")
    front, rear = entries.get("front", line.front_teeth), entries.get("rear", line.rear_teeth)
    return Chain(
        size,
        entries.get("links") or usual_links(size, front, rear),
        front,
        rear,
        entries.get("forward", 0.010),
        entries.get("back", 0.015),
        "links" in entries,
    )
