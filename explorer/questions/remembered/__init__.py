"""Remembered: what a rider's memories of his rides say of his bike, and what to look at next."""

from explorer.questions.remembered.section import TITLE, draw

__all__ = ["TITLE", "draw"]
