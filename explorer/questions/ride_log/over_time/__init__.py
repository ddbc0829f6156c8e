"""Several rides of one bike: how its values change from date to date, and the file they are kept in."""

from explorer.questions.ride_log.over_time.section import draw

__all__ = ["draw"]
