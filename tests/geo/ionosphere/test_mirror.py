"""Mirror heights: the branches join where the standard says they do."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.ionosphere.mirror import (
    MAX_MIRROR_HEIGHT_KM,
    f2_mirror_height_km,
    layer_height_parameter_km,
)


@given(
    frequency=st.floats(1.8, 30.0),
    hop=st.floats(0.0, 4000.0),
    fof2=st.floats(1.5, 15.0),
    ratio=st.floats(1.1, 20.0),
    m3000=st.floats(2.2, 3.8),
    r12=st.floats(0.0, 150.0),
)
def test_heights_are_heights(frequency, hop, fof2, ratio, m3000, r12):
    """Finite, above the E layer's foot and never above the bound."""
    height = f2_mirror_height_km(frequency, hop, fof2, fof2 / ratio, m3000, r12)
    assert np.isfinite(height)
    assert 80.0 < height <= MAX_MIRROR_HEIGHT_KM


@given(hop=st.floats(100.0, 3500.0), ratio=st.floats(1.01, 3.6))
def test_continuous_in_frequency_above_fof2(hop, ratio):
    """The pieces of F1 at 1.71 and G at 3.7 join within a few km."""
    args = (8.0, 2.0, 3.0, 60.0)
    for edge in (1.71, 3.7):
        below = f2_mirror_height_km(8.0 * (edge - 1e-6), hop, *args)
        above = f2_mirror_height_km(8.0 * (edge + 1e-6), hop, *args)
        assert above == pytest.approx(below, abs=1.5)
    near = f2_mirror_height_km(8.0 * ratio * (1 + 1e-7), hop, *args)
    assert near == pytest.approx(f2_mirror_height_km(8.0 * ratio, hop, *args), abs=1.6)


def test_layer_parameter_falls_as_m_rises():
    """A greater M(3000) means a lower layer; activity raises it a little less."""
    heights = layer_height_parameter_km([2.5, 3.0, 3.5], 4.0, 60.0)
    assert np.all(np.diff(heights) < 0)
    # 140 km below the peak: 306 km, as hmF2 = 1490/(M + dM) - 176 says.
    assert heights[1] + 140.0 == pytest.approx(1490 / (3.0 + 0.18 / 2.6 + 0.0224) - 176)


def test_nan_goes_through():
    """A missing layer gives no height."""
    assert np.isnan(f2_mirror_height_km(7.0, 1000.0, np.nan, 3.0, 3.0, 50.0))


def test_height_holds_where_nothing_is_returned_any_more():
    """Far above foF2 the standard's cubic would dive under the ground."""
    ratio = np.linspace(4.2, 30.0, 50)
    height = f2_mirror_height_km(ratio * 1.5, 3213.0, 1.5, 0.375, 3.5, 150.0)
    assert np.all(height > 200.0)
    assert np.all(np.diff(height) >= 0.0)
