"""Plans of one day of riding: charging the night before, the way home, the road a test needs, braking by regen."""
