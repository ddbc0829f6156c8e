"""What would have to change for a run to reach a target."""
