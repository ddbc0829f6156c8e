"""Reading and writing ride logs: from any text or GPX file to columns in SI, cleaned and cut into parts."""
