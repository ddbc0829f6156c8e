"""From measurements to values of a build, with their standard errors; and a prediction laid over a log."""
