"""The plan of the ground as a chart: to scale, north on top, all named, legible."""

import itertools

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from advisor.answers.hanging.ground_plan import GroundPlan, Standing
from advisor.show.charts.groundplan import figure

PLAN = GroundPlan(
    supports=(
        Standing("north tree", -6.0, 6.0, 8.0, True),
        Standing("pole", 0.0, 0.0, 12.0, False),
        Standing("south tree", 6.0, -6.0, 8.0, True),
    ),
    wires=((-4.0 + 4.0j, 0j), (0j, 4.0 - 4.0j)),
    below=(),
    cords=((-4.0 + 4.0j, -6.0 + 6.0j), (4.0 - 4.0j, 6.0 - 6.0j)),
    stakes=(8.0 - 8.0j,),
    feed=0j,
    bearing_deg=135.0,
    length_m=11.3,
    has_operator=True,
)


@pytest.mark.slow
def test_it_is_to_scale_and_every_name_can_be_read():
    drawn = figure(PLAN, "Dipole for 20 m between north tree and south tree.")
    FigureCanvasAgg(drawn).draw()
    ground, rule = drawn.axes
    for axes in (ground, rule):
        box = axes.get_window_extent()
        metre = box.width / abs(axes.get_xlim()[1] - axes.get_xlim()[0])
        if axes is ground:
            scale = metre
            assert box.height / abs(
                axes.get_ylim()[1] - axes.get_ylim()[0]
            ) == pytest.approx(metre)
        assert metre == pytest.approx(scale)
    assert ground.get_xlim()[0] < -6.0
    # North is up, east to the right.
    assert ground.get_ylim()[0] < ground.get_ylim()[1]
    words = [text for text in ground.texts if text.get_text()]
    said = " ".join(text.get_text() for text in words)
    for name in ("north tree", "pole", "south tree", "12.0 m", "11.3 m of wire", "N"):
        assert name in said
    boxes = [text.get_window_extent() for text in words]
    for one, two in itertools.combinations(boxes, 2):
        assert not one.overlaps(two)
    long_m = float(rule.lines[0].get_xdata()[1])
    assert f"{long_m:g} m" in [text.get_text() for text in rule.texts]
