"""Heat: which part gets hot first, how long full power lasts, and what cooling between pulls gives back."""

from explorer.questions.heat.results import work_out
from explorer.questions.heat.section import TITLE, draw

__all__ = ["TITLE", "draw", "work_out"]
