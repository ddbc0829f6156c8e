"""What stands around the questions."""
