"""The sketch of a set-up: to scale, complete, and legible."""

import itertools
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from advisor.antenna.shapes.registry import SHAPES, hang
from advisor.show.charts.sketch import draw_setup

HUNG = list(SHAPES)
"""Shapes made of wires; one more has a closed form."""
POINTS = [(0.0, 0.0, 1.0), (0.0, 0.0, 6.0), (3.0, 12.0, 7.0)]


def sketched(name, mhz=7.1, **sizes):
    """Draw a shape; the figure with its layout worked out, and what was drawn."""
    points = POINTS if SHAPES[name].takes_points else ()
    hung = hang(name, mhz, sizes, points_m=points)
    figure = draw_setup(hung.wires, hung.feed, hung.supports, f"a {name}", "hung")
    FigureCanvasAgg(figure).draw()
    return figure, hung


def key(figure):
    """What is written above and below the views."""
    return " ".join(text.get_text() for text in figure.texts)


def texts(axes):
    """What is written inside a panel."""
    return [text for text in axes.texts if text.get_text()]


@pytest.mark.slow
@pytest.mark.parametrize("name", HUNG)
@pytest.mark.parametrize("mhz", [3.6, 14.1])
def test_no_two_labels_lie_on_each_other_and_none_is_cut_off(name, mhz):
    figure, _ = sketched(name, mhz)
    page = figure.bbox
    labels = [text for axes in figure.axes for text in texts(axes)]
    assert min(text.get_fontsize() for text in labels) >= 9.0
    assert figure.get_figwidth() == 5.0
    boxes = [text.get_window_extent() for text in labels]
    for (one, a), (two, b) in itertools.combinations(
        zip(labels, boxes, strict=True), 2
    ):
        assert not a.overlaps(b), f"'{one.get_text()}' on '{two.get_text()}'"
    for box in boxes:
        assert page.x0 <= box.x0
        assert box.x1 <= page.x1
        assert page.y0 <= box.y0
        assert box.y1 <= page.y1


@pytest.mark.slow
@pytest.mark.parametrize("name", HUNG)
def test_both_views_are_to_one_scale_and_hold_every_wire(name):
    figure, hung = sketched(name)
    side, plan = figure.axes
    scales = []
    for axes in (side, plan):
        origin, one = axes.transData.transform([(0.0, 0.0), (1.0, 1.0)])
        scales += list(np.abs(one - origin))
    np.testing.assert_allclose(scales, scales[0], rtol=1e-6)
    for wire in hung.wires:
        for east, north, up in (wire.start_m, wire.end_m):
            for axes, other in ((side, up), (plan, east)):
                x, y = axes.transAxes.inverted().transform(
                    axes.transData.transform((north, other))
                )
                assert -1e-9 <= x <= 1.0 + 1e-9
                assert -1e-9 <= y <= 1.0 + 1e-9


def test_dimensions_are_written():
    figure, hung = sketched("half-square", height_m=12.0)
    side = {text.get_text() for text in texts(figure.axes[0])}
    assert f"{hung.wires[0].length_m:.2f} m" in side
    assert "feed, 12.0 m up" in side
    assert "12.0 m up" in side
    span = max(s.north_m for s in hung.supports) - min(s.north_m for s in hung.supports)
    assert f"{span:.2f} m" in side
    assert [text.get_text() for text in figure.texts][:2] == ["a half-square", "hung"]


@pytest.mark.slow
def test_radials_and_counterpoise_are_named_and_dashed():
    figure, _ = sketched("quarter-wave vertical", radials_n=3.0, radial_m=5.0)
    plan = figure.axes[1]
    assert "Dashed: 3 radials of 5.00 m." in key(figure)
    dashed = [line for line in plan.lines if line.get_linestyle() == "--"]
    assert len(dashed) == 3
    figure, _ = sketched("random wire", counterpoise_m=4.0)
    assert "Dashed: counterpoise of 4.00 m." in key(figure)
    figure, _ = sketched("dipole")
    assert "Dashed" not in key(figure)


@pytest.mark.slow
def test_what_lies_right_of_the_bearing_is_drawn_below():
    figure, _ = sketched("free wire")
    plan = figure.axes[1]
    straight, right = plan.transData.transform([(0.0, 0.0), (12.0, 3.0)])
    assert right[0] > straight[0]
    assert right[1] < straight[1]


@pytest.mark.slow
def test_nothing_touches_pyplot():
    code = (
        "import sys\n"
        "from advisor.antenna.shapes.registry import hang\n"
        "from advisor.show.charts.sketch import draw_setup\n"
        "hung = hang('dipole', 7.1)\n"
        "draw_setup(hung.wires, hung.feed, hung.supports, 'a dipole')\n"
        "print('matplotlib.pyplot' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=Path(__file__).parents[3],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "False"
