"""A map of D-region absorption: its text, between its points, over the quiet sun."""

from pathlib import Path

import numpy as np
import pytest

from geo import sun
from geo.errors import InputError
from geo.ionosphere.absorption_map import AbsorptionMap, absorption_map
from geo.ionosphere.conditions import Conditions
from geo.ionosphere.flare import fadeout_frequency_mhz, flare_flux_w_m2
from geo.ionosphere.measured import MeasuredSky
from geo.places import parse_place

REAL = Path(__file__).resolve().parents[4] / "shared" / "data" / "spaceweather"
NOON = np.datetime64("2026-06-17T12:05", "s")
LAT, LON = np.arange(-89.0, 90.0, 2.0), np.arange(-178.0, 180.0, 4.0)


@pytest.mark.skipif(not REAL.is_dir(), reason="needs the files of the service")
def test_a_real_piece_is_read_and_refused_as_no_whole():
    """An excerpt of three rows; padded to the world it is what it says."""
    text = (REAL / "drap_global_frequencies.excerpt.txt").read_text(encoding="utf-8")
    with pytest.raises(InputError, match="no map of the whole world"):
        absorption_map(text)
    row = next(line for line in text.splitlines() if line.startswith(" -1 |"))
    for lat in (61, 8, -31, -61, -89):
        text += f"{lat:3d}{row[3:]}\n"
    found = absorption_map(text)
    assert found.time == np.datetime64("2026-06-17T21:57")
    assert found.at([89.0, 89.0, 0.0], [-178.0, 2.0, 10.0]).tolist() == [1.2, 1.1, 0.0]


def test_a_flare_on_the_map_is_the_flare_of_the_readings():
    """NOAA's law put on a grid comes back as the office's own figure for X1."""
    sub = sun.subsolar_point(np.array([NOON]))
    zenith = sun.zenith_deg(LAT[:, None], LON, *sub)
    flux = flare_flux_w_m2("X1")
    grid = fadeout_frequency_mhz(flux, zenith)
    known = AbsorptionMap(NOON, LAT, LON, grid)
    places = np.array([23.0, -30.0, 50.0]), np.array([0.0, 20.0, -40.0])
    here = sun.zenith_deg(*places, *sub)
    losses = fadeout_frequency_mhz(np.array([flux, 1e-6])[:, None], here) ** 1.5
    over = known.over_quiet_mhz(*places, 1e-6)
    np.testing.assert_allclose(over, (losses[0] - losses[1]) ** (2 / 3), rtol=0.01)


def test_layers_take_the_more_of_map_and_readings():
    hour, place = NOON.astype("datetime64[h]"), parse_place("KF07jo")
    grid = np.where(LAT[:, None] > 60.0, 12.0, 0.0) + 0.0 * LON
    sky = MeasuredSky(NOON, "x", place, absorption=AbsorptionMap(NOON, LAT, LON, grid))
    at = [80.0, -20.0], [0.0, 0.0], hour + np.array([0, 1, -2], "timedelta64[h]"), 60.0
    lost = Conditions(measured=sky).over(*at).fadeout_mhz
    assert 10.5 < lost[0, 0] < 12.0
    # Half past the next hour is 85 minutes on; in dB 1/e is left after every 30.
    left = (lost[1, 0] / lost[0, 0]) ** 1.5
    assert left == pytest.approx(np.exp(-85.0 / 30.0), rel=1e-6)
    assert lost[2, 0] == 0.0
    assert (lost[:, 1] == 0.0).all()
