"""Targets: what is understood and refused, by name, by code, and as rings."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.countries import target_names
from geo.errors import InputError
from geo.locator import latlon_to_locator
from geo.places import Place, parse_place, resolve_target
from geo.sphere import bearing_deg, distance_km
from geo.tables import read_table

HOBART = Place(-42.88, 147.33, "QE37pd")


@pytest.mark.parametrize(
    ("text", "name", "kind"),
    [
        ("035", "South-eastern Asia (M49 035)", "region"),
        ("35", "South-eastern Asia (M49 035)", "region"),
        ("South-eastern Asia", "South-eastern Asia (M49 035)", "region"),
        ("  south   EASTERN asia ", "South-eastern Asia (M49 035)", "region"),
        ("150", "Europe (M49 150)", "region"),
        ("Europe", "Europe (M49 150)", "region"),
        ("the Americas", "Americas (M49 019)", "region"),
        ("North America", "North America (M49 003)", "region"),
        ("Northern America", "Northern America (M49 021)", "region"),
        ("Micronesia", "Micronesia (M49 057)", "region"),
        ("jp", "Japan (ISO JP)", "country"),
        ("JPN", "Japan (ISO JP)", "country"),
        ("392", "Japan (ISO JP)", "country"),
        ("Japan", "Japan (ISO JP)", "country"),
        ("36", "Australia (ISO AU)", "country"),
        ("4", "Afghanistan (ISO AF)", "country"),
        ("and", "Andorra (ISO AD)", "country"),
        ("in", "India (ISO IN)", "country"),
        ("Republic of Korea", "South Korea (ISO KR)", "country"),
        ("Korea, Republic of", "South Korea (ISO KR)", "country"),
        ("Congo", "Congo (ISO CG)", "country"),
        ("Democratic Republic of the Congo", "DR Congo (ISO CD)", "country"),
        ("Cote d’Ivoire", "Côte d'Ivoire (ISO CI)", "country"),
        ("turkiye", "Türkiye (ISO TR)", "country"),
        ("Turkey", "Türkiye (ISO TR)", "country"),
        ("St. Lucia", "Saint Lucia (ISO LC)", "country"),
        ("Antarctica", "Antarctica (ISO AQ)", "country"),
        ("QE37pd", "QE37pd (-42.8542, 147.2917)", "point"),
        ("51.5,-0.1", "51.5, -0.1", "point"),
        ("within 800 km", "within 800 km of QE37pd", "ring"),
        ("0-800 km", "within 800 km of QE37pd", "ring"),
        ("800-2500 km", "800-2500 km from QE37pd", "ring"),
        ("800 to 2500km", "800-2500 km from QE37pd", "ring"),
    ],
)
def test_understood_targets(text, name, kind):
    target = resolve_target(text, HOBART)
    assert (target.name, target.kind) == (name, kind)
    assert target.weight.sum() == pytest.approx(1.0, abs=1e-12)
    assert target.lat_deg.shape == target.lon_deg.shape == target.weight.shape
    assert target.weight_source


def test_every_name_and_code_leads_to_its_own_target():
    countries = {row["iso_numeric"]: row for row in read_table("countries").rows()}
    for code, name in target_names().items():
        by_number = resolve_target(code, HOBART)
        assert by_number.name.startswith(f"{name} (")
        spellings = [name]
        if code in countries:
            row = countries[code]
            spellings += [row["name"], row["alpha2"].lower(), row["alpha3"]]
            spellings += [part for part in row["also"].split(";") if part]
        for spelling in spellings:
            assert resolve_target(spelling, HOBART).name == by_number.name, spelling


def test_where_the_weights_come_from():
    assert "Natural Earth 1:110 million" in resolve_target("035", HOBART).weight_source
    assert resolve_target("035", HOBART).weight_source.startswith("land area")
    assert "from memory" in resolve_target("MC", HOBART).weight_source
    assert "ring" in resolve_target("within 800 km", HOBART).weight_source


def test_targets_are_read_only():
    target = resolve_target("Europe", HOBART)
    for array in (target.lat_deg, target.lon_deg, target.weight):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0.0


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("south east asia", "did you mean 'South-eastern Asia'"),
        ("Indonesa", "did you mean 'Indonesia'"),
        ("Grmany", "did you mean 'Germany'"),
        ("south-east", "'South-eastern Asia'"),
        ("zzzz", r"'zzzz' is not known \(a UN M49 region"),
        ("qq", "'qq' is not known"),
        ("999", "'999' is not known"),
        ("1234", "'1234' is not known"),
        ("", "'' is not known"),
        ("001", "too wide"),
        ("World", "too wide"),
        ("147.33,-42.88", "swapped"),
        ("91,200", "latitude 91 must be"),
        ("QZ37", "pair 1, 'QZ'"),
        ("2500-800 km", "outer distance must be larger"),
        ("800-800 km", "outer distance must be larger"),
        ("within 0 km", "outer distance must be larger"),
        ("within 30000 km", "at most 20015 km"),
        ("within 800", "write 'within 800 km'"),
        ("within 800 miles", "write 'within 800 km'"),
        ("800-2500", "write 'within 800 km'"),
        ("800 km", "write 'within 800 km'"),
        ("-5-800 km", "write 'within 800 km'"),
    ],
)
def test_refused_targets(text, match):
    with pytest.raises(InputError, match=match) as caught:
        resolve_target(text, HOBART)
    assert "\n" not in str(caught.value)


@given(
    st.floats(-90.0, 90.0),
    st.floats(-180.0, 180.0),
    st.integers(0, 10_000),
    st.integers(1, 10_000),
)
def test_rings(lat, lon, inner_km, width_km):
    origin = Place(lat, lon, "here")
    outer_km = inner_km + width_km
    target = resolve_target(f"{inner_km}-{outer_km} km", origin)
    away = distance_km(lat, lon, target.lat_deg, target.lon_deg)
    assert (away > inner_km).all()
    assert (away < outer_km).all()
    # Weight by ground: a cap of radius r covers 2 pi R^2 (1 - cos(r / R)).
    middle_km = (inner_km + outer_km) / 2
    caps = [1.0 - math.cos(r / 6371.0) for r in (inner_km, middle_km, outer_km)]
    half = (caps[1] - caps[0]) / (caps[2] - caps[0])
    inside = target.weight[away < middle_km - 1e-6].sum()
    on_edge = target.weight[np.abs(away - middle_km) <= 1e-6].sum()
    assert inside + on_edge / 2 == pytest.approx(half, abs=0.03)


def test_rings_look_all_round():
    target = resolve_target("within 800 km", HOBART)
    here = HOBART.lat_deg, HOBART.lon_deg
    bearing = bearing_deg(*here, target.lat_deg, target.lon_deg)
    # The bearings are multiples of 22.5 deg; the octants are cut between them.
    octant = np.floor((bearing + 10.0) % 360.0 / 45.0).astype(int)
    np.testing.assert_allclose(np.bincount(octant, target.weight), 1 / 8, atol=1e-9)


def test_a_locator_target_is_its_place():
    for text in ("QE37", "QE37pd", "QE37pd12"):
        target, place = resolve_target(text, HOBART), parse_place(text)
        assert target.lat_deg.tolist() == [place.lat_deg]
        assert target.lon_deg.tolist() == [place.lon_deg]
        locator = latlon_to_locator(place.lat_deg, place.lon_deg, len(text))
        assert target.name.startswith(locator)


@pytest.mark.parametrize("own", ["QE37pd", "-42.8542,147.2917", "42.8542S, 147.2917E"])
def test_the_stations_own_place_is_no_target(own):
    """It has no bearing; a neighbour has."""
    hobart = parse_place("QE37pd")
    with pytest.raises(InputError, match=r"own place, .* 'within 100 km'"):
        resolve_target(own, hobart)
    assert resolve_target("-42.8442,147.2917", hobart).kind == "point"
    assert resolve_target("QE37pd", parse_place("QE37")).kind == "point"


@pytest.mark.parametrize("count", [50, 1000, 20_000])
def test_long_nonsense_with_letters_is_refused_at_once(count):
    """Each figure could belong to either coordinate: no way of trying them all."""
    with pytest.raises(InputError):
        parse_place("1" * count + "N" + "," * count + "1" * count)


@pytest.mark.parametrize(
    ("typed", "alpha2"),
    [
        # Series as licence holders of these countries sign themselves everywhere.
        ("VK", "AU"), ("VK9", "AU"), ("ZL", "NZ"), ("JA", "JP"), ("7K", "JP"),
        ("K", "US"), ("AA", "US"), ("prefix VE", "CA"), ("DL", "DE"),
        ("G", "GB"), ("2E0", "GB"), ("EA3", "ES"), ("PY2", "BR"), ("5Z4", "KE"),
        ("ZS6", "ZA"), ("9V1", "SG"), ("HB9", "CH"), ("OH2", "FI"), ("A2", "BW"),
        ("prefix LU", "AR"), ("prefix SM", "SE"), ("prefix PA", "NL"), ("UA9", "RU"),
    ],
)  # fmt: skip
def test_prefixes_are_countries(typed, alpha2):
    target = resolve_target(typed, HOBART)
    assert f"(ISO {alpha2}, call sign {typed.split()[-1]})" in target.name
    same = resolve_target(alpha2, HOBART)
    assert np.array_equal(target.lat_deg, same.lat_deg)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("LU", "Luxembourg (ISO LU)"),
        ("UK", "United Kingdom (ISO GB)"),
        ("london", "London (51.5, -0.1)"),
        ("São Paulo", "Sao Paulo (-23.55, -46.6)"),
        ("QE37", "QE37 (-42.5, 147)"),
    ],
)
def test_what_is_no_prefix_stays_what_it_is(typed, name):
    assert resolve_target(typed, HOBART).name == name


@pytest.mark.parametrize("typed", ["EU", "OC", "DX", "V", "Q", "0A"])
def test_no_country_has_it(typed):
    with pytest.raises(InputError, match="is not known"):
        resolve_target(typed, HOBART)


def test_series_follow_one_another():
    """Appendix 42: no series is allotted twice; the header's spot values."""
    runs = read_table("call_series").rows()
    spans = sorted((row["first"], row["last"], row["alpha2"]) for row in runs)
    for (first, last, _), (following, _, _) in pairwise(spans):
        assert first <= last < following
    assert ("VHA", "VNZ", "AU") in spans
    assert ("SSN", "STZ", "SD") in spans


@pytest.mark.parametrize(
    ("typed", "name", "near"),
    [
        # Call areas as licence holders of these countries sign themselves everywhere;
        # places from memory of an atlas.
        ("California", "California (US)", (37.2, -119.5)),
        ("w6", "California (US, call sign W6)", (37.2, -119.5)),
        ("N1", "call area of 6 parts (US, call sign N1)", (43.0, -71.5)),
        ("KH6", "Hawaii (US, call sign KH6)", (20.8, -157.0)),
        ("VA3", "Ontario (CA, call sign VA3)", (44.5, -80.5)),
        ("VO1", "Newfoundland (CA, call sign VO1)", (48.0, -54.0)),
        ("VK6", "Western Australia (AU, call sign VK6)", (-32.0, 116.0)),
        ("JH8", "Hokkaido (JP, call sign JH8)", (43.2, 142.5)),
        ("Georgia US", "Georgia State (US)", (33.0, -83.5)),
        ("new south wales", "New South Wales (AU)", (-33.5, 151.0)),
        ("EA8", "Canary Islands (ES, call sign EA8)", (28.3, -15.8)),
    ],
)
def test_parts_of_countries_are_where_they_are_called(typed, name, near):
    target = resolve_target(typed, HOBART)
    assert target.name == name
    away_km = distance_km(*near, target.lat_deg, target.lon_deg)
    assert away_km.min() < 250.0
    assert away_km.max() < 850.0


def test_a_country_comes_before_a_state_and_a_slip_is_told():
    assert "ISO GE" in resolve_target("Georgia", HOBART).name
    with pytest.raises(InputError, match="'3000-15000 km'"):
        resolve_target("dx", HOBART)
    with pytest.raises(InputError, match="'California'"):
        resolve_target("Califronia", HOBART)


OCEANIC_KM = dict.fromkeys(("Canary Islands", "Azores", "Madeira"), 2000.0)
"""Islands far from the points of their country, and how far: from memory."""


@pytest.mark.parametrize(
    ("table", "known"), [("cities", "Nairobi"), ("areas", "Kanto")]
)
def test_cities_lie_in_their_countries(table, known):
    """By the sample points of the country: no farther off than it is wide."""
    cities = read_table(table)
    names = next(iter(cities.columns.values()))
    assert known in names
    lat, lon = cities.numbers("lat_deg"), cities.numbers("lon_deg")
    for i, alpha2 in enumerate(cities.columns["alpha2"]):
        country = resolve_target(alpha2, HOBART)
        away = distance_km(lat[i], lon[i], country.lat_deg, country.lon_deg)
        wide = distance_km(
            country.lat_deg[:, None], country.lon_deg[:, None],
            country.lat_deg, country.lon_deg,
        )  # fmt: skip
        assert away.min() < max(wide.max(), OCEANIC_KM.get(names[i], 700.0)), names[i]


def test_a_large_country_is_where_its_people_are():
    """Nobody lives as far north as the point that stands for Alaska by land."""
    area = resolve_target("US", HOBART, "area")
    people = resolve_target("US", HOBART)
    assert area.lat_deg.max() > 60.0 > people.lat_deg.max()
    # New England and the Middle Atlantic have a share, the ocean has none.
    east = people.weight[people.lon_deg > -78.0].sum()
    assert 0.2 < east < 0.5
    assert people.weight.size == 12
    assert people.weight.sum() == pytest.approx(1.0)
    assert np.array_equal(people.lat_deg, resolve_target("K", HOBART).lat_deg)
    few = resolve_target("KE", HOBART, "operators")
    assert np.array_equal(few.lat_deg, resolve_target("KE", HOBART).lat_deg)


@pytest.mark.parametrize(
    ("country", "is_wide"),
    [("AU", True), ("BR", True), ("CA", True), ("RU", True), ("DE", False)],
)
def test_only_wide_countries_are_by_people(country, is_wide):
    assert resolve_target(country, HOBART).by_operators == is_wide
    assert not resolve_target(country, HOBART, "area").by_operators
