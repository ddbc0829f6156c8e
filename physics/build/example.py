"""The build that the examples in docstrings run on."""

from physics.build.parts import Bike, Build, Controller, Driveline, Motor, Pack


def example_build() -> Build:
    """A light bike with only what has no default: the build of every example here.

    Returns
    -------
    Build
        24 cells in series of 26 Ah, 60 rpm/V, line limit 200 A, phase limit 400 A, 12 to 56 teeth, 120 kg, 75 kg.

    Examples
    --------
    >>> example_build().change({"driveline.rear_teeth": 52}).driveline.rear_teeth
    52
    """
    return Build(Pack(24, 26.0), Motor(60.0), Controller(200.0, 400.0), Driveline(12, 56), Bike(120.0, 75.0))
