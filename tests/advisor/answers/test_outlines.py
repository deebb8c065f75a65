"""Lines and areas cut for the flat map, against areas on the sphere and RFC 7946."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from advisor.answers.pictures.outlines import cell, circle, disc, way
from geo.antimeridian import cut_area, cut_line
from geo.places import Place
from geo.sphere import EARTH_RADIUS_KM, destination, distance_km

HALF_KM = np.pi * EARTH_RADIUS_KM
LATITUDES = st.sampled_from([-90.0, 0.0, 90.0]) | st.floats(-90.0, 90.0)
LONGITUDES = st.sampled_from([-180.0, 0.0, 179.999]) | st.floats(-180.0, 179.99)


def true_area(part):
    """Area on the unit sphere of an outline of straight lines in lon and lat.

    By Green's theorem it is minus the sum of sin(lat) over longitude; a textbook
    integral that shares nothing with what is tested.
    """
    x, y = np.radians(part).T
    dx, dy = np.diff(x), np.diff(y)
    level = np.abs(dy) < 1e-9
    slope = np.where(level, 1.0, dy)
    mean = (np.cos(y[:-1]) - np.cos(y[1:])) / slope
    mean = np.where(level, np.sin(0.5 * (y[:-1] + y[1:])), mean)
    return float(-np.sum(dx * mean))


def flat_area(part):
    """Area on the flat map, positive for counterclockwise."""
    x, y = part.T
    return 0.5 * float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))


def keeps_the_rules(parts):
    """Closed, counterclockwise (section 3.1.6), on the map (3.1.9)."""
    for part in parts:
        assert np.array_equal(part[0], part[-1])
        assert len(part) >= 4
        assert np.abs(part[:, 0]).max() <= 180.0
        assert np.abs(part[:, 1]).max() <= 90.0
        assert flat_area(part) > 0.0
        # No step across the map: the antimeridian is cut, not jumped over.
        steps = np.abs(np.diff(part[:, 0]))
        along_the_pole = np.abs(part[:-1, 1]) == 90.0
        assert np.all((steps <= 180.0) | along_the_pole)


def test_the_standards_own_example_of_a_line():
    """RFC 7946, section 3.1.9: from 45 N, 170 E across to 45 N, 170 W."""
    parts = cut_line([170.0, -170.0], [45.0, 45.0])
    assert [part.tolist() for part in parts] == [
        [[170.0, 45.0], [180.0, 45.0]],
        [[-180.0, 45.0], [-170.0, 45.0]],
    ]


def test_the_standards_own_example_of_an_area():
    """RFC 7946, section 3.1.9: a polygon across the antimeridian, in two halves."""
    parts = cut_area([170.0, -170.0, -170.0, 170.0], [40.0, 40.0, 50.0, 50.0])
    corners = [{tuple(point) for point in part.tolist()} for part in parts]
    assert corners == [
        {(180.0, 40.0), (180.0, 50.0), (170.0, 50.0), (170.0, 40.0)},
        {(-170.0, 40.0), (-170.0, 50.0), (-180.0, 50.0), (-180.0, 40.0)},
    ]
    keeps_the_rules(parts)


@pytest.mark.parametrize("pole", [90.0, -90.0])
def test_an_area_round_a_pole_follows_the_edge_of_the_map(pole):
    """A cap: its outline plus the edge at the pole, all longitudes once."""
    turns = np.arange(-180.0, 180.0, 10.0)
    lon = turns if pole > 0 else turns[::-1]
    parts = cut_area(lon, np.full(lon.size, 0.8 * pole))
    keeps_the_rules(parts)
    whole = sum(true_area(part) for part in parts)
    assert whole == pytest.approx(2.0 * np.pi * (1.0 - np.sin(np.radians(72.0))))


def test_an_area_on_the_wrong_side_is_refused():
    with pytest.raises(ValueError, match="right of its outline"):
        cut_area([0.0, 0.0, 10.0, 10.0], [0.0, 10.0, 10.0, 0.0])


def test_a_bay_across_the_antimeridian_leaves_three_parts():
    """A fork whose prongs cross: each prong is a part of its own."""
    lon = [170, -170, -170, 175, 175, -170, -170, 170]
    lat = [0, 0, 10, 10, 20, 20, 30, 30]
    parts = cut_area(lon, lat)
    keeps_the_rules(parts)
    assert len(parts) == 3
    assert sum(flat_area(part) for part in parts) == pytest.approx(600.0 - 150.0)


@pytest.mark.slow
@given(
    lat=LATITUDES,
    lon=LONGITUDES,
    near=st.floats(0.0, HALF_KM - 100.0),
    wide=st.floats(50.0, 1000.0),
    sector=st.integers(0, 35),
)
@example(lat=-32.4, lon=20.8, near=6300.0, wide=550.0, sector=17)
@example(lat=90.0, lon=0.0, near=0.0, wide=125.0, sector=3)
@example(lat=0.0, lon=-180.0, near=9600.0, wide=550.0, sector=0)
def test_a_cell_has_its_area(lat, lon, near, wide, sector):
    """Within 8 %: chords for arcs count for something beside a pole."""
    here = Place(lat, lon, "")
    # As near to a pole as this the chords are far from the arcs.
    pole_km = np.array([90.0 - lat, 90.0 + lat]) * HALF_KM / 180.0
    assume(np.all((pole_km < 1e-6) | (pole_km > 300.0)))
    far = min(near + wide, HALF_KM)
    parts = cell(here, near, far, 10.0 * sector, 10.0 * sector + 10.0)
    keeps_the_rules(parts)
    share = np.cos(near / EARTH_RADIUS_KM) - np.cos(far / EARTH_RADIUS_KM)
    want = np.radians(10.0) * share
    # A tenth of a metre is what is kept of each point.
    rounding = 1e-8 * (far - near) / EARTH_RADIUS_KM + 1e-12
    found = sum(true_area(part) for part in parts)
    assert found == pytest.approx(want, rel=0.08, abs=rounding)


@pytest.mark.slow
@pytest.mark.parametrize("lat", [-90.0, -32.4, 0.0, 51.9, 90.0])
@pytest.mark.parametrize("lon", [-180.0, 20.8, 179.5])
def test_cells_cover_the_whole_sphere_once(lat, lon):
    """Every ring and sector together: neither gap nor overlap."""
    here = Place(lat, lon, "")
    rings = np.linspace(0.0, HALF_KM, 13)
    parts = [
        part
        for near, far in pairwise(rings)
        for start in np.arange(0.0, 360.0, 30.0)
        for part in cell(here, near, far, start, start + 30.0)
    ]
    keeps_the_rules(parts)
    assert sum(true_area(part) for part in parts) == pytest.approx(4 * np.pi, rel=1e-6)


@pytest.mark.slow
@given(lat=LATITUDES, lon=LONGITUDES, radius=st.floats(50.0, HALF_KM - 500.0))
@example(lat=-32.4, lon=20.8, radius=14000.0)
@example(lat=63.02, lon=5.0, radius=3000.0)
def test_a_disc_has_its_area(lat, lon, radius):
    here = Place(lat, lon, "")
    # A rim that meets a pole has no side to it there.
    rims_km = np.abs(np.array([90.0 - lat, 90.0 + lat]) * HALF_KM / 180.0 - radius)
    assume(rims_km.min() > 200.0)
    parts = disc(here, radius)
    keeps_the_rules(parts)
    want = 2.0 * np.pi * (1.0 - np.cos(radius / EARTH_RADIUS_KM))
    assert sum(true_area(part) for part in parts) == pytest.approx(want, rel=0.01)


@pytest.mark.slow
@given(
    lat=LATITUDES,
    lon=LONGITUDES,
    bearing=st.sampled_from([0.0, 90.0, 180.0]) | st.floats(0.0, 359.9),
    length=st.floats(10.0, 2.0 * HALF_KM - 100.0),
)
@example(lat=-32.4, lon=20.8, bearing=0.0, length=30000.0)
@example(lat=0.0, lon=-180.0, bearing=0.0, length=5000.0)
def test_a_way_keeps_its_length_and_its_ends(lat, lon, bearing, length):
    """The parts together are as long as the way; steps over the cut are none."""
    parts = way(Place(lat, lon, ""), bearing, length)
    total = 0.0
    for part in parts:
        assert len(part) > 1
        assert np.abs(part[:, 0]).max() <= 180.0
        assert np.abs(np.diff(part[:, 0])).max() <= 180.0
        x, y = part.T
        total += float(distance_km(y[:-1], x[:-1], y[1:], x[1:]).sum())
    assert total == pytest.approx(length, rel=2e-3, abs=0.01)
    end_lat, end_lon = destination(lat, lon, bearing, length)
    last = parts[-1][-1]
    assert distance_km(last[1], last[0], end_lat, end_lon) < 0.01
    assert distance_km(parts[0][0][1], parts[0][0][0], lat, lon) < 0.01


def test_a_circle_round_a_pole_is_one_line_from_edge_to_edge():
    (line,) = circle(Place(90.0, 0.0, ""), 1000.0)
    assert line[:, 0].min() == -180.0
    assert line[:, 0].max() >= 177.0
