"""An independent reference for `physics.simulation.run`: the same physics, written twice.

One build at a time, plain floats, scipy's `solve_ivp` (DOP853, relative tolerance 1e-9) restarted at every change
of limit, of protection, or of straight piece in a table, and `brentq` for the bus voltage and the currents. It is
slow and simple on purpose, and shares nothing with physics/simulation/operating_point.py and
physics/simulation/run.py but the cell tables, typical values of a pack and the density of air.

`python -m tests.reference --write` writes tests/reference/reference_runs.csv afresh.
"""
