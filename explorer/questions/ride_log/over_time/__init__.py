"""Several rides of one bike: how its values change from date to date, and the file they are kept in."""
