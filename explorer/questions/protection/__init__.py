"""Will it cut out: how much of each allowance of the pack's protection the run uses, tripped or not."""

from explorer.questions.protection.section import TITLE, draw

__all__ = ["TITLE", "draw"]
