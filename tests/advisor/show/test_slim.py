"""A chart's SVG for a page: smaller, and still the same picture."""

import re

import pytest

from advisor.show.charts.files import svg_text
from advisor.show.charts.slim import slim_svg
from advisor.show.charts.style import in_own_look

NASTY = 'a id="x" d="M 1.23456 2" ; font-family: \'DejaVu Sans\' <b>&amp;'


@pytest.fixture(scope="module")
def drawn():
    """A small chart with lines, clips, texts and a nasty name."""

    @in_own_look
    def figure():
        from matplotlib.figure import Figure

        whole = Figure(figsize=(3, 2))
        axes = whole.add_axes((0.2, 0.2, 0.7, 0.6))
        axes.plot([0.0, 1.0 / 3.0, 1.0], [0.0, 0.7, 0.2], marker="o")
        axes.set_title(NASTY)
        return whole

    return svg_text(figure(), f"It says {NASTY}", "one")


def places(svg):
    """Every figure of paths and places, in order."""
    parts = re.findall(r' (?:d|x|y)="([^"]*)"', svg)
    return [float(n) for part in parts for n in re.findall(r"-?\d+\.?\d*", part)]


def test_what_is_drawn_moves_by_under_a_hundredth(drawn):
    before, after = places(drawn), places(slim_svg(drawn))
    assert len(before) == len(after) > 50
    assert max(abs(a - b) for a, b in zip(before, after, strict=True)) < 0.01


def test_it_is_smaller_and_every_name_in_use_is_still_there(drawn):
    slim = slim_svg(drawn)
    assert len(slim) < 0.8 * len(drawn)
    used = set(re.findall(r"(?:url\(#|href=\"#|aria-labelledby=\")([^\")]+)", slim))
    assert used
    assert used <= set(re.findall(r' id="([^"]*)"', slim))
    assert "<style" not in slim


def test_texts_stay_to_the_letter(drawn):
    texts = re.findall(r"<(?:text|title)[^>]*>([^<]*)<", slim_svg(drawn))
    assert texts == re.findall(r"<(?:text|title)[^>]*>([^<]*)<", drawn)
    assert any('id="x" d="M 1.23456 2"' in text for text in texts)


def test_a_small_scale_keeps_its_decimals():
    svg = '<svg><g transform="scale(0.00123)"><path d="M 0.12345 1"/></g></svg>'
    assert 'scale(0.00123)"' in slim_svg(svg)
