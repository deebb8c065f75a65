"""Pictures of the documentation: as built, shown, explained; written all or none."""

import base64
import io
import json
import re
import runpy
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from advisor.cli import main
from advisor.show.charts.files import check_files, save_files
from advisor.show.charts.gallery import CHARTS
from geo.errors import InputError

ROOT = Path(__file__).parents[3]
PICTURES = ROOT / "docs" / "pictures"
GALLERY = ROOT / "docs" / "gallery.md"
SVG = "{http://www.w3.org/2000/svg}"

MOST_BYTES = 1_500_000
"""So much a checkout can bear."""

# A chart is 360 units wide. Another processor or library may move a line by less than
# the eye sees, and the letters of another library by a little more.
MOVED = 0.5

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
COLOUR = re.compile(r"#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})\b")
INLINE = re.compile(r'href="data:image/png;base64,\s*([^"]+)"')


def parts(svg):
    """Split a picture: its words, its numbers, and the shaded parts as pixels."""
    shades = [
        np.asarray(Image.open(io.BytesIO(base64.b64decode(data))).convert("RGBA"))
        for data in INLINE.findall(svg)
    ]
    rest = INLINE.sub('href="shade"', svg)
    for n, name in enumerate(dict.fromkeys(re.findall(r'\bid="([^"]+)"', rest))):
        rest = re.sub(rf'(?<=["#]){re.escape(name)}(?=["\)])', f"id_{n:x}_", rest)
    rest = re.sub(r"id_[0-9a-f]+_", lambda m: m[0].translate(LETTERS), rest)
    # Eight steps of a colour's 256 count like half a unit of length.
    rest = COLOUR.sub(
        lambda m: " ".join(f"{int(part, 16) / 16.0:.4f}" for part in m.groups()), rest
    )
    return NUMBER.split(rest), NUMBER.findall(rest), shades


LETTERS = str.maketrans("0123456789", "ghijklmnop")


def alike(ours, shown):
    """Why two pictures are not the same to the eye; empty if they are."""
    words, numbers, shades = zip(parts(ours), parts(shown), strict=True)
    if words[0] != words[1]:
        pairs = zip(*words, strict=False)
        return f"words: {next((pair for pair in pairs if len(set(pair)) > 1), 'more')}"
    one, other = (np.array(each, dtype=float) for each in numbers)
    if np.abs(one - other).max() > MOVED:
        return f"moved by {np.abs(one - other).max()}"
    for a, b in zip(*shades, strict=True):
        off = np.abs(a.astype(int) - b.astype(int)).max(axis=-1)
        if a.shape != b.shape or (off > 8).mean() > 0.01:
            return "shades"
    return ""


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file and solved wires out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


def run(*words):
    """Run the command."""
    return CliRunner().invoke(main, ["gallery", *map(str, words)])


def titled(path):
    """Title of a picture."""
    return ElementTree.parse(path).getroot().find(f"{SVG}title").text


@pytest.mark.slow
def test_alike_sees_what_an_eye_would():
    svg = (PICTURES / "compass.svg").read_text(encoding="utf-8")
    assert alike(svg, svg) == ""
    assert "words" in alike(svg, svg.replace("MN<", "NM<"))
    first = re.search(r"(?<=<path d=\"M )\d+\.\d+", svg)
    moved = f"{svg[: first.start()]}{float(first[0]) + 3.0}{svg[first.end() :]}"
    assert "moved" in alike(svg, moved)


@pytest.mark.long
@pytest.mark.usefixtures("no_network")
def test_pictures_of_the_documentation_are_what_the_command_builds(tmp_path):
    """Otherwise: ``skiplobe gallery --output docs/pictures --overwrite``."""
    result = run("--output", tmp_path / "new")
    assert result.exit_code == 0, result.output
    built = {path.name: path for path in (tmp_path / "new").iterdir()}
    kept = {path.name: path for path in PICTURES.iterdir()}
    assert sorted(built) == sorted(kept)
    assert {f"{name}.svg" for name in CHARTS} < set(built)
    for name, path in built.items():
        new, old = (each.read_text(encoding="utf-8") for each in (path, kept[name]))
        assert alike(new, old) == "", name
    said = dict(line.split(": ", 1) for line in result.stdout.splitlines())
    assert said == {name: titled(path) for name, path in built.items()}


def test_the_gallery_shows_and_explains_every_picture():
    page = GALLERY.read_text(encoding="utf-8")
    shown = dict(re.findall(r"^!\[(.+)\]\(pictures/([\w-]+)\.svg\)$", page, re.M))
    names = {path.stem for path in PICTURES.iterdir()}
    assert sorted(shown.values()) == sorted(names)
    for said, name in shown.items():
        assert said == titled(PICTURES / f"{name}.svg")
    sections = re.split(r"^## ", page, flags=re.M)[1:]
    assert {each.split(":")[0] for each in sections} == names
    for section in sections:
        heading, _, text = section.partition("\n")
        assert heading.endswith("?")
        for word in ("**Axes.**", "**Marks.**", "**What to do with it.**"):
            assert word in text, heading


def test_pictures_are_light_and_their_text_is_text():
    sizes = [path.stat().st_size for path in PICTURES.iterdir()]
    assert sum(sizes) < MOST_BYTES
    for path in PICTURES.iterdir():
        root = ElementTree.parse(path).getroot()
        assert len(list(root.iter(f"{SVG}text"))) > 5
        text = path.read_text(encoding="utf-8")
        # Where the charts' own letters are missing, others without serifs.
        assert "sans-serif" in text
        assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]+"|<!DOCTYPE[^>]+>', "", text)


def test_readme_shows_pictures_that_are_there():
    page = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r'src="(docs/pictures/[\w.-]+)"', page)
    assert shown
    for file in shown:
        assert (ROOT / file).is_file()
        assert titled(ROOT / file) in page


def test_existing_pictures_are_replaced_only_when_told(tmp_path):
    """Refused before anything is worked out, and nothing is touched."""
    (tmp_path / "fan.svg").write_text("mine")
    result = run("--output", tmp_path)
    assert result.exit_code == 2
    assert "--overwrite" in result.stderr
    assert result.stdout == ""
    assert [path.name for path in tmp_path.iterdir()] == ["fan.svg"]
    assert (tmp_path / "fan.svg").read_text() == "mine"


def test_files_are_written_all_or_none(tmp_path, monkeypatch):
    folder = tmp_path / "a" / "b"
    save_files(folder, {"x": b"1", "y": b"2"})
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == {
        "x": b"1",
        "y": b"2",
    }
    with pytest.raises(InputError, match="and 1 more exists: add --overwrite"):
        check_files(folder, ["x", "y", "z"])
    (folder / "z").mkdir()
    with pytest.raises(InputError, match="is a directory"):
        save_files(folder, {"x": b"3", "z": b"4"}, overwrite=True)
    assert (folder / "x").read_bytes() == b"1"
    replace = Path.replace

    def full(path, target):
        if target.name in ("y", "new"):
            raise OSError(28, "No space left on device")
        return replace(path, target)

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="No space"):
        save_files(folder, {"w": b"7", "x": b"5", "y": b"6"}, overwrite=True)
    assert sorted(path.name for path in folder.iterdir()) == ["x", "y", "z"]
    assert (folder / "x").read_bytes() == b"1"
    assert (folder / "y").read_bytes() == b"2"
    with pytest.raises(OSError, match="No space"):
        save_files(tmp_path / "c", {"new": b"1"})
    assert not (tmp_path / "c").exists()


def test_a_place_that_cannot_be_written_is_one_line(tmp_path, monkeypatch):
    """Code 1, nothing on stdout."""
    figure, finding = object(), "It says something."
    monkeypatch.setattr(
        "advisor.commands.gallery.pictures", lambda _: [("a.svg", figure, finding)]
    )
    monkeypatch.setattr("advisor.show.charts.files.svg_bytes", lambda *_: b"<svg/>")
    (tmp_path / "file").write_text("")
    result = run("--output", tmp_path / "file" / "under")
    assert result.exit_code == 1
    assert "cannot write to" in result.stderr
    assert result.stdout == ""
    assert run("--output", tmp_path / "fine").exit_code == 0


@pytest.mark.slow
def test_what_the_page_is_said_to_answer_is_what_it_answers():
    """Band, chance and next change at noon, of the page that ten questions name."""
    study = runpy.run_path(str(ROOT / "docs" / "studies" / "refresh_pictures.py"))
    found = json.loads(CliRunner().invoke(main, study["ASKED"]).stdout)
    text = GALLERY.read_text(encoding="utf-8")
    assert study["answered"](text, found) == text
