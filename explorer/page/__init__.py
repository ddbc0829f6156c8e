"""What the sections of one page share."""
