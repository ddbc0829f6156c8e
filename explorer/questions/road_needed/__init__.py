"""The road a test needs: run-up, hold, reaction, and the stop."""

from explorer.questions.road_needed.results import road_of as work_out
from explorer.questions.road_needed.section import TITLE, draw

__all__ = ["TITLE", "draw", "work_out"]
