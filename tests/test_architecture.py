"""The picture of the architecture is what the imports are."""

from __future__ import annotations

import importlib
import importlib.util
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "architecture.md"


@pytest.fixture(scope="module")
def picture():
    path = ROOT / "docs" / "studies" / "architecture_picture.py"
    spec = importlib.util.spec_from_file_location("architecture_picture", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def graph(picture):
    return picture.edges()


def said(svg):
    """Groups, arrows and words of a picture, wherever they are drawn."""
    marks = re.findall(r'id="((?:group|imports|looks up): [^"]+)"', svg)
    words = re.findall(r"<text[^>]*>([^<]*)</text>", svg)
    return sorted(marks), sorted(words)


@pytest.mark.slow
def test_the_picture_is_what_the_imports_are(picture, tmp_path):
    """If not: ``python docs/studies/architecture_picture.py``."""
    picture.draw(tmp_path / "one.svg")
    picture.draw(tmp_path / "two.svg")
    one = (tmp_path / "one.svg").read_bytes()
    assert one == (tmp_path / "two.svg").read_bytes()
    shipped = picture.PICTURE.read_text(encoding="utf-8")
    assert said(shipped) == said(one.decode("utf-8"))


def test_groups_import_downwards_only(picture, graph):
    """No circle; geo and station at the bottom, the command line at the top."""
    at_once, later = graph
    level = picture.levels(at_once)
    assert level["geo"] == 0
    assert level["command line"] == max(level.values())
    assert all(level[own] > level[other] for own, other in at_once)
    # What is looked up the other way is the names a station file may hold.
    assert {own for own, _ in later} <= {"station"}
    with pytest.raises(ValueError, match="import in a circle"):
        picture.levels({*at_once, ("geo", "show")})


def test_only_arrows_that_follow_from_others_are_left_out(picture, graph):
    at_once, _ = graph
    drawn = picture.needed(at_once)
    reached = set(drawn)
    while True:
        more = {(a, d) for a, b in reached for c, d in drawn if b == c} - reached
        if not more:
            break
        reached |= more
    assert drawn <= at_once <= reached


def test_every_module_is_in_one_group(picture):
    named = [name for names in picture.GROUPS.values() for name in names]
    assert len(named) == len(set(named))
    there = {name.split(".")[1] for name in picture.modules() if "." in name}
    assert set(named) - {""} <= there, "a group names a module that is gone"
    assert set(picture.ABOUT) == set(picture.GROUPS)


def test_the_page_names_what_exists(picture):
    """Every dotted module or function, and every file, of the page."""
    page = PAGE.read_text(encoding="utf-8")
    known = picture.modules()
    for name in re.findall(r"`((?:geo|advisor)(?:\.\w+)+)", page):
        if name in known:
            continue
        owner, _, thing = name.rpartition(".")
        assert owner in known, name
        assert hasattr(importlib.import_module(owner), thing), name
    for file in re.findall(r"`((?:geo|advisor|tests)/[\w/]+\.py)`", page):
        assert (ROOT / file).is_file(), file
    shown = re.search(r"!\[([^\]]+)\]\(architecture\.svg\)", page)
    assert shown
    for group in picture.GROUPS:
        assert group in shown[1].lower(), group
