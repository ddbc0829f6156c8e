"""Today's line limit: the highest that survives a pull with margin, over pack temperature and charge."""

from explorer.questions.line_limit.results import limit_of as work_out
from explorer.questions.line_limit.section import TITLE, draw

__all__ = ["TITLE", "draw", "work_out"]
