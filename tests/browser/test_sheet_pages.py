"""Every command's page in a real browser: phone, dark, paper, and the axe rules."""

import shutil
import subprocess

import pytest
from click.testing import CliRunner

from advisor.cli import main

pytestmark = [pytest.mark.browser, pytest.mark.slow]

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
}  # fmt: skip


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


def unfold(page):
    """Open everything that is shut."""
    for summary in page.query_selector_all("summary"):
        summary.click()


@pytest.mark.parametrize("kind", KINDS)
def test_no_accessibility_rule_is_broken(watched, pages, kind):
    """Light and dark, wide and narrow, everything unfolded."""
    from axe_playwright_python.sync_playwright import Axe

    for width, scheme in ((360, "dark"), (1280, "light")):
        page = watched(pages(kind), width, color_scheme=scheme)
        unfold(page)
        results = Axe().run(page)
        assert results.response["violations"] == [], results.generate_report()
        assert len(results.response["passes"]) > 15


@pytest.mark.parametrize("kind", KINDS)
def test_no_sideways_scroll(watched, pages, kind):
    for width in (360, 768):
        page = watched(pages(kind), width)
        unfold(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("kind", KINDS)
def test_answer_is_seen_without_scrolling(watched, pages, kind):
    """On a phone the first answer stands on the first screen, script or not."""
    for script in (True, False):
        page = watched(pages(kind), 360, java_script_enabled=script)
        place = page.query_selector(".answer .large").bounding_box()
        assert place["y"] + place["height"] < 800


@pytest.mark.parametrize("kind", KINDS)
def test_cautions_say_how_far_to_keep_people_off(watched, pages, kind):
    """With the power sent, never less than 3 m, and a table that is not empty."""
    page = watched(pages(kind))
    words = page.inner_text("#cautions p")
    assert words.startswith("Sending SSB 50 W")
    metres = float(words.partition("everybody ")[2].partition(" m ")[0])
    assert metres >= 3.0
    rows = page.query_selector_all("#exposure tbody tr")
    assert len(rows) >= 1
    assert all(" m" in row.inner_text() for row in rows)


@pytest.mark.parametrize("kind", KINDS)
def test_every_chart_states_its_finding_and_has_its_data(watched, pages, kind):
    page = watched(pages(kind))
    figures = page.query_selector_all(".pictures figure")
    assert figures
    for figure in figures:
        title = figure.query_selector("svg > title").text_content()
        assert len(title.split()) > 3
        assert figure.query_selector("details table tbody tr") is not None


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "wire"])
def test_bands_by_the_hour_are_drawn(watched, pages, kind):
    """A picture for each of two targets, seen without a script too."""
    page = watched(pages(kind), java_script_enabled=False)
    titles = [each.inner_text() for each in page.query_selector_all("figure h3")]
    drawn = [title for title in titles if title.startswith("Band by hour")]
    assert len(drawn) == 2
    assert all(each.is_visible() for each in page.query_selector_all(".paper svg"))


@pytest.mark.parametrize("kind", KINDS)
def test_paper_holds_the_whole_page(watched, pages, kind, tmp_path, missing):
    """Cautions, inputs and the command are printed; nothing leaves the paper."""
    if shutil.which("pdftotext") is None:
        missing("pdftotext (Debian's poppler-utils)")
    page = watched(pages(kind))
    for paper in ("A4", "Letter"):
        file = tmp_path / f"{paper}.pdf"
        page.pdf(path=file, format=paper)
        text = subprocess.run(
            ["pdftotext", "-layout", file, "-"],
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        assert 2 <= text.count("\f") <= 12
        for part in ("power lines", "Sending SSB 50 W", f"skiplobe {kind}", "SHA-256"):
            assert part in text
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 703, "height": 1000})  # A4 less its margins
    wide = page.evaluate(
        "Math.max(...[...document.querySelectorAll('table')]"
        ".map(t => t.getBoundingClientRect().right))"
    )
    assert wide <= 704
