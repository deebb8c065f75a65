"""What a chart draws is what was answered, read back from the figure."""

import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.collections import PolyCollection, QuadMesh
from matplotlib.patches import Rectangle

from advisor.answers.best import best_bands
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.compass import compass as compass_of
from advisor.answers.pictures.daylight import daylight_at_both_ends
from advisor.answers.pictures.fan import fan as fan_of
from advisor.answers.pictures.scene import Scene, best_moment
from advisor.answers.pictures.setups import setups_by_hour
from advisor.answers.pictures.side import side_view
from advisor.answers.pictures.world import (
    NEAR_KM,
    range_edges_km,
    world_map,
)
from advisor.answers.states import mark
from advisor.engine.targets import mode_strengths
from advisor.show.charts import (
    bandhour,
    compass,
    fan,
    setups,
    sideview,
    worldmap,
)
from advisor.show.charts.style import (
    INK,
    plain,
)
from advisor.show.text.cells import chance_cell
from geo.sphere import EARTH_RADIUS_KM, destination

DIPOLE = {"name": "wire", "shape": "dipole", "height_m": 8.0}


def test_cells_are_the_chances(demo):
    """Every figure, every shade and the frames are those of the answer."""
    advice = demo.advice
    best = advice.best
    figure = bandhour.figure(advice, daylight_at_both_ends(advice))
    cells = next(axes for axes in figure.axes if axes.collections)
    mesh = next(each for each in cells.collections if isinstance(each, QuadMesh))
    shut = (best.chance[0] < OPEN_CHANCE) | ~best.works
    drawn = np.ma.masked_invalid(mesh.get_array())
    assert (np.ma.getmaskarray(drawn) == shut).all()
    assert (drawn.compressed() == best.chance[0][~shut]).all()
    places = [t for t in cells.texts if t.get_transform() == cells.transData]
    for text in places:
        b, t = (int(part) for part in text.get_position())
        shut = mark(advice.states[0, t, b], best.margin_db[0, t, b])
        expected = chance_cell(best.chance[0, t, b], shut, False)
        assert text.get_text() == expected.strip()
    assert len({text.get_position() for text in places}) == best.chance[0].size
    framed = np.full(advice.question.times.size, -1)
    for line in cells.lines:
        x, y = line.get_data()
        if len(x) == 5 and line.get_color() == INK:
            framed[int(min(y)) : int(max(y))] = int(min(x))
    assert (framed == advice.best_band[0]).all()


@pytest.mark.slow
def test_the_fan_is_the_pattern_and_what_gets_through(ask, written):
    """A target of one point: the lobe is one cut, the longest bar the fullest step."""
    scene = Scene(ask("KF07jo", "KI88", "2026-12-05T10", hours=4, setups=[DIPOLE]))
    advice = scene.advice
    record = fan_of(scene)
    towards = advice.targets[0].bearing_deg - advice.setups[0].bearing.wire_deg
    expected = scene.patterns["wire"][record.band].gain_dbi(record.takeoff_deg, towards)
    assert np.allclose(record.gain_dbi, expected, atol=1e-9)
    axes = fan.figure(record).axes[0]
    lobe = next(line for line in axes.lines if line.get_linewidth() == 3.0)
    x, y = lobe.get_data()
    # Field strength: 6.02 dB is twice as far, at the angle it leaves at.
    drawn = 20.0 * np.log10(np.hypot(x, y) / np.hypot(x, y).max())
    assert np.allclose(drawn, expected - expected.max(), atol=1e-6)
    assert np.allclose(np.degrees(np.arctan2(y, x)), record.takeoff_deg, atol=1e-6)
    offered, through = (
        [path.vertices for path in track.get_paths()]
        for track in axes.collections
        if isinstance(track, PolyCollection)
    )
    for bars, shares in ((offered, record.offered), (through, record.through)):
        reach = [np.ptp(np.hypot(*bar.T)) for bar in bars]
        shown = shares[shares > 0.005 * max(record.offered.max(), shares.max())]
        assert np.argmax(reach) == np.argmax(shown)
    names = written(fan.figure(record))
    for way in record.ways:
        assert way.name in names
        assert f"{100 * way.through:.0f} %, {plain(way.gain_dbi)} dBi" in names


def test_compass_reads_back_the_gain(demo, written):
    """Radius on the sheet to decibels: the pattern at that bearing and angle."""
    record = compass_of(demo)
    figure = compass.figure(record)
    curve = max(figure.axes[0].lines, key=lambda line: line.get_linewidth() == 3.0)
    x, y = (np.array(values)[:-1] for values in curve.get_data())
    towards = np.degrees(np.arctan2(x, y)) % 360.0
    drawn = np.hypot(x, y)
    top = 5.0 * np.ceil(record.gain_dbi.max() / 5.0)
    inside = record.gain_dbi > top - 30.0
    pattern = demo.patterns[record.setup][record.band]
    at = best_moment(demo.advice)
    share = mode_strengths(demo.link)[:, at.hour, at.band]
    share = share * demo.advice.question.targets[0].weight[:, None]
    up = demo.link.modes.takeoff_deg[:, at.hour, at.band][share > 0.0]
    gain = pattern.gain(up[:, None], towards - record.wire_deg)
    expected = 10.0 * np.log10(share[share > 0.0] @ gain / share.sum())
    read = top + 30.0 * (drawn - 1.0)
    assert np.allclose(read[inside], expected[inside], atol=1e-6)
    assert record.gives_dbi == demo.advice.setups[0].gain_dbi[0, at.hour, at.band]
    bar = next(line for line in figure.axes[0].lines if line.get_linewidth() == 6.0)
    ends = np.degrees(np.arctan2(*bar.get_data())) % 180.0
    assert np.allclose(ends, demo.advice.setups[0].bearing.wire_deg % 180.0)
    assert f"{record.wire_deg:03.0f}" in written(figure)
    sector = record.sectors[0]
    wide = (sector.to_deg - sector.from_deg) % 360.0
    assert (sector.bearing_deg - sector.from_deg) % 360.0 <= wide


def test_a_bearing_never_reads_360(demo, written):
    """What rounds to 360 is 000, in the picture and in its sentence."""
    record = compass_of(demo)
    north = replace(record.sectors[0], bearing_deg=359.7)
    turned = replace(record, sectors=(north,), wire_deg=179.8)
    texts = " ".join(written(compass.figure(turned)))
    assert "360" not in texts
    assert "000" in texts
    assert "running 180-000 true" in compass.alt_text(turned)


@pytest.mark.slow
def test_map_marks_where_the_skip_zone_ends(demo, written):
    """An arc across the bearing of the target, at the distance in the sentence."""
    record = world_map(demo)
    near = worldmap.figure(record).axes[1]
    arc = next(line for line in near.lines if line.get_linewidth() == 3.6)
    x, y = (np.array(values) for values in arc.get_data())
    assert np.allclose(np.hypot(x, y), record.skip_km)
    middle = np.degrees(np.arctan2(x[15], y[15])) % 360.0
    assert middle == pytest.approx(record.skip_deg)
    assert f"skip {record.skip_km:.0f}" in written(worldmap.figure(record))
    without = worldmap.figure(replace(record, skip_km=np.nan))
    assert not [line for line in without.axes[1].lines if line.get_linewidth() == 3.6]


@pytest.mark.slow
def test_map_headline_looks_beyond_the_skip_zone(demo):
    """However good the ground wave is next door, the best far place is named."""
    record = world_map(demo)
    assert record.skip_km > 250.0
    chance = record.chances.chance.copy()
    ring = record.chances.range_edge_km
    chance[:, ring[:-1] < 250.0] = 1.0
    far = replace(record, chances=replace(record.chances, chance=chance))
    km = float(re.search(r"(\d+) km to the", worldmap.alt_text(far))[1])
    assert km > record.skip_km
    assert worldmap.alt_text(far) == worldmap.alt_text(record)
    # Without a skip zone what is near is as good as anything.
    near = worldmap.alt_text(replace(far, skip_km=np.nan))
    assert float(re.search(r"(\d+) km to the", near)[1]) < 250.0


@pytest.mark.slow
def test_map_agrees_with_the_answer(ask):
    """A target in the middle of a cell: its chance is the cell's."""
    place = (-42.0, 25.0)
    edges = range_edges_km(10.0)
    ring, ray = 30, 4
    away = 0.5 * (edges[ring] + edges[ring + 1])
    lat, lon = destination(*place, 10.0 * ray + 5.0, away)
    here = f"{place[0]},{place[1]}"
    scene = Scene(ask(here, f"{lat},{lon}", "2026-12-05T16", hours=1, setups=[DIPOLE]))
    advice = scene.advice
    record = world_map(scene)
    at = best_moment(advice)
    asked = advice.setups[0].chance[0, at.hour, at.band]
    assert asked > 0.2
    # A map looks for the MUF at fewer places along the path.
    assert record.chances.chance[0, ring, ray] == pytest.approx(asked, abs=0.03)
    near = worldmap.figure(record).axes[1]
    mesh = next(each for each in near.collections if isinstance(each, QuadMesh))
    drawn = np.ma.filled(np.ma.masked_invalid(mesh.get_array()), np.nan)
    shown = record.chances.chance[0, edges[:-1] < NEAR_KM]
    shown = np.repeat(np.where(shown >= OPEN_CHANCE, shown, np.nan), 4, axis=1)
    assert np.array_equal(drawn.reshape(shown.shape), shown, equal_nan=True)
    corners = np.array(mesh.get_coordinates())
    assert np.allclose(np.hypot(*corners[:, 0].T), edges[: corners.shape[0]])


def test_side_view_is_to_scale(demo):
    """A ray lies at its height over its place along the path, nothing stretched."""
    record = side_view(demo)
    assert record.rays
    figure = sideview.figure(record)
    for ray, axes in zip(record.rays, figure.axes, strict=False):
        line = next(
            each for each in axes.lines if len(each.get_xdata()) == ray.along_km.size
        )
        x, y = (np.array(values) for values in line.get_data())
        away = np.hypot(x, y + EARTH_RADIUS_KM)
        np.testing.assert_allclose(away - EARTH_RADIUS_KM, ray.up_km, atol=1e-6)
        turn = np.arctan2(x, y + EARTH_RADIUS_KM)
        along = turn * EARTH_RADIUS_KM + 0.5 * record.distance_km
        np.testing.assert_allclose(along, ray.along_km, atol=1e-6)
        # It touches the ground at the ends of its hops and turns as high as told.
        touches = ray.up_km == 0.0
        assert touches.sum() == 2 * ray.hops
        assert ray.up_km.max() == pytest.approx(ray.height_km, rel=0.15)
        # The same scale up and across: kilometres to inches.
        box = axes.get_position()
        wide = box.width * figure.get_figwidth() / np.ptp(axes.get_xlim())
        high = box.height * figure.get_figheight() / np.ptp(axes.get_ylim())
        assert wide == pytest.approx(high, rel=1e-6)
    through = [ray.through for ray in record.rays]
    assert through == sorted(through, reverse=True)


def test_setups_by_hour_draws_the_best_bands(demo):
    """Lines are ten times the chance on the band that the answer names."""
    advice = demo.advice
    hours = setups_by_hour(advice)
    axes = setups.by_hour(advice, hours).axes[0]
    assert len(axes.lines) == len(advice.setups) > 1
    for line, one in zip(axes.lines, advice.setups, strict=True):
        assert (np.array(line.get_ydata()) <= 10.0 * one.chance[0].max(axis=-1)).all()
    held = best_bands(advice.setups[0].chance)[0]
    best = np.take_along_axis(advice.setups[0].chance[0], held[:, None], axis=1)[:, 0]
    assert np.array_equal(axes.lines[0].get_ydata(), 10.0 * best)
    names = [advice.question.bands[b].name for b in held]
    assert list(hours[0].bands) == names


def test_setups_by_band_draws_the_hour(demo):
    """Bars are ten times the chance; no bar where a set-up is not cut for the band."""
    advice = demo.advice
    hour = best_moment(advice).hour
    axes = setups.by_band(advice, hour).axes[0]
    wide = [each.get_width() for each in axes.patches if isinstance(each, Rectangle)]
    chance = np.stack([one.chance[0, hour] for one in advice.setups])
    works = np.stack([one.works for one in advice.setups])
    shown = np.where(works & (chance >= OPEN_CHANCE), 10.0 * chance, 0.0)
    kept = shown.any(axis=0)
    assert np.allclose(wide, shown[:, kept].ravel())
    names = np.array([band.name for band in advice.question.bands])
    labels = [label.get_text() for label in axes.get_yticklabels()]
    assert labels == list(names[kept])
