"""The run: speed against time, and what holds the bike back at each moment."""

from explorer.questions.run.section import TITLE, draw

__all__ = ["TITLE", "draw"]
