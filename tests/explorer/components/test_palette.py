"""The colours: legible on their backgrounds, told apart by colour-blind eyes, the same in both places."""

import itertools
import tomllib
from pathlib import Path

import numpy as np
import pytest

from explorer.components import palette

THEMES = {"light": palette.LIGHT, "dark": palette.DARK}
CONFIG = Path(__file__).parents[3] / ".streamlit" / "config.toml"


def linear(hexadecimal):
    """Linear sRGB from a hexadecimal colour, IEC 61966-2-1 as quoted in WCAG 2.2."""
    code = np.array([int(hexadecimal[start : start + 2], 16) / 255 for start in (1, 3, 5)])
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def contrast(first, second):
    """Contrast ratio, WCAG 2.2, definition of "contrast ratio" and "relative luminance"."""
    bright, dim = sorted((linear(name) @ [0.2126, 0.7152, 0.0722] for name in (first, second)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


# Simulated colour-blind sight in linear RGB, severity 1.0: Machado, Oliveira and Fernandes, "A
# physiologically-based model for simulation of color vision deficiency", IEEE TVCG 15 (2009) 1291-1298,
# table 1. Numbers from memory.
SIGHT = {
    "normal": np.eye(3),
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def oklab(rgb):
    """Oklab coordinates (B. Ottosson, "A perceptual color space for image processing", 2020; from memory)."""
    to_cones = [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
    to_lab = [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
    return np.array(to_lab) @ np.cbrt(np.clip(np.array(to_cones) @ rgb, 0, None))


@pytest.mark.parametrize("theme", THEMES)
def test_text_reaches_the_contrast_of_wcag_level_aa(theme):
    """published: WCAG 2.2, success criterion 1.4.3, 4.5 to 1 for text."""
    table = THEMES[theme]
    for ink, ground in itertools.product(("text", "muted", "accent"), ("background", "panel")):
        assert contrast(table[ink], table[ground]) >= 4.5, (ink, ground)


@pytest.mark.parametrize("theme", THEMES)
def test_lines_reach_the_contrast_of_wcag_level_aa(theme):
    """published: WCAG 2.2, success criterion 1.4.11, 3 to 1 for what a chart needs to be understood."""
    table = THEMES[theme]
    for name in (*palette.SERIES, "axis"):
        assert contrast(table[name], table["background"]) >= 3.0, name


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("theme", THEMES)
def test_series_colours_are_told_apart(theme, sight):
    """property: every pair of series colours, and the text, stays at least 13 apart (100 x Oklab)."""
    table = THEMES[theme]
    names = (*palette.SERIES, "text")
    places = {name: oklab(np.array(SIGHT[sight]) @ linear(table[name])) for name in names}
    for first, second in itertools.combinations(names, 2):
        assert 100 * np.linalg.norm(places[first] - places[second]) >= 13.0, (first, second)


def test_settings_and_palette_hold_the_same_colours():
    """property: .streamlit/config.toml repeats the palette, since it cannot import it."""
    settings = tomllib.loads(CONFIG.read_text(encoding="utf-8"))["theme"]
    for theme, table in THEMES.items():
        held = settings[theme]
        assert held["primaryColor"] == table["accent"]
        assert held["backgroundColor"] == table["background"]
        assert held["secondaryBackgroundColor"] == table["panel"]
        assert held["textColor"] == table["text"]
        assert held["borderColor"] == table["axis"]
        assert held["chartCategoricalColors"] == [table[name] for name in palette.SERIES]


@pytest.mark.parametrize(
    ("token", "dark", "expected"),
    [
        ("@blue", False, "#08487d"),
        ("@blue", True, "#7585e2"),
        ("@blue/0.5", False, "rgba(8,72,125,0.5)"),
        ("@blue/1", False, "rgba(8,72,125,1)"),
        ("@nothing", False, "@nothing"),
        ("@ 12 V", False, "@ 12 V"),
        ("#ffffff", True, "#ffffff"),
    ],
)
def test_one_token(token, dark, expected):
    """hand-worked: 08 48 7d hexadecimal is 8, 72, 125."""
    assert palette.colour(token, dark=dark) == expected


def test_a_whole_figure():
    """hand-worked: tokens are resolved wherever they stand, everything else is kept."""
    figure = {"data": [{"marker": {"color": ["@amber", "red"]}, "y": [1, 2]}]}
    assert palette.resolve(figure) == {"data": [{"marker": {"color": ["#d87419", "red"]}, "y": [1, 2]}]}
