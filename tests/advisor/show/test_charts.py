"""The charts: same bytes again, text as text, the numbers of the answer, odd cases."""

import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PolyCollection, QuadMesh
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from advisor.answers.aim import aim
from advisor.answers.ask import answer, question_for
from advisor.answers.best import best_bands
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.build import build
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
    rose,
    setups,
    sideview,
    worldmap,
)
from advisor.show.charts.files import png_bytes, save_figure, svg_text
from advisor.show.charts.gallery import CHARTS
from advisor.show.charts.polar import apart
from advisor.show.charts.style import (
    CHANCE_SHADES,
    INK,
    LINES,
    PAPER,
    chance_colours,
    ink_of,
    plain,
)
from advisor.show.text.cells import chance_cell
from advisor.station.file import demo_station, resolve_station
from geo.errors import InputError
from geo.sphere import EARTH_RADIUS_KM, destination

DIPOLE = {"name": "wire", "shape": "dipole", "height_m": 8.0}
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


@pytest.mark.slow
def test_words_of_a_user_are_escaped(demo):
    """A name with angle brackets stays text."""
    figure, _ = CHARTS["set-ups"].draw(demo, 0, None)
    root = ElementTree.fromstring(svg_text(figure, '<script>"a" & b</script>'))
    assert root.find(f"{SVG}title").text == '<script>"a" & b</script>'


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
def test_the_fan_is_the_pattern_and_what_gets_through(ask):
    """A target of one point: the lobe is one cut, the longest bar the fullest step."""
    scene = Scene(ask("KF07jo", "KI88", "2026-12-05T10", hours=4, setups=[DIPOLE]))
    advice = scene.advice
    record = fan_of(scene)
    at = best_moment(advice)
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
    seen = advice.targets[0]
    most_offered = max(record.ways, key=lambda way: way.offered)
    assert most_offered.name == seen.modes[at.hour, at.band]


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


@pytest.mark.slow
def test_the_rose_reads_back_the_days(demo):
    """Radius over the outermost ring, at every bearing tried, both ways round."""
    found = aim(demo.advice, None)
    one = found.setups[0]
    assert not one.has_front
    figure = rose.figure(found, one)
    line = next(each for each in figure.axes[0].lines if each.get_linewidth() == 2.6)
    x, y = (np.array(values)[:-1] for values in line.get_data())
    chance = {round(row.wire_deg): row.chance[0] for row in one.rows}
    top = 2.0 * np.ceil(5.0 * max(chance.values()))
    assert x.size == 2 * len(chance)
    for deg, days in zip(
        np.degrees(np.arctan2(x, y)) % 360.0, np.hypot(x, y), strict=True
    ):
        assert top * days == pytest.approx(10.0 * chance[round(deg) % 180], abs=1e-6)
    bar = next(each for each in figure.axes[0].lines if each.get_linewidth() == 5.0)
    ends = np.degrees(np.arctan2(*bar.get_data())) % 180.0
    assert np.allclose(ends, one.bearing.best_deg % 180.0)
    check_legible(figure)


@pytest.mark.slow
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


@pytest.mark.slow
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
    names = ("bands", "fan", "map", "set-ups-by-band")
    said = {name: CHARTS[name].draw(scene, 0, None)[1] for name in names}
    assert said["bands"].startswith("No band opens")
    assert "closed" in said["fan"] or said["fan"].startswith("No hop carries")
    assert "closed" in said["map"]
    assert said["set-ups-by-band"].startswith("No set-up has a band open")


@pytest.mark.slow
def test_second_target_gets_its_own_chart(scenes):
    """The place of the target is used everywhere."""
    scene = scenes["two"]
    names = [target.name for target in scene.advice.targets]
    for name in ("bands", "fan", "side", "set-ups", "set-ups-by-band", "compass"):
        assert names[1] in CHARTS[name].draw(scene, 1, None)[1]


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
    for chance, days in ((OPEN_CHANCE, 1), (0.14, 1), (0.16, 2), (0.94, 9), (0.96, 10)):
        assert to_hex(chance_colours()(chance)) == CHANCE_SHADES[days - 1]
    assert to_hex(chance_colours()(0.049)) == PAPER
    grey = [relative_luminance(shade) for shade in CHANCE_SHADES]
    assert (np.diff(grey) < 0.0).all()
    for shade in CHANCE_SHADES:
        assert contrast(ink_of(shade), shade) >= 4.5
    for colour, _, _ in LINES:
        assert contrast(colour, PAPER) >= 3.0
    assert len({dash for _, dash, _ in LINES}) == len(LINES)
    assert len({mark for _, _, mark in LINES}) == len(LINES)


@pytest.mark.slow
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


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path_factory):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
