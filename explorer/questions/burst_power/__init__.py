"""Burst power: can this pack give a power for a time today, and what would it give if it were warmer."""

from explorer.questions.burst_power.section import TITLE, draw

__all__ = ["TITLE", "draw"]
