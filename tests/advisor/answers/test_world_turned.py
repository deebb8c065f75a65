"""The world that a page turns is the engine's, between its places nearly."""

from dataclasses import replace

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.answers.pictures.scene import Scene
from advisor.answers.pictures.world_turned import (
    COARSE,
    DRAWN,
    Grid,
    between,
    world_turned,
    worlds,
)
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.station.file import resolve_station
from geo.places import Target
from geo.sphere import destination


def test_places_are_met_and_north_has_both_its_neighbours():
    grid = Grid(np.array([0.0, 100.0, 300.0]), np.array([0.0, 90.0, 180.0, 270.0]))
    chance = np.array([[0.0, 0.2, 0.4, 0.8], [1.0, 0.2, 0.4, 0.6]])
    # Rings at 50 and 200 km; 315 degrees is halfway from west to north.
    for away, deg, want in (
        (50, 90, 0.2), (200, 270, 0.6), (125, 0, 0.5), (50, 315, 0.4), (200, -45, 0.8),
        (0, 180, 0.4), (9e3, 360, 1.0),
    ):  # fmt: skip
        got = between(grid, chance, np.array(away), np.array(deg))
        assert got == pytest.approx(want)


@pytest.mark.slow
def test_a_share_of_the_world_is_one_of_its_surface(scene, turned):
    """Half of a sphere lies nearer than a quarter of the way round it."""
    near = np.where(turned.grid.ring_km < 10_008.0, 1.0, 0.0)[:, None]
    half = replace(turned, chance=np.zeros_like(turned.chance) + near)
    assert worlds(scene, half).open_share == pytest.approx([0.5], abs=0.08)
    everywhere = replace(turned, chance=np.ones_like(turned.chance))
    record = worlds(scene, everywhere)
    assert record.open_share == pytest.approx([1.0])
    assert np.isnan(record.skip_km).all()


@pytest.mark.slow
def test_the_skip_zone_ends_where_it_opens(scene, turned):
    is_out = turned.grid.ring_km > 1000.0
    step = np.where(is_out, 0.5, 0.0)[:, None]
    record = worlds(scene, replace(turned, chance=0.0 * turned.chance + step))
    low, high = turned.grid.ring_km[~is_out][-1], turned.grid.ring_km[is_out][0]
    assert low < record.skip_km[0] < high


@pytest.fixture(scope="module")
def scene():
    """One hour, one band, a wire that runs along a bearing of its own."""
    wire = {"shape": "dipole", "height_m": 8, "bands": ["20 m"], "bearing_deg": 37}
    station, _ = resolve_station(None, {"place": "KF07jo", "setups": [wire]})
    start = np.datetime64("2026-12-05T12:00")
    return Scene(answer(question_for(station, ["KE"], start, 1, r12=60.0)))


@pytest.fixture(scope="module")
def turned(scene):
    return world_turned(scene)


def engine(scene, away_km, towards_deg, wire_deg):
    """Chance at places on a bearing of the wire, straight from the engine."""
    question, patterns = scene.advice.question, scene.patterns["dipole"]
    here = question.place
    lat, lon = destination(here.lat_deg, here.lon_deg, towards_deg, away_km)
    weight = np.full(lat.size, 1.0 / lat.size)
    asked = replace(question, targets=(Target("", "point", lat, lon, weight, ""),))
    link = link_for(asked, question.solar.r12, scene.far_patterns)
    gains = wire_gains(asked, link, patterns, wire_deg)
    return contact_chance(link, gains).both[0, :, 0, 0]


@pytest.mark.slow
def test_its_places_are_the_engines_and_those_between_close(scene, turned):
    """On the bearing it hangs on exactly; anywhere, on any, within a day in ten."""
    assert turned.turn_deg == 180.0
    hung = int(np.flatnonzero(turned.wire_deg == 37.0)[0])
    rings, rays = np.array([2, 5, 8, 12, 19]), np.array([0, 3, 8, 11, 14])
    want = engine(scene, COARSE.ring_km[rings], COARSE.azimuth_deg[rays], 37.0)
    assert turned.chance[0, hung, rings, rays] == pytest.approx(want, abs=1e-9)
    assert (want > 0.05).sum() >= 2
    random = np.random.default_rng(5)
    away, towards = random.uniform(300, 15_000, 60), random.uniform(0, 360, 60)
    wire = int(np.flatnonzero(turned.wire_deg == 60.0)[0])
    midway = 0.5 * (turned.chance[0, wire] + turned.chance[0, wire + 1])
    off = between(COARSE, midway, away, towards) - engine(scene, away, towards, 67.5)
    assert 0.0 < np.sqrt(np.mean(off**2)) < 0.05
    assert np.quantile(np.abs(off), 0.95) < 0.1


@pytest.mark.slow
def test_night_is_where_the_sun_is_down(scene, turned):
    """At 12Z in December the far Pacific sleeps, all of Africa does not."""
    record = worlds(scene, turned)
    near = DRAWN.ring_km < 3000.0
    far = DRAWN.ring_km > 18_000.0
    assert not record.is_night[0, near].any()
    assert record.is_night[0, far].mean() > 0.9
