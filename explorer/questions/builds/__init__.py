"""The named builds side by side: on one chart and in one table."""

from explorer.questions.builds.section import TITLE, draw

__all__ = ["TITLE", "draw"]
