"""Great circles against closed forms, astropy and published worked examples."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from geo.sphere import (
    EARTH_CIRCUMFERENCE_KM,
    EARTH_RADIUS_KM,
    angle_between_deg,
    bearing_deg,
    destination,
    distance_km,
    long_path_km,
    wrap_lon_deg,
)

HALF_KM = EARTH_CIRCUMFERENCE_KM / 2.0
LATITUDES = st.floats(-90.0, 90.0)
LONGITUDES = st.floats(-180.0, 180.0)
BEARINGS = st.floats(0.0, 360.0, exclude_max=True)
EVERYWHERE = settings(max_examples=200)


def haversine_km(lat1, lon1, lat2, lon2):
    """Another formula for the same distance, good away from the antipode."""
    phi1, phi2 = math.radians(lat1), math.radians(lat2)
    half_lat = math.sin((phi2 - phi1) / 2.0) ** 2
    half_lon = math.sin(math.radians(lon2 - lon1) / 2.0) ** 2
    h = half_lat + math.cos(phi1) * math.cos(phi2) * half_lon
    return 2.0 * EARTH_RADIUS_KM * math.asin(min(1.0, math.sqrt(h)))


# Aviation Formulary, worked examples (Los Angeles to New York), from memory:
# distance 0.623585 rad, course 1.150035 rad; the point 100 nautical miles out on
# radial 66 deg is 34 deg 37 min N, 116 deg 33 min W; the point 0.4 of the way is
# 38 deg 40.167 min N, 101 deg 37.570 min W.
LOS_ANGELES = (33.0 + 57.0 / 60.0, -(118.0 + 24.0 / 60.0))
NEW_YORK = (40.0 + 38.0 / 60.0, -(73.0 + 47.0 / 60.0))


def test_published_distance_and_course(outside):
    arc = distance_km(*LOS_ANGELES, *NEW_YORK) / EARTH_RADIUS_KM
    course = math.radians(bearing_deg(*LOS_ANGELES, *NEW_YORK))
    outside("Aviation Formulary, worked examples", "from memory").near(
        "Los Angeles to New York, distance and course [rad]",
        [arc, course],
        [0.623585, 1.150035],
        abs=5e-7,
        why="half the last digit",
    )


def test_published_points_on_the_way(outside):
    out_km = math.radians(100.0 / 60.0) * EARTH_RADIUS_KM
    lat, lon = destination(*LOS_ANGELES, 66.0, out_km)
    check = outside("Aviation Formulary, worked examples", "from memory")
    why = "half the last digit"
    expected = [34.0 + 37.0 / 60.0, -(116.0 + 33.0 / 60.0)]
    what = "point 100 nautical miles out [deg]"
    check.near(what, [lat, lon], expected, abs=0.5 / 60.0, why=why)
    whole_km = distance_km(*LOS_ANGELES, *NEW_YORK)
    course = bearing_deg(*LOS_ANGELES, *NEW_YORK)
    lat, lon = destination(*LOS_ANGELES, course, 0.4 * whole_km)
    expected = [38.0 + 40.167 / 60.0, -(101.0 + 37.570 / 60.0)]
    what = "point 0.4 of the way [deg]"
    check.near(what, [lat, lon], expected, abs=5e-4 / 60.0, why=why)


def test_agrees_with_astropy(outside):
    """astropy.coordinates, SkyCoord.separation and position_angle (east of north)."""
    from astropy.coordinates import SkyCoord

    dice = np.random.default_rng(7)
    lat1, lat2 = np.degrees(np.arcsin(dice.uniform(-1.0, 1.0, (2, 500))))
    lon1, lon2 = dice.uniform(-180.0, 180.0, (2, 500))
    here = SkyCoord(lon1, lat1, unit="deg")
    there = SkyCoord(lon2, lat2, unit="deg")
    check = outside("astropy, SkyCoord", "second library")
    theirs = here.separation(there).rad * EARTH_RADIUS_KM
    ours, why = distance_km(lat1, lon1, lat2, lon2), "rounding of the machine"
    check.near("distance of 500 pairs [km]", ours, theirs, abs=1e-8, rel=1e-7, why=why)
    bearing = bearing_deg(lat1, lon1, lat2, lon2)
    apart = angle_between_deg(bearing, here.position_angle(there).deg)
    what = "bearing of 500 pairs, difference [deg]"
    check.near(what, apart, 0.0, abs=1e-9, why=why)
    ahead = here.directional_offset_by(here.position_angle(there), 0.5 * there.dec)
    lat, lon = destination(
        lat1, lon1, bearing, 0.5 * np.radians(lat2) * EARTH_RADIUS_KM
    )
    what = "latitude ahead of 500 places [deg]"
    check.near(what, lat, ahead.dec.deg, abs=1e-9, rel=1e-7, why=why)
    apart = angle_between_deg(lon, ahead.ra.deg)
    what = "longitude ahead of them, difference [deg]"
    check.near(what, apart, 0.0, abs=1e-7, why=why)


@pytest.mark.slow
@EVERYWHERE
@given(LATITUDES, LONGITUDES, LATITUDES, LONGITUDES)
def test_distance_is_haversine_and_symmetric(lat1, lon1, lat2, lon2):
    there = float(distance_km(lat1, lon1, lat2, lon2))
    assert 0.0 <= there <= HALF_KM * (1.0 + 1e-15)
    assert there == pytest.approx(float(distance_km(lat2, lon2, lat1, lon1)), abs=1e-8)
    # The haversine itself loses half its digits at the antipode.
    tolerance = 1e-6 if there < 0.99 * HALF_KM else 0.1
    assert there == pytest.approx(haversine_km(lat1, lon1, lat2, lon2), abs=tolerance)


@pytest.mark.slow
@EVERYWHERE
@given(LATITUDES, LONGITUDES, BEARINGS, st.floats(0.0, HALF_KM))
def test_destination_then_back(lat, lon, bearing, length_km):
    end = destination(lat, lon, bearing, length_km)
    assert abs(end[0]) <= 90.0
    assert -180.0 <= end[1] < 180.0
    assert float(distance_km(lat, lon, *end)) == pytest.approx(length_km, abs=1e-6)
    assume(abs(lat) < 89.0)
    assume(1.0 < length_km < HALF_KM - 1.0)
    assert angle_between_deg(bearing_deg(lat, lon, *end), bearing) < 1e-6


@pytest.mark.slow
@EVERYWHERE
@given(LATITUDES, LONGITUDES, LATITUDES, LONGITUDES)
def test_both_ways_round_arrive(lat1, lon1, lat2, lon2):
    short_km = distance_km(lat1, lon1, lat2, lon2)
    bearing = bearing_deg(lat1, lon1, lat2, lon2)
    assert 0.0 <= bearing < 360.0
    assume(1e-3 < short_km < HALF_KM - 1e-3)
    short_end = destination(lat1, lon1, bearing, short_km)
    assert distance_km(*short_end, lat2, lon2) < 1e-6
    long_end = destination(lat1, lon1, bearing + 180.0, long_path_km(short_km))
    assert distance_km(*long_end, lat2, lon2) < 1e-6


@pytest.mark.slow
@EVERYWHERE
@given(*[LATITUDES, LONGITUDES] * 3)
def test_triangle_inequality(lat1, lon1, lat2, lon2, lat3, lon3):
    direct = distance_km(lat1, lon1, lat3, lon3)
    around = distance_km(lat1, lon1, lat2, lon2) + distance_km(lat2, lon2, lat3, lon3)
    assert direct <= around + 1e-8


@pytest.mark.slow
@EVERYWHERE
@given(
    st.floats(-90.0, 90.0),
    LONGITUDES,
    BEARINGS,
    st.floats(5.0, 175.0),
    st.floats(0.2, 1.4),
    st.floats(0.2, 1.4),
)
def test_spherical_sine_rule(lat, lon, bearing, wedge_deg, side1_rad, side2_rad):
    """Two sides and the angle between them, drawn; the rule at another corner."""
    first = destination(lat, lon, bearing, side1_rad * EARTH_RADIUS_KM)
    second = destination(lat, lon, bearing + wedge_deg, side2_rad * EARTH_RADIUS_KM)
    third_rad = distance_km(*first, *second) / EARTH_RADIUS_KM
    corner_deg = angle_between_deg(
        bearing_deg(*first, lat, lon), bearing_deg(*first, *second)
    )
    assert math.sin(third_rad) * math.sin(math.radians(corner_deg)) == pytest.approx(
        math.sin(side2_rad) * math.sin(math.radians(wedge_deg)), abs=1e-9
    )


def test_one_octant():
    """Three corners of an eighth of the sphere: sides a quarter, angles 90 deg."""
    corners = [(90.0, 0.0), (0.0, 0.0), (0.0, 90.0)]
    for (lat1, lon1), (lat2, lon2) in zip(
        corners, corners[1:] + corners[:1], strict=True
    ):
        assert distance_km(lat1, lon1, lat2, lon2) == pytest.approx(HALF_KM / 2.0)


@pytest.mark.parametrize("lat", [-90.0, -42.88, 0.0, 1e-300, 63.7, 90.0])
@pytest.mark.parametrize("lon", [-180.0, -0.1, 0.0, 147.33, 180.0])
def test_same_point_and_antipode(lat, lon):
    assert distance_km(lat, lon, lat, lon) == 0.0
    assert distance_km(lat, lon, lat, lon + 360.0) == pytest.approx(0.0, abs=1e-9)
    assert bearing_deg(lat, lon, lat, lon) == 0.0
    assert distance_km(lat, lon, -lat, lon + 180.0) == pytest.approx(HALF_KM, abs=1e-9)
    assert bearing_deg(lat, lon, -lat, lon + 180.0) == 0.0
    same = destination(lat, lon, 123.0, 0.0)
    assert distance_km(lat, lon, *same) < 1e-9


@pytest.mark.parametrize("step_km", [1e-9, 1e-6, 1e-3, 1.0])
def test_small_steps_keep_their_digits(step_km):
    """The arc cosine would give zero for anything under about 0.1 m."""
    step_deg = math.degrees(step_km / EARTH_RADIUS_KM)
    assert distance_km(0.0, 0.0, step_deg, 0.0) == pytest.approx(step_km, rel=1e-12)
    assert distance_km(0.0, 0.0, 0.0, step_deg) == pytest.approx(step_km, rel=1e-12)
    short_of = HALF_KM - distance_km(0.0, 0.0, step_deg, 180.0)
    assert short_of == pytest.approx(step_km, abs=2e-11)


def test_poles():
    assert distance_km(90.0, 10.0, 90.0, -170.0) == pytest.approx(0.0, abs=1e-9)
    assert distance_km(90.0, 0.0, -90.0, 77.0) == pytest.approx(HALF_KM)
    assert bearing_deg(50.0, 20.0, 90.0, -99.0) == pytest.approx(0.0, abs=1e-9)
    assert bearing_deg(50.0, 20.0, -90.0, -99.0) == pytest.approx(180.0)
    # North along the meridian lon1 points to the far side of the pole.
    assert bearing_deg(90.0, 20.0, 40.0, 20.0) == pytest.approx(180.0)
    lat, lon = destination(90.0, 20.0, 180.0, HALF_KM / 2.0)
    assert (lat, lon) == (pytest.approx(0.0, abs=1e-9), pytest.approx(20.0))


def test_over_the_pole_and_across_the_antimeridian():
    lat, lon = destination(80.0, 30.0, 0.0, math.radians(20.0) * EARTH_RADIUS_KM)
    assert (lat, lon) == (pytest.approx(80.0), pytest.approx(-150.0))
    across = distance_km(0.0, 179.5, 0.0, -179.5)
    assert across == pytest.approx(math.radians(1.0) * EARTH_RADIUS_KM)
    assert bearing_deg(0.0, 179.5, 0.0, -179.5) == pytest.approx(90.0)
    assert bearing_deg(0.0, -179.5, 0.0, 179.5) == pytest.approx(270.0)


def test_destination_goes_backwards_and_all_the_way_round():
    assert np.allclose(
        destination(10.0, 20.0, 70.0, -500.0), destination(10.0, 20.0, 250.0, 500.0)
    )
    assert np.allclose(
        destination(10.0, 20.0, 70.0, EARTH_CIRCUMFERENCE_KM), (10.0, 20.0)
    )


@EVERYWHERE
@given(st.floats(-1e6, 1e6))
def test_wrapped_longitude(lon):
    wrapped = float(wrap_lon_deg(lon))
    assert -180.0 <= wrapped < 180.0
    turns = (lon - wrapped) / 360.0
    assert turns == pytest.approx(round(turns), abs=1e-9)
    if -180.0 <= lon < 180.0:
        assert wrapped == lon


@pytest.mark.parametrize("lon", [180.0, -180.0, 540.0, -900.0])
def test_the_antimeridian_is_west(lon):
    assert wrap_lon_deg(lon) == -180.0


def test_a_hair_from_the_antimeridian():
    below, beyond = np.nextafter(180.0, 0.0), np.nextafter(-180.0, -200.0)
    assert wrap_lon_deg(below) == below
    assert wrap_lon_deg(beyond) == below
    assert wrap_lon_deg(np.nextafter(-180.0, 0.0)) == np.nextafter(-180.0, 0.0)
    for turns in range(-50, 51):
        for edge in (-np.inf, np.inf):
            wrapped = wrap_lon_deg(np.nextafter(180.0 + 360.0 * turns, edge))
            assert -180.0 <= wrapped < 180.0


@pytest.mark.slow
@EVERYWHERE
@given(st.floats(-720.0, 720.0), st.floats(-720.0, 720.0))
def test_angle_between(a, b):
    angle = float(angle_between_deg(a, b))
    assert 0.0 <= angle <= 180.0
    assert math.cos(math.radians(angle)) == pytest.approx(
        math.cos(math.radians(a - b)), abs=1e-12
    )


def test_nonsense_is_nan():
    bad = [np.nan, np.inf, -np.inf, 90.1, -91.0]
    assert np.isnan(distance_km(bad, 0.0, 0.0, 0.0)).all()
    assert np.isnan(bearing_deg(0.0, 0.0, bad, 0.0)).all()
    assert np.isnan(destination(bad, 0.0, 0.0, 1.0)).all()
    endless = [np.nan, np.inf, -np.inf]
    assert np.isnan(distance_km(0.0, endless, 0.0, 0.0)).all()
    assert np.isnan(bearing_deg(0.0, 0.0, 0.0, endless)).all()
    for arguments in ((0.0, endless, 0.0, 1.0), (0.0, 0.0, endless, 1.0)):
        assert np.isnan(destination(*arguments)).all()
    assert np.isnan(destination(0.0, 0.0, 0.0, endless)).all()
    assert np.isnan(wrap_lon_deg(endless)).all()


def test_broadcasting():
    lat = np.linspace(-60.0, 60.0, 4)[:, np.newaxis]
    lon = np.linspace(-180.0, 180.0, 5)
    assert distance_km(0.0, 0.0, lat, lon).shape == (4, 5)
    assert bearing_deg(lat, lon, 1.0, 2.0).shape == (4, 5)
    for part in (*destination(lat, 0.0, 10.0, lon), *destination(1.0, lon, 2.0, 3.0)):
        assert part.shape in {(4, 5), (5,)}
    assert isinstance(distance_km(0, 0, 1, 1), float)
    assert isinstance(bearing_deg(0, 0, 1, 1), float)
    assert isinstance(destination(0, 0, 1, 1)[0], float)
    assert isinstance(wrap_lon_deg(200), float)
