"""Spots on a plot, as a person says them, and the ground seen from there."""

import numpy as np
import pytest

from advisor.station.file import resolve_station
from advisor.station.spots import Spot, read_spot, standing_on
from geo.errors import InputError
from tests.geo.test_terrain import write_hgt

SOUTH_EDGE = Spot("south edge", 180.0, 40.0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("south edge", "give its name, bearing and distance"),
        ("180deg 40m", "give its name"),
        ("edge 180deg 40", "give its name"),
        ("edge 400deg 40m", "its bearing is 0 to 360 deg"),
        ("edge 180deg 4000m", "distance up to 1000 m"),
        ("edge 180deg 0m", "distance up to 1000 m"),
    ],
)
def test_what_is_no_spot_is_told(text, message):
    with pytest.raises(InputError, match=message):
        read_spot(text)
    assert read_spot(" south edge 180 deg, 40 m ") == SOUTH_EDGE


def test_where_nothing_is_known_of_the_ground_no_spot_is_another():
    station, _ = resolve_station(None, {"place": "48,10"})
    with pytest.raises(InputError, match="'south edge': nothing is known of the grou"):
        standing_on(station, SOUTH_EDGE)


def test_a_spot_has_the_ground_of_its_own_place(tmp_path):
    """From a tile as if it were the place; the skyline with it unless one is given."""
    tmp_path /= "in a folder of a long name, as they are where people keep things"
    tmp_path.mkdir()
    row, column = np.mgrid[0:1201, 0:1201]
    ridge = 300.0 * np.exp(-(((row - 600) / 3.0) ** 2)) + 0.01 * column
    write_hgt(tmp_path / "N00E000.hgt", ridge)
    (tmp_path / "a.toml").write_text('place="0.5,0.5"\nterrain="N00E000.hgt"\n')
    for more in ({}, {"horizon_deg": 3.0}):
        station, _ = resolve_station(tmp_path / "a.toml", more)
        moved = standing_on(station, Spot("south foot", 180.0, 1000.0))
        there, _ = resolve_station(
            None, {"place": "0.4910068,0.5", "terrain": str(tmp_path / "N00E000.hgt")}
        )
        np.testing.assert_allclose(moved.hills.height_m, there.hills.height_m, atol=1.0)
        assert (moved.horizon == moved.hills.skyline()) == (not more)
    assert station.hills.height_m[0, 80] < moved.hills.height_m[0, 80] - 100.0
