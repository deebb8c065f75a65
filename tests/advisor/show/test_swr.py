"""The chart of standing-wave ratios: its arrays, and the sweep of an answer."""

from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.figure import Figure

from advisor.answers.pictures.scene import Scene
from advisor.answers.pictures.swr import SwrCurve, swr_view
from advisor.antenna.line import line_by_name, matched_loss_db
from advisor.show.charts import (
    swr,
)
from advisor.show.charts.files import svg_text
from advisor.show.charts.gallery import CHARTS

DIPOLE = {"name": "wire", "shape": "dipole", "height_m": 8.0}


DIPOLE_BANDS = ("40 m", "20 m", "10 m")


SVG = "{http://www.w3.org/2000/svg}"


def written(figure: Figure) -> list[str]:
    """Every text of a chart, in the order of its SVG."""
    root = ElementTree.fromstring(svg_text(figure, "x"))
    return ["".join(each.itertext()).strip() for each in root.iter(f"{SVG}text")]


def test_swr_draws_its_arrays():
    """Curves as given, the lowest marked and written."""
    mhz = np.linspace(14.0, 14.35, 15)
    curves = [
        SwrCurve("20 m", mhz, 1.2 + 40.0 * (mhz - 14.1) ** 2),
        SwrCurve("40 m", mhz - 7.0, np.full(15, 9.0)),
    ]
    figure = swr.figure("wire", curves)
    assert np.array_equal(figure.axes[0].lines[0].get_ydata(), curves[0].swr)
    assert np.array_equal(figure.axes[0].lines[0].get_xdata(), mhz)
    least = int(curves[0].swr.argmin())
    assert figure.axes[0].lines[-1].get_xdata()[0] == mhz[least]
    texts = written(figure)
    assert {"20 m: 1.2", "40 m: 9.0", "14.35"} <= set(texts)
    # A panel with nothing in it says why.
    assert texts.count("above 6 all over") == 1
    assert swr.alt_text("wire", curves).endswith("20 m 1.2, 40 m 9.0.")


@pytest.mark.slow
def test_swr_of_an_answer_is_the_sweep_of_its_first_set_up(ask):
    """The radio's side through the line is the wire's, less what the line loses."""
    wire = DIPOLE | {"bands": list(DIPOLE_BANDS)}
    scene = Scene(ask("KF07jo", "KE", "2026-12-05T17", hours=1, setups=[wire]))
    advice = scene.advice
    view = swr_view(scene)
    assert view.feed == "transformer 1:1, 10 m of RG-58"
    bands = [b for b in advice.question.bands if b.name in DIPOLE_BANDS]
    assert [curve.band for curve in view.curves] == [band.name for band in bands]
    line = line_by_name("RG-58")
    assert line.impedance_ohm == 50.0
    for curve, band in zip(view.curves, bands, strict=True):
        assert curve.frequency_mhz[[0, -1]] == pytest.approx(
            [band.low_mhz, band.high_mhz]
        )
        # SWR of a load on 50 ohm, and a reflection that passes the line twice: any
        # textbook of microwave engineering (from memory).
        load = (curve.wire_ohm - 50.0) / (curve.wire_ohm + 50.0)
        assert curve.wire_swr == pytest.approx((1 + abs(load)) / (1 - abs(load)))
        lost_db = matched_loss_db(line, curve.frequency_mhz, 10.0)
        back = abs(load) * 10.0 ** (-2.0 * lost_db / 20.0)
        # A line with loss is reactive by loss over phase, both per metre: at each end
        # half of that is reflected.
        phase_rad_m = 2.0 * np.pi * curve.frequency_mhz / 299.792458
        phase_rad_m /= line.velocity_factor
        reactive = lost_db / 10.0 / (20.0 * np.log10(np.e)) / phase_rad_m
        radio = (curve.swr - 1.0) / (curve.swr + 1.0)
        assert (np.abs(radio - back) <= 1.05 * reactive).all()
        assert (curve.swr < curve.wire_swr).all()
    figure, finding = CHARTS["swr"].draw(scene, 0, None)
    panel = figure.axes[0]
    assert np.array_equal(panel.lines[0].get_ydata(), view.curves[0].swr)
    assert np.array_equal(panel.lines[1].get_ydata(), view.curves[0].wire_swr)
    assert len({each.get_linestyle() for each in panel.lines[:3]}) == 3
    assert f"{view.curves[0].swr.min():.1f}" in finding


def test_swr_without_a_line_has_one_curve():
    mhz = np.linspace(14.0, 14.35, 15)
    figure = swr.figure("wire", [SwrCurve("20 m", mhz, np.full(15, 1.5))])
    assert len(figure.axes[0].lines) == 3
    assert "Dash-dotted" not in " ".join(written(figure))
