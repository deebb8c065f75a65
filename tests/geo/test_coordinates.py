"""Coordinates as they are typed, and where that is: swaps and commas are noticed."""

import pytest

from geo.angles import without_minutes
from geo.errors import InputError
from geo.land import whereabouts
from geo.places import parse_place, resolve_target


@pytest.mark.parametrize(
    "typed",
    [
        "56°27'N 5°57'W",
        "56°27′N, 5°57′W",
        "56 27 N 5 57 W",
        "N56°27' W5°57'",
        "56.45N 5.95W",
        "56,45N 5,95W",
        "56.45°N, 5.95°W",
        "56°27'0\"N 5°57'0\"W",
    ],
)
def test_one_place_in_many_spellings(typed):
    place = parse_place(typed)
    assert (place.lat_deg, place.lon_deg) == pytest.approx((56.45, -5.95), abs=1e-9)
    away = resolve_target(typed, parse_place("KF07jo"))
    assert away.lat_deg[0] == pytest.approx(56.45)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("56°75'N 5°57'W", "60 minutes or seconds or more"),
        ("5.95W 56.45N", "looks swapped"),
        ("56°27'N", "neither a locator"),
        ("97N 5W", "must be -90 to 90"),
    ],
)
def test_what_is_no_place_is_refused(typed, said):
    with pytest.raises(InputError, match=said):
        parse_place(typed)


@pytest.mark.parametrize("typed", ["KF07jo", "NE12ab", "EE12ww34", "-33.3,26.5", "KE"])
def test_what_has_no_letters_of_its_own_is_left_alone(typed):
    assert without_minutes(typed) == typed


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "region"),
    [
        # Any atlas; the regions are those of UN M49.
        (56.45, -5.95, "Northern Europe"),
        (56.0, 45.0, "Eastern Europe"),
        (48.1, 11.6, "Western Europe"),
        (41.9, 12.5, "Southern Europe"),
        (-32.4, 20.8, "Southern Africa"),
        (-1.3, 36.8, "Eastern Africa"),
        (40.7, -74.0, "Northern America"),
        (-34.6, -58.4, "South America"),
        (35.7, 139.7, "Eastern Asia"),
        (-42.9, 147.3, "Australia and New Zealand"),
        (-80.0, 20.0, "Antarctica"),
    ],
)
def test_known_places_are_in_their_part_of_the_world(lat_deg, lon_deg, region):
    words = whereabouts(lat_deg, lon_deg)
    assert words.endswith(f"in or near {region}")


def test_open_sea_is_at_sea():
    """A swapped Mull lies in the Indian Ocean, mid-Atlantic and mid-Pacific too."""
    for place in ((-5.95, 56.45), (30.0, -40.0), (40.0, -160.0)):
        assert whereabouts(*place).startswith("at sea or on an island, nearest ")


@pytest.mark.parametrize(
    ("typed", "code"), [("EU", "150"), ("oc", "009"), ("Scandinavia", "154")]
)
def test_a_continent_offers_its_region(typed, code):
    with pytest.raises(InputError, match=rf"for the region give {code} \("):
        resolve_target(typed, parse_place("KF07jo"))


@pytest.mark.parametrize(
    ("letters", "name"),
    [
        # ISO 3166-1 alpha-2; in use for continents as well.
        ("AS", "American Samoa"),
        ("AF", "Afghanistan"),
        ("NA", "Namibia"),
        ("SA", "Saudi Arabia"),
    ],
)
def test_letters_of_a_country_stay_a_country(letters, name):
    target = resolve_target(letters, parse_place("KF07jo"))
    assert target.name.startswith(name)


@pytest.mark.parametrize(
    ("name", "code"),
    [
        # UN M49.
        ("Europe", "150"),
        ("Asia", "142"),
        ("Africa", "002"),
        ("Northern America", "021"),
        ("Americas", "019"),
        ("South America", "005"),
        ("Oceania", "009"),
    ],
)
def test_names_of_continents_are_regions(name, code):
    assert f"M49 {code}" in resolve_target(name, parse_place("KF07jo")).name
