"""Every command's page in a real browser: phone, dark, paper, and the axe rules."""

import html
import re
import shutil
import subprocess

import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.logs.columns import demo_log

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    # Several pages are of one question.
    pytest.mark.usefixtures("answers_once"),
]

STATION = """
name = "hill & dale"
place = "KF07jo"
power_w = 50
emission = "SSB"
bands = ["40 m", "20 m"]
time_zone = "Africa/Johannesburg"
[[setups]]
name = "flat top"
shape = "dipole"
height_m = 8
[[setups]]
name = "upright"
shape = "ground-mounted vertical"
"""
ASKED = ["--to", "CI", "--to", "within 800 km", "--date", "2026-12-05T15:00Z"]
ASKED += ["--hours", "3", "--r12", "60"]
KINDS = {
    "tonight": ASKED,
    "aim": ASKED,
    "compare": ASKED,
    "activation": ASKED,
    "hang": [
        *ASKED, "--pole-m", "9", "--pole-m", "8", "--apart-m", "15",
        "--shape", "dipole", "--band", "20 m",
    ],
    "wire": ["--quick"],
    "why": ["--to", "CI", "--at", "2026-12-05T15:00Z", "--r12", "60"],
    "reach": ASKED[4:],
    "sky": ["--to", "CI", *ASKED[4:]],
    "check": [str(demo_log())],
}  # fmt: skip
OF_WIRES = [kind for kind in KINDS if kind not in ("why", "reach", "sky", "check")]
"""Those that say how to hang one, and how far to keep people off."""


@pytest.fixture(scope="session")
def pages(tmp_path_factory):
    """Write a page of a kind, once."""
    folder = tmp_path_factory.mktemp("pages")
    station = folder / "hill.toml"
    station.write_text(STATION, encoding="utf-8")
    made = {}

    def page(kind):
        if kind not in made:
            made[kind] = folder / f"{kind}.html"
            words = [kind, "--station", str(station), *KINDS[kind]]
            result = CliRunner().invoke(main, [*words, "--sheet", str(made[kind])])
            assert result.exit_code == 0, result.output
        return made[kind]

    return page


@pytest.fixture
def printed(missing):
    """Print a page and read what stands on each side."""
    if shutil.which("pdftotext") is None:
        missing("pdftotext (Debian's poppler-utils)")

    def sides(page, file, paper):
        page.pdf(path=file, format=paper)
        text = subprocess.run(
            ["pdftotext", "-layout", file, "-"],
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        return text.split("\f")[:-1]

    return sides


LINE = 1.164
"""Height of a line of DejaVu Sans to its size: ascent 0.928, descent 0.236 (the font's
own table)."""


def small_print(file, least_pt):
    """Words of a print that are smaller.

    Of a long word, which may stand on end, the shorter side of its box is its height;
    of a short one that may be its width.
    """
    words = subprocess.run(
        ["pdftotext", "-bbox", file, "-"], capture_output=True, text=True, check=True
    ).stdout
    found = re.findall(
        r'<word xMin="(\S+)" yMin="(\S+)" xMax="(\S+)" yMax="(\S+)">(.*)</word>', words
    )
    assert len(found) > 100
    small = []
    for *corners, word in found:
        left, top, right, bottom = map(float, corners)
        height = (min if len(html.unescape(word)) > 3 else max)(
            right - left, bottom - top
        )
        if height / LINE < least_pt - 0.02:
            small.append((round(height / LINE, 2), word))
    return small


@pytest.mark.parametrize("kind", KINDS)
def test_no_accessibility_rule_is_broken(shelved, pages, kind):
    """Light and dark, wide and narrow, everything unfolded.

    Between light and dark nothing differs but colours: the second look at a width is
    for those.
    """
    from axe_playwright_python.sync_playwright import Axe

    colours = {"runOnly": ["color-contrast", "link-in-text-block"]}
    for width, first, second in ((360, "dark", "light"), (1280, "light", "dark")):
        for scheme, options in ((first, None), (second, colours)):
            page = shelved(pages(kind), width, unfolded=True, scheme=scheme)
            results = Axe().run(page, options=options)
            assert results.response["violations"] == [], results.generate_report()
            least = 15 if options is None else 0
            assert len(results.response["passes"]) > least


@pytest.mark.parametrize("kind", KINDS)
def test_tabs_are_told_apart(shelved, pages, kind):
    """By what was asked, before from where to where."""
    assert shelved(pages(kind)).title().startswith(f"{kind.capitalize()}: ")


@pytest.mark.parametrize("kind", KINDS)
def test_no_sideways_scroll(shelved, pages, kind):
    for width in (360, 768):
        page = shelved(pages(kind), width, unfolded=True)
        assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("kind", KINDS)
def test_answer_is_seen_without_scrolling(watched, pages, kind):
    """On a phone the first answer stands on the first screen, script or not."""
    for script in (True, False):
        page = watched(pages(kind), 360, java_script_enabled=script)
        place = page.query_selector(".answer .large").bounding_box()
        assert place["y"] + place["height"] < 800


def test_a_phone_shows_the_answer_and_folds_the_rest(watched, outing):
    """A link opens what it goes to, paper and a wide screen all of it."""
    page = watched(outing, 360)
    shut = "document.querySelectorAll('details[data-room]:not([open])').length"
    folded = page.evaluate(shut)
    assert folded >= 5
    assert page.evaluate("document.documentElement.scrollHeight") < 8000
    for shown in ("#answer", "#live-fan", "#cautions p", "#slots"):
        assert page.is_visible(shown)
    assert not page.is_visible("#hours-0")
    page.click("nav a[href='#hours']")
    page.wait_for_function(f"{shut} === {folded - 1}")
    assert page.is_visible("#hours-0")
    # A table is wider than the screen and keeps to its lines.
    row = page.locator("#hours-0 tbody tr").first.bounding_box()
    assert row["width"] > 360
    assert row["height"] < 45
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate(shut) == 0
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert page.evaluate(shut) == folded - 1
    page.set_viewport_size({"width": 1280, "height": 900})
    page.wait_for_function(f"{shut} === 0")


@pytest.mark.parametrize("kind", OF_WIRES)
def test_cautions_say_how_far_to_keep_people_off(shelved, pages, kind):
    """With the power sent, never less than 3 m, and a table that is not empty."""
    page = shelved(pages(kind))
    words = page.inner_text("#cautions p")
    assert words.startswith("Sending SSB 50 W")
    metres = float(words.partition("everybody ")[2].partition(" m ")[0])
    assert metres >= 3.0
    rows = page.query_selector_all("#exposure tbody tr")
    assert len(rows) >= 1
    assert all(" m" in row.inner_text() for row in rows)


@pytest.mark.parametrize("kind", KINDS)
def test_every_chart_states_its_finding_and_has_its_data(shelved, pages, kind):
    page = shelved(pages(kind))
    figures = page.query_selector_all(".pictures figure")
    assert figures
    for figure in figures:
        title = figure.query_selector("svg > title").text_content()
        assert len(title.split()) > 3
        assert figure.query_selector("details table tbody tr") is not None


@pytest.mark.parametrize("kind", [kind for kind in OF_WIRES if kind != "wire"])
def test_the_ribbon_is_seen_on_the_first_screen(watched, pages, kind):
    """A lane for each of two targets, without a script too, on a phone and on paper."""
    page = watched(pages(kind), 360, java_script_enabled=False)
    lanes = page.query_selector_all("#day .lane")
    assert len(lanes) == 2
    place = lanes[-1].bounding_box()
    assert place["y"] + place["height"] < 640
    assert {len(lane.query_selector_all(".cells i")) for lane in lanes} == {3}
    page.emulate_media(media="print")
    assert lanes[0].is_visible()


@pytest.mark.parametrize("kind", KINDS)
def test_paper_holds_the_whole_page(watched, pages, kind, tmp_path, printed):
    """Cautions and the command are printed; nothing leaves the paper.

    Checksums are printed by whoever opens them. No letter is under 6 points.
    """
    page = watched(pages(kind))
    for paper in ("A4", "Letter"):
        sides = printed(page, tmp_path / f"{paper}.pdf", paper)
        assert small_print(tmp_path / f"{paper}.pdf", 6.0) == []
        text = "".join(sides)
        assert (kind in OF_WIRES) < len(sides) <= 6
        of_wires = ("power lines", "Sending SSB 50 W") if kind in OF_WIRES else ()
        for part in (f"skiplobe {kind}", *of_wires):
            assert part in text
        assert "SHA-256" not in text
    shut = page.query_selector_all(".fold:not([open]) > summary")
    for summary in shut:
        summary.click()
    assert "SHA-256" in "".join(printed(page, tmp_path / "open.pdf", "A4"))
    for summary in shut:
        summary.click()
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 703, "height": 1000})  # A4 less its margins
    wide = page.evaluate(
        "Math.max(...[...document.querySelectorAll('table')]"
        ".map(t => t.getBoundingClientRect().right))"
    )
    assert wide <= 704


@pytest.fixture(scope="module")
def outing(tmp_path_factory):
    """The demonstration's plan as a page."""
    file = tmp_path_factory.mktemp("outing") / "demo.html"
    words = ["activation", "--date", "2026-12-05T06:00Z", "--sheet", str(file)]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    return file


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_first_two_printed_pages_are_the_plan(
    shelved, pages, outing, tmp_path, printed, paper
):
    """All that is taken to the hill; charts begin on the third, the fifth is the last.

    With the demonstration, and with two wires and two targets.
    """
    for file in (outing, pages("activation")):
        page = shelved(file)
        sides = printed(page, tmp_path / "plan.pdf", paper)
        assert 3 <= len(sides) <= 5
        plan, behind = "".join(sides[:2]), "".join(sides[2:])
        for part in (
            "Timetable", "days in", "Take along", "halyards", "civil dawn",
            "civil dusk", "voltage", "SWR at", "by compass", "Cautions", "lightning",
            "local rules", "keep everybody", "Exposure",
        ):  # fmt: skip
            assert part in plan, part
        for item in page.query_selector_all("#take-along dt"):
            assert item.inner_text() in plan
        for part in ("Take along", "Cautions"):
            assert part not in behind
        assert "Hour by hour" not in plan
        assert "Charts" in behind


def test_a_long_caption_cuts_no_table_off_the_paper(watched, tmp_path):
    """No table is wider than the column it is printed in."""
    station = tmp_path / "station.toml"
    station.write_text(
        'place = "KF07jo"\nbands = ["40 m", "20 m"]\n[[setups]]\n'
        'name = "a wire between two poles, level"\nshape = "random wire"\n'
        "length_m = 26.0\nfeed_height_m = 8.0\nend_height_m = 8.0\n",
        encoding="utf-8",
    )
    file = tmp_path / "plan.html"
    words = ["activation", "--station", str(station), "--to", "ZW", "--to", "KE"]
    words += ["--date", "2026-12-05T06:00Z", "--hours", "6", "--sheet", str(file)]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    page = watched(file)
    # A4 less its margins, at 96 dots an inch.
    page.set_viewport_size({"width": 703, "height": 1032})
    page.emulate_media(media="print")
    cut = page.evaluate(
        "[...document.querySelectorAll('.box table')].filter(t => t.offsetWidth >"
        " t.closest('.box').clientWidth + 1).map(t => t.innerText.slice(0, 60))"
    )
    assert page.query_selector(".rest table")
    assert cut == []


@pytest.mark.parametrize("kind", ["aim", "hang"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_first_printed_pages_are_the_answer(
    shelved, pages, tmp_path, printed, kind, paper
):
    """What to hang, its sizes and the cautions: on the first two."""
    sides = printed(shelved(pages(kind)), tmp_path / "answer.pdf", paper)
    answer = "".join(sides[:2])
    found = "What fits" if kind == "hang" else "The best bearings"
    for part in (found, "what to cut and where", "Cautions", "local rules"):
        assert part in answer, part
    assert "Charts" not in answer


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("width", [320, 360, 768])
def test_every_figure_can_be_brought_into_sight(shelved, pages, kind, width):
    """The last cell of every row by scrolling its table, whose titles stay."""
    page = shelved(pages(kind), width, unfolded=True)
    found = page.evaluate(
        """() => [...document.querySelectorAll("main .box")]
          .filter((box) => box.offsetParent !== null)
          .flatMap((box) => {
            box.scrollLeft = box.scrollWidth;
            const rows = [...box.querySelectorAll("tbody tr")].map((row) => {
              const [title, last] = [row.firstElementChild, row.lastElementChild]
                .map((cell) => cell.getBoundingClientRect());
              return [title.left, Math.min(title.right, last.left), last.right];
            });
            box.scrollLeft = 0;
            return rows;
          })"""
    )
    assert len(found) > 5
    for title, free, end in found:
        assert title >= -0.5
        assert end <= width + 0.5
        # What is beside the title has room.
        assert free <= 0.75 * width


def test_a_table_that_scrolls_shows_it(watched, pages):
    """Where a table is wider than its box after all, a line stands at its edge."""
    page = watched(pages("activation"), 900)
    page.add_style_tag(content="#twilight{min-width:3000px}")
    box = page.query_selector(".box:has(#twilight)")
    edge = (
        "e => getComputedStyle(e).backgroundAttachment + e.scrollWidth + e.clientWidth"
    )
    assert page.evaluate(edge, box).startswith("local, local, scroll, scroll")
    assert page.evaluate("e => e.scrollWidth > e.clientWidth", box)
