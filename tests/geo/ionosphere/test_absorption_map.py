"""A map of D-region absorption: its text, between its points, over the quiet sun."""

from pathlib import Path

import numpy as np
import pytest

from geo import sun
from geo.errors import InputError
from geo.ionosphere.absorption_map import AbsorptionMap, absorption_map
from geo.ionosphere.conditions import Conditions
from geo.ionosphere.flare import (
    fadeout_frequency_mhz,
    flare_flux_w_m2,
    polar_cap_30_mhz_db,
    polar_cap_db,
)
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
    over, protons = known.over_quiet_mhz(*places, 1e-6)
    np.testing.assert_allclose(over, (losses[0] - losses[1]) ** (2 / 3), rtol=0.01)
    assert protons.max() < 1.0


def test_the_strongest_storms_of_protons_are_no_slip():
    """Sauer and Wilkinson 2008 by day at 1000 protons above 10 MeV (S3 of NOAA)."""
    at_30_mhz_db = polar_cap_30_mhz_db(1920.0, 0.0, 60.0)
    mhz = float(polar_cap_db(1.0, at_30_mhz_db, 90.0) ** (2 / 3))
    cells = " ".join([f"{mhz:.1f}"] * LON.size)
    rows = "\n".join(f"{lat:g} | {cells}" for lat in LAT)
    head = " ".join(f"{lon:g}" for lon in LON)
    text = f"# Product Valid At : 2026-06-17 12:05 UTC\n{head}\n{rows}"
    assert absorption_map(text).fadeout_mhz.max() == pytest.approx(mhz, abs=0.1)
    with pytest.raises(InputError, match="outside 0 to 500"):
        absorption_map(text.replace(f"{mhz:.1f}", "501"))


def test_layers_take_the_more_of_map_and_readings():
    hour, place = NOON.astype("datetime64[h]"), parse_place("KF07jo")
    grid = np.where(LAT[:, None] > 60.0, 12.0, 0.0) + 0.0 * LON
    sky = MeasuredSky(NOON, "x", place, absorption=AbsorptionMap(NOON, LAT, LON, grid))
    at = [80.0, -20.0], [0.0, 0.0], hour + np.array([0, 1, -2], "timedelta64[h]"), 60.0
    lost = Conditions(measured=sky).over(*at).fadeout_mhz
    # Of protons, which last: nothing is lost where the sun is overhead.
    assert lost[0, 0] == pytest.approx(12.0, rel=1e-6)
    assert lost[1, 0] == lost[0, 0]
    assert lost[2, 0] == 0.0
    assert (lost[:, 1] == 0.0).all()


def test_only_what_x_rays_can_do_fades():
    """A flare of X1 as the office's law has it, and 12 MHz of protons over the cap."""
    sub = sun.subsolar_point(np.array([NOON]))
    flare = fadeout_frequency_mhz(1e-4, sun.zenith_deg(LAT[:, None], LON, *sub))
    protons = np.where(LAT[:, None] > 60.0, 12.0, 0.0)
    grid = (flare**1.5 + protons**1.5) ** (1 / 1.5)
    sky = MeasuredSky(
        *(NOON, "x", parse_place("KF07jo")),
        absorption=AbsorptionMap(NOON, LAT, LON, grid),
    )
    hours = NOON.astype("M8[h]") + np.array([0, 1, 5, 25], "m8[h]")
    low, high = (sky.mapped_fadeout_mhz(hours, lat, 0.0)[:, 0] for lat in (0.0, 80.0))
    # Half past the next hour is 85 minutes on; in dB 1/e is left after every 30.
    left = (low[1] / low[0]) ** 1.5
    assert left == pytest.approx(np.exp(-85.0 / 30.0), rel=0.02)
    assert high[0] > 1.2 * high[2]
    assert high[2] == pytest.approx(12.0, abs=0.2)
    assert high[3] < 1.0
