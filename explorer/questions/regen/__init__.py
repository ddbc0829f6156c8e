"""Regen, now and how strong: what may be set at each rest voltage, and what one stop by regen does."""

from explorer.questions.regen.results import regen_of as work_out
from explorer.questions.regen.section import TITLE, draw

__all__ = ["TITLE", "draw", "work_out"]
