"""A rule's limits: the line limit and speed cap that meet them."""

from explorer.questions.rule_limits.results import rule_of as work_out
from explorer.questions.rule_limits.section import TITLE, draw

__all__ = ["TITLE", "draw", "work_out"]
