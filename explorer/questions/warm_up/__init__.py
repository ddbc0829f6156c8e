"""Warm-up: how long at what current or how many gentle pulls, what charge that costs, and whether it pays."""

from explorer.questions.warm_up.results import ahead
from explorer.questions.warm_up.section import TITLE, draw

__all__ = ["TITLE", "ahead", "draw"]
