"""Charge to: at what reading to stop charging, for how long that is, and what the pack then rests at."""

from explorer.questions.charge_to.results import charge_to_of as work_out
from explorer.questions.charge_to.section import TITLE, draw

__all__ = ["TITLE", "draw", "work_out"]
