"""The way home: down to what rest voltage it is safe, and how far the charge now goes."""

from explorer.page.results import home_of as work_out
from explorer.questions.way_home.section import TITLE, draw

__all__ = ["TITLE", "draw", "work_out"]
