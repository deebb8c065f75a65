"""What DEVELOPERS.md says of adding something is so: few files, and all are there."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from advisor.antenna.shapes.registry import SHAPES
from advisor.show.charts.gallery import CHARTS

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
TABLE = re.findall(r"^\| (an? [a-z ]+) \| (.+) \| (.+) \|$", PAGE, re.M)


def test_what_is_added_most_is_listed():
    assert {name for name, *_ in TABLE} >= {
        "a loss term", "a shape", "a chart", "a data source",
        "a question",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("name", "files", "tests"), TABLE, ids=[row[0] for row in TABLE]
)
def test_at_most_four_files_that_are_there(name, files, tests):
    del name
    assert 1 <= len(files.split(", ")) <= 4
    for path in re.findall(r"`([^`]+)`", f"{files} {tests}"):
        assert (ROOT / path).exists(), path
    assert "`tests/" in tests


def test_files_named_in_the_recipes_are_there():
    """With a name of the new thing in them, the directory they go to."""
    recipes = PAGE[PAGE.index("## How to add") :].partition("\n## ")[0]
    paths = re.findall(r"`((?:advisor|geo|tests|docs|tables)/[^`]+)`", recipes)
    assert len(paths) > 20
    for path in paths:
        directory = path.partition("<")[0].rpartition("/")[0]
        assert (ROOT / (directory if "<" in path else path)).exists(), path


def test_a_chart_has_a_section_and_a_shape_a_row():
    """What a picture shows, and what a shape is, is explained to whoever uses it."""
    gallery = (ROOT / "docs" / "gallery.md").read_text(encoding="utf-8")
    guide = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")
    assert set(CHARTS) <= set(re.findall(r"^## ([\w-]+):", gallery, re.M))
    assert set(SHAPES) <= set(re.findall(r"^\| `([\w -]+)` \|", guide, re.M))


@pytest.mark.slow
def test_a_chart_is_one_entry(tmp_path):
    """A second name for a chart is in the help, and draws the same picture."""
    code = (
        "from dataclasses import replace\n"
        "from advisor.show.charts.gallery import CHARTS\n"
        "CHARTS['again'] = replace(CHARTS['fan'], about='once more')\n"
        "from advisor.cli import main\n"
        "ask = ['--date', '2026-12-05', '--hours', '2', '--band', '20 m', '--output']\n"
        "main(['chart', '--help'], standalone_mode=False)\n"
        "for name in ('again', 'fan'):\n"
        "    main(['chart', name, *ask, f'{name}.svg'], standalone_mode=False)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env={"PYTHONPATH": str(ROOT), "SKIPLOBE_CACHE_DIR": str(tmp_path / "cache")},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert re.search(r"^ *again +once more$", done.stdout, re.M)
    again, drawn = (
        (tmp_path / f"{name}.svg").read_bytes() for name in ("again", "fan")
    )
    assert again == drawn
