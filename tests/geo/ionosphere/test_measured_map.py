"""A map from electron content: how much of it is believed, where and how long."""

import numpy as np
import pytest

from geo.ionosphere import measured_map
from geo.ionosphere.conditions import Conditions, Sounding
from geo.ionosphere.layers import layers_at
from geo.ionosphere.measured import MeasuredSky
from geo.ionosphere.measured_map import DEPARTURE, MeasuredMap, believed
from geo.ionosphere.sounding import correlation
from geo.places import parse_place

NOON = np.datetime64("2026-06-21T12:00:00")
HOUR = np.timedelta64(1, "h")
LAT, LON = np.arange(-87.5, 90.0, 5.0), np.arange(-180.0, 180.0, 10.0)


def uniform(fof2_mhz, hmf2_km=300.0, time=NOON):
    """Map of one figure all over the world."""
    shape = (LAT.size, LON.size)
    fof2, height = np.full(shape, fof2_mhz), np.full(shape, hmf2_km)
    return MeasuredMap(time, LAT, LON, fof2, height)


def under(known, soundings=()):
    """Conditions with a map."""
    here = parse_place("50,0")
    sky = MeasuredSky(known.time, "the test", here, electron_map=known)
    return Conditions(soundings, measured=sky)


def moved(ratio, lon_deg):
    """Factor on foF2 at 50 N of a map that stands so far off the month at noon UTC."""
    month = layers_at([50.0], [lon_deg], NOON, 60.0)
    known = uniform(month.fof2_mhz.item() * ratio)
    seen = under(known).over([50.0], [lon_deg], NOON, 60.0)
    return (seen.fof2_mhz / month.fof2_mhz).item(), seen.unsounded.item()


def test_by_day_most_of_it_counts_and_by_night_little():
    """A third too high, as such maps often stand by night, moves foF2 by 4 %."""
    factor, spread = moved(1.2, 0.0)
    assert factor == pytest.approx(1.2**0.678, abs=1e-3)
    assert spread == pytest.approx(np.sqrt(1.0 - 0.678), abs=1e-3)
    factor, spread = moved(1.33, 180.0)
    assert layers_at([50.0], [180.0], NOON, 60.0).zenith_deg.item() > 100.0
    assert 1.0 < factor < 1.05
    assert spread > 0.9


def test_it_wears_off():
    hours = NOON + np.arange(12) * HOUR
    month = layers_at([50.0], [0.0], hours, 60.0)
    seen = under(uniform(1.2 * month.fof2_mhz[0, 0])).over([50.0], [0.0], hours, 60.0)
    moved_by = np.log(seen.fof2_mhz / month.fof2_mhz)[:, 0]
    assert (np.diff(moved_by) < 0.0).all()
    assert (np.diff(seen.unsounded[:, 0]) > 0.0).all()
    assert moved_by[3] == pytest.approx(moved_by[0] / np.e)
    assert moved_by[11] < 0.004


def test_the_share_is_that_of_brute_force():
    """Draw days and errors of the map: regress the day on what the map shows."""
    rng = np.random.default_rng(7)
    day = rng.normal(0.0, DEPARTURE, 200_000)
    for zenith, error in ((30.0, 0.10), (120.0, 0.35)):
        shown = day + rng.normal(0.0, error, day.size)
        slope = (day @ shown) / (shown @ shown)
        share = believed(zenith, DEPARTURE, 0.10, 0.35)
        assert slope == pytest.approx(share, abs=0.01)
        left = (day - slope * shown).std() / DEPARTURE
        assert left == pytest.approx(np.sqrt(1.0 - share), abs=0.01)


def test_time_counts_as_it_does_for_a_sounding():
    assert correlation(0.0, 3.0) == pytest.approx(
        np.exp(-3.0 / measured_map.CORRELATION_HOURS)
    )


def test_a_sounding_beside_it_still_holds():
    """The map says 9, an ionosonde 6: the ionosonde is right where it stands."""
    place = parse_place("50,0")
    both = under(uniform(9.0), (Sounding(6.0, place, NOON),))
    seen = both.over([50.0], [0.0], NOON, 60.0)
    assert seen.fof2_mhz.item() == pytest.approx(6.0, rel=0.02)
    assert seen.unsounded.item() == pytest.approx(0.35)


def test_nothing_where_the_map_has_nothing_or_nonsense():
    month = layers_at([50.0], [0.0], NOON, 60.0)
    for fof2 in (np.nan, 25.0):
        known = uniform(fof2)
        seen = under(known).over([50.0], [0.0], NOON, 60.0)
        assert (seen.fof2_mhz == month.fof2_mhz).all()
        assert (seen.hmf2_km == month.hmf2_km).all()
        assert (seen.unsounded == 1.0).all()


def test_the_height_moves_and_m3000_with_it():
    month = layers_at([50.0], [0.0], NOON, 60.0)
    known = uniform(month.fof2_mhz.item(), month.hmf2_km.item() + 50.0)
    seen = under(known).over([50.0], [0.0], NOON, 60.0)
    assert seen.hmf2_km - month.hmf2_km == pytest.approx(50.0 * 400.0 / 1025.0)
    assert seen.m3000f2.item() < month.m3000f2.item()


def test_between_points_and_across_the_date_line():
    lat, lon = np.meshgrid(LAT, np.radians(LON), indexing="ij")
    known = MeasuredMap(NOON, LAT, LON, 8.0 + 0.01 * lat + np.cos(lon), 300.0 + lat)
    fof2, height = known.at([0.0, 0.0, 90.0, 12.5], [179.0, -181.0, 0.0, 40.0])
    assert fof2[0] == fof2[1]
    assert fof2[0] == pytest.approx(7.0, abs=0.01)
    assert height[2] == 387.5
    assert fof2[3] == pytest.approx(8.125 + np.cos(np.radians(40.0)))


def test_words_say_what_the_map_has_and_what_it_moves():
    said = under(uniform(9.0)).words(NOON + np.arange(4) * HOUR, 60.0)
    assert said[1] == (
        "Map of measured electron content of 12:00Z (0 min old): foF2 9.0 MHz and hmF2 "
        "300 km at 50, 0."
    )
    assert said[2].startswith("The map moves foF2 at 50, 0 by 1.")
