"""The charts: same bytes again, text as text, the numbers of the answer, odd cases."""

import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import QuadMesh
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from advisor.answers.ask import answer, question_for
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures import world as world_module
from advisor.answers.pictures.build import build
from advisor.answers.pictures.compass import compass as compass_of
from advisor.answers.pictures.daylight import daylight_at_both_ends
from advisor.answers.pictures.lobe import lobe_meets_hop
from advisor.answers.pictures.scene import Moment, Scene, best_moment
from advisor.answers.pictures.setups import setups_by_hour
from advisor.answers.pictures.side import side_view
from advisor.answers.pictures.swr import SwrCurve, swr_view
from advisor.answers.pictures.world import (
    NEAR_KM,
    WorldChances,
    range_edges_km,
    world_chances,
    world_map,
)
from advisor.antenna.line import line_by_name, matched_loss_db
from advisor.cli import main
from advisor.show.charts import (
    bandhour,
    compass,
    lobe,
    setups,
    sideview,
    swr,
    worldmap,
)
from advisor.show.charts.files import png_bytes, save_figure, svg_text
from advisor.show.charts.gallery import CHARTS
from advisor.show.charts.polar import apart
from advisor.show.charts.style import INK, LINES, PAPER, chance_colours, ink_on
from advisor.show.text.cells import chance_cell
from advisor.station.file import demo_station, resolve_station
from geo.errors import InputError
from geo.ionosphere.hops import ray_path_km
from geo.sphere import EARTH_RADIUS_KM, bearing_deg, destination, distance_km
from geo.sun import zenith_deg

DIPOLE = {"name": "wire", "shape": "dipole", "height_m": 8.0}
DIPOLE_BANDS = ("40 m", "20 m", "10 m")
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def demo():
    """The shipped demonstration, 24 hours."""
    station, _ = resolve_station(demo_station(), {})
    start = np.datetime64("2026-12-05T00")
    return Scene(answer(question_for(station, station.to, start, r12=60.0)))


@pytest.fixture(scope="module")
def scenes(ask, demo):
    """Questions that a chart could stumble over, by name."""
    bands = ["40 m", "20 m", "10 m"]
    wire = {"setups": [DIPOLE | {"bands": bands}]}
    low = {"setups": [DIPOLE | {"height_m": 1.0, "bands": ["10 m"]}]}
    south = ("KF07jo", "-30,-150", "2026-06-20T00")
    tall = {
        "setups": [{"name": "post", "shape": "half-wave vertical", "bands": ["20 m"]}]
    }
    advices = {
        "closed": ask(*south, r12=0.0, power_w=0.001, emission="SSB", **low),
        "ring": ask("KF07jo", "within 800 km", "2026-12-05T00", hours=6, **wire),
        "polar night": ask("JQ78", "JP", "2026-12-20T00", hours=24, **wire),
        "polar day": ask("JQ78", "JP", "2026-06-20T00", hours=3, **wire),
        "one hour": ask("KF07jo", "KE", "2026-12-05T17", hours=1, **wire),
        "long way": ask(
            "KF07jo", "JP", "2026-12-05T05", hours=3, long_path=True, **wire
        ),
        "no bearing": ask("KF07jo", "KE", "2026-12-05T12", hours=3, **tall),
        "dateline": ask("AH40", "FJ", "2026-03-05T12", hours=3, **wire),
        "pole": ask("-90,0", "AU", "2026-03-05T12", hours=2, **wire),
        "near and far": ask("KF07jo", "BR", "2026-12-05T20", hours=4, **wire),
        "two": ask("KF07jo", ["KE", "ZM"], "2026-12-05T12", hours=2, **wire),
    }
    return {name: Scene(advice) for name, advice in advices.items()} | {"demo": demo}


SCENES = (
    "demo", "closed", "ring", "polar night", "polar day", "one hour", "long way",
    "no bearing", "dateline", "pole", "near and far", "two",
)  # fmt: skip


def written(figure: Figure) -> list[str]:
    """Every text of a chart, in the order of its SVG."""
    root = ElementTree.fromstring(svg_text(figure, "x"))
    return ["".join(each.itertext()).strip() for each in root.iter(f"{SVG}text")]


# The map takes a second, and so does a sweep: only those cases that are hard for them.
ONLY = {
    "map": ("demo", "ring", "long way", "dateline", "pole"),
    "swr": ("demo", "one hour", "no bearing"),
}


def drawn(figure):
    """Every text that is drawn, with the box it fills; ticks out of view are not."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    found = list(figure.texts)
    for axes in figure.axes:
        found += axes.texts
        found += axes.findobj(lambda each, axes=axes: each in titles(axes))
        if axes.get_legend() is not None:
            found += axes.get_legend().get_texts()
        for axis, place in ((axes.xaxis, 0), (axes.yaxis, 1)):
            if axes.axison and axis.get_visible():
                low, high = sorted(axis.get_view_interval())
                found.append(axis.label)
                found += [
                    label
                    for label in axis.get_ticklabels()
                    if low - 1e-9 <= label.get_position()[place] <= high + 1e-9
                ]
    renderer = canvas.get_renderer()
    return [
        (text, text.get_window_extent(renderer))
        for text in found
        if text.get_visible() and text.get_text().strip()
    ]


def titles(axes):
    """The three titles that axes have."""
    return (axes.title, axes._left_title, axes._right_title)


def ground_of(text):
    """What a text stands on: its own plate, else the paper; None in a shaded cell."""
    plate = text.get_bbox_patch()
    if plate is not None:
        return plate.get_facecolor()
    return None if text.get_color() == PAPER else PAPER


@pytest.mark.slow
@pytest.mark.parametrize(
    ("scene", "name"),
    [(s, n) for s in SCENES for n in CHARTS if s in ONLY.get(n, SCENES)],
)
def test_every_chart_of_every_case(scenes, scene, name):
    """It builds, says one sentence, and nothing sticks out of the sheet."""
    figure, finding = CHARTS[name].draw(scenes[scene], 0, "Africa/Johannesburg")
    assert finding.endswith(".")
    assert "\n" not in finding
    assert "nan" not in finding
    texts = written(figure)
    # A text with effects would be written as outlines.
    assert not [each for each in figure.findobj(Text) if each.get_path_effects()]
    assert not [text for text in texts if re.search(r"\bnan\b|-0\.0\b|None", text)]
    assert finding.replace(" ", "") in "".join(texts).replace(" ", "")
    box = figure.get_tightbbox(FigureCanvasAgg(figure).get_renderer())
    assert box.x0 >= 0.0
    assert box.y0 >= 0.0
    assert box.x1 <= figure.get_figwidth()
    assert box.y1 <= figure.get_figheight()
    check_legible(figure)


def check_legible(figure):
    """Large and dark enough on a phone, on paper, in the sun; no text on another."""
    seen = drawn(figure)
    assert seen
    for text, _ in seen:
        # 9 pt where the chart is printed 180 mm wide, 9 px on a phone of 360.
        points = text.get_fontsize() / figure.get_figwidth()
        assert points * 180.0 / 25.4 >= 9.0, text
        assert points * 360.0 / 72.0 >= 9.0, text
        # An SVG shows any run of spaces as one.
        assert "  " not in text.get_text(), text
        ground = ground_of(text)
        # WCAG 2.1, success criterion 1.4.3.
        assert ground is None or contrast(text.get_color(), ground) >= 4.5, text
    for (one, a), (two, b) in itertools.combinations(seen, 2):
        wide = min(a.x1, b.x1) - max(a.x0, b.x0)
        high = min(a.y1, b.y1) - max(a.y0, b.y0)
        if wide > 0.0 and high > 0.0:
            least = min(a.width * a.height, b.width * b.height)
            assert wide * high < 0.08 * least, (one.get_text(), two.get_text())


@pytest.mark.slow
@pytest.mark.parametrize("name", CHARTS)
def test_same_chart_same_bytes(scenes, name):
    """Drawn twice from the start, with matplotlib set to something else between."""
    first = CHARTS[name].draw(scenes["two"], 0, None)
    svg, png = svg_text(*first), png_bytes(*first)
    with matplotlib.rc_context(
        {"font.size": 30, "svg.hashsalt": "x", "savefig.dpi": 9}
    ):
        again = CHARTS[name].draw(scenes["two"], 0, None)
        assert svg_text(*again) == svg
        assert png_bytes(*again) == png


@pytest.mark.slow
def test_svg_is_an_image_with_words(demo):
    """Text stays text, the finding is its title, ids can be told apart on a page."""
    figure, finding = CHARTS["bands"].draw(demo, 0, None)
    svg = svg_text(figure, finding, "first")
    root = ElementTree.fromstring(svg)
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text == finding
    assert root.get("aria-labelledby") == root.find(f"{SVG}title").get("id")
    ids = re.findall(r'\bid="([^"]+)"', svg)
    assert len(ids) == len(set(ids))
    assert all(each.startswith("first-") for each in ids)
    assert set(re.findall(r"url\(#([^)]+)\)", svg)) <= set(ids)
    assert set(re.findall(r'href="#([^"]+)"', svg)) <= set(ids)
    assert "Date" not in svg
    texts = written(figure)
    assert {"00Z", "23Z", "here", "there", "40", "m"} <= set(texts)


def test_words_of_a_user_are_escaped(demo):
    """A name with angle brackets stays text."""
    figure, _ = CHARTS["set-ups"].draw(demo, 0, None)
    root = ElementTree.fromstring(svg_text(figure, '<script>"a" & b</script>'))
    assert root.find(f"{SVG}title").text == '<script>"a" & b</script>'


def test_cells_are_the_chances(demo):
    """Every figure, every shade and the frames are those of the answer."""
    advice = demo.advice
    best = advice.setups[0]
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
        expected = chance_cell(best.chance[0, t, b], bool(best.works[b]), False)
        assert text.get_text() == expected.strip()
    assert len({text.get_position() for text in places}) == best.chance[0].size
    framed = np.full(advice.question.times.size, -1)
    for line in cells.lines:
        x, y = line.get_data()
        if len(x) == 5 and line.get_color() == INK:
            framed[int(min(y)) : int(max(y))] = int(min(x))
    assert (framed == advice.best_band[0]).all()


def test_lobe_is_the_pattern_and_the_angles_are_those_asked_for(ask):
    """A target of one point: the curve is one cut of the pattern."""
    scene = Scene(ask("KF07jo", "KI88", "2026-12-05T10", hours=4, setups=[DIPOLE]))
    advice = scene.advice
    record = lobe_meets_hop(scene)
    at = record.moment
    towards = advice.targets[0].bearing_deg - advice.setups[0].bearing.wire_deg
    pattern = scene.patterns["wire"][advice.question.bands[at.band].name]
    expected = pattern.gain_dbi(record.takeoff_deg, towards)
    assert np.allclose(record.lobes[0].gain_dbi, expected, atol=1e-9)
    line = lobe.figure(record).axes[0].lines[0]
    x, y = line.get_data()
    assert np.array_equal(y, record.lobes[0].gain_dbi[: y.size])
    assert np.array_equal(x, record.takeoff_deg[: x.size])
    seen = advice.targets[0]
    assert record.hops[0].name == seen.modes[at.hour, at.band]
    low, high = (
        values[at.hour, at.band]
        for values in (seen.takeoff_low_deg, seen.takeoff_high_deg)
    )
    assert low - 1e-9 <= record.hops[0].takeoff_deg <= high + 1e-9
    best = max(hop.support for hop in record.hops)
    assert best == pytest.approx(seen.support[at.hour, at.band], abs=1e-9)
    assert sum(hop.share for hop in record.hops) <= 1.0 + 1e-9


def test_one_lobe_angle_range_is_that_of_the_answer(demo):
    """All modes together span what the text table prints as 'needs'."""
    record = lobe_meets_hop(demo)
    seen = demo.advice.targets[0]
    for t, hour in enumerate(record.hours):
        band = demo.advice.best_band[0, t]
        assert hour.band == demo.advice.question.bands[band].name
        assert hour.chance == demo.advice.setups[0].chance[0, t, band]
        low, high = seen.takeoff_low_deg[t, band], seen.takeoff_high_deg[t, band]
        assert min(hop.low_deg for hop in hour.hops) <= low + 1e-9
        assert any(low <= hop.takeoff_deg <= high for hop in hour.hops)


def test_compass_reads_back_the_gain(demo):
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
    expected = pattern.gain_dbi(record.takeoff_deg, towards - record.wire_deg)
    read = top + 30.0 * (drawn - 1.0)
    assert np.allclose(read[inside], expected[inside], atol=1e-6)
    at = best_moment(demo.advice)
    asked = demo.advice.targets[0].takeoff_deg[at.hour, at.band]
    assert record.takeoff_deg == asked
    bar = next(line for line in figure.axes[0].lines if line.get_linewidth() == 6.0)
    ends = np.degrees(np.arctan2(*bar.get_data())) % 180.0
    assert np.allclose(ends, demo.advice.setups[0].bearing.wire_deg % 180.0)
    assert f"{record.wire_deg:03.0f}" in written(figure)
    sector = record.sectors[0]
    wide = (sector.to_deg - sector.from_deg) % 360.0
    assert (sector.bearing_deg - sector.from_deg) % 360.0 <= wide


@pytest.mark.parametrize("declination", [-25.6, -2.0, 0.4, 13.0])
def test_compass_keeps_its_letters_apart(demo, declination):
    """Four targets close together, one of them north, and any magnetic north."""
    record = compass_of(demo)
    first = record.sectors[0]
    close = [
        replace(first, name=f"{deg}", bearing_deg=deg % 360.0)
        for deg in (-1.0, 1.0, 3.0, 40.0)
    ]
    several = replace(record, sectors=tuple(close), declination_deg=declination)
    figure = compass.figure(several)
    check_legible(figure)
    texts = written(figure)
    assert {"359", "001", "003", "040", "N", "MN"} <= set(texts)


def test_a_bearing_never_reads_360(demo):
    """What rounds to 360 is 000, in the picture and in its sentence."""
    record = compass_of(demo)
    north = replace(record.sectors[0], bearing_deg=359.7)
    turned = replace(record, sectors=(north,), wire_deg=179.8)
    texts = " ".join(written(compass.figure(turned)))
    assert "360" not in texts
    assert "000" in texts
    assert "running 180-000 true" in compass.alt_text(turned)


def test_apart_moves_no_more_than_it_must():
    assert apart([], 10.0) == []
    assert apart([10.0, 200.0], 12.0) == pytest.approx([10.0, 200.0])
    assert apart([359.0, 3.0], 12.0) == pytest.approx([355.0, 7.0])
    mean = 17.0 / 3.0
    moved = apart([5.0, 90.0, 5.0, 7.0], 10.0)
    assert moved == pytest.approx([mean - 10.0 + 360.0, 90.0, mean, mean + 10.0])


@pytest.mark.slow
def test_map_marks_where_the_skip_zone_ends(demo):
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
    assert record.chances.chance[0, ring, ray] == pytest.approx(asked, abs=1e-6)
    near = worldmap.figure(record).axes[1]
    mesh = next(each for each in near.collections if isinstance(each, QuadMesh))
    drawn = np.ma.filled(np.ma.masked_invalid(mesh.get_array()), np.nan)
    shown = record.chances.chance[0, edges[:-1] < NEAR_KM]
    shown = np.repeat(np.where(shown >= OPEN_CHANCE, shown, np.nan), 4, axis=1)
    assert np.array_equal(drawn.reshape(shown.shape), shown, equal_nan=True)
    corners = np.array(mesh.get_coordinates())
    assert np.allclose(np.hypot(*corners[:, 0].T), edges[: corners.shape[0]])


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


def test_world_in_blocks_is_the_world_at_once(ask, monkeypatch):
    """Cutting the points into blocks changes nothing."""
    scene = Scene(ask("KF07jo", "KE", "2026-12-05T16", hours=2, setups=[DIPOLE]))
    question = scene.advice.question
    from advisor.answers.pictures import world
    from advisor.answers.pictures.scene import narrowed

    asked = narrowed(question, 0, band=4)
    band = asked.bands[0].name
    words = (scene.patterns["wire"][band], scene.far_patterns[band], 30.0, 45.0)
    whole = world_chances(asked, *words)
    assert whole.chance.shape == (2, whole.range_edge_km.size - 1, 8)
    monkeypatch.setattr(world, "_CELLS_AT_ONCE", 100)
    assert np.allclose(world_chances(asked, *words).chance, whole.chance, atol=1e-12)


def test_side_view_is_to_scale(demo):
    """Every straight ray on the sheet is as long as the law of cosines says."""
    record = side_view(demo)
    assert record.rays
    figure = sideview.figure(record)
    for ray, axes in zip(record.rays, figure.axes, strict=False):
        line = next(each for each in axes.lines if len(each.get_xdata()) > 2
                    and len(each.get_xdata()) == 2 * ray.hops + 1)  # fmt: skip
        x, y = (np.array(values) for values in line.get_data())
        legs = np.hypot(np.diff(x), np.diff(y))
        hop_km = record.distance_km / ray.hops
        assert np.allclose(legs, 0.5 * ray_path_km(hop_km, ray.height_km), rtol=1e-9)
        up = np.hypot(x, y + EARTH_RADIUS_KM) - EARTH_RADIUS_KM
        assert np.allclose(up[1::2], ray.height_km)
        assert np.allclose(up[::2], 0.0, atol=1e-6)
        # The same scale up and across: kilometres to inches.
        box = axes.get_position()
        wide = box.width * figure.get_figwidth() / np.ptp(axes.get_xlim())
        high = box.height * figure.get_figheight() / np.ptp(axes.get_ylim())
        assert wide == pytest.approx(high, rel=1e-6)
    strength = [ray.margin_db + 10.0 * np.log10(ray.support) for ray in record.rays]
    assert strength == sorted(strength, reverse=True)


def test_setups_by_hour_draws_the_best_bands(demo):
    """Lines are ten times the chance on the band that the answer names."""
    advice = demo.advice
    hours = setups_by_hour(advice)
    axes = setups.by_hour(advice, hours).axes[0]
    assert len(axes.lines) == len(advice.setups) > 1
    for line, one in zip(axes.lines, advice.setups, strict=True):
        assert (np.array(line.get_ydata()) <= 10.0 * one.chance[0].max(axis=-1)).all()
    best = np.take_along_axis(
        advice.setups[0].chance[0], advice.best_band[0][:, None], axis=1
    )[:, 0]
    assert np.array_equal(axes.lines[0].get_ydata(), 10.0 * best)
    names = [advice.question.bands[b].name for b in advice.best_band[0]]
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


def test_swr_draws_its_arrays():
    """Curves as given, the lowest marked and written."""
    mhz = np.linspace(14.0, 14.35, 15)
    curves = [
        SwrCurve("20 m", mhz, 1.2 + 40.0 * (mhz - 14.1) ** 2),
        SwrCurve("40 m", mhz - 7.0, np.full(15, 9.0)),
    ]
    figure = swr.figure("wire", curves)
    assert np.array_equal(figure.axes[0].lines[0].get_ydata(), curves[0].swr)
    assert np.array_equal(figure.axes[0].lines[0].get_xdata(), mhz)
    least = int(curves[0].swr.argmin())
    assert figure.axes[0].lines[-1].get_xdata()[0] == mhz[least]
    texts = written(figure)
    assert {"20 m: 1.2", "40 m: 9.0", "14.35"} <= set(texts)
    # A panel with nothing in it says why.
    assert texts.count("above 6 all over") == 1
    assert swr.alt_text("wire", curves).endswith("20 m 1.2, 40 m 9.0.")


@pytest.mark.slow
def test_swr_of_an_answer_is_the_sweep_of_its_first_set_up(scenes):
    """The radio's side through the line is the wire's, less what the line loses."""
    scene = scenes["one hour"]
    advice = scene.advice
    view = swr_view(scene)
    assert view.feed == "transformer 1:1, 10 m of RG-58"
    bands = [b for b in advice.question.bands if b.name in DIPOLE_BANDS]
    assert [curve.band for curve in view.curves] == [band.name for band in bands]
    line = line_by_name("RG-58")
    assert line.impedance_ohm == 50.0
    for curve, band in zip(view.curves, bands, strict=True):
        assert curve.frequency_mhz[[0, -1]] == pytest.approx(
            [band.low_mhz, band.high_mhz]
        )
        # SWR of a load on 50 ohm, and a reflection that passes the line twice: any
        # textbook of microwave engineering (from memory).
        load = (curve.wire_ohm - 50.0) / (curve.wire_ohm + 50.0)
        assert curve.wire_swr == pytest.approx((1 + abs(load)) / (1 - abs(load)))
        lost_db = matched_loss_db(line, curve.frequency_mhz, 10.0)
        back = abs(load) * 10.0 ** (-2.0 * lost_db / 20.0)
        # A line with loss is reactive by loss over phase, both per metre: at each end
        # half of that is reflected.
        phase_rad_m = 2.0 * np.pi * curve.frequency_mhz / 299.792458
        phase_rad_m /= line.velocity_factor
        reactive = lost_db / 10.0 / (20.0 * np.log10(np.e)) / phase_rad_m
        radio = (curve.swr - 1.0) / (curve.swr + 1.0)
        assert (np.abs(radio - back) <= 1.05 * reactive).all()
        assert (curve.swr < curve.wire_swr).all()
    figure, finding = CHARTS["swr"].draw(scene, 0, None)
    panel = figure.axes[0]
    assert np.array_equal(panel.lines[0].get_ydata(), view.curves[0].swr)
    assert np.array_equal(panel.lines[1].get_ydata(), view.curves[0].wire_swr)
    assert len({each.get_linestyle() for each in panel.lines[:3]}) == 3
    assert f"{view.curves[0].swr.min():.1f}" in finding


def test_swr_without_a_line_has_one_curve():
    mhz = np.linspace(14.0, 14.35, 15)
    figure = swr.figure("wire", [SwrCurve("20 m", mhz, np.full(15, 1.5))])
    assert len(figure.axes[0].lines) == 3
    assert "Dash-dotted" not in " ".join(written(figure))


def test_a_ground_mounted_vertical_is_sketched_but_has_no_swr(ask):
    """A quarter wave is some 71.5/f of wire in metres (common practice, no source)."""
    post = {"name": "post", "shape": "ground-mounted vertical", "bands": ["20 m"]}
    scene = Scene(ask("KF07jo", "KE", "2026-12-05T12", hours=2, setups=[post]))
    figure, finding = CHARTS["sketch"].draw(scene, 0, None)
    band = next(b for b in scene.advice.question.bands if b.name == "20 m")
    upright_m = build(scene).hung.length_m
    assert upright_m == pytest.approx(71.5 / band.planning_mhz, rel=0.03)
    assert {f"{upright_m:.1f} m up", f"{upright_m:.2f} m"} <= set(written(figure))
    assert finding.startswith("ground-mounted vertical: ")
    assert "1 support above" in finding
    check_legible(figure)
    with pytest.raises(InputError, match="no SWR to draw; name another"):
        CHARTS["swr"].draw(scene, 0, None)


def test_sketch_names_band_and_bearing(demo):
    """The band is the best one's, the bearing the answer's."""
    record = build(demo)
    at = best_moment(demo.advice)
    assert record.band == demo.advice.question.bands[at.band].name
    texts = " ".join(written(CHARTS["sketch"].draw(demo, 0, None)[0]))
    wire = demo.advice.setups[0].bearing.wire_deg
    assert f"cut for {record.band}, running {wire:03.0f}-" in texts
    assert f"{record.hung.length_m:.2f} m" in texts


@pytest.mark.slow
def test_daylight_turns_where_the_sun_rises_and_sets(scenes):
    """Elevation crosses -0.833 deg at the moments named; none in polar night."""
    here, there = daylight_at_both_ends(scenes["demo"].advice)
    start = scenes["demo"].advice.question.times[0]
    for end in (here, there):
        assert len(end.rises) == len(end.sets) == 1
        for moment in (*end.rises, *end.sets):
            hour = (moment - start) / np.timedelta64(1, "h")
            up = np.interp(hour, end.hour, end.elevation_deg)
            assert up == pytest.approx(-0.833, abs=0.05)
    dark = daylight_at_both_ends(scenes["polar night"].advice)[0]
    assert not dark.rises
    assert not dark.sets
    assert dark.elevation_deg.max() < -0.833
    lit = daylight_at_both_ends(scenes["polar day"].advice)[0]
    assert lit.elevation_deg.min() > 0.0
    assert len(daylight_at_both_ends(scenes["ring"].advice)) == 1


@pytest.mark.slow
def test_closed_says_so(scenes):
    """No chart claims an opening that the answer does not have."""
    scene = scenes["closed"]
    assert scene.advice.setups[0].chance.max() < OPEN_CHANCE
    names = ("bands", "lobe", "map", "set-ups-by-band")
    said = {name: CHARTS[name].draw(scene, 0, None)[1] for name in names}
    assert said["bands"].startswith("No band opens")
    assert "closed" in said["lobe"]
    assert "closed" in said["map"]
    assert said["set-ups-by-band"].startswith("No set-up has a band open")


def test_second_target_gets_its_own_chart(scenes):
    """The place of the target is used everywhere."""
    scene = scenes["two"]
    names = [target.name for target in scene.advice.targets]
    for name in ("bands", "lobe", "side", "set-ups", "set-ups-by-band", "compass"):
        assert names[1] in CHARTS[name].draw(scene, 1, None)[1]


def test_moment_can_be_named(demo):
    """Any hour and band, not only the best."""
    at = Moment(hour=3, band=0)
    band = demo.advice.question.bands[0].name
    for make in (lobe_meets_hop, compass_of, side_view):
        assert make(demo, moment=at).utc == demo.advice.question.times[3]
    assert side_view(demo, moment=at).band == band
    assert compass_of(demo, moment=at).band == band


def relative_luminance(colour) -> float:
    """WCAG 2.1, relative luminance of an sRGB colour."""
    parts = np.array(matplotlib.colors.to_rgb(colour))
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ np.array([0.2126, 0.7152, 0.0722]))


def contrast(one, other) -> float:
    """WCAG 2.1, contrast ratio of two colours."""
    high, low = sorted(map(relative_luminance, (one, other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_colours_read_in_grey_and_in_sunlight():
    """Shades fall with the chance; text 4.5 to 1, lines 3 to 1 (WCAG 2.1 AA)."""
    shades = [chance_colours()(x) for x in np.linspace(OPEN_CHANCE, 1.0, 96)]
    grey = [relative_luminance(shade) for shade in shades]
    assert (np.diff(grey) < 0.0).all()
    for shade in shades:
        assert contrast(ink_on(shade), shade) >= 4.5
    for colour, _, _ in LINES:
        assert contrast(colour, PAPER) >= 3.0
    assert len({dash for _, dash, _ in LINES}) == len(LINES)
    assert len({mark for _, _, mark in LINES}) == len(LINES)


def test_save_figure_writes_whole_files_or_none(demo, tmp_path):
    """Kind by ending, no half file left, nothing replaced unasked."""
    figure, finding = CHARTS["set-ups"].draw(demo, 0, None)
    png, svg = tmp_path / "a.PNG", tmp_path / "a.svg"
    save_figure(figure, png, alt_text=finding)
    save_figure(figure, svg, alt_text=finding)
    assert png.read_bytes().startswith(b"\x89PNG")
    assert finding.encode() in png.read_bytes()
    assert ElementTree.parse(svg).getroot().find(f"{SVG}title").text == finding
    with pytest.raises(InputError, match="exists"):
        save_figure(figure, svg)
    save_figure(figure, svg, overwrite=True)
    with pytest.raises(InputError, match=r"\.png or \.svg"):
        save_figure(figure, tmp_path / "a.pdf")
    with pytest.raises(FileNotFoundError):
        save_figure(figure, tmp_path / "none" / "a.svg")
    assert sorted(each.name for each in tmp_path.iterdir()) == ["a.PNG", "a.svg"]


def run(*words):
    """Run the chart command."""
    return CliRunner().invoke(main, ["chart", *map(str, words)])


ASKED = [
    "--from", "KF07jo", "--date", "2026-12-05T16:00Z", "--hours", "2",
    "--r12", "60", "--shape", "dipole", "--height-m", "8", "--band", "20 m",
]  # fmt: skip


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path_factory):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))


def test_command_writes_the_chart_and_says_what_it_shows(tmp_path):
    """The finding on the screen is the one in the file."""
    file = tmp_path / "bands.svg"
    result = run("bands", *ASKED, "--to", "KE", "--output", file)
    assert result.exit_code == 0, result.output
    root = ElementTree.parse(file).getroot()
    assert root.find(f"{SVG}title").text == result.stdout.strip()
    assert "exists" in run("bands", *ASKED, "--to", "KE", "--output", file).stderr
    before = file.read_bytes()
    again = run("bands", *ASKED, "--to", "KE", "--output", file, "--overwrite")
    assert again.exit_code == 0
    assert file.read_bytes() == before


def test_command_refuses_what_it_cannot_draw(tmp_path):
    """One line and exit code 2; a compass takes several targets, others one."""
    file = tmp_path / "x.svg"
    two = ["--to", "KE", "--to", "ZM", "--output", file]
    refused = run("lobe", *ASKED, *two)
    assert refused.exit_code == 2
    assert "takes one" in refused.stderr
    assert run("compass", *ASKED, *two).exit_code == 0
    assert run("pie", *ASKED, "--to", "KE", "--output", file).exit_code == 2
    wrong = run("bands", *ASKED, "--to", "KE", "--output", tmp_path / "x.gif")
    assert wrong.exit_code == 2
    assert ".svg" in wrong.stderr
    nowhere = run("bands", *ASKED, "--to", "KE", "--output", tmp_path / "no" / "x.svg")
    assert nowhere.exit_code == 1
    assert "cannot write" in nowhere.stderr
    shown = run("--help").stdout
    for name, chart in CHARTS.items():
        assert re.search(rf"{name}\s+{re.escape(chart.about[:20])}", shown)


def test_demonstration_is_called_one(tmp_path):
    """With nothing given the first line says so."""
    result = run(
        "set-ups", "--date", "2026-12-05", "--hours", "1", "--r12", "60",
        "--output", tmp_path / "x.png",
    )  # fmt: skip
    assert result.exit_code == 0
    assert result.stdout.startswith("Demonstration")


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
