"""
Colours of a page on light and on dark ground.

On dark ground a colour keeps its hue and its lightness is turned over (CIELAB), so that
what stands out little or much does so on either, and paper is white.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache

import numpy as np

from advisor.show.charts.style import CHANCE_SHADES, INK, LIGHTS, PAPER, ink_of
from geo.arrays import Floats

DARK_PAPER, DARK_INK = "#14181c", "#edeae2"
"""Ground and text of a dark page."""

_TURNED = {PAPER: DARK_PAPER, INK: DARK_INK} | {light: light for light in LIGHTS}

_MOST, _SLOPE, _CHROMA = 93.0, 0.8, 0.85
"""Lightness of what was black, its fall with what it was, and how much of the colour
is kept: bright colours glare on dark ground; the project's choice."""

_TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
"""Linear sRGB to CIE XYZ, D65 (IEC 61966-2-1)."""

_WHITE = _TO_XYZ.sum(axis=1)
_KNEE = 6.0 / 29.0

_PAINT = re.compile(r"(?<=fill: )#[0-9a-f]{6}|(?<=stroke: )#[0-9a-f]{6}")
_NAMED = re.compile(r"var\(--x([0-9a-f]{6})\)")


def lab_of(colour: str) -> Floats:
    """
    Find a colour's place in CIELAB.

    Parameters
    ----------
    colour : str
        sRGB, such as ``#b5451a``.

    Returns
    -------
    lab : numpy.ndarray
        L*, a*, b* under D65 (ISO/CIE 11664-4).

    Examples
    --------
    >>> [abs(round(float(part), 1)) for part in lab_of("#ffffff")]
    [100.0, 0.0, 0.0]
    """
    parts = np.array([int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    ratio = _TO_XYZ @ linear / _WHITE
    x, y, z = np.where(
        ratio > _KNEE**3, np.cbrt(ratio), ratio / (3.0 * _KNEE**2) + 4.0 / 29.0
    )
    return np.array([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)])


def _hexed(lab: Floats) -> str:
    """Write a place in CIELAB as sRGB, cut off where a screen has no such colour."""
    y = (lab[0] + 16.0) / 116.0
    each = np.array([y + lab[1] / 500.0, y, y - lab[2] / 200.0])
    ratio = np.where(each > _KNEE, each**3, 3.0 * _KNEE**2 * (each - 4.0 / 29.0))
    linear = np.clip(np.linalg.solve(_TO_XYZ, ratio * _WHITE), 0.0, 1.0)
    parts = np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055
    )
    return "#" + "".join(f"{round(255.0 * float(part)):02x}" for part in parts)


def dark_of(colour: str) -> str:
    """
    Find what a colour becomes on dark ground.

    Parameters
    ----------
    colour : str
        On white, such as ``#b5451a``.

    Returns
    -------
    colour : str
        On dark ground; the light of day, dusk and night stays what it is.

    Examples
    --------
    >>> dark_of("#000000"), dark_of("#222222")
    ('#edeae2', '#222222')
    """
    if colour in _TURNED:
        return _TURNED[colour]
    lab = lab_of(colour)
    return _hexed(np.array([_MOST - _SLOPE * lab[0], *(_CHROMA * lab[1:])]))


def with_names(svg: str) -> str:
    """
    Give the colours of a picture names, so that a page can turn dark.

    Parameters
    ----------
    svg : str
        As the charts are written.

    Returns
    -------
    svg : str
        Each colour is ``var(--xRRGGBB)``, as `colour_css` tells them.
    """
    return _PAINT.sub(lambda found: f"var(--x{found[0][1:]})", svg)


def colour_css(svgs: Iterable[str]) -> str:
    """
    Tell the colours that pictures name, on light and on dark ground.

    Parameters
    ----------
    svgs : iterable of str
        From `with_names`.

    Returns
    -------
    css : str
        Black and white, which are text and ground, always among them.
    """
    used = {INK[1:], PAPER[1:]}.union(*(_NAMED.findall(svg) for svg in svgs))
    light, dark = (
        "".join(f"--x{each}:{turn(f'#{each}')};" for each in sorted(used))
        for turn in (str, dark_of)
    )
    screen = "@media screen and (prefers-color-scheme:dark)"
    return f":root{{{light}}}\n{screen}{{:root{{{dark}}}}}\n"


@cache
def shade_css() -> str:
    """
    Write the shades of a chance as styles: ``c`` for cells, ``f`` in a drawing.

    Returns
    -------
    css : str
        Often stands out from the ground, light or dark; the text on a shade is black
        or white, whichever stands out more.
    """
    light: list[str] = []
    dark: list[str] = []
    for step, shade in enumerate(CHANCE_SHADES, start=1):
        for rules, hexed in ((light, shade), (dark, dark_of(shade))):
            ink = ink_of(hexed)
            rules.append(f".c{step}{{background:{hexed};color:{ink}}}")
            rules.append(
                f"svg .f{step}{{fill:{hexed}}}svg .f{step}+.figure{{fill:{ink}}}"
            )
    screen = "@media screen and (prefers-color-scheme:dark)"
    return f"{''.join(light)}\n{screen}{{{''.join(dark)}}}\n"
