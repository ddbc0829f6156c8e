"""Gearing: what every sprocket pair would do, the best compromise, and whether the chain still fits."""

from explorer.questions.gearing.section import TITLE, draw

__all__ = ["TITLE", "draw"]
