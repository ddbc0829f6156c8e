"""Questions that many runs answer."""
