"""F1 MUF."""

import numpy as np
import pytest

from advisor.propagation.f1 import f1_muf_mhz


def test_only_the_distances_of_the_standard_have_a_value():
    muf = f1_muf_mhz([1999.0, 2000.0, 3400.0, 3401.0], 5.0, 60.0)
    assert np.isnan(muf).tolist() == [True, False, False, True]


def test_muf_scales_with_the_layer_and_grows_with_distance():
    distance = np.linspace(2000.0, 3300.0, 40)
    muf = f1_muf_mhz(distance, 5.0, 0.0)
    assert np.all(np.diff(muf) > 0.0)
    assert f1_muf_mhz(distance, 2.5, 0.0) == pytest.approx(0.5 * muf)


def test_sunspot_number_is_read_on_a_straight_line():
    at = [float(f1_muf_mhz(2500.0, 5.0, r)) for r in (0.0, 50.0, 100.0)]
    assert at[1] == pytest.approx(0.5 * (at[0] + at[2]))


def test_no_layer_no_muf():
    assert np.isnan(f1_muf_mhz(2500.0, np.nan, 60.0))
