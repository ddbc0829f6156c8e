"""The cut-outs of a ride log: found, ridden again by the build, and what would have saved the pulls they ended."""
