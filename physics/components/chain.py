"""Chain drive: sizes, ratio, pitch diameter, chain speed, and efficiency.

Formulas are those of ISO 606 and ANSI/ASME B29.1, as printed in machinery handbooks. How many links a chain needs
is in chain_length.py.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_INCH = 0.0254  # m


@dataclass(frozen=True)
class ChainSize:
    """One motorcycle chain size.

    Attributes
    ----------
    pitch : float
        Distance between pins, m.
    inner_width : float
        Least width between the inner plates, m.
    roller_diameter : float
        Greatest roller diameter, m.
    """

    pitch: float
    inner_width: float
    roller_diameter: float


# The first digit of a size is the pitch in eighths of an inch. Sizes of ISO 10190 and ANSI B29.1; widths and roller
# diameters as in trade tables of motorcycle chain, which differ by up to 0.2 mm between makers.
CHAIN_SIZES = {
    "415": ChainSize(4 * _INCH / 8, 0.00476, 0.00777),
    "420": ChainSize(4 * _INCH / 8, 0.00635, 0.00777),
    "428": ChainSize(4 * _INCH / 8, 0.00775, 0.00851),
    "520": ChainSize(5 * _INCH / 8, 0.00635, 0.01016),
    "525": ChainSize(5 * _INCH / 8, 0.00795, 0.01016),
    "530": ChainSize(5 * _INCH / 8, 0.00953, 0.01016),
    "532": ChainSize(5 * _INCH / 8, 0.00953, 0.01110),
    "630": ChainSize(6 * _INCH / 8, 0.00953, 0.01191),
}

# S. Burgess and C. Lodge, "Optimisation of the chain drive system on sports motorcycles", Sports Engineering 7
# (2004) 65-73, abstract: 96 to 99 % below 75 mile/h; between 75 and 150 mile/h as low as 85 %, because of inertial
# tension.
EFFICIENCY_SPEED_KNEE = 75.0 * 0.44704  # m/s
EFFICIENCY_SPEED_TOP = 150.0 * 0.44704  # m/s
EFFICIENCY_LOW, EFFICIENCY_HIGH, EFFICIENCY_LOW_AT_TOP = 0.96, 0.99, 0.85


def chain_size(name):
    """Dimensions of a chain size.

    Parameters
    ----------
    name : str or int
        Size number, such as "428" or 520.

    Returns
    -------
    ChainSize
        Pitch, inner width and roller diameter, m.

    Raises
    ------
    ValueError
        If the size is not in the table.

    Examples
    --------
    >>> round(chain_size("520").pitch * 1000, 3)
    15.875
    """
    key = str(name).strip()
    if key not in CHAIN_SIZES:
        raise ValueError(f"Unknown chain size {name!r}. Accepted: {', '.join(CHAIN_SIZES)}.")
    return CHAIN_SIZES[key]


def sprocket_ratio(front_teeth, rear_teeth):
    """Turns of the front sprocket for one turn of the rear: rear teeth / front teeth.

    Parameters
    ----------
    front_teeth : float or array
        Teeth of the driving sprocket, at least 5.
    rear_teeth : float or array
        Teeth of the driven sprocket, at least 5.

    Returns
    -------
    float or array
        Ratio, 1.

    Raises
    ------
    ValueError
        If a sprocket has fewer than five teeth.

    Examples
    --------
    >>> round(float(sprocket_ratio(12, 56)), 4)
    4.6667
    """
    return teeth_checked("rear sprocket", rear_teeth) / teeth_checked("front sprocket", front_teeth)


def pitch_diameter(pitch, teeth):
    """Diameter of the circle the pins ride on: p / sin(pi / N).

    Parameters
    ----------
    pitch : float or array
        Chain pitch, m.
    teeth : float or array
        Number of teeth, at least 5.

    Returns
    -------
    float or array
        Pitch diameter, m.

    Raises
    ------
    ValueError
        If a sprocket has fewer than five teeth.

    Notes
    -----
    ISO 606, section on chain sprockets; ANSI/ASME B29.1, table of sprocket diameters.

    Examples
    --------
    >>> round(float(pitch_diameter(0.0254, 15)) * 1000, 2)
    122.17
    """
    return np.asarray(pitch) / np.sin(np.pi / teeth_checked("sprocket", teeth))


def chordal_speed_variation(teeth):
    """Share by which chain speed falls, each tooth, below its highest: 1 - cos(pi / N).

    Parameters
    ----------
    teeth : float or array
        Number of teeth, at least 5.

    Returns
    -------
    float or array
        Fraction, 0 to 1. Small front sprockets run rough: it falls with the square of the number of teeth.

    Raises
    ------
    ValueError
        If a sprocket has fewer than five teeth.

    Notes
    -----
    Machinery's Handbook, roller chains, chordal action; from memory for the page.

    Examples
    --------
    >>> round(float(chordal_speed_variation(11)), 4)
    0.0405
    """
    return 1.0 - np.cos(np.pi / teeth_checked("sprocket", teeth))


def chain_speed(pitch, teeth, sprocket_speed):
    """Mean speed of the chain: N p w / (2 pi).

    Parameters
    ----------
    pitch : float or array
        Chain pitch, m.
    teeth : float or array
        Teeth of the sprocket, at least 5.
    sprocket_speed : float or array
        Angular speed of that sprocket, rad/s.

    Returns
    -------
    float or array
        Chain speed, m/s.

    Raises
    ------
    ValueError
        If a sprocket has fewer than five teeth.

    Notes
    -----
    One tooth passes one pitch; ANSI/ASME B29.1, chain speed.

    Examples
    --------
    >>> round(float(chain_speed(0.015875, 12, 500.0)), 2)
    15.16
    """
    return np.asarray(pitch) * teeth_checked("sprocket", teeth) * np.asarray(sprocket_speed) / (2.0 * np.pi)


def chain_efficiency(road_speed, standing=0.5):
    """Efficiency of a motorcycle chain drive, between the published bounds.

    Below 75 mile/h the bounds are 96 and 99 %; above, the lower one falls in a straight line to 85 % at 150 mile/h
    and stays there.

    Parameters
    ----------
    road_speed : float or array
        Road speed, m/s. Only its size counts.
    standing : float or array
        Where in the band this drive stands: 0 poor (dry, misaligned, too tight), 1 best, 0.5 the middle.

    Returns
    -------
    float or array
        Efficiency, 0.85 to 0.99.

    Raises
    ------
    ValueError
        If `standing` is outside 0 to 1.

    Notes
    -----
    S. Burgess and C. Lodge, Sports Engineering 7 (2004) 65-73, abstract: a model of a 600 cc sports machine. The
    straight line between its two speeds is an assumption of this function.

    Examples
    --------
    >>> round(float(chain_efficiency(25.0)), 3)
    0.975
    """
    standing = np.asarray(standing, dtype=float)
    if not np.all((standing >= 0.0) & (standing <= 1.0)):
        raise ValueError("The standing of a chain drive must be between 0 (poor) and 1 (best).")
    low = np.interp(
        np.abs(road_speed),
        [EFFICIENCY_SPEED_KNEE, EFFICIENCY_SPEED_TOP],
        [EFFICIENCY_LOW, EFFICIENCY_LOW_AT_TOP],
    )
    return low + (EFFICIENCY_HIGH - low) * standing


def teeth_checked(name, teeth):
    """Teeth as floats, refusing what is not a sprocket.

    Parameters
    ----------
    name : str
        What to call the sprocket in the error.
    teeth : float or array
        Number of teeth.

    Returns
    -------
    array
        The teeth as floats.

    Raises
    ------
    ValueError
        If there are fewer than five teeth.

    Examples
    --------
    >>> float(teeth_checked("front sprocket", 12))
    12.0
    """
    array = np.asarray(teeth, dtype=float)
    if not np.all(array >= 5.0):
        raise ValueError(f"A {name} needs at least 5 teeth; got {np.min(array):g}.")
    return array
