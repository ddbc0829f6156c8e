"""Parts and surroundings, each a set of small functions with their sources; floats or arrays, SI."""
