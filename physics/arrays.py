"""The types of numbers: arrays of floats, and what stands for one number or many."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
"""An array of floats; also a single NumPy float, as NumPy gives it back for single numbers."""

Numbers = float | Floats
"""A number, or an array of them: what functions without any check or copy take."""

Number = TypeVar("Number", float, Floats)
"""A number, or an array of them, where the same kind comes back."""
