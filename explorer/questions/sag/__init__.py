"""Sag: what the pack's voltage does under load, and how near the weakest cell comes to the cut-out."""

from explorer.questions.sag.section import TITLE, draw

__all__ = ["TITLE", "draw"]
