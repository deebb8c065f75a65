"""Land or sea: known places, the poles, the antimeridian, and the area of all land."""

import numpy as np
import pytest

from geo.land import CELL_DEG, is_land, land_mask, land_share
from geo.tables import read_arrays

# Places well inside, from any atlas.
CONTINENTS = {
    "Kansas": (38.5, -98.0), "Amazonia": (-5.0, -62.0), "Sahara": (23.0, 5.0),
    "Karoo": (-32.0, 23.0), "Bohemia": (49.8, 15.3), "Siberia": (62.0, 105.0),
    "Deccan": (17.0, 77.0), "outback": (-25.0, 134.0), "Greenland": (72.0, -40.0),
    "Yunnan": (25.0, 101.5), "Chukotka, east": (67.5, 179.7),
    "Chukotka, west": (66.0, -177.5),
}  # fmt: skip
ISLANDS = {
    "Iceland": (64.9, -18.5), "Ireland": (53.2, -7.8), "Tasmania": (-42.0, 146.6),
    "South Island": (-44.0, 170.5), "Honshu": (36.3, 138.3), "Cuba": (21.6, -78.5),
    "Sri Lanka": (7.5, 80.7), "Sicily": (37.5, 14.2), "Borneo": (1.0, 114.0),
}  # fmt: skip
SEAS = {
    "Atlantic": (30.0, -40.0), "Pacific": (0.0, -150.0), "Indian": (-25.0, 80.0),
    "Southern": (-60.0, 20.0), "North Sea": (56.5, 3.0), "Tasman Sea": (-38.0, 160.0),
    "Mediterranean": (34.5, 18.5), "Caspian Sea": (42.0, 50.5), "pole": (90.0, 0.0),
    "date line": (30.0, 180.0), "Hudson Bay": (60.0, -86.0),
}  # fmt: skip


@pytest.mark.parametrize("name", [*CONTINENTS, *ISLANDS])
def test_land(name):
    assert is_land(*(CONTINENTS | ISLANDS)[name])


@pytest.mark.parametrize("name", SEAS)
def test_sea(name):
    assert not is_land(*SEAS[name])


@pytest.mark.parametrize(
    "place", [(38.5, -28.5), (28.3, -16.6), (-20.3, 57.6), (-15.95, -5.7)]
)
def test_small_islands_are_left_out_as_the_guide_says(place):
    """The Azores, Tenerife, Mauritius, Saint Helena."""
    assert not is_land(*place)


def test_lakes_count_as_land():
    """Victoria and Superior are in no outline."""
    assert is_land([-1.0, 47.7], [33.0, -88.0]).all()


def test_share_of_land(outside):
    """
    Land is 148.9 of 510.1 million km2, 29.2 % (any atlas).

    Small islands missing and coasts cut short account for up to half a per cent.
    """
    lat = -90.0 + CELL_DEG * (np.arange(land_mask().shape[0]) + 0.5)
    weight = np.cos(np.radians(lat))
    share = (land_mask().mean(axis=1) * weight).sum() / weight.sum()
    check = outside("any atlas: 148.9 of 510.1 million km2", "from memory")
    why = "small islands and coasts"
    check.near("share of land", share, 0.292, abs=0.005, why=why)


def test_mask_agrees_with_another_way_to_fill_an_outline():
    """Point in polygon by matplotlib, on outlines that do not meet the date line."""
    from matplotlib.path import Path

    points = read_arrays("land_110m")["xy"].astype(float)
    parts = np.split(points, np.flatnonzero(np.isnan(points[:, 0])))
    rings = [part[~np.isnan(part[:, 0])] for part in parts]
    lat, lon = (
        grid.ravel()
        for grid in np.meshgrid(
            np.arange(-50.125, 60.0, 5.0), np.arange(-160.125, 160.0, 5.0)
        )
    )
    inside = np.zeros(lat.size, dtype=int)
    for ring in rings:
        if ring.size:
            inside += Path(ring).contains_points(np.column_stack([lon, lat]))
    differ = is_land(lat, lon) != (inside % 2 == 1)
    assert differ.mean() < 0.002
    assert 0.15 < is_land(lat, lon).mean() < 0.4


def test_longitude_goes_round_and_poles_are_in():
    lon = np.array([23.0, 383.0, -337.0])
    assert is_land(-32.0, lon).all()
    assert is_land(-90.0, [0.0, 180.0, -180.0, 77.0]).all()
    assert is_land(-87.0, [-180.0, 180.0, 0.0]).all()


def test_what_is_no_place_is_no_land():
    assert not is_land([np.nan, 91.0, 0.0], [0.0, 0.0, np.inf]).any()


def test_answers_have_the_broadcast_shape_and_the_mask_is_read_only():
    assert is_land(np.zeros((3, 1)), np.zeros(4)).shape == (3, 4)
    with pytest.raises(ValueError, match="read-only"):
        land_mask()[0, 0] = True


def test_share_is_that_of_the_cells_and_passes_coasts_evenly():
    """In the middles of cells the mask itself; 2 km apart never a fifth of the way."""
    dice = np.random.default_rng(4)
    row, column = dice.integers(0, 720, 500), dice.integers(0, 1440, 500)
    lat, lon = (row + 0.5) * CELL_DEG - 90.0, (column + 0.5) * CELL_DEG - 180.0
    assert land_share(lat, lon) == pytest.approx(
        land_mask()[row, column].astype(float), abs=1e-9
    )
    along = np.arange(-180.0, 180.0, 0.02)
    share = land_share(np.array([[-89.99], [0.0], [52.3], [70.0]]), along)
    assert np.all((share >= 0.0) & (share <= 1.0))
    assert np.abs(np.diff(share, axis=1)).max() < 0.2
    assert 0.0 < np.mean((share > 0.1) & (share < 0.9)) < 0.2
    assert land_share(10.0, -180.0) == pytest.approx(land_share(10.0, 180.0))
    assert np.isnan(land_share(np.nan, 0.0))
