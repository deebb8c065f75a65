"""Shapes ranked as a chart: dots and ranges at their figures, legible, to scale."""

import itertools
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from advisor.antenna.shapes.registry import hang
from advisor.show.charts.ranked import alt_text, figure

SHAPES = ("inverted V", "dipole", "bottom-fed half-square", "ground-mounted vertical")


def found():
    """Make what a search finds, as far as the chart looks at it."""
    rows = []
    for place, shape in enumerate(SHAPES):
        upright = shape.startswith("ground")
        score = 0.5 - 0.1 * place
        rows.append(
            SimpleNamespace(
                setup=SimpleNamespace(shape=shape, bands=("40 m", "20 m")),
                advice=SimpleNamespace(score=score),
                low=score - 0.05,
                high=score + 0.1,
                is_equal=place == 1,
                wires={} if upright else {"20 m": hang(shape, 14.2)},
            )
        )
    question = SimpleNamespace(here="KF07jo")
    return SimpleNamespace(
        found=tuple(rows),
        varied="two months",
        advice=SimpleNamespace(question=question),
    )


def test_the_finding_names_the_best_and_what_is_level():
    said = alt_text(found())
    assert said == "Inverted V first, 5.0 days in ten, level with dipole; 4 shapes fit."


@pytest.mark.slow
def test_dots_ranges_and_outlines_are_where_they_belong():
    drawn = figure(found())
    FigureCanvasAgg(drawn).draw()
    ranks, looks = drawn.axes
    bars = [line.get_xdata() for line in ranks.lines if line.get_linestyle() == "-"]
    bars = [bar for bar in bars if len(bar) == 2]
    np.testing.assert_allclose(bars, [[4.5, 6], [3.5, 5], [2.5, 4], [1.5, 3]])
    dots = [line for line in ranks.lines if line.get_marker() == "o"]
    np.testing.assert_allclose([dot.get_xdata()[0] for dot in dots], [5, 4, 3, 2])
    # What is level with the best is filled as it is.
    filled = [dot.get_markerfacecolor() for dot in dots]
    assert filled[0] == filled[1] != filled[2] == filled[3]
    words = [text for text in ranks.texts if text.get_text()]
    assert all(any(shape in text.get_text() for text in words) for shape in SHAPES)
    boxes = [text.get_window_extent() for text in words]
    for one, two in itertools.combinations(boxes, 2):
        assert not one.overlaps(two)
    # Outlines stay in their rows: nothing leaves the view.
    high = looks.get_ylim()[0]
    for line in looks.lines:
        assert np.all(
            (np.asarray(line.get_ydata()) >= 0.0) & (line.get_ydata() <= high)
        )
        assert np.all((line.get_xdata() >= -1e-6) & (line.get_xdata() <= 0.95 + 1e-6))
