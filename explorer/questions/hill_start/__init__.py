"""Hill start: the steepest slope that starts, for how long, and the highest kerb."""

from explorer.questions.hill_start.results import hill_of as work_out
from explorer.questions.hill_start.section import TITLE, draw

__all__ = ["TITLE", "draw", "work_out"]
