"""How sure is this: chances, likely bands, which unknown matters most, and what to measure next."""

from explorer.questions.how_sure.section import TITLE, draw

__all__ = ["TITLE", "draw"]
