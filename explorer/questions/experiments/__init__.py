"""Experiments: a scene, a guess, one change, two runs, and why. Nothing is run before the guess is made."""

from explorer.questions.experiments.section import TITLE, draw

__all__ = ["TITLE", "draw"]
