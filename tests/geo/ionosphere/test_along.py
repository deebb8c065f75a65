"""Profiles between the stations of paths."""

import numpy as np
import pytest

from geo.ionosphere.along import profile_along
from geo.ionosphere.layers import layers_at
from geo.ionosphere.profile import layered_profile
from geo.paths import STATIONS, paths_to


@pytest.fixture(scope="module")
def sky():
    """Two paths, one out of the night into the day, at three hours."""
    paths = paths_to(50.0, 10.0, [20.0, 48.0], [75.0, 14.0])
    times = np.datetime64("2026-06-21T02", "s") + np.arange(3).astype("timedelta64[h]")
    return layers_at(
        paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel(), times, 60.0
    )


def test_at_a_station_it_is_the_profile_of_its_layers(sky):
    found = profile_along(sky, [0.0, 0.5, 1.0])
    assert found.shape == (2, 3, 3)
    for path in range(2):
        for n, station in enumerate((0, (STATIONS - 1) // 2, STATIONS - 1)):
            place = path * STATIONS + station
            alone = layered_profile(
                sky.foe_mhz[:, place], sky.fof1_mhz[:, place], sky.fof2_mhz[:, place],
                sky.hmf2_km[:, place], None, sky.f1_share[:, place],
            )  # fmt: skip
            heights = np.linspace(95.0, 450.0, 30)[:, None]
            assert found[path, :, n].plasma_mhz(heights) == pytest.approx(
                alone.plasma_mhz(heights), rel=1e-9
            )


def test_between_stations_nothing_jumps(sky):
    """Sunrise and the coming of F1 on the way: a hundredth of a path, few per cent."""
    part = np.linspace(0.0, 1.0, 401)
    density = profile_along(sky, part).plasma_mhz(np.array([110.0, 180.0, 250.0])[
        :, None, None, None]) ** 2  # fmt: skip
    steps = np.abs(np.diff(density, axis=-1)) / density[..., 1:].max()
    assert np.isfinite(density).all()
    assert steps.max() < 0.01
    assert density.max() > 2.0 * density.min()


def test_many_points_are_those_of_each_alone(sky):
    both = profile_along(sky, [0.1, 0.9])
    for n, part in enumerate((0.1, 0.9)):
        one = profile_along(sky, [part])
        assert np.array_equal(both.value[..., n], one.value[..., 0], equal_nan=True)
        assert np.array_equal(both.edge[..., n], one.edge[..., 0])


def test_a_strong_day_lifts_f2_alone(sky):
    """Of some cells the same as of all; E stays as it is, F2 goes with the ratio."""
    cells = np.array([0, 1, 1]), np.array([2, 0, 1])
    peaks = np.array([110.0, 400.0])[:, None, None]
    usual = profile_along(sky, [0.2, 0.6], cells)
    assert np.array_equal(usual.value, profile_along(sky, [0.2, 0.6])[cells].value)
    strong = profile_along(sky, [0.2, 0.6], cells, [[1.2], [1.1], [1.0]])
    more = strong.plasma_mhz(peaks) / usual.plasma_mhz(peaks)
    assert more[0] == pytest.approx(1.0)
    assert more[1] == pytest.approx(np.array([[1.2], [1.1], [1.0]]) * np.ones(2))
