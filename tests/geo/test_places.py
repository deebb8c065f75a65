"""Places and targets: what is understood, refused, and where the points lie."""

from __future__ import annotations

import importlib.util
import json
import math
import re
from collections import Counter, defaultdict
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.errors import InputError
from geo.places import Place, parse_place, resolve_target
from geo.sphere import distance_km
from geo.tables import read_table, table_root

HOBART = Place(-42.88, 147.33, "QE37pd")
OUTLINES = Path(__file__).parent / "data" / "countries-110m.json"
BUILDER = Path(__file__).parents[2] / "docs" / "studies" / "build_places.py"


def by_code(table, key):
    """Rows of a table by their code."""
    return {row[key]: row for row in read_table(table).rows()}


COUNTRIES = by_code("countries", "iso_numeric")
REGIONS = by_code("m49_regions", "code")


def countries_in(code):
    """Countries of a region, through its parts."""
    parts = [r["code"] for r in REGIONS.values() if r["parent"] == code]
    parts += REGIONS[code]["includes"].split()
    own = {c for c, row in COUNTRIES.items() if row["m49"] == code}
    return own.union(*(countries_in(part) for part in parts))


# --- places ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "lat", "lon"),
    [
        ("-42.88,147.33", -42.88, 147.33),
        (" -42.88 , 147.33 ", -42.88, 147.33),
        ("42.88S,147.33E", -42.88, 147.33),
        ("42.88 s, 147.33 e", -42.88, 147.33),
        ("42.88°N, 71.5°W", 42.88, -71.5),
        ("−42.88,−71.5", -42.88, -71.5),
        ("+90,-180", 90.0, -180.0),
        ("-90,180", -90.0, 180.0),
        ("0,0", 0.0, 0.0),
    ],
)
def test_coordinates(text, lat, lon):
    place = parse_place(text)
    assert (place.lat_deg, place.lon_deg) == (lat, lon)
    assert parse_place(place.label) == place


def test_a_locator_keeps_its_name():
    place = parse_place("qe37PD")
    assert place.label == "QE37pd"
    assert place.lat_deg == pytest.approx(-42.88, abs=1 / 48 + 0.01)
    assert place.lon_deg == pytest.approx(147.33, abs=1 / 24 + 0.01)


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0))
def test_coordinates_round_trip(lat, lon):
    place = parse_place(f"{lat!r},{lon!r}")
    assert (place.lat_deg, place.lon_deg) == (lat, lon)
    again = parse_place(place.label)
    assert distance_km(lat, lon, again.lat_deg, again.lon_deg) < 0.01


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("147.33,-42.88", r"latitude 147.33 must .* swapped, try '-42.88,147.33'"),
        ("-120.5,30", r"latitude -120.5 must .* swapped, try '30,-120.5'"),
        ("-91,5", r"latitude -91 must be -90 to 90; if the two are swapped, try"),
        ("-91,95", r"latitude -91 must be -90 to 90$"),
        ("147.33E,42.88S", r"looks swapped: .* try '-42.88,147.33'"),
        ("42N,10N", r"first number is the latitude \(N or S\)"),
        ("10E,42", r"first number is the latitude \(N or S\)"),
        ("95,100", r"latitude 95 must be -90 to 90"),
        ("-90.01,100", r"latitude -90.01 must be -90 to 90"),
        ("200,10", r"latitude 200 must be -90 to 90"),
        ("10,200", r"longitude 200 must be -180 to 180; west is negative"),
        ("nan,10", r"'nan' is not a number"),
        ("10,inf", r"'inf' is not a number"),
        ("10,-infinity", r"is not a number"),
        ("10,", r"'' is not a number"),
        ("10,ten", r"'ten' is not a number"),
        ("42 53,147 20", r"'42 53' is not a number of decimal degrees"),
        ("-42.88S,147", r"both a sign and a letter"),
        ("42,88,147,33", r"has 4 parts"),
        ("Assisi", r"neither a locator .* nor 'lat,lon'.*as maps show them$"),
        ("Hobart", r"neither a locator .*; Hobart is at '-42\.9,147\.3'$"),
        ("", r"neither a locator"),
        ("SE37pd", r"pair 1, 'SE'"),
        ("QE37p", r"has 5 characters"),
    ],
)
def test_refused_places(text, match):
    with pytest.raises(InputError, match=match) as caught:
        parse_place(text)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("lat_lon", [(91, 0), (0, 181), (math.nan, 0), (0, math.inf)])
def test_a_place_off_the_globe_cannot_be_made(lat_lon):
    with pytest.raises(InputError, match="'nowhere': latitude"):
        Place(*lat_lon, "nowhere")


# --- the tables against outside lists -------------------------------------------


def timezone_lines(name):
    """Rows of a table of the IANA time zone database (public domain)."""
    text = (files("tzdata") / "zoneinfo" / name).read_text(encoding="utf-8")
    return [line.split("\t") for line in text.splitlines() if line[:1] != "#"]


def test_every_iso_country_is_there(outside):
    """IANA time zone database, iso3166.tab: all alpha-2 codes of ISO 3166-1."""
    listed = {line[0] for line in timezone_lines("iso3166.tab")}
    ours = {row["alpha2"] for row in COUNTRIES.values()}
    check = outside("IANA time zone database, iso3166.tab", "second library")
    check.equal("alpha-2 codes of ISO 3166-1", ours, listed, shown="249 codes")
    assert len(COUNTRIES) == 249


def test_codes_are_unique_and_well_formed():
    for column, shape in [
        ("iso_numeric", r"\d{3}"),
        ("alpha2", "[A-Z]{2}"),
        ("alpha3", "[A-Z]{3}"),
    ]:
        cells = read_table("countries").columns[column]
        assert len(set(cells)) == len(cells)
        assert all(re.fullmatch(shape, cell) for cell in cells)
    assert list(COUNTRIES) == sorted(COUNTRIES)
    assert list(REGIONS) == sorted(REGIONS)
    assert not set(COUNTRIES) & set(REGIONS)


# ISO 3166-1, from memory: triples that are easily mixed up.
@pytest.mark.parametrize(
    "triple",
    [
        "AU/AUS/036", "AT/AUT/040", "CH/CHE/756", "CG/COG/178", "CD/COD/180",
        "DM/DMA/212", "DO/DOM/214", "NE/NER/562", "NG/NGA/566", "KP/PRK/408",
        "KR/KOR/410", "SK/SVK/703", "SI/SVN/705", "LR/LBR/430", "LY/LBY/434",
        "SD/SDN/729", "SS/SSD/728", "RS/SRB/688", "ME/MNE/499", "JP/JPN/392",
    ],
)  # fmt: skip
def test_known_triples(outside, triple):
    alpha2, alpha3, numeric = triple.split("/")
    row = COUNTRIES[numeric]
    ours = f"{row['alpha2']}/{row['alpha3']}/{numeric}"
    check = outside("ISO 3166-1", "from memory")
    check.equal(
        "codes of countries easily mixed up", ours, f"{alpha2}/{alpha3}/{numeric}"
    )


def test_each_country_lies_in_one_smallest_region():
    leaves = set(REGIONS) - {row["parent"] for row in REGIONS.values()} - {"003"}
    for code, row in COUNTRIES.items():
        assert row["m49"] in leaves | {"001"}, code
    assert [c for c, row in COUNTRIES.items() if row["m49"] == "001"] == ["010"]
    assert {row["m49"] for row in COUNTRIES.values()} == leaves | {"001"}


# Countries and areas per region, UN M49 (counted from the standard, from memory;
# 158, which M49 leaves out, is counted in 030 and 142).
@pytest.mark.parametrize(
    ("code", "count"),
    [
        ("002", 60), ("019", 57), ("142", 51), ("150", 51), ("009", 29),
        ("015", 7), ("202", 53), ("014", 22), ("017", 9), ("018", 5), ("011", 17),
        ("419", 52), ("029", 28), ("013", 8), ("005", 16), ("021", 5), ("003", 41),
        ("143", 5), ("030", 8), ("035", 11), ("034", 9), ("145", 18),
        ("151", 10), ("154", 16), ("039", 16), ("155", 9),
        ("053", 6), ("054", 5), ("057", 8), ("061", 10), ("001", 249),
    ],
)  # fmt: skip
def test_countries_per_region(outside, code, count):
    check = outside("UN M49, counted", "from memory")
    check.equal("countries per region", len(countries_in(code)), count)


def test_continents_share_out_the_world():
    continents = [c for c, row in REGIONS.items() if row["parent"] == "001"]
    shared = Counter(c for code in continents for c in countries_in(code))
    assert set(shared.values()) == {1}
    assert set(shared) == set(COUNTRIES) - {"010"}


@pytest.mark.parametrize("name", ["m49_regions", "countries", "target_points"])
def test_astropy_reads_the_same_cells(name):
    from astropy.table import Table

    ours, theirs = read_table(name), Table.read(table_root() / f"{name}.ecsv")
    assert len(ours) == len(theirs)
    for column, cells in ours.columns.items():
        if theirs[column].dtype.kind == "f":
            np.testing.assert_array_equal(theirs[column], ours.numbers(column))
        else:
            assert list(np.ma.filled(theirs[column], "")) == list(cells)
    assert {c: str(theirs[c].unit) for c in ours.units} == dict(ours.units)


# --- the sample points ----------------------------------------------------------


def points_of(code):
    """Rows of one code as numbers."""
    rows = [r for r in read_table("target_points").rows() if r["code"] == code]
    return [(float(r["lat_deg"]), float(r["lon_deg"]), r["origin"]) for r in rows]


@pytest.fixture(scope="module")
def outlines():
    """Outline of each ISO number as matplotlib paths, read by its own few lines."""
    from matplotlib.path import Path as Outline

    topology = json.loads(OUTLINES.read_text(encoding="utf-8"))
    scale, shift = topology["transform"]["scale"], topology["transform"]["translate"]
    arcs = []
    for arc in topology["arcs"]:
        lon = np.cumsum([step[0] for step in arc]) * scale[0] + shift[0]
        lat = np.cumsum([step[1] for step in arc]) * scale[1] + shift[1]
        arcs.append(list(zip(lon, lat, strict=True)))
    found = defaultdict(list)
    for shape in topology["objects"]["countries"]["geometries"]:
        multi = shape["type"] == "MultiPolygon"
        for polygon in shape["arcs"] if multi else [shape["arcs"]]:
            corners = [
                corner
                for i in polygon[0]
                for corner in (arcs[i] if i >= 0 else reversed(arcs[~i]))
            ]
            lon, lat = (np.array(axis) for axis in zip(*corners, strict=True))
            lon = np.unwrap(lon, period=360.0)
            if abs(lon[-1] - lon[0]) > 180.0:
                lon = np.concatenate([lon, [lon[-1], lon[0]]])
                lat = np.concatenate([lat, [-90.0, -90.0]])
            found[shape.get("id")].append(Outline(np.column_stack([lon, lat])))
    return found


# Points of these stand in an outline that Natural Earth draws under another number
# or none: French Guiana, Svalbard, and Crimea, Northern Cyprus, Somaliland, Kosovo.
DRAWN_UNDER = {
    "254": ["250"],
    "744": ["578"],
    "804": ["804", "643"],
    "196": ["196", None],
    "706": ["706", None],
    "688": ["688", None],
}


def holds(outlines, code, lat, lon):
    """Whether a point (rounded to 0.01 deg) is in an outline of the country."""
    return any(
        outline.contains_point((lon + turn + dx, lat + dy))
        for key in DRAWN_UNDER.get(code, [code])
        for outline in outlines[key]
        for turn in (0.0, 360.0, -360.0)
        for dx in (-0.01, 0.0, 0.01)
        for dy in (-0.01, 0.0, 0.01)
    )


@pytest.mark.slow
def test_every_outlined_point_is_inside_its_country(outside, outlines):
    """Natural Earth 1:110 million, read and tested apart from the builder."""
    strays, outlined = [], 0
    for code in COUNTRIES:
        for lat, lon, origin in points_of(code):
            if origin == "outline":
                outlined += 1
                if not holds(outlines, code, lat, lon):
                    strays.append((code, lat, lon))
    assert outlined > 350
    check = outside("Natural Earth 1:110 million, read apart", "second library")
    check.equal("points outside their country", strays, [], shown=f"0 of {outlined}")


@pytest.mark.slow
def test_every_region_point_is_inside_one_of_its_countries(outlines):
    for code in set(REGIONS) - {"001"}:
        inside = countries_in(code)
        small = {p for member in inside for p in points_of(member)}
        for lat, lon, origin in points_of(code):
            if origin == "memory":
                assert (lat, lon, origin) in small, (code, lat, lon)
            else:
                assert any(holds(outlines, c, lat, lon) for c in inside), (code, lat)


def zone_cities():
    """Where each country's time zones are centred, IANA database, zone.tab."""
    cities = defaultdict(list)
    for alpha2, where, *_ in timezone_lines("zone.tab"):
        angles = re.findall(r"([+-])(\d{2,3})(\d\d)(\d\d)?(?=[+-]|$)", where)
        lat, lon = (
            float(f"{sign}1") * (int(deg) + int(arcmin) / 60 + int(sec or 0) / 3600)
            for sign, deg, arcmin, sec in angles
        )
        cities[alpha2].append((lat, lon))
    return cities


@pytest.mark.slow
def test_remembered_points_are_where_the_islands_are(outside):
    """Within 130 km of a city of that country in zone.tab; most are within 40 km."""
    cities, far, without = zone_cities(), [], set()
    for code, row in COUNTRIES.items():
        for lat, lon, origin in points_of(code):
            if origin == "memory" and row["alpha2"] in cities:
                there = np.array(cities[row["alpha2"]])
                far.append(float(distance_km(lat, lon, *there.T).min()))
            elif origin == "memory":
                without.add(row["alpha2"])
    assert len(far) > 60
    check = outside("IANA time zone database, zone.tab", "second library")
    what = "points of small islands, from their towns [km]"
    check.between(what, far, high=130.0, why="islands of a group")
    assert np.median(far) < 15.0
    assert without == {"BV", "HM"}  # nobody lives there, so they have no time zone


@pytest.mark.slow
def test_every_country_is_where_its_cities_are():
    """Some point lies near some city of zone.tab: no number got another's outline."""
    cities, far = zone_cities(), {}
    for code, row in COUNTRIES.items():
        if row["alpha2"] in cities:
            lat, lon = np.array([point[:2] for point in points_of(code)]).T
            far[row["name"]] = min(
                distance_km(*city, lat, lon).min() for city in cities[row["alpha2"]]
            )
    assert len(far) == 247
    assert max(far.values()) < 700.0  # five points across India, China, Antarctica
    assert np.median(list(far.values())) < 150.0


def test_weights_sum_to_one_in_every_code():
    table = read_table("target_points")
    total = defaultdict(float)
    count = Counter(table.columns["code"])
    for code, weight in zip(
        table.columns["code"], table.numbers("weight"), strict=True
    ):
        assert weight > 0.0
        total[code] += weight
    assert set(total) == (set(COUNTRIES) | set(REGIONS)) - {"001"}
    for code, weight in total.items():
        assert weight == pytest.approx(1.0, abs=1e-9), code
        assert count[code] <= (12 if code in REGIONS else 5), code


def weight_within(outlines, region, country):
    """Weight of a region's points that lie in one country, and one point's weight."""
    target = resolve_target(region, HOBART)
    inside = [
        holds(outlines, country, lat, lon)
        for lat, lon in zip(target.lat_deg, target.lon_deg, strict=True)
    ]
    return target.weight[inside].sum(), target.weight.max()


# Land areas in million km2, CIA World Factbook (from memory).
@pytest.mark.slow
def test_weight_is_the_share_of_land(outside, outlines):
    """Australia against New Zealand: the sea keeps their groups of cells apart."""
    share, _ = weight_within(outlines, "053", "036")
    check = outside("CIA World Factbook, land areas", "from memory")
    expected, why = 7.69 / (7.69 + 0.268), "coarse outlines"
    what = "Australia's share of it and New Zealand"
    check.near(what, share, expected, abs=0.005, why=why)


@pytest.mark.parametrize(
    ("region", "country", "share"),
    [
        ("018", "710", 1.22 / (1.22 + 0.823 + 0.567 + 0.030 + 0.017)),  # South Africa
        ("143", "398", 2.72 / (2.72 + 0.447 + 0.488 + 0.142 + 0.200)),  # Kazakhstan
        ("005", "076", 8.36 / 17.5),  # Brazil
    ],
)
def test_weight_is_the_share_of_land_but_for_borders(
    outside, outlines, region, country, share
):
    """Where a group of cells straddles a border, one point's weight may go over."""
    found, one_point = weight_within(outlines, region, country)
    check = outside("CIA World Factbook, land areas", "from memory")
    why = "the weight of one point may go over a border"
    what = f"share of land of {country} in region {region}"
    check.near(what, found, share, abs=one_point, why=why)


@pytest.fixture(scope="module")
def builder():
    """The script that makes the points, as a module."""
    spec = importlib.util.spec_from_file_location("build_places", BUILDER)
    builder = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(builder)
    return builder


@pytest.mark.slow
def test_the_shipped_points_are_what_the_builder_makes(builder):
    made = builder.build(OUTLINES)
    shipped = (table_root() / "target_points.ecsv").read_text(encoding="utf-8")
    assert made.splitlines() == shipped.splitlines()
    # Land of the Earth: 148.94 million km2 (CIA World Factbook, from memory), of
    # which the coarse outlines lose the small islands and some of the coast.
    land = float(re.search(r"land of all countries ([\d.]+) million", shipped)[1])
    assert land == pytest.approx(148.94, rel=0.02)


def test_cells_have_equal_areas_and_fill_the_outline(builder):
    """A box of 20 by 10 deg: its area is R^2 (sin 60 - sin 50) times its width."""
    box = np.array([(0, 50), (20, 50), (20, 60), (0, 60), (0, 50)], dtype=float)
    hole = np.array([(5, 53), (8, 53), (8, 56), (5, 56), (5, 53)], dtype=float)
    lat, lon, cell_km2 = builder.cover([[box, hole]])
    bands = [(20.0, 50.0, 60.0), (-3.0, 53.0, 56.0)]
    area = sum(
        6371.0**2
        * math.radians(width)
        * (math.sin(math.radians(north)) - math.sin(math.radians(south)))
        for width, south, north in bands
    )
    assert len(lat) * cell_km2 == pytest.approx(area, rel=0.02)
    assert not ((lat > 53) & (lat < 56) & (lon > 5) & (lon < 8)).any()
