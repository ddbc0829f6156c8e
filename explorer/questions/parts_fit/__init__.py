"""Do the parts go together: voltages, frequencies, currents, tyre and chain, each against what it may be."""

from explorer.questions.parts_fit.section import TITLE, draw

__all__ = ["TITLE", "draw"]
