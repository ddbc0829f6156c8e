"""Speedometer: a new constant from readings, what a change of gearing or tyre does to it, the legal band."""

from explorer.questions.speedometer.section import TITLE, draw

__all__ = ["TITLE", "draw"]
