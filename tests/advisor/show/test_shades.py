"""Shades and colours of a page, by day and by night."""

import numpy as np
import pytest
from matplotlib.colors import to_hex

from advisor.show.charts.style import CHANCE_SHADES, chance_colours
from advisor.show.page.shades import (
    colour_css,
    dark_of,
    lab_of,
    shade_css,
    with_names,
)


def test_shades_are_the_charts_and_can_be_read():
    """Contrast of text on each shade by WCAG 2.2: at least 4.5 to 1."""

    def luminance(colour):
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [
            p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts
        ]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    rules = shade_css().replace("}", "}\n").split("\n")
    rules = [rule[rule.index(".c") :] for rule in rules if "{background" in rule]
    assert len(rules) == 20  # ten shades on light ground, ten on dark
    for rule in rules:
        ground, ink = (
            part.split(":")[1] for part in rule[rule.index("{") + 1 : -1].split(";")
        )
        light, dark = sorted((luminance(ground), luminance(ink)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, rule
    assert f".c7{{background:{CHANCE_SHADES[6]}" in rules[6]
    assert to_hex(chance_colours()(0.7)) == CHANCE_SHADES[6]


@pytest.mark.parametrize("turn", [str, dark_of], ids=["light", "dark"])
def test_shades_grow_away_from_the_paper(turn):
    """One hue; a day more is farther from the ground in CIELAB (ISO/CIE 11664-4)."""
    paper = lab_of(turn("#ffffff"))
    shades = np.array([lab_of(turn(shade)) for shade in CHANCE_SHADES])
    away = np.linalg.norm(shades - paper, axis=1)
    lighter = np.abs(shades[:, 0] - paper[0])
    assert (np.diff(away) > 0.0).all()
    assert (np.diff(lighter) > 3.0).all()
    hue = np.degrees(np.arctan2(shades[:, 2], shades[:, 1]))
    assert np.ptp(hue) < 6.0


def test_lab_is_the_standards():
    """Corners of sRGB, values of CIE 15:2018 arithmetic (from memory)."""
    red = {"#ff0000": (53.24, 80.09, 67.20), "#0000ff": (32.30, 79.19, -107.86)}
    for colour, lab in red.items():
        assert lab_of(colour) == pytest.approx(lab, abs=0.03)


def test_a_picture_turns_dark_with_the_page():
    """Every colour has a name; text is ink on paper; the light of day stays."""
    svg = '<path style="fill: #ffffff; stroke: #0072b2"/><use xlink:href="#m0072b2aa"/>'
    named = with_names(svg)
    assert "fill: var(--xffffff); stroke: var(--x0072b2)" in named
    assert '"#m0072b2aa"' in named
    light, dark = colour_css([named]).split("@media")
    for each in ("ffffff", "000000", "0072b2"):
        assert f"--x{each}:#{each};" in light
        assert f"--x{each}:{dark_of('#' + each)};" in dark
    assert dark_of("#fefefe") == "#fefefe"
