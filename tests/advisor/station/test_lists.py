"""Ground by points and supports, lists of the station file."""

from __future__ import annotations

import pytest

from advisor.station.described import describe
from advisor.station.file import (
    resolve_station,
)
from advisor.station.written import station_toml, station_values
from geo.errors import InputError

HERE = 'place = "KF07jo"\n'


def test_ground_by_points_gives_the_skyline():
    """A ridge 60 m over the eye at 1 km in the east; flat elsewhere."""
    given = {"place": "48,10", "slopes": [[0, 1000, 0], [90, 1000, 65], [180, 10, 0]]}
    found, origins = resolve_station(None, given)
    assert found.horizon_at(90.0) == pytest.approx(3.43, abs=0.1)
    assert found.horizon_at(270.0) == 0.0
    assert origins["horizon"] == "from 3 points"
    # The field over the ridge knows of its shadow; a hedge told besides, it does not.
    assert found.edge_at(90.0) == 0.0
    own, _ = resolve_station(None, {**given, "horizon_deg": 7.0})
    assert own.horizon_at(90.0) == own.edge_at(90.0) == 7.0
    assert own.hills is not None
    flat, _ = resolve_station(None, {"place": "48,10"})
    assert flat.hills is None


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"slopes": [[0, 100]]}, r"slopes: \[0, 100\] is not allowed: give 3 numbers"),
        ({"slopes": [[0, 100, 1], [0, 100, 2]]}, "same azimuth and distance"),
        ({"slopes": [[0, 0, 1]]}, r"slopes: 0 is not allowed"),
        ({"terrain": "x.hgt", "slopes": [[0, 9, 1]]}, "as tiles and as points"),
        ({"terrain": "N48E010.hgt"}, "cannot read elevation tile"),
        ({"terrain": "N48E010.hgt", "place": "JN48"}, "is an area, not a place"),
    ],
)
def test_ground_that_cannot_be_is_told(given, message):
    with pytest.raises(InputError, match=message):
        resolve_station(None, {"place": "48.1,10.1", **given})


SUPPORTS = (
    HERE
    + """
[[supports]]
name = "oak"
bearing_deg = 20
distance_m = 12
height_m = 9
ground_m = -2

[[supports]]
name = "mast"
distance_m = 0
height_m = 11
"""
)


def test_supports_stand_in_the_file_and_in_what_is_written():
    station, origins = resolve_station(SUPPORTS, {})
    oak, mast = station.supports
    assert (oak.bearing_deg, oak.distance_m, oak.ground_m) == (20.0, 12.0, -2.0)
    assert (mast.name, mast.bearing_deg, mast.height_m) == ("mast", 0.0, 11.0)
    assert origins["supports[1].height_m"].endswith("line 13")
    rows = describe(station, origins)
    assert ("supports[0].height_m", "9", "station text line 7") in rows
    assert ("supports[1].ground_m", "0", "default") in rows
    again, _ = resolve_station(station_toml(station_values(station)), {})
    assert again.supports == station.supports


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("height_m = 9", "height_m = 0", "supports[0].height_m"),
        ("height_m = 9", "", "height_m is missing"),
        ("bearing_deg = 20", "", "bearing_deg is missing"),
        ("distance_m = 12", "distance_m = 1000", "to 300 m"),
        ("bearing_deg = 20", "bearing_deg = nan", "bearing_deg"),
        ('"mast"', '"oak"', "two supports are called 'oak'"),
        ("distance_m = 12", "distance_m = 0.1", "in one place"),
    ],
)
def test_supports_that_cannot_be(old, new, says):
    with pytest.raises(InputError) as caught:
        resolve_station(SUPPORTS.replace(old, new, 1), {})
    assert says in str(caught.value)
    assert "station text" in str(caught.value)
