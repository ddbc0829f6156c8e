"""One batch of builds through time: the operating point, a step, the integrator, and what a run gives back."""
