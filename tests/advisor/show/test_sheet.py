"""The sheet as a file: its structure, its numbers, and what it makes of nasty names."""

import io
import json
import shlex
from dataclasses import replace
from functools import cache
from html import unescape
from html.parser import HTMLParser
from importlib.resources import files
from itertools import pairwise

import numpy as np
import pytest
from click.testing import CliRunner

from advisor.answers.ask import answer, question_for
from advisor.answers.pictures.page import sheet_data
from advisor.answers.pictures.ribbon import ribbon
from advisor.answers.pictures.scene import Scene
from advisor.cli import main
from advisor.show.page.ribbon import ribbon_view
from advisor.show.page.sheet import (
    Heading,
    Section,
    Sheet,
    json_in_html,
    sheet_html,
)
from advisor.show.page.tonight import tonight_sheet
from advisor.show.text.cells import Cell, Table, chance_look
from advisor.station.file import resolve_station

pytestmark = pytest.mark.usefixtures("coarse_world")

NASTY = "<script>alert('x')</script> \"quoted\" & 'so' 📡 $a$ </style>"
VOID = {"meta", "input", "br", "hr", "img", "link"}
STATION = """
name = '''hill {nasty}'''
place = "KF07jo"
power_w = 10
emission = "CW"
bands = ["40 m", "20 m", "15 m"]
time_zone = "Africa/Johannesburg"
[[setups]]
name = '''{nasty}'''
shape = "dipole"
height_m = 8
bands = ["40 m", "20 m"]
[[setups]]
name = "upright"
shape = "ground-mounted vertical"
bands = ["15 m"]
"""


class Page(HTMLParser):
    """Reads a page; fails if a tag is shut that was not opened last."""

    def __init__(self, text):
        super().__init__()
        self.opened, self.tags, self.ids = [], [], []
        self.tables, self.headings, self._cells, self._heading = {}, [], None, None
        self.script_texts = []
        self.feed(text)
        self.close()
        assert self.opened == []

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        self.tags.append((tag, attrs))
        if "id" in attrs:
            self.ids.append(attrs["id"])
        if tag not in VOID:
            self.opened.append(tag)
        if tag == "table":
            self._cells = self.tables.setdefault(
                attrs.get("id", f"table-{len(self.tables)}"), []
            )
        if tag == "tr" and self._cells is not None:
            self._cells.append([])
        if tag in ("td", "th") and self._cells is not None:
            self._cells[-1].append([tag, "", None, attrs.get("class", "")])
        if tag == "data":
            self._cells[-1][-1][2] = attrs["value"]
        if tag in ("h1", "h2", "h3"):
            self.headings.append([int(tag[1]), ""])
            self._heading = tag

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if "id" in dict(attrs):
            self.ids.append(dict(attrs)["id"])

    def handle_endtag(self, tag):
        assert self.opened.pop() == tag
        if tag == "table":
            self._cells = None
        if tag == self._heading:
            self._heading = None

    def handle_data(self, text):
        if self.opened and self.opened[-1] == "script":
            self.script_texts.append(text)
        if self._heading:
            self.headings[-1][1] += text
        if self._cells and self._cells[-1] and {"td", "th"} & set(self.opened):
            self._cells[-1][-1][1] += text

    def named(self, tag):
        """Attributes of every element of a kind."""
        return [attrs for name, attrs in self.tags if name == tag]


def run(*words):
    """Run the command and demand success."""
    result = CliRunner().invoke(main, list(words))
    assert result.exit_code == 0, result.output
    return result


@pytest.fixture(scope="module")
def words(tmp_path_factory):
    """Words of a command with a nasty station."""
    file = tmp_path_factory.mktemp("nasty") / "hill 'n.toml"
    file.write_text(STATION.replace("{nasty}", NASTY), encoding="utf-8")
    return [
        "tonight", "--station", str(file), "--to", "CI", "--to", "within 800 km",
        "--date", "2026-12-05T15:00Z", "--hours", "4", "--r12", "60",
    ]  # fmt: skip


@pytest.fixture(scope="module")
def page_of(words, tmp_path_factory):
    """Page of a command asked so, and what it says on the screen; written once."""

    @cache
    def written(command):
        file = tmp_path_factory.mktemp("made") / "hill.html"
        said = run(command, *words[1:], "--sheet", str(file)).stdout
        return file.read_text(encoding="utf-8"), said

    return written


@pytest.fixture(scope="module")
def made(page_of):
    """The page of that command as text."""
    return page_of("tonight")[0]


@pytest.fixture(scope="module")
def page(made):
    """The same, read."""
    return Page(made)


@pytest.fixture(scope="module")
def scene():
    """A wire with a bearing of its own, two targets, four hours."""
    station, _ = resolve_station(
        None,
        {
            "place": "KF07jo",
            "setups": [
                {
                    "name": "slope",
                    "shape": "sloper",
                    "bearing_deg": 37,
                    "bands": ["20 m"],
                }
            ],
        },
    )
    question = question_for(
        station, ["KE", "155"], np.datetime64("2026-12-05T12:00"), 4, r12=60.0
    )
    return Scene(answer(question))


# --- structure -------------------------------------------------------------------


@pytest.mark.slow
def test_page_is_one_whole_document(page, made):
    assert made.startswith('<!DOCTYPE html>\n<html lang="en">')
    first = [title for level, title in page.headings if level == 1]
    assert len(first) == 1
    assert first[0].startswith(f"From hill {NASTY} to ")
    for landmark in ("header", "main", "nav", "footer"):
        assert len(page.named(landmark)) == 1
    assert page.named("title")
    assert len(page.ids) == len(set(page.ids)), "an id is used twice"


@pytest.mark.slow
def test_headings_leave_out_no_level(page):
    levels = [level for level, _ in page.headings]
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


@pytest.mark.slow
def test_every_link_within_the_page_leads_somewhere(page):
    links = [attrs["href"] for attrs in page.named("a")]
    assert links[0] == "#answer"
    assert all(link.startswith("#") and link[1:] in page.ids for link in links)


@pytest.mark.slow
def test_answer_stands_before_everything_else(made):
    order = ['id="answer"', 'id="hours"', 'id="why"', 'id="wire"', 'id="cautions"']
    order += ['id="charts"', 'id="inputs"', 'id="sources"', 'id="repeat"']
    places = [made.index(part) for part in order]
    assert places == sorted(places)


@pytest.mark.slow
def test_nothing_is_fetched(page, made):
    """No address but a namespace's, no file, and a policy that forbids the rest."""
    for tag, attrs in page.tags:
        for key in ("src", "href", "xlink:href", "action", "data", "poster"):
            value = attrs.get(key, "#")
            assert value.startswith(("#", "data:image/png;base64,")), (tag, value[:50])
    assert "@import" not in made
    policy = next(a for a in page.named("meta") if "http-equiv" in a)["content"]
    assert "default-src 'none'" in policy
    assert "script-src 'sha256-" in policy
    assert "script-src 'unsafe-inline'" not in policy


@pytest.mark.slow
def test_tables_have_captions_and_scopes(page, made):
    assert made.count("<table") == made.count("<caption>")
    assert all(attrs["scope"] in ("row", "col") for attrs in page.named("th"))


@pytest.mark.slow
def test_every_chart_says_what_it_shows_and_has_its_data(page, made):
    pictures = [a for a in page.named("svg") if not a.get("id", "").startswith("live")]
    assert len(pictures) == 7
    assert all(a["role"] == "img" and a["aria-labelledby"] for a in pictures)
    assert made.count("The data of this chart") == len(pictures)


@pytest.mark.slow
def test_bearing_is_given_true_and_by_compass(made):
    assert " true (" in made
    assert " by compass)" in made


# --- numbers ---------------------------------------------------------------------


SHUT = {
    ".": ["no layer"],
    "x": ["far too weak"],
    "h": ["below the horizon"],
    "w": ["weak-signal"],
    "-9": ["short"],
}


@pytest.mark.slow
def test_cells_hold_the_numbers_of_the_json(page, words):
    """Chances of the set-up to be on, or of the best: in full behind, rounded in it."""
    whole = json.loads(run(*words, "--json").stdout)
    answers = {each["target"]: each["hours"] for each in whole["answer"]}
    for k, target in enumerate(whole["inputs"]["targets"]):
        rows = page.tables[f"hours-{k}"]
        head = [cell[1] for cell in rows[0]]
        assert head[:2] == ["UTC", "local"]
        found = 0
        cells = {}
        for row in whole["results"]:
            if row["target"] == target:
                cells.setdefault((row["utc"], row["band"]), []).append(row)
        on = {hour["utc"]: hour for hour in answers[target]}
        for (utc, band), several in cells.items():
            row = max(several, key=lambda each: each["chance"])
            held = [each for each in several if each["setup"] == on[utc]["setup"]]
            if held and held[0]["chance"] >= max(row["chance"] - 0.05, 0.05):
                row = held[0]
            if band == on[utc]["band"]:
                assert row["chance"] == on[utc]["chance"]
            line = next(r for r in rows[1:] if r[0][1] == f"{row['utc'][11:13]}Z")
            tag, text, exact, look = line[head.index(row["band"])]
            assert tag == "td"
            assert float(exact) == row["chance"]
            if row["chance"] < 0.05:
                assert look == "shut"
                assert row["state"] in SHUT[text if text in SHUT else "-9"]
            else:
                days = max(round(10 * row["chance"]), 1)
                assert text.rstrip("*") == str(days)
                assert f"c{days}" in look.split()
                assert ("best" in look) == text.endswith("*")
            found += 1
        assert found == 4 * 3


@pytest.mark.slow
def test_exposure_stands_with_the_cautions(page, words):
    """The distances of `wire`, for the bands the page sends people to."""
    rows = page.tables["exposure"]
    assert rows[0][0][1] == "band"
    names = [cell[1] for cell in rows[0][1:]]
    assert NASTY in names
    asked = ["wire", *words[1:3]]
    whole = json.loads(run(*asked, "--json").stdout)["results"]
    known = {(row["setup"], row["band"]): row["exposure_m"] for row in whole}
    compared = 0
    for row in rows[1:]:
        for name, (_, text, exact, _) in zip(names, row[1:], strict=True):
            if exact is None:
                assert text == "-"
                continue
            want = known[name, row[0][1]]
            shown = float(text.split(" m")[0])
            if text.endswith(" f"):
                assert float(exact) >= want - 1e-9
            else:
                assert float(exact) == pytest.approx(want)
            assert float(exact) <= shown < float(exact) + 0.1 + 1e-9
            compared += 1
    assert compared >= 2


@pytest.mark.slow
def test_the_ribbon_is_the_answers(scene):
    """Shade, figure and band of every hour, run by run."""
    advice = scene.advice
    view = ribbon_view(ribbon(advice))
    names = [band.name for band in advice.question.bands]
    assert [lane.target for lane in view.lanes] == [one.name for one in advice.targets]
    for k, lane in enumerate(view.lanes):
        told = [""] * advice.question.times.size
        for run in lane.runs:
            told[run.first : run.last + 1] = [run.whole] * (run.last + 1 - run.first)
        best = advice.best_band[k]
        assert told == [names[b] if b >= 0 else "" for b in best]
        for t, cell in enumerate(lane.cells):
            chance = advice.setups[0].chance[k, t, best[t]] if best[t] >= 0 else 0.0
            assert float(cell.exact) == chance
            assert cell.look == chance_look(chance).look
        assert 1 <= len(lane.lights) <= 2
        # One light ends where the next begins, and they fill the ribbon.
        stops = [each.split() for each in lane.lights[0][1].split(",")]
        assert stops[0][1] == "0.00%"
        assert stops[-1][2] == "100.00%"
        assert [one[2] for one in stops[:-1]] == [one[1] for one in stops[1:]]


# --- nasty names -----------------------------------------------------------------


@pytest.mark.slow
def test_names_are_shown_as_text(page, made):
    """Markup, quotes and a picture sign in station and set-up names."""
    assert len(page.named("script")) == 2
    assert "alert('x')</script>" not in made
    assert len(page.named("style")) == 1
    titles = [title for level, title in page.headings if level == 3]
    assert f"{NASTY} (dipole)" in titles
    live = json.loads(page.script_texts[0])
    assert live["setup"] == NASTY


@pytest.mark.slow
def test_a_nasty_target_is_shown_as_text(scene):
    """A target's name comes from a table, and is not trusted either."""
    advice = scene.advice
    targets = (replace(advice.targets[0], name=NASTY), advice.targets[1])
    moved = replace(scene, advice=replace(advice, targets=targets))
    made = tonight_sheet(
        moved,
        sheet_data(moved),
        -26.0,
        {"program": "skiplobe", "version": "0", "tables_sha256": {NASTY: NASTY}},
        NASTY,
    )
    read = Page(sheet_html(made))
    assert len(read.named("script")) == 2
    assert f"To {NASTY}" in [title for _, title in read.headings]
    assert json.loads(read.script_texts[0])["targets"][0]["name"] == NASTY


def test_every_text_of_a_page_is_escaped():
    """Each field of each record, without charts."""
    cell = Cell(NASTY, NASTY)
    table = Table(NASTY, (NASTY,), ((cell, cell),), note=NASTY)
    section = Section("a", NASTY, (NASTY,), ((NASTY, NASTY),), (table,), folded=True)
    made = sheet_html(
        Sheet(
            NASTY, (NASTY,), (Heading(NASTY, NASTY, NASTY),), (section,), NASTY, NASTY
        )
    )
    read = Page(made)
    assert read.named("script") == [{}]
    assert len(read.named("style")) == 1
    assert made.count("<script") == 1


@pytest.mark.parametrize("text", ["</script>", "<!--", "]]>&", "\u2028 'q' \"q\" 📡"])
def test_json_survives_inside_a_page(text):
    written = json_in_html({"a": [text, 1.5, None]})
    assert json.loads(written) == {"a": [text, 1.5, None]}
    assert not set("<>&\u2028") & set(written)


def test_json_refuses_what_is_no_number():
    with pytest.raises(ValueError, match="JSON compliant"):
        json_in_html([float("nan")])


# --- the file --------------------------------------------------------------------


@pytest.mark.slow
def test_command_on_the_page_makes_it_again(made, tmp_path):
    """As it stands there, quotes and all."""
    start = made.index("<pre><code>") + len("<pre><code>")
    command = made[start : made.index("</code>")].replace("&#39;", "'")
    again = shlex.split(command.replace("&#34;", '"').replace("&amp;", "&"))
    assert again[0] == "skiplobe"
    assert again[-2:] == ["--sheet", "hill.html"]
    file = tmp_path / "hill.html"
    run(*again[1:-1], str(file))
    assert file.read_text(encoding="utf-8") == made


@pytest.mark.slow
def test_command_names_the_hour_of_the_clock(tmp_path):
    """Without --date the page says which hour it was made for."""
    file = tmp_path / "now.html"
    wire = ["--from", "KF07jo", "--to", "KE", "--shape", "dipole", "--band", "20 m"]
    run("tonight", *wire, "--hours", "1", "--sheet", str(file))
    assert "skiplobe tonight --date 20" in file.read_text(encoding="utf-8")


@pytest.mark.slow
def test_answer_on_the_screen_stays_as_it_is(words, page_of):
    assert page_of("tonight")[1] == run(*words).stdout


@pytest.mark.slow
def test_an_existing_page_is_kept_unless_told(words, tmp_path):
    file = tmp_path / "old.html"
    file.write_text("mine", encoding="utf-8")
    asked = ["sky", *words[1:], "--sheet", str(file)]
    result = CliRunner().invoke(main, asked)
    assert result.exit_code == 2
    assert "add --overwrite" in result.stderr
    assert result.stdout == ""
    assert file.read_text(encoding="utf-8") == "mine"
    run(*asked, "--overwrite")
    assert file.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert [each.name for each in tmp_path.glob("*.html")] == ["old.html"]
    assert list(tmp_path.glob(".*partial")) == []


@pytest.mark.slow
def test_a_page_has_to_be_called_one(words):
    result = CliRunner().invoke(main, [*words, "--sheet", "hill.txt"])
    assert result.exit_code == 2
    assert "does not end in .html" in result.stderr


def test_templates_are_shipped():
    """Beside the module, where an installed program finds them too."""
    folder = files("advisor.show.page") / "templates"
    for name in ("sheet.html.j2", "sheet.css", "sheet.js"):
        text = (folder / name).read_text(encoding="utf-8")
        assert io.StringIO(text).readline()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("command", "section"),
    [("aim", "bearings"), ("compare", "ranking"), ("activation", "timetable")],
)
def test_other_commands_write_what_they_found(command, section, page_of):
    """Their own table stands before the hours; the page makes itself again."""
    made, _ = page_of(command)
    read = Page(made)
    assert made.index('id="answer"') < made.index(f'id="{section}"')
    assert made.index(f'id="{section}"') < made.index('id="hours"')
    assert f"<pre><code>skiplobe {command} " in made
    assert len(read.named("script")) == 2
    assert len(read.ids) == len(set(read.ids))


@pytest.mark.slow
def test_a_page_of_a_plan_is_the_plan(words, page_of):
    """Slots, feed, packing list and twilight are those of the JSON of the same plan."""
    made, _ = page_of("activation")
    read = Page(made)
    told = json.loads(run("activation", *words[1:], "--json").stdout)
    text = unescape(made)
    assert len(told["packing"]) > 5
    for item in told["packing"]:
        assert f"<dt>{item['kind']}</dt><dd>{item['what']}</dd>" in text
    sun = read.tables["twilight"]
    assert [row[0][1] for row in sun[1:]] == ["here", "middle of A", "middle of B"][
        : len(told["sun"])
    ]
    for row, place in zip(sun[1:], told["sun"], strict=True):
        names = ("civil_dawn", "rise", "set", "civil_dusk")
        assert [cell[1] for cell in row[1:]] == [place[each][11:16] for each in names]
    feed = read.tables["feed"]
    head = [cell[1] for cell in feed[0]]
    for title, key in (
        ("feed voltage V", "voltage_v"),
        ("feed current A", "current_a"),
        ("SWR at radio", "radio_swr"),
        ("cut m", "cut_m"),
        ("exposure", "exposure_m"),
    ):
        shown = [float(row[head.index(title)][2]) for row in feed[1:]]
        assert shown == [wire[key] for wire in told["wires"]]
    slots = read.tables["slots"]
    columns = [k for k, cell in enumerate(slots[0]) if "days in ten, " in cell[1]]
    shown = [float(row[k][2]) for row in slots[1:] for k in columns]
    assert shown == [row["chance"] for row in told["results"]]
    assert len(columns) == 2


@pytest.mark.slow
def test_names_of_targets_do_not_widen_a_table(page_of):
    """Columns go by letters, which are explained before them."""
    for command, key in (("activation", "slots"), ("aim", "table-")):
        made, _ = page_of(command)
        tables = [
            rows
            for name, rows in Page(made).tables.items()
            if name.startswith(key) and "days in ten, B" in [c[1] for c in rows[0]]
        ]
        assert tables
        assert all(len(cell[1]) < 20 for rows in tables for cell in rows[0])
        assert "<dt>B</dt><dd>within 800 km" in made


@pytest.mark.slow
def test_a_wire_has_a_page_of_its_own(words, tmp_path):
    """No sky, nothing to turn: verdicts, feed and dimensions as in the JSON."""
    file = tmp_path / "wire.html"
    asked = ["wire", *words[1:3], "--quick"]
    run(*asked, "--sheet", str(file))
    made = file.read_text(encoding="utf-8")
    read = Page(made)
    assert read.named("script") == [{}]
    assert f"{NASTY} (dipole)" in [title for _, title in read.headings]
    rows = json.loads(run(*asked, "--json").stdout)["results"]
    tables = [rows_ for rows_ in read.tables.values() if rows_[0][1][1] == "wire ohm"]
    shown = [float(row[2][2]) for table in tables for row in table[1:]]
    assert shown == [row["radio_swr"] for row in rows]


@pytest.mark.slow
def test_what_fits_has_a_page(words, tmp_path):
    """Shapes of the page are those of the JSON, with the same chances."""
    file = tmp_path / "hang.html"
    asked = ["hang", *words[1:], "--pole-m", "9", "--shape", "dipole"]
    asked += ["--shape", "inverted V", "--band", "20 m"]
    run(*asked, "--sheet", str(file))
    read = Page(file.read_text(encoding="utf-8"))
    table = next(rows for rows in read.tables.values() if rows[0][1][1] == "shape")
    heads = [cell[1] for cell in table[0]]
    shape, days = heads.index("shape"), heads.index("days in ten")
    rows = json.loads(run(*asked, "--json").stdout)["results"]
    assert [(row[shape][1], float(row[days][2])) for row in table[1:]] == [
        (row["shape"], row["chance"]) for row in rows if row["fits"]
    ]


@pytest.mark.slow
def test_bearings_on_a_page_are_those_of_the_json(words, page_of):
    """Chance of every bearing of the set-up that can be turned."""
    rows = json.loads(run("aim", *words[1:], "--json").stdout)["results"]
    shown = {
        float(cell[2])
        for table in Page(page_of("aim")[0]).tables.values()
        for row in table
        for cell in row
        if table[0][0][1] == "wire true" and cell[2] is not None
    }
    chances = {row["chance"] for row in rows}
    assert len(chances) > 5
    assert chances <= shown
