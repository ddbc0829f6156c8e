"""What is asked of a bike, made of runs and steady states: pulls, rides, a steady speed, a power, warming up."""
