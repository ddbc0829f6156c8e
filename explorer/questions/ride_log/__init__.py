"""Ride log: read it, find its parts, fit the build to it, lay the prediction over it."""

from explorer.questions.ride_log.section import TITLE, draw

__all__ = ["TITLE", "draw"]
