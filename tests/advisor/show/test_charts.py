"""The charts: same bytes again, text as text, the numbers of the answer, odd cases."""

import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.text import Text

from advisor.answers.aim import aim
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.build import build
from advisor.answers.pictures.compass import compass as compass_of
from advisor.answers.pictures.daylight import daylight_at_both_ends
from advisor.answers.pictures.scene import Scene, best_moment
from advisor.show.charts import (
    compass,
    rose,
)
from advisor.show.charts.files import png_bytes, save_figure, svg_text
from advisor.show.charts.gallery import CHARTS
from advisor.show.charts.polar import apart
from advisor.show.charts.style import (
    CHANCE_SHADES,
    LINES,
    PAPER,
    chance_colours,
    hours_below,
    ink_of,
)
from geo.errors import InputError

pytestmark = pytest.mark.usefixtures("coarse_world")

DIPOLE = {"name": "wire", "shape": "dipole", "height_m": 8.0}
SVG = "{http://www.w3.org/2000/svg}"


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
def test_every_chart_of_every_case(scenes, scene, name, written):
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
def test_svg_is_an_image_with_words(demo, written):
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


@pytest.mark.slow
@pytest.mark.parametrize("declination", [-25.6, -2.0, 0.4, 13.0])
def test_compass_keeps_its_letters_apart(demo, declination, written):
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


def test_apart_moves_no_more_than_it_must():
    assert apart([], 10.0) == []
    assert apart([10.0, 200.0], 12.0) == pytest.approx([10.0, 200.0])
    assert apart([359.0, 3.0], 12.0) == pytest.approx([355.0, 7.0])
    mean = 17.0 / 3.0
    moved = apart([5.0, 90.0, 5.0, 7.0], 10.0)
    assert moved == pytest.approx([mean - 10.0 + 360.0, 90.0, mean, mean + 10.0])


@pytest.mark.slow
def test_a_ground_mounted_vertical_is_sketched(ask, written):
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


@pytest.mark.slow
def test_sketch_names_band_and_bearing(demo, written):
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


@pytest.mark.parametrize(("hours", "marks"), [(3, 3), (24, 8), (25, 7), (72, 6)])
def test_the_same_hours_are_marked_every_day(hours, marks):
    """A step that divides the day, and no more marks than there is room for."""
    axes = Figure().add_subplot()
    first = np.datetime64("2026-12-05T06", "s")
    hours_below(axes, first + np.arange(hours) * np.timedelta64(1, "h"))
    assert len(axes.get_xticks()) == marks <= 8
    assert {24.0 % step for step in np.diff(axes.get_xticks())} == {0.0}


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
