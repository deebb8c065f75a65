"""The sheet in a real browser: numbers, keyboard, phone, paper, dark, and no script."""

import base64
import os
import re
import shutil
import subprocess
import sys
from itertools import combinations

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.answers.pictures.page import sheet_data
from advisor.answers.pictures.scene import Scene
from advisor.answers.pictures.world_turned import COARSE, between
from advisor.answers.states import mark
from advisor.answers.through import gives_dbi, ways_at, ways_to
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.targets import over_targets
from advisor.show.page.script_data import CHANCE_PARTS
from advisor.show.page.sheet import sheet_html
from advisor.show.page.tonight import tonight_sheet
from advisor.station.file import resolve_station
from geo.tables import checksums

pytestmark = pytest.mark.browser

NEEDED = "SKIPLOBE_NEEDS_BROWSER"
PHONE, DESK = 360, 1280
SHOWN = 0.05 + 5.0 / CHANCE_PARTS + 1e-9
"""Half of the last digit shown, and half of the last part written, in days in ten."""


@pytest.fixture(scope="session")
def scene():
    """A day from the Karoo to a region and a ring, a wire that is not reversible."""
    station, _ = resolve_station(
        None,
        {
            "place": "KF07jo",
            "time_zone": "Africa/Johannesburg",
            "emission": "CW",
            "power_w": 10,
            "setups": [
                {
                    "name": "slope <b>&amp;</b>",
                    "shape": "sloper",
                    "bearing_deg": 37,
                    "bands": ["40 m", "20 m", "15 m"],
                },
                {"name": "upright", "shape": "ground-mounted vertical"},
            ],
        },
    )
    question = question_for(
        station,
        ["014", "within 800 km"],
        np.datetime64("2026-12-05T06:00"),
        24,
        band_names=["40 m", "20 m", "15 m", "10 m"],
        r12=60.0,
    )
    return Scene(answer(question))


@pytest.fixture(scope="session")
def made(scene, tmp_path_factory):
    """Its page as a file."""
    file = tmp_path_factory.mktemp("sheet") / "sheet.html"
    sources = {"program": "skiplobe", "version": "0", "tables_sha256": checksums()}
    page = tonight_sheet(
        scene,
        sheet_data(scene),
        -26.0,
        sources,
        "skiplobe tonight --date 2026-12-05T06:00Z --sheet " + 40 * "long",
        "Africa/Johannesburg",
    )
    file.write_text(sheet_html(page), encoding="utf-8")
    return file


@pytest.fixture
def opened(watched, made):
    """Open the page; every test ends with nothing said, nothing asked for."""

    def open_page(width=DESK, **options):
        return watched(made, width, **options)

    return open_page


def slide(page, name, value):
    """Move a slider as a finger does."""
    page.eval_on_selector(
        f"#{name}",
        "(e, v) => {e.value = v; e.dispatchEvent(new Event('input', {bubbles: true}))}",
        str(value),
    )


def bands_shown(page):
    """Cells of the table of bands: name to days in ten, needs, gain, hop."""
    rows = page.eval_on_selector_all(
        "#live-bands tbody tr", "rs => rs.map(r => [...r.cells].map(c => c.innerText))"
    )
    return {row[0].strip(): row[1:] for row in rows}


@pytest.fixture(scope="module")
def link(scene):
    """The sky's half, straight from the engine."""
    question = scene.advice.question
    return link_for(question, question.solar.r12, scene.far_patterns)


def engine_numbers(scene, link, wire_deg):
    """Chance and gain of the best set-up on one bearing, straight from the engine."""
    question = scene.advice.question
    patterns = scene.patterns[scene.advice.setups[0].name]
    gains = wire_gains(question, link, patterns, wire_deg)
    chance = over_targets(question, contact_chance(link, gains).both[0])
    return chance, gives_dbi(question, link, gains, patterns)[0]


def test_the_map_turns_and_its_hours_pass(opened):
    """By keys and by mouse; a place that is clicked tells its chance, as drawn."""
    page = opened()
    data = page.evaluate("JSON.parse(document.getElementById('live-data').textContent)")
    world = data["world"]
    assert world["hours"] == list(range(0, 24, 3))
    slide(page, "live-hour", 4)
    page.locator("#map-words", has_text=data["hours"][3]).wait_for()
    page.focus("#map-hold")
    page.keyboard.press("PageUp")
    wire = int(page.input_value("#live-bearing"))
    assert wire == 47
    box = page.locator("#live-map").bounding_box()
    # A fifth of the way to the rim, due north of the station.
    away = 20015.1 / 5
    at = {"x": box["width"] / 2, "y": box["height"] * (170 - 142 / 5) / 340}
    page.locator("#live-map").click(position=at)
    page.wait_for_timeout(100)
    said = page.inner_text("#map-at")
    shape = (8, len(world["wires"]), len(world["rings"]), world["rays"])
    parts = np.frombuffer(base64.b64decode(world["chance"]), np.uint8).reshape(shape)
    low = max(k for k, deg in enumerate(world["wires"]) if deg <= wire)
    share = (wire - world["wires"][low]) / np.diff(world["wires"])[low]
    turned = (parts[1, low] * (1 - share) + parts[1, low + 1] * share) / world["parts"]
    want = between(COARSE, turned, np.array(away), np.array(0.0))
    tenths = f"{max(round(10 * float(want)), 1)} in 10"
    assert said.endswith(f"{tenths if want >= 0.05 else 'under 1 day in 20'}.")
    assert re.search(r": (3990|4000|4010|4020) km towards (000|359|001)", said)
    box = page.locator("#live-map").bounding_box()
    knob = page.locator("#map-hold").bounding_box()
    page.mouse.move(knob["x"] + 9, knob["y"] + 9)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] - 5, steps=3)
    page.mouse.up()
    assert page.input_value("#live-bearing") == "180"
    seen = page.inner_text("#map-words")
    page.click("#play")
    page.wait_for_function(
        "(seen) => document.getElementById('map-words').innerText !== seen", arg=seen
    )
    page.click("#play")
    assert int(page.input_value("#live-hour")) in (6, 9)


# --- numbers ---------------------------------------------------------------------


@pytest.mark.parametrize("target", [0, 1])
def test_numbers_are_the_engines_on_the_steps(opened, scene, link, target):
    """To the last digit shown, on bearings that were tried, every third hour."""
    assert scene.advice.setups[0].shape == "sloper"
    page = opened()
    page.select_option("#live-target", str(target))
    names = [band.name for band in scene.advice.question.bands]
    compared = 0
    for wire in (0, 35, 37, 180, 225, 355):
        chance, gain = engine_numbers(scene, link, float(wire))
        slide(page, "live-bearing", wire)
        for hour in range(0, 24, 3):
            slide(page, "live-hour", hour)
            shown = bands_shown(page)
            assert set(shown) == {"40 m", "20 m", "15 m"}
            for name, (days, _, dbi, _) in shown.items():
                b = names.index(name)
                want = chance[target, hour, b]
                assert float(days.rstrip("*")) == pytest.approx(10 * want, abs=SHOWN)
                if dbi == "-":
                    assert np.isnan(gain[target, hour, b])
                else:
                    assert float(dbi) == pytest.approx(
                        gain[target, hour, b], abs=0.1 + 1e-9
                    )
                compared += 1
    assert compared == 6 * 8 * 3


def test_numbers_between_the_steps_are_close(opened, scene, link):
    """Midway between two bearings tried: within a third of a day in ten."""
    page = opened()
    names = [band.name for band in scene.advice.question.bands]
    worst = 0.0
    for wire in (2, 58, 113, 197, 273, 318):
        chance, _ = engine_numbers(scene, link, float(wire))
        slide(page, "live-bearing", wire)
        for hour in (0, 5, 11, 17, 23):
            slide(page, "live-hour", hour)
            for name, cells in bands_shown(page).items():
                want = 10 * chance[0, hour, names.index(name)]
                worst = max(worst, abs(float(cells[0].rstrip("*")) - want))
    assert 0.0 < worst < 0.3


@pytest.mark.parametrize("wire", [0, 45, 90, 135])
def test_no_label_of_the_map_lies_on_another(opened, wire):
    page = opened()
    slide(page, "live-bearing", wire)
    page.wait_for_timeout(100)
    boxes = page.eval_on_selector_all(
        "#live-map text", "all => all.map(e => e.getBoundingClientRect().toJSON())"
    )
    assert len(boxes) >= 7
    for one, two in combinations(boxes, 2):
        apart_x = max(one["left"], two["left"]) - min(one["right"], two["right"])
        apart_y = max(one["top"], two["top"]) - min(one["bottom"], two["bottom"])
        # Lines of one name stand close: letters do not fill their boxes.
        assert apart_x >= 0 or apart_y >= -3


def test_words_follow_the_numbers(opened):
    """The sentence names the best band of the hour, the bearing and the compass."""
    page = opened()
    slide(page, "live-hour", 10)
    slide(page, "live-bearing", 120)
    words = page.inner_text("#live-words")
    shown = bands_shown(page)
    best = max(shown, key=lambda name: float(shown[name][0].rstrip("*")))
    assert shown[best][0].endswith("*")
    ends = "from west-north-west (high end) towards east-south-east: 120 true"
    assert words.startswith(f"{best} best, ")
    assert f": 16Z 18:00, wire {ends} (" in words
    turn = page.evaluate("JSON.parse(document.getElementById('live-data').textContent)")
    compass = round(120 - turn["declination"]) % 360
    assert f"({compass:03d} by compass)" in words
    assert page.inner_text("tr.now th") == "16Z"


def test_compass_and_fan_turn_with_the_dial(opened):
    page = opened()

    def drawn():
        return page.eval_on_selector_all(
            "#live-compass path, #live-fan path.ray",
            "all => all.map(e => e.getAttribute('d')).join()",
        )

    slide(page, "live-bearing", 0)
    before, words = drawn(), page.inner_text("#live-fan-words")
    slide(page, "live-bearing", 90)
    assert drawn() != before
    assert page.inner_text("#live-fan-words") != words
    assert "NaN" not in drawn()
    # Due east: the bar lies level, from the middle to both sides.
    bar = page.get_attribute("#live-compass path.run", "d")
    assert {float(y) for y in re.findall(r"[\d.]+ ([\d.]+)", bar)} == {170.0}
    page.click("#live-back")
    assert page.input_value("#live-bearing") == "37"


def test_fan_on_the_page_is_the_engines(opened, scene, link):
    """What is offered, given and gets through on any bearing, as worked out for it."""
    page = opened()
    advice = scene.advice
    question, names = advice.question, [b.name for b in advice.question.bands]
    patterns = scene.patterns[advice.setups[0].name]
    page.click("#live-bands tr:nth-child(2) input")
    checked = 0
    for wire in (5, 50, 140, 290):
        slide(page, "live-bearing", wire)
        gains = wire_gains(question, link, patterns, float(wire))
        ways = ways_to(question, link, gains)
        given = gives_dbi(question, link, gains, patterns)[0, 0]
        for hour in (0, 8, 12):
            slide(page, "live-hour", hour)
            told = ways_at(ways, hour, names.index("20 m"))
            for words in ("#live-fan-words", "#live-compass-words"):
                found = float(
                    re.search(r"gives (-?[\d.]+) dBi", page.inner_text(words))[1]
                )
                want = given[hour, names.index("20 m")]
                assert found == pytest.approx(want, abs=0.1 + 1e-9)
            kinds, shares = (
                page.eval_on_selector_all(
                    f"#live-fan text.{look}", "all => all.map(e => e.textContent)"
                )
                for look in ("bold", "share")
            )
            shown = {
                kind: share.split()[0]
                for kind, share in zip(kinds, shares, strict=True)
            }
            want = {way.name: 100.0 * way.through for way in told}
            assert set(shown) <= set(want)
            for name, share in shown.items():
                # The pattern on the page is read between steps of 2.5 and 5 degrees.
                assert float(share) == pytest.approx(want[name], abs=2.0)
            assert sum(float(share) for share in shown.values()) > 70.0
            checked += 1
    assert checked == 12


def test_every_hour_and_band_is_on_the_chart_of_the_day(opened, scene, link):
    """Figures of the chart on a bearing tried: the engine's, to the day in ten."""
    page = opened()
    chance, _ = engine_numbers(scene, link, 225.0)
    slide(page, "live-bearing", 225)
    slide(page, "live-hour", 3)
    shown = page.eval_on_selector_all(
        "#live-day .figure", "all => all.map(e => e.textContent)"
    )
    want, unsure = [], 0
    for b in range(3):
        for hour in range(24):
            value = chance[0, hour, b]
            # The page has whole parts of the chance: on the edge it may go either way.
            near = abs((10 * value) % 1 - 0.5) < 10.0 / CHANCE_PARTS
            near |= abs(value - 0.05) < 1.0 / CHANCE_PARTS
            unsure += near
            text = "." if value < 0.05 else str(max(round(10 * value), 1))
            want.append(shown[len(want)] if near else text)
    assert shown == want
    assert unsure < 3
    assert len(set(shown)) > 3
    hour, band = divmod(int(chance[0].argmax()), chance.shape[2])
    words = page.inner_text("#live-day-words")
    name = scene.advice.question.bands[band].name
    assert f"of all hours: {name} at {(6 + hour) % 24:02d}Z" in words


def test_a_touch_on_the_chart_of_the_day_sets_hour_and_band(opened):
    page = opened()
    page.eval_on_selector_all(
        "#live-day .figure",
        "all => all[24 + 5].dispatchEvent(new MouseEvent('click', {bubbles: true}))",
    )
    assert page.input_value("#live-hour") == "5"
    assert page.inner_text("#live-compass-words").startswith("20 m")


def test_now_stands_on_the_ribbon(opened, scene):
    """By the reader's own clock; before and after the hours there is none."""
    page = opened()
    advice = scene.advice
    set_clock = (
        "at => { Date.now = () => Date.parse(at);"
        " document.dispatchEvent(new Event('visibilitychange')); }"
    )
    for at, shown in (("2026-12-05T05:59Z", False), ("2026-12-06T06:01Z", False)):
        page.evaluate(set_clock, at)
        assert page.is_visible("#day .now") == shown
        assert not page.is_visible("#day .next")
    page.evaluate(set_clock, "2026-12-05T17:30Z")
    places = ("#day .cells", "#day .now")
    ribbon, mark = (page.query_selector(each).bounding_box() for each in places)
    assert mark["x"] - ribbon["x"] == pytest.approx(11.5 / 24 * ribbon["width"], abs=2)
    words = page.inner_text("#day .next")
    band = advice.best_band[0, 11]
    name = advice.question.bands[band].name
    days = max(round(10 * advice.setups[0].chance[0, 11, band]), 1)
    assert words.startswith(
        f"{advice.targets[0].name}: Now, 17:30Z: {name}, {days} day"
    )
    later = [t for t in range(12, 24) if advice.best_band[0, t] != band]
    then = later[0]
    b = advice.best_band[0, then]
    next_name = advice.question.bands[b].name if b >= 0 else "closed"
    assert f"; {next_name} from {(6 + then) % 24:02d}Z." in words


# --- ways to use it ----------------------------------------------------------------


def test_keyboard_alone_reaches_and_moves_everything(opened):
    page = opened()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#answer"
    reached = []
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.id"))
        outline = page.evaluate(
            "getComputedStyle(document.activeElement).outlineStyle + "
            "getComputedStyle(document.activeElement).outlineWidth"
        )
        assert outline == "solid3px"
        if reached[-1] == "live-back":
            break
    wanted = ["live-target", "live-hour", "live-bearing", "live-follow", "live-back"]
    assert [each for each in reached if each in wanted] == wanted
    page.focus("#live-hour")
    before = int(page.input_value("#live-hour"))
    page.keyboard.press("ArrowLeft")
    assert int(page.input_value("#live-hour")) == before - 1
    hour = (6 + before - 1) % 24
    assert page.get_attribute("#live-hour", "aria-valuetext").startswith(f"{hour:02d}Z")
    page.focus("#live-bearing")
    page.keyboard.press("ArrowRight")
    ends = "from south-west (high end) towards north-east: 038 true"
    assert page.inner_text("#live-bearing-shown").startswith(ends)
    page.focus("#live-bands tr:nth-child(1) input")
    page.keyboard.press("Space")
    assert page.inner_text("#live-compass-words").startswith("40 m")
    page.keyboard.press("ArrowDown")
    assert page.inner_text("#live-compass-words").startswith("20 m")


def test_sliders_stay_in_sight_of_what_they_move_on_a_phone(opened):
    """Both, and the whole fan, on one screen of 360 by 800."""
    page = opened(PHONE)
    page.evaluate(
        "document.querySelector('#live-fan')"
        ".scrollIntoView({block: 'end', behavior: 'instant'})"
    )
    for name in ("#live-hour", "#live-bearing", "#live-fan"):
        place = page.query_selector(name).bounding_box()
        assert place["y"] >= 0.0
        assert place["y"] + place["height"] <= 800.0 + 0.5
    # Three controls in two rows, so that most of the screen is the picture's.
    assert page.query_selector(".controls").bounding_box()["height"] < 120.0


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_no_sideways_scroll(shelved, made, width, script):
    """The page never scrolls sideways, with everything unfolded."""
    page = shelved(made, width, unfolded=True, script=script)
    if script:
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    for part in page.query_selector_all("section, header, nav, figure, .answer, .box"):
        place = part.bounding_box()
        if place is not None:
            assert place["x"] >= -0.5
            assert place["x"] + place["width"] <= width + 0.5


def test_everything_is_there_without_a_script(opened):
    page = opened(PHONE, java_script_enabled=False)
    assert not page.is_visible("#live")
    assert page.is_visible("#answer")
    rows = page.query_selector_all("#hours-0 tbody tr")
    assert len(rows) == 24
    assert all(
        picture.is_visible() for picture in page.query_selector_all(".paper svg")
    )
    assert page.is_visible("text=Hang it") or page.is_visible("text=It hangs")
    page.click("#inputs summary")
    assert page.is_visible("#inputs dl")


def test_dark_follows_the_reader(opened):
    def ground(page):
        return page.evaluate("getComputedStyle(document.body).backgroundColor")

    light, dark = (opened(color_scheme=scheme) for scheme in ("light", "dark"))
    light_sum, dark_sum = (
        sum(int(part) for part in re.findall(r"\d+", ground(page)))
        for page in (light, dark)
    )
    assert light_sum > 700
    assert dark_sum < 100


@pytest.mark.parametrize(
    ("width", "scheme"), [(w, s) for w in (PHONE, DESK) for s in ("light", "dark")]
)
def test_no_accessibility_rule_is_broken(shelved, made, width, scheme):
    """WCAG 2.2 AA and good practice as the axe rules know them."""
    from axe_playwright_python.sync_playwright import Axe

    page = shelved(made, width, unfolded=True, scheme=scheme)
    results = Axe().run(page)
    assert results.response["violations"] == [], results.generate_report()
    assert len(results.response["passes"]) > 20


# --- paper -------------------------------------------------------------------------


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_paper_cuts_no_row(opened, scene, tmp_path, paper, missing):
    """Every hour stands whole on one page; nothing is wider than the paper."""
    if shutil.which("pdftotext") is None:
        missing("pdftotext (Debian's poppler-utils)")
    page = opened()
    file = tmp_path / "sheet.pdf"
    page.pdf(path=file, format=paper)
    text = subprocess.run(
        ["pdftotext", "-layout", file, "-"], capture_output=True, text=True, check=True
    ).stdout
    sides = text.split("\f")
    assert 2 <= len(sides) - 1 <= 12
    for k in range(2):
        states, best = scene.advice.states[k], scene.advice.best
        for hour in range(24):
            utc, there = (6 + hour) % 24, (8 + hour) % 24
            local = rf"{utc:02d}Z +(?:[A-Z][a-z]+ )?{there:02d}:00 "
            lines = [
                line for side in sides for line in side.splitlines()
                if re.search(local, line)
            ]  # fmt: skip
            cells = [re.split(local, line)[1].split() for line in lines]
            want = [
                mark(states[hour, b], best.margin_db[k, hour, b])
                or str(max(round(10 * best.chance[k, hour, b]), 1))
                for b in range(3)
            ]
            found = [[c.rstrip("*") for c in each[:3]] for each in cells]
            assert want in found, (hour, want, found)
    assert "skiplobe tonight" in text
    assert "power lines" in text
    assert "Another hour" not in text


def test_paper_is_white_even_for_dark_readers(opened):
    page = opened(color_scheme="dark")
    page.emulate_media(media="print", color_scheme="dark")
    assert (
        page.evaluate("getComputedStyle(document.body).backgroundColor")
        == "rgb(255, 255, 255)"
    )
    assert not page.is_visible("#live")
    assert page.is_visible("#cautions dl")
    assert not page.is_visible("#inputs dl")
    assert not page.is_visible("#inputs summary")


# --- the promise of this file itself -------------------------------------------------


def test_a_promised_browser_that_is_missing_fails():
    """With the variable set and no browser on the path the tests fail, not skip."""
    environment = {**os.environ, NEEDED: "1", "PATH": "/nonexistent"}
    result = subprocess.run(
        [
            sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider",
            f"{__file__}::test_dark_follows_the_reader",
        ],
        env=environment,
        capture_output=True,
        text=True,
    )  # fmt: skip
    assert result.returncode == 1
    assert "SKIPLOBE_NEEDS_BROWSER=1, but there is no chromium" in result.stdout
