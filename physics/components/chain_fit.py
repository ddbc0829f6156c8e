"""Whether the chain on the bike still fits after a change of sprockets, and which chain does if not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.components.chain import centre_distance, chain_length, pitch_diameter

_TOUCH = 1 + 1e-9


@dataclass(frozen=True)
class ChainFit:
    """How a chain goes round sprocket pairs. Arrays broadcast from the pairs; SI.

    Attributes
    ----------
    length : array
        Length a pair needs where the axle stands now, in links, not rounded.
    axle_move : array, m
        How far the axle must move for the present chain, backwards positive; NaN where it is too short to close.
    fits : array of bool
        Whether that lies within the adjusters' room.
    links : array
        Even number of links that fits with the least movement; where none does, the next that is long enough.
    links_move : array, m
        How far the axle moves for those.
    links_fit : array of bool
        Whether that lies within the adjusters' room.
    """

    length: Floats
    axle_move: Floats
    fits: NDArray[np.bool_]
    links: Floats
    links_move: Floats
    links_fit: NDArray[np.bool_]


def chain_fit(
    pitch: float,
    front_teeth: ArrayLike,
    rear_teeth: ArrayLike,
    distance: float,
    links: float,
    forward: float,
    back: float,
) -> ChainFit:
    """Fit the chain on the bike to sprocket pairs.

    Parameters
    ----------
    pitch : float, m
        Of the chain.
    front_teeth, rear_teeth : array
        The pairs.
    distance : float, m
        Between sprocket shaft and axle, as the axle stands now.
    links : float
        Links of the present chain.
    forward, back : float, m
        Room the adjusters leave from where the axle stands now, both zero or above.

    Returns
    -------
    ChainFit

    Raises
    ------
    ValueError
        When the sprockets would touch at the present distance, or room is below zero.

    Notes
    -----
    Geometry of `physics.components.chain`; a chain joined without a cranked link has an even number of
    links. Slack is left out: the same slack before and after moves the axle alike.

    Examples
    --------
    >>> fit = chain_fit(0.0127, 12, [54, 56, 58], 0.55, 122, forward=0.005, back=0.02)
    >>> fit.fits.tolist()
    [True, True, False]
    >>> (fit.axle_move * 1000).round(1).tolist()
    [8.7, 1.6, -5.5]
    """
    if forward < 0 or back < 0:
        raise ValueError(f"The adjusters' room must be 0 m or more; got {forward:g} forward and {back:g} back.")
    front, rear = np.broadcast_arrays(np.asarray(front_teeth, dtype=float), np.asarray(rear_teeth, dtype=float))
    length = np.asarray(chain_length(pitch, front, rear, distance))
    move = _move(pitch, front, rear, distance, links)
    shorter = 2.0 * np.floor(length / 2.0)
    options = np.stack([shorter, shorter + 2.0])
    moves = np.stack([_move(pitch, front, rear, distance, option) for option in options])
    fit = _within(moves, forward, back)
    size = np.where(fit, np.abs(moves), np.inf)
    chosen = np.where(fit.any(axis=0), size.argmin(axis=0), 1)[None]
    return ChainFit(
        length,
        move,
        _within(move, forward, back),
        np.take_along_axis(options, chosen, axis=0)[0],
        np.take_along_axis(moves, chosen, axis=0)[0],
        np.take_along_axis(fit, chosen, axis=0)[0],
    )


def _within(move: Floats, forward: float, back: float) -> NDArray[np.bool_]:
    return np.isfinite(move) & (move >= -forward) & (move <= back)


def _move(pitch: float, front: Floats, rear: Floats, distance: float, links: ArrayLike) -> Floats:
    """Axle movement for a chain of so many links; NaN where the sprockets would touch."""
    touching = 0.5 * (pitch_diameter(pitch, front) + pitch_diameter(pitch, rear)) * _TOUCH
    shortest = chain_length(pitch, front, rear, touching)
    closes = np.asarray(links) > shortest
    safe = np.where(closes, links, np.ceil(shortest) + 2.0)
    return np.where(closes, centre_distance(pitch, front, rear, safe) - distance, np.nan)
