"""What goes on a map, against RFC 7946 and the answer it belongs to."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from advisor.cli import main
from advisor.commands.schema import forms
from advisor.show.formats.schema import schema_of
from geo.sphere import distance_km

pytestmark = pytest.mark.usefixtures("coarse_world")

SCHEMA = Draft202012Validator(schema_of(forms()["geojson"]))

HOUR = ["--date", "2026-12-05T17:00Z", "--r12", "58"]
WIRE = ["--from", "KF07jo", "--shape", "dipole", "--height-m", "8"]
CLOSED = ["--to", "US", "--power-w", "0.001", "--emission", "SSB", "--band", "10 m"]
POLE = ["--from", "90,0", "--shape", "dipole"]
EAST = ["--from", "RE78ir", "--shape", "dipole", "--height-m", "8", "--to", "-10,-150"]

QUESTIONS = [
    ["tonight", *HOUR, "--hours", "3"],
    ["tonight", *HOUR, "--hours", "1", *EAST],
    ["tonight", *HOUR, "--hours", "1", *WIRE, "--to", "JP", "--long-path"],
    ["tonight", *HOUR, "--hours", "2", *WIRE, *CLOSED],
    ["tonight", *HOUR, "--hours", "1", *POLE, "--to", "KE", "--provenance"],
    ["reach", *HOUR, "--hours", "3"],
    ["reach", *HOUR, "--hours", "3", *EAST[:-2]],
]


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


def run(*words):
    """Run a command that gives an answer."""
    result = CliRunner().invoke(main, list(words))
    assert result.exit_code == 0, result.output
    return result.stdout


def read(text):
    """Read JSON that holds no NaN."""
    return json.loads(text, parse_constant=lambda name: pytest.fail(name))


def the_map(path, *words):
    """Write the map of a question as GeoJSON and read it."""
    told = run("chart", "map", *HOUR, *words, "--output", str(path))
    return read(path.read_text(encoding="utf-8")), told


def of_kind(whole, kind):
    """Features of one kind."""
    return [f for f in whole["features"] if f["properties"]["kind"] == kind]


def positions(geometry):
    """Every position of a geometry."""
    stack = [geometry["coordinates"]]
    while stack:
        each = stack.pop()
        if isinstance(each[0], list):
            stack += each
        else:
            yield each


def lines(geometry):
    """Every line of a geometry, outlines included."""
    found = geometry["coordinates"]
    return {
        "Point": lambda: [],
        "LineString": lambda: [found],
        "MultiLineString": lambda: found,
        "Polygon": lambda: found,
        "MultiPolygon": lambda: [ring for polygon in found for ring in polygon],
    }[geometry["type"]]()


def flat_area(ring):
    """Positive for counterclockwise."""
    x, y = np.array(ring).T
    return 0.5 * float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))


def keeps_the_standard(whole):
    """RFC 7946, by sections."""
    assert whole["type"] == "FeatureCollection"  # 3.3
    assert "crs" not in whole  # 4: there is one coordinate system
    # 7.1: no members of other GeoJSON objects.
    assert not {"coordinates", "geometries", "geometry", "properties"} & set(whole)
    for feature in whole["features"]:
        assert feature["type"] == "Feature"  # 3.2
        assert {"geometry", "properties"} <= set(feature)
        assert not {"crs", "coordinates", "features"} & set(feature)
        geometry = feature["geometry"]
        for longitude, latitude in positions(geometry):  # 3.1.1, 4
            assert -180.0 <= longitude <= 180.0
            assert -90.0 <= latitude <= 90.0
        for line in lines(geometry):
            if "Line" in geometry["type"]:
                assert len(line) >= 2  # 3.1.4
            else:
                assert len(line) >= 4  # 3.1.6: closed, right-hand rule
                assert line[0] == line[-1]
                assert flat_area(line) > 0.0
            # 3.1.9: cut at the antimeridian, not led back across the map.
            x, y = np.array(line).T
            far = np.abs(np.diff(x)) > 180.0
            assert not np.any(far & (np.abs(y[1:]) < 90.0))


@pytest.mark.slow
@pytest.mark.parametrize("words", QUESTIONS, ids=" ".join)
def test_it_keeps_the_standard_and_its_form(words):
    whole = read(run(*words, "--geojson"))
    keeps_the_standard(whole)
    assert not list(SCHEMA.iter_errors(whole))
    (station,) = of_kind(whole, "station")
    place = whole["inputs"]["place"]
    # Longitude first, section 3.1.1.
    assert station["geometry"]["coordinates"] == pytest.approx(
        [place["lon_deg"], place["lat_deg"]], abs=1e-6
    )


@pytest.mark.slow
def test_points_make_up_the_answer():
    """The mean over the points by weight is the chance of the command."""
    words = ["tonight", *HOUR, "--hours", "3"]
    whole, told = read(run(*words, "--geojson")), read(run(*words, "--json"))
    points = of_kind(whole, "target point")
    assert sum(f["properties"]["weight"] for f in points) == pytest.approx(1.0)
    for t, hour in enumerate(points[0]["properties"]["hours"]):
        mean = sum(
            f["properties"]["weight"] * f["properties"]["hours"][t]["chance"]
            for f in points
        )
        (row,) = (
            row
            for row in told["results"]
            if (row["setup"], row["utc"], row["band"])
            == (points[0]["properties"]["setup"], hour["utc"], hour["band"])
        )
        assert mean == pytest.approx(row["chance"], rel=1e-9)
    best = max(row["chance"] for row in told["results"])
    mean = sum(f["properties"]["weight"] * f["properties"]["chance"] for f in points)
    assert mean == pytest.approx(best, abs=0.05)


@pytest.mark.slow
def test_a_closed_target_has_no_band_and_no_chance():
    whole = read(run("tonight", *HOUR, "--hours", "1", *WIRE, *CLOSED, "--geojson"))
    for feature in of_kind(whole, "target point"):
        assert feature["properties"]["band"] == ""
        assert feature["properties"]["chance"] is None


def length_km(geometry):
    """Length of all parts."""
    total = 0.0
    for line in lines(geometry):
        x, y = np.array(line).T
        total += float(distance_km(y[:-1], x[:-1], y[1:], x[1:]).sum())
    return total


@pytest.mark.slow
@pytest.mark.parametrize(
    "words", [[*WIRE, "--to", "JP", "--long-path"], EAST], ids=["long way", "across"]
)
def test_ways_are_as_long_as_told_and_cut(words):
    whole = read(run("tonight", *HOUR, "--hours", "1", *words, "--geojson"))
    ways = of_kind(whole, "path")
    assert ways
    assert "MultiLineString" in {f["geometry"]["type"] for f in ways}
    points = of_kind(whole, "target point")
    for feature, point in zip(ways, points, strict=True):
        about = feature["properties"]
        assert length_km(feature["geometry"]) == pytest.approx(
            about["distance_km"], rel=2e-3
        )
        end = lines(feature["geometry"])[-1][-1]
        where = point["geometry"]["coordinates"]
        assert distance_km(end[1], end[0], where[1], where[0]) < 0.1


@pytest.mark.slow
@pytest.mark.parametrize(
    "words",
    [["--hours", "1"], ["--hours", "1", *EAST], ["--hours", "1", *EAST, "--long-path"]],
    ids=["demonstration", "date line", "long way"],
)
def test_the_map_keeps_the_standard_and_its_form(tmp_path, words):
    """Cells lie where they say, the grey line a quarter of the Earth from the sun."""
    whole, told = the_map(tmp_path / "map.geojson", *words)
    keeps_the_standard(whole)
    cells = of_kind(whole, "chance")
    assert all(f["properties"]["chance"] >= 0.05 for f in cells)
    here = whole["inputs"]["place"]
    for feature in cells:
        about = feature["properties"]
        lon, lat = np.array(list(positions(feature["geometry"]))).T
        away = distance_km(here["lat_deg"], here["lon_deg"], lat, lon)
        # Chords for arcs, and cuts along them; the map's edge at a pole is the pole.
        assert away.min() >= about["near_km"] - 25.0
        assert away.max() <= about["far_km"] + 25.0
    (line,) = of_kind(whole, "grey line")
    (sun,) = of_kind(whole, "sun")
    x, y = sun["geometry"]["coordinates"]
    lon, lat = np.array(list(positions(line["geometry"]))).T
    inner = np.abs(np.abs(lon) - 180.0) > 1e-6
    # A quarter of the way round, and 0.83 degrees for refraction and radius.
    assert distance_km(y, x, lat[inner], lon[inner]) == pytest.approx(10100.0, abs=5.0)
    # A few of the cells will do for their form.
    others = [f for f in whole["features"] if f["properties"]["kind"] != "chance"]
    whole["features"] = others + cells[:5]
    assert not list(SCHEMA.iter_errors(whole))
    zones = of_kind(whole, "skip zone")
    assert ("skip zone" in told) == bool(zones)


@pytest.mark.slow
def test_the_map_is_the_same_twice_and_keeps_old_files(tmp_path):
    the_map(tmp_path / "one.geojson", "--hours", "1")
    the_map(tmp_path / "two.geojson", "--hours", "1")
    one = (tmp_path / "one.geojson").read_bytes()
    assert one == (tmp_path / "two.geojson").read_bytes()
    words = ["chart", "map", *HOUR, "--output", str(tmp_path / "one.geojson")]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert "exists: add --overwrite" in result.stderr
    assert (tmp_path / "one.geojson").read_bytes() == one


def test_only_the_map_is_geojson(tmp_path):
    words = ["chart", "fan", *HOUR, "--output", str(tmp_path / "fan.geojson")]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert "does not end in" in result.stderr
    assert not list(tmp_path.glob("*.geojson"))


@pytest.mark.slow
def test_skip_zones_are_those_of_the_rows():
    words = ["reach", *HOUR, "--hours", "3"]
    zones = of_kind(read(run(*words, "--geojson")), "skip zone")
    rows = read(run(*words, "--json"))["results"]
    want = {
        (row["utc"], row["band"]): row["nearest_km"]
        for row in rows
        if row["nearest_km"]
    }
    assert {
        (f["properties"]["utc"], f["properties"]["band"]): f["properties"]["radius_km"]
        for f in zones
    } == want
    assert want


@pytest.mark.parametrize("command", ["tonight", "reach"])
def test_two_formats_are_refused(command):
    result = CliRunner().invoke(main, [command, "--geojson", "--csv"])
    assert result.exit_code == 2
    assert "--geojson and --csv exclude each other: give one" in result.stderr
