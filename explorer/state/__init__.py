"""What one rider has entered; the link and the files that carry it."""
