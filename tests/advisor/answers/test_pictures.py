"""What charts show, before it is drawn: land, sun, skip zone, sweeps, any hour."""

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures import world as world_module
from advisor.answers.pictures.angles import angles
from advisor.answers.pictures.compass import compass as compass_of
from advisor.answers.pictures.fan import EDGE_DEG, fan
from advisor.answers.pictures.scene import Moment, Scene
from advisor.answers.pictures.side import side_view
from advisor.answers.pictures.world import (
    WorldChances,
    range_edges_km,
    world_chances,
    world_map,
)
from advisor.station.file import demo_station, resolve_station
from geo.sphere import bearing_deg, destination, distance_km
from geo.sun import zenith_deg

DIPOLE = {"name": "wire", "shape": "dipole", "height_m": 8.0}


@pytest.fixture(scope="module")
def demo():
    """The shipped demonstration, 24 hours."""
    station, _ = resolve_station(demo_station(), {})
    start = np.datetime64("2026-12-05T00")
    return Scene(answer(question_for(station, station.to, start, r12=60.0)))


@pytest.mark.slow
def test_a_fan_sums_up_to_the_answer(demo):
    """Bars, ways and deciles are of one sum, at any hour on any band."""
    advice = demo.advice
    for hour in (2, 11, 17):
        for band in (0, 2, 3):
            record = fan(demo, moment=Moment(hour, band))
            if not record.ways:
                continue
            assert record.offered.sum() == pytest.approx(1.0)
            assert record.through.sum() == pytest.approx(1.0)
            assert sum(way.through for way in record.ways) <= 1.0 + 1e-9
            for shares, low, high in (
                (record.offered, record.offered_low_deg, record.offered_high_deg),
                (record.through, record.through_low_deg, record.through_high_deg),
            ):
                # The deciles lie in the steps in which the summed shares pass them.
                passed = np.append(0.0, np.cumsum(shares))
                for angle, share in ((low, 0.1), (high, 0.9)):
                    place = np.searchsorted(EDGE_DEG[1:-1], angle, side="right")
                    assert passed[place] <= share + 1e-9
                    assert passed[place + 1] >= share - 1e-9
            assert record.gives_dbi == advice.setups[0].gain_dbi[0, hour, band]


@pytest.mark.slow
def test_angles_by_the_hour_are_those_of_the_fan(demo):
    """The same shares at any hour; how much the wire meets, summed by hand."""
    record = angles(demo)
    advice = demo.advice
    names = [band.name for band in advice.question.bands]
    assert record.bands
    for band in record.bands:
        b = names.index(band.band)
        hour = int(advice.setups[0].chance[0, :, b].argmax())
        one = fan(demo, moment=Moment(hour, b))
        assert np.array_equal(band.offered[hour], one.offered)
        assert np.array_equal(band.gain_dbi, one.gain_dbi)
        met = offered = 0.0
        for t in np.flatnonzero(band.is_open):
            for n, share in enumerate(band.offered[t]):
                up = 0.5 * (EDGE_DEG[n] + EDGE_DEG[n + 1])
                given = np.interp(up, band.takeoff_deg, band.gain_dbi)
                offered += share
                met += share if given >= band.gain_dbi.max() - 3.0 else 0.0
        assert band.strong == pytest.approx(met / offered)


@pytest.mark.slow
def test_map_knows_land_sun_and_skip(demo):
    """Cape Agulhas (34.83 S, 20.00 E; any gazetteer), the terminator, the gap."""
    record = world_map(demo)
    place = demo.advice.question.place
    cape = (-34.83, 20.0)
    lat, lon = destination(
        place.lat_deg, place.lon_deg, record.land_deg, record.land_km
    )
    assert np.nanmin(distance_km(*cape, lat, lon)) < 60.0
    sun_lat, sun_lon = destination(
        place.lat_deg, place.lon_deg, record.sun_deg, record.sun_km
    )
    grey_lat, grey_lon = destination(
        place.lat_deg, place.lon_deg, record.greyline_deg, record.greyline_km
    )
    low_sun = zenith_deg(grey_lat, grey_lon, sun_lat, sun_lon)
    assert np.allclose(low_sun, 90.833, atol=0.01)
    target = record.targets[0]
    assert target.bearing_deg == demo.advice.targets[0].bearing_deg
    ray = int(target.bearing_deg // 10.0)
    along = record.chances.chance[0, :, ray]
    ring = record.chances.range_edge_km[:-1]
    gap = (ring >= record.skip_from_km) & (ring < record.skip_km)
    assert record.skip_km > 250.0
    assert np.all(along[gap] < OPEN_CHANCE)
    assert np.all(along[ring < record.skip_from_km] >= OPEN_CHANCE)
    assert along[ring >= record.skip_km][0] >= OPEN_CHANCE
    points = demo.advice.question.targets[0]
    assert np.allclose(
        target.point_deg,
        bearing_deg(place.lat_deg, place.lon_deg, points.lat_deg, points.lon_deg),
    )


@pytest.mark.slow
def test_world_in_blocks_is_the_world_at_once(ask, monkeypatch, tmp_path):
    """Cutting the points into blocks changes nothing; its rays are kept on disk."""
    scene = Scene(ask("KF07jo", "KE", "2026-12-05T16", hours=2, setups=[DIPOLE]))
    question = scene.advice.question
    from advisor.answers.pictures import world
    from advisor.answers.pictures.scene import narrowed

    asked = narrowed(question, 0, band=4)
    band = asked.bands[0].name
    words = (scene.patterns["wire"][band], scene.far_patterns[band], 30.0, 45.0)
    whole = world_chances(asked, *words, cache_dir=tmp_path)
    # One file for each way round.
    assert len(list(tmp_path.glob("rays-*.npz"))) == 2
    assert whole.chance.shape == (2, whole.range_edge_km.size - 1, 8)
    monkeypatch.setattr(world, "_CELLS_AT_ONCE", 100)
    assert np.allclose(world_chances(asked, *words).chance, whole.chance, atol=1e-12)


@pytest.mark.slow
def test_moment_can_be_named(demo):
    """Any hour and band, not only the best."""
    at = Moment(hour=3, band=0)
    band = demo.advice.question.bands[0].name
    for make in (fan, compass_of, side_view):
        assert make(demo, moment=at).utc == demo.advice.question.times[3]
    assert side_view(demo, moment=at).band == band
    assert compass_of(demo, moment=at).band == band


def test_no_skip_zone_where_the_near_is_open():
    """
    What ends far away is not a skip zone.

    Fiji by day on 20 m: open from the station to 3000 km and beyond.
    """
    edges = range_edges_km(10.0)
    turns = np.arange(0.0, 361.0, 90.0)
    rings = 0.5 * (edges[1:] + edges[:-1])
    chance = np.repeat(np.where(rings < 6000.0, 0.9, 0.0), 4).reshape(1, -1, 4)
    chance[:, -1] = 0.5  # the other side of the world
    times = np.array(["2026-12-05T04:00"], "M8[s]")
    world = WorldChances(times, "20 m", edges, turns, chance)
    assert np.isnan(world_module._skip_zone_km(world, np.nan)).all()
    chance[0, (rings > 300.0) & (rings < 900.0)] = 0.0
    begin, end = world_module._skip_zone_km(world, 100.0)
    assert (begin, end) == (250.0, 875.0)
