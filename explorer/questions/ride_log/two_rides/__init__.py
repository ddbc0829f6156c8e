"""Two rides on one chart, by time or by distance."""

from explorer.questions.ride_log.two_rides.section import draw

__all__ = ["draw"]
