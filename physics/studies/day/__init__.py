"""Plans of one day of riding: charging the night before, warming up, the way home, the road a test needs, regen."""
