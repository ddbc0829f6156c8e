"""Charge headroom: how far below full the pack must rest before anything may push current back into it."""

from explorer.questions.headroom.section import TITLE, draw

__all__ = ["TITLE", "draw"]
