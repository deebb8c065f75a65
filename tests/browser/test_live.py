"""The live page in a real browser, served by the command itself."""

import functools
import os
import re
import socket
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from advisor.answers.ask import question_for
from advisor.live.workbench import Workbench
from advisor.show.page.script_data import CHANCE_PARTS
from advisor.station.file import read_station, resolve_station
from geo.places import parse_place
from geo.sphere import bearing_deg, distance_km

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]
STATION = """
place = "KF07jo"
emission = "CW"
[[setups]]
name = "wire"
shape = "dipole"
bands = ["40 m", "20 m"]
bearing_deg = 40
height_m = 8
"""
HOURS = 6


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """Address and process of the program, and the directory it may write into."""
    where = tmp_path_factory.mktemp("live")
    (where / "hill.toml").write_text(STATION, encoding="utf-8")
    words = "--station hill.toml --to KE --date 2026-12-05T09:00Z --r12 60 --write told"
    program = subprocess.Popen(
        [sys.executable, "-m", "advisor", "live", *words.split(), "--hours", "6"],
        cwd=where,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )
    yield program.stdout.readline().strip(), program, where
    program.kill()
    program.wait(10)
    program.stdout.close()


@pytest.fixture
def opened(browser, served):
    """Open the page and wait for its answer; nothing is said, nothing else asked."""
    address, _, _ = served
    contexts, said, asked = [], [], []

    def open_page(width=1280, **options):
        context = browser.new_context(
            viewport={"width": width, "height": 900}, **options
        )
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        page.goto(address)
        return settled(page)

    yield open_page
    for context in contexts:
        context.close()
    assert said == []
    assert {url for url in asked if not url.startswith((address, "data:"))} == set()


def settled(page):
    """Wait until the whole answer to what was set last is shown."""
    # Longer than the delay after turning; an answer under way says so.
    page.wait_for_timeout(400)
    page.locator("#status", has_text="Up to date.").wait_for(timeout=60_000)
    return page


def shown(page):
    """Days in ten of each band at the hour set."""
    rows = page.locator("#live-bands tbody tr").all()
    cells = [row.locator("th, td").all_inner_texts() for row in rows]
    return {row[0].strip(): float(row[1].rstrip("*")) for row in cells}


@functools.cache
def the_bench(station=None):
    """The library's half of it; the sky is worked out once."""
    station = station or resolve_station(STATION, {})[0]

    def ask(station, targets, start):
        return question_for(station, targets, start, HOURS, r12=60.0)

    start = np.datetime64("2026-12-05T09:00")
    return Workbench(station, ask(station, ["KE"], start), ask, ["KE"])


def engine(hour, bench=None, **changes):
    """The same by the library."""
    bench = bench or the_bench()
    wires = [{**bench.start()["setups"][0], **changes}]
    turn = bench.answer({"setups": wires})["turn"]
    place = turn["bearings"].index(wires[0]["bearing_deg"] % turn["turn"])
    chance = turn["targets"][0]["chance"][place][hour]
    return {
        name: 10 * each / CHANCE_PARTS
        for name, each in zip(turn["bands"], chance, strict=True)
    }


def test_by_keyboard_alone_and_the_values_are_the_engines(opened):
    page = opened()
    hour = int(page.input_value("#live-hour"))
    assert shown(page) == pytest.approx(engine(hour), abs=0.051)
    page.focus("#hold-top")
    for _ in range(4):
        page.keyboard.press("PageUp")
    assert page.input_value("#size-height_m") == "12"
    page.focus("#hold-first")
    for _ in range(6):
        page.keyboard.press("PageUp")
    settled(page)
    # What is held stays in hand while it is drawn anew.
    assert page.evaluate("() => document.activeElement.id") == "hold-first"
    assert page.input_value("#live-bearing") == "100"
    want = engine(hour, height_m=12, bearing_deg=100)
    assert shown(page) == pytest.approx(want, abs=0.051)
    assert want != pytest.approx(engine(hour), abs=0.051)
    ribbon = page.locator("#day .cells i").nth(hour).get_attribute("data-chance")
    assert float(ribbon) * 10 == pytest.approx(max(want.values()), abs=0.01)


def test_bands_traps_and_several_wires(opened):
    """What is put into one of two wires by hand is what the engine is asked."""
    page = opened()
    hour = int(page.input_value("#live-hour"))
    page.click("#wire-more")
    assert page.input_value("#wire-called") == "wire 2"
    page.uncheck("[data-band='40 m']")
    page.check("[data-band='15 m']")
    page.click("summary:has-text('traps')")
    page.click("[data-load=traps]")
    trap = {"along, m": 2.5, "coil, \u00b5H": 2.0, "capacitor, pF": 30.0, "Q": 150.0}
    for words, value in trap.items():
        page.get_by_label(f"Trap 1, {words}").fill(str(value))
    settled(page)
    # Thomson's formula, 1 / (2 pi sqrt(L C)), by hand.
    assert "20.55 MHz" in page.inner_text("#loads")
    assert page.locator("#plan .part, #side .part").count() == 2
    bands = ["20 m", "15 m"]
    want = engine(hour, bands=bands, traps=[list(trap.values())])
    assert list(want) == bands
    assert shown(page) == pytest.approx(want, abs=0.051)
    assert want != pytest.approx(engine(hour, bands=bands), abs=0.051)
    page.select_option("#wire-name", "0")
    settled(page)
    assert shown(page) == pytest.approx(engine(hour), abs=0.051)
    page.click("#wire-less")
    settled(page)
    assert page.input_value("#wire-called") == "wire 2"
    assert page.is_disabled("#wire-less")
    assert shown(page) == pytest.approx(want, abs=0.051)


def test_far_end_horizon_noise_and_points_by_keyboard(opened, served):
    """What is set is what the engine is asked, and what is written."""
    page, where = opened(), served[2]
    for words in ("far end", "Horizon"):
        page.locator(f"summary:has-text('{words}')").focus()
        page.keyboard.press("Enter")
    page.focus("#far-kind")
    page.keyboard.type("modest")
    assert page.get_attribute("#far-power_w", "placeholder") == "40"
    page.fill("#ask-noise_trim_db", "6")
    page.press("#ask-noise_trim_db", "Enter")
    page.focus("#skyline-more")
    page.keyboard.press("Enter")
    page.get_by_label("Skyline 1, up").fill("12")
    page.get_by_label("Skyline 2, azimuth").fill("361")
    page.select_option("#wire-shape", "free wire")
    settled(page)
    count = page.locator("#points li").count()
    assert count >= 3
    page.focus("#hold-high-1")
    page.keyboard.press("PageUp")
    page.focus("#hold-point-0")
    page.keyboard.press("ArrowRight")
    settled(page)
    assert page.evaluate("document.activeElement.id") == "hold-point-0"
    points = [float(each.input_value()) for each in page.locator("#points input").all()]
    assert points[0] == 0.1
    page.click("[data-write=station]")
    page.locator("#status", has_text="written: told.toml").wait_for()
    values = read_station(where / "told.toml").values
    told = values["setups"][0]["points_m"]
    assert np.ravel(told).tolist() == points
    assert len(told) == count
    assert values["horizon"] == ((0.0, 12.0), (180.0, 3.0))
    assert (values["far_end.kind"], values["noise_trim_db"]) == ("modest", 6.0)
    hour = int(page.input_value("#live-hour"))
    station, _ = resolve_station(where / "told.toml", {})
    want = engine(hour, the_bench(station))
    assert shown(page) == pytest.approx(want, abs=0.051)


def test_a_mouse_turns_and_raises_the_wire(opened):
    page = opened()
    for name, by_x, by_y in (("first", 60, 60), ("top", 0, -40)):
        box = page.locator(f"#hold-{name}").bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + by_x, y + by_y, steps=4)
        page.mouse.up()
    settled(page)
    assert page.input_value("#live-bearing") != "40"
    assert float(page.input_value("#size-height_m")) > 9
    assert page.locator(".hold").count() >= 3


def test_a_finger_on_a_phone_turns_the_wire_and_scrolls_nothing(opened):
    """Nor is the finger taken away: a pan of the page would end in a cancel."""
    page = opened(360, has_touch=True, is_mobile=True)
    page.evaluate(
        "lost = 0; addEventListener('pointercancel', () => lost++, { capture: true })"
    )
    touch = page.context.new_cdp_session(page)
    for name in ("hold-first", "map-hold"):
        knob = page.locator(f"#{name}")
        knob.evaluate(
            "(knob) => knob.scrollIntoView({ block: 'center', behavior: 'instant' })"
        )
        box = knob.bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        # What is above may grow: the browser keeps what is looked at where it is.
        top = (
            f"document.querySelector('#{name}').ownerSVGElement"
            ".getBoundingClientRect().y"
        )
        bearings, before = [], page.evaluate(top)
        for step in range(6):
            at = {"x": x + 6 * step, "y": y + 12 * step}
            kind = "touchMove" if step else "touchStart"
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [at]})
            page.wait_for_timeout(30)
            bearings.append(page.input_value("#live-bearing"))
        assert page.evaluate(top) == pytest.approx(before, abs=2.0), name
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        # It follows to the end.
        assert len(set(bearings)) >= 3, (name, bearings)
        assert page.evaluate("lost") == 0, name
        settled(page)
    hour, turned = (
        int(page.input_value(f"#live-{each}")) for each in ("hour", "bearing")
    )
    want = engine(hour, bearing_deg=turned)
    assert shown(page) == pytest.approx(want, abs=0.051)


def test_what_is_not_possible_is_told_and_mended(opened):
    page = opened()
    page.fill("#ask-to", "junkland <b>")
    page.press("#ask-to", "Enter")
    page.locator("#status.wrong", has_text="junkland").wait_for()
    page.fill("#ask-to", "JP")
    page.press("#ask-to", "Enter")
    settled(page)
    assert "Japan" in page.inner_text("#words")
    page.fill("#ask-power_w", "-5")
    page.press("#ask-power_w", "Enter")
    page.locator("#status.wrong", has_text="Power, W: ").wait_for()


def test_the_map_turns_the_wire_and_takes_a_target(opened):
    page = opened()
    page.locator("#map-shade:not(.old)").wait_for(timeout=60_000)
    page.focus("#map-hold")
    page.keyboard.press("PageUp")
    assert page.input_value("#live-bearing") == "50"
    settled(page)
    disc = page.locator("#live-map")
    box = disc.bounding_box()
    # A third of the way to the rim, due east of the station; counted from the map's own
    # corner, which may move on the page meanwhile.
    at = {"x": box["width"] * (170 + 142 / 3) / 340, "y": box["height"] / 2}
    disc.click(position=at)
    settled(page)
    lat, lon = map(float, page.input_value("#ask-to").split(","))
    here = parse_place("KF07jo")
    away = distance_km(here.lat_deg, here.lon_deg, lat, lon)
    assert away == pytest.approx(20015 / 3, abs=150)
    east = bearing_deg(here.lat_deg, here.lon_deg, lat, lon)
    assert east == pytest.approx(90, abs=2)


def test_a_minutes_changes_do_not_queue_up(opened):
    """Ten a second for a minute, twenty times as fast; the newest is shown soon after.

    Were each asked, the last would wait for six hundred answers.
    """
    page = opened()
    started = time.monotonic()
    page.fill("#size-height_m", "6")
    settled(page)
    alone = time.monotonic() - started
    asked, parts = [], page.evaluate("document.querySelectorAll('*').length")
    page.on("request", lambda request: asked.append(request.url))
    page.evaluate(
        """async () => {
          const field = document.getElementById("size-height_m");
          for (let n = 0; n < 600; n += 1) {
            field.value = String((700 + n) / 100);
            field.dispatchEvent(new Event("input"));
            await new Promise((go) => setTimeout(go, 5));
          }
        }"""
    )
    last = time.monotonic()
    settled(page)
    assert len(asked) < 60
    # One under way, and the one that counts.
    assert time.monotonic() - last < 3.0 * alone + 1.0
    want = engine(int(page.input_value("#live-hour")), height_m=12.99)
    assert shown(page) == pytest.approx(want, abs=0.051)
    assert page.evaluate("document.querySelectorAll('*').length") <= 1.2 * parts


@pytest.mark.parametrize(
    ("width", "scheme"), [(w, s) for w in (360, 1280) for s in ("light", "dark")]
)
def test_axe_finds_nothing(opened, width, scheme):
    from axe_playwright_python.sync_playwright import Axe

    # The axe rules are put into the page as a text, which its policy forbids.
    page = opened(width, color_scheme=scheme, bypass_csp=True)
    tags = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"]
    options = {"runOnly": tags, "resultTypes": ["violations"]}
    found = Axe().run(page, options=options).response["violations"]
    assert [(each["id"], each["nodes"][0]["html"]) for each in found] == []
    wide = page.evaluate("() => document.documentElement.scrollWidth")
    assert wide <= width


def test_it_writes_what_it_shows_and_nothing_else(opened, served):
    _, _, where = served
    page = opened()
    page.fill("#size-height_m", "11")
    settled(page)
    page.click("[data-write=sheet]")
    page.locator("#status", has_text="written: told.toml, told.html").wait_for(
        timeout=120_000
    )
    assert read_station(where / "told.toml").values["setups"][0]["height_m"] == 11.0
    sheet = (where / "told.html").read_text(encoding="utf-8")
    assert "skiplobe tonight --station told.toml" in sheet
    assert {each.name for each in where.iterdir()} == {
        "hill.toml", "told.toml", "told.html",
    }  # fmt: skip


def test_others_are_refused_at_the_door(served):
    """By the socket itself, as a program that is no browser would try."""
    address, program, _ = served
    host, token = re.fullmatch(r"http://([^/]+)/([^/]+)/", address).groups()
    at, port = host.split(":")
    assert at == "127.0.0.1"

    def status(path, name=host):
        with socket.create_connection((at, int(port)), timeout=10) as line:
            line.sendall(f"GET {path} HTTP/1.1\r\nHost: {name}\r\n\r\n".encode())
            return int(line.recv(64).split()[1])

    assert status(f"/{token}/") == 200
    assert status(f"/{token}/", "elsewhere.example") == 403
    assert status("/") == 404
    assert status(f"/{token}/files/../../station.toml") == 404
    assert program.poll() is None


def test_it_ends_when_the_page_is_closed(opened, served):
    page = opened()
    page.context.close()
    assert served[1].wait(40) == 0
