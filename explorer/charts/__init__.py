"""What several charts share."""
