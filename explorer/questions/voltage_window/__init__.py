"""Voltage window and pulls: below what rest voltage the target is out of reach, and how many pulls that is."""

from explorer.questions.voltage_window.results import ahead, work_out
from explorer.questions.voltage_window.section import TITLE, draw

__all__ = ["TITLE", "ahead", "draw", "work_out"]
