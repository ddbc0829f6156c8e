"""The setup sheet for the garage: what it says, and the files to print."""

from explorer.questions.setup_sheet.section import TITLE, draw

__all__ = ["TITLE", "draw"]
