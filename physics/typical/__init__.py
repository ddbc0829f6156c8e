"""Typical values: what a part most likely is, worked out from the few facts a rider knows of it.

Every rule gives a `Typical`, the middle and the ends of what is usual, or one number where the facts leave no
choice. A maker's or a measured value goes before all of them.
"""

from physics.typical.spread import Typical

__all__ = ["Typical"]
