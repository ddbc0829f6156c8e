"""Two rides on one chart, by time or by distance."""
