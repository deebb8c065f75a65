"""Grid locators: the definition, known squares, round trips and refusals."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geo.errors import InputError
from geo.locator import latlon_to_locator, locator_to_latlon

LENGTHS = st.sampled_from([4, 6, 8])
# Width and height by length, IARU Region 1 VHF Managers Handbook (from memory).
SIZE_DEG = {4: (2.0, 1.0), 6: (1 / 12, 1 / 24), 8: (1 / 120, 1 / 240)}


@st.composite
def locators(draw):
    """Any valid locator, as commonly written."""
    digits = "0123456789"
    pairs = ["ABCDEFGHIJKLMNOPQR", digits, "abcdefghijklmnopqrstuvwx", digits]
    length = draw(LENGTHS)
    return "".join(draw(st.sampled_from(pairs[i // 2])) for i in range(length))


# Subsquares of well-known towns, from memory; the coordinates are the towns'.
@pytest.mark.parametrize(
    ("lat", "lon", "locator"),
    [
        (48.14666, 11.60833, "JN58td"),  # Munich
        (-34.91, -56.21166, "GF15vc"),  # Montevideo
        (38.92, -77.065, "FM18lw"),  # Washington, D.C.
        (-41.28333, 174.745, "RE78ir"),  # Wellington
        (41.71, -72.73, "FN31pr"),  # Newington, Connecticut
        (-42.85, 147.29, "QE37pd"),  # by hand: 327.29 / 20 = Q, 47.15 / 10 = E ...
    ],
)
def test_known_subsquares(outside, lat, lon, locator):
    check = outside("grid locators of known towns", "from memory")
    check.equal("subsquares of six towns", latlon_to_locator(lat, lon), locator)
    centre_lat, centre_lon = locator_to_latlon(locator)
    assert abs(centre_lat - lat) <= 1 / 48
    assert abs(centre_lon - lon) <= 1 / 24


# South-west corners and sizes follow from the definition: counting starts at 180 W,
# 90 S; a field is 20 by 10 deg, a square 2 by 1, a subsquare 5 by 2.5 min, an
# extended square 30 by 15 s.
@pytest.mark.parametrize(
    ("locator", "south", "west"),
    [
        ("AA00", -90.0, -180.0),
        ("JJ00", 0.0, 0.0),
        ("JJ00aa", 0.0, 0.0),
        ("JJ00aa00", 0.0, 0.0),
        ("RR99", 89.0, 178.0),
        ("RR99xx", 90.0 - 1 / 24, 180.0 - 1 / 12),
        ("RR99xx99", 90.0 - 1 / 240, 180.0 - 1 / 120),
        ("IO91", 51.0, -2.0),
        ("KM12bc34", 32 + 2 / 24 + 4 / 240, 22 + 1 / 12 + 3 / 120),
    ],
)
def test_corners_by_definition(outside, locator, south, west):
    lat, lon = locator_to_latlon(locator)
    width, height = SIZE_DEG[len(locator)]
    expected = [south + height / 2, west + width / 2]
    check = outside("IARU grid locator definition", "from memory")
    what, why = "centre of nine squares [deg]", "rounding of the machine"
    check.near(what, [lat, lon], expected, abs=1e-12, why=why)
    inside = 1e-9
    assert latlon_to_locator(south + inside, west + inside, len(locator)) == locator


@pytest.mark.slow
@settings(max_examples=300)
@given(locators())
def test_centre_leads_back(locator):
    lat, lon = locator_to_latlon(locator)
    assert latlon_to_locator(lat, lon, len(locator)) == locator
    assert locator_to_latlon(locator.lower()) == (lat, lon)
    assert locator_to_latlon(locator.upper()) == (lat, lon)


@pytest.mark.slow
@settings(max_examples=300)
@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0), LENGTHS)
def test_the_square_holds_the_point(lat, lon, characters):
    locator = latlon_to_locator(lat, lon, characters)
    centre_lat, centre_lon = locator_to_latlon(locator)
    width, height = SIZE_DEG[characters]
    assert abs(centre_lat - lat) <= height / 2 + 1e-9
    apart = math.remainder(centre_lon - lon, 360.0)
    assert abs(apart) <= width / 2 + 1e-9


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0))
def test_longer_locators_begin_with_shorter_ones(lat, lon):
    long = latlon_to_locator(lat, lon, 8)
    assert long.startswith(latlon_to_locator(lat, lon, 6))
    assert long.startswith(latlon_to_locator(lat, lon, 4))


def test_edges_of_the_map():
    assert latlon_to_locator(90.0, 0.0) == "JR09ax"
    assert latlon_to_locator(-90.0, -180.0) == "AA00aa"
    assert latlon_to_locator(0.0, 180.0) == latlon_to_locator(0.0, -180.0) == "AJ00aa"
    assert latlon_to_locator(0.0, 190.0) == latlon_to_locator(0.0, -170.0)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("SE37pd", r"'SE37pd': pair 1, 'SE', is not a field; .* A-R"),
        ("Q137pd", r"pair 1, 'Q1', is not a field; .* A-R"),
        ("QEa7pd", r"pair 2, 'a7', is not a square; .* 0-9"),
        ("QE37py", r"pair 3, 'py', is not a subsquare; .* A-X"),
        ("QE37p1", r"pair 3, 'p1', is not a subsquare; .* A-X"),
        ("QE37pd0x", r"pair 4, '0x', is not an extended square; .* 0-9"),
        ("QE", "has 2 characters: give 4, 6 or 8"),
        ("", "has 0 characters: give 4, 6 or 8"),
        ("QE37p", "has 5 characters"),
        ("QE37pd00aa", "has 10 characters"),
        ("QE３7pd", "pair 2"),
        ("Qß37pd", "pair 1"),
    ],
)
def test_refused_locators(text, match):
    with pytest.raises(InputError, match=match):
        locator_to_latlon(text)


@pytest.mark.parametrize("characters", [2, 3, 5, 7, 10, 0, -4])
def test_refused_lengths(characters):
    with pytest.raises(InputError, match="must be 4, 6 or 8"):
        latlon_to_locator(0.0, 0.0, characters)


@pytest.mark.parametrize(
    ("lat", "lon"), [(90.1, 0.0), (-91.0, 0.0), (math.nan, 0.0), (0.0, math.inf)]
)
def test_refused_points(lat, lon):
    with pytest.raises(InputError, match="latitude from -90 to 90"):
        latlon_to_locator(lat, lon)
