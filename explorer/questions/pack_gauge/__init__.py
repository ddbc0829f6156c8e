"""The pack gauge: one bar from empty to full that marks where the pack is, and what it is good for from there."""

from explorer.questions.pack_gauge.section import TITLE, draw

__all__ = ["TITLE", "draw"]
