"""Physics of a small electric motorcycle: SI floats and arrays, one leading builds axis."""
