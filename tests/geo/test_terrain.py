"""Elevation tiles, profiles and the skyline, on tiles written here."""

import numpy as np
import pytest
from PIL import Image, TiffImagePlugin

from geo.errors import InputError
from geo.sphere import EARTH_RADIUS_KM
from geo.terrain import (
    BEARINGS_DEG,
    DISTANCES_M,
    read_tile,
    terrain_around,
    terrain_of_points,
)

M_PER_DEG = np.pi * EARTH_RADIUS_KM * 1e3 / 180.0


def write_geotiff(path, height_m, north, west, step, *, model=2, raster=2):
    """Write heights as a plain GeoTIFF in degrees, first height in the north-west."""
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[33550], tags.tagtype[33550] = (step, step, 0.0), 12
    tags[33922], tags.tagtype[33922] = (0.0, 0.0, 0.0, west, north, 0.0), 12
    keys = (1, 1, 0, 2, 1024, 0, 1, model, 1025, 0, 1, raster)
    tags[34735], tags.tagtype[34735] = keys, 3
    Image.fromarray(np.asarray(height_m, np.float32)).save(path, tiffinfo=tags)
    return path


def write_hgt(path, height_m):
    """Write a square degree, big-endian, from the north-west."""
    path.write_bytes(np.asarray(height_m, dtype=">i2").tobytes())
    return path


def _slope(side=1201):
    """Two metres up for every step to the north, one for every step to the east."""
    row, column = np.mgrid[0:side, 0:side]
    return 2 * (side - 1 - row) + column


def test_a_square_degree_is_read_where_it_lies(tmp_path):
    tile = read_tile(write_hgt(tmp_path / "N36W085.hgt", _slope()))
    height, inside = tile.at([36.0, 37.0, 36.5, 38.0], [-85.0, -84.0, -84.5, -84.5])
    np.testing.assert_allclose(height[:3], [0.0, 3600.0, 1800.0])
    assert list(inside) == [True, True, True, False]
    south = read_tile(write_hgt(tmp_path / "S43E147.hgt", _slope()))
    assert south.at(-43.0, 147.0)[0] == 0.0


def test_a_geotiff_says_the_same_as_the_square_degree(tmp_path):
    step = 1.0 / 1200.0
    square = read_tile(write_hgt(tmp_path / "N36W085.hgt", _slope()))
    places = np.array([36.2, 36.7001]), np.array([-84.3, -84.9003])
    for raster, shift in ((2, 0.0), (1, 0.5 * step)):
        path = write_geotiff(
            tmp_path / "a.tif",
            _slope(),
            37.0 + shift,
            -85.0 - shift,
            step,
            raster=raster,
        )
        found = read_tile(path).at(*places)[0]
        np.testing.assert_allclose(found, square.at(*places)[0], rtol=1e-4)


def test_profiles_of_a_plane_rise_by_its_slope(tmp_path):
    tile = read_tile(write_hgt(tmp_path / "N00E000.hgt", _slope()))
    terrain = terrain_around([tile], 0.5, 0.5)
    step_m = M_PER_DEG / 1200.0
    north = terrain.height_m[0] / DISTANCES_M
    east = terrain.height_m[18] / DISTANCES_M
    np.testing.assert_allclose(north, 2.0 / step_m, rtol=1e-3)
    np.testing.assert_allclose(east, 1.0 / step_m, rtol=1e-3)
    distance, height = terrain.slices()
    np.testing.assert_allclose(height[0], 2.0 / step_m * distance, rtol=1e-3, atol=0.1)


def test_the_skyline_is_the_highest_angle_over_a_round_earth():
    """A wall 100 m high 1 km away in the east; 5 m of eye; 6 cm of bulge."""
    terrain = terrain_of_points(
        [(0, 10, 0), (90, 999, 0), (90, 1001, 200), (180, 9, 0)]
    )
    skyline = dict(terrain.skyline())
    at = np.searchsorted(DISTANCES_M, 1001.0)
    expected = np.degrees(np.arctan(195.0 / DISTANCES_M[at]))
    assert skyline[90.0] == pytest.approx(expected, abs=0.02)
    assert skyline[0.0] == skyline[180.0] == 0.0
    assert len(skyline) == len(BEARINGS_DEG)


def test_a_plane_is_the_same_plane_from_a_spot_of_it():
    """And the edge of a plateau comes nearer by as much as one walks towards it."""
    plane = terrain_of_points(
        [(a, 2e4, 2e3 * np.cos(np.radians(a))) for a in np.arange(0.0, 360.0, 5.0)]
    )
    moved = plane.seen_from(210.0, 150.0)
    near = DISTANCES_M < 15_000.0
    rise = 0.1 * np.cos(np.radians(BEARINGS_DEG))[:, None] * DISTANCES_M
    # Between profiles 5 degrees apart a plane is cut by its chord.
    chord = 0.1 * (1.0 - np.cos(np.radians(2.5))) * (DISTANCES_M + 300.0)
    assert (np.abs(moved.height_m - rise) <= chord)[:, near].all()
    plateau = terrain_of_points(
        [(0, 100, 0), (90, 9, 0), (180, 100, 0), (180, 101, -50), (270, 9, 0)]
    )
    for far, by in ((plateau, 0.0), (plateau.seen_from(180.0, 60.0), 60.0)):
        level = DISTANCES_M[far.height_m[36] > -1.0].max()
        assert level == pytest.approx(100.0 - by, abs=10.0)


def test_two_tiles_reach_over_their_seam(tmp_path):
    west = read_tile(write_hgt(tmp_path / "N00E000.hgt", np.zeros((1201, 1201))))
    east = read_tile(write_hgt(tmp_path / "N00E001.hgt", np.full((1201, 1201), 90)))
    with pytest.raises(InputError, match=r"ends .* m from 0.50000, 0.99900 on bearing"):
        terrain_around([west], 0.5, 0.999)
    terrain = terrain_around([west, east], 0.5, 0.999)
    assert terrain.height_m[18, -1] == 90.0
    assert terrain.height_m[54, -1] == 0.0
    alone = terrain_around([west], 0.5, 0.96)
    assert alone.reach_m < 5000.0


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("N36W085.hgt", b"\0" * 1000, "has 1000 bytes"),
        ("tile.hgt", b"", "says its south-west corner"),
        ("tile.tif", b"no picture", "no GeoTIFF that can be read"),
        ("tile.txt", b"", r"give a .hgt file or a GeoTIFF"),
    ],
)
def test_a_bad_tile_is_told(tmp_path, name, content, message):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError, match=message):
        read_tile(tmp_path / name)


def test_a_missing_tile_and_one_in_metres_are_told(tmp_path):
    with pytest.raises(InputError, match="cannot read elevation tile"):
        read_tile(tmp_path / "N36W085.hgt")
    path = write_geotiff(tmp_path / "m.tif", np.zeros((9, 9)), 5e6, 3e5, 30.0, model=1)
    with pytest.raises(InputError, match="not laid out in latitude and longitude"):
        read_tile(path)


def test_voids_and_places_outside_are_told(tmp_path):
    height = np.zeros((1201, 1201))
    height[598:603, 612:616] = -32768
    tile = read_tile(write_hgt(tmp_path / "N00E000.hgt", height))
    with pytest.raises(InputError, match=r"a void \d+ m from .* on bearing \d+"):
        terrain_around([tile], 0.5, 0.5)
    with pytest.raises(InputError, match=r"outside the elevation tile N00E000.hgt"):
        terrain_around([tile], 1.5, 0.5)
