"""What the controller's own identification should report."""

from explorer.questions.self_check.section import TITLE, draw

__all__ = ["TITLE", "draw"]
