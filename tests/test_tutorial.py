"""The tutorial, run as a reader would: every block in order, in one directory."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "tutorial.md"


def load(path):
    """A file as a module."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_command_of_the_brief_way_is_in_the_tutorial():
    """Install, demonstration, starter, station, tonight, why, aim, hang, plan."""
    page = PAGE.read_text(encoding="utf-8")
    lines = [line for block in re.findall(r"^```sh\n(.*?)^```", page, re.M | re.S)
             for line in block.splitlines()]  # fmt: skip
    asked = [" ".join(line.split()[1:3]) for line in lines]
    wanted = ["station starter", "station show", "why", "aim", "hang", "activation",
              "reach"]  # fmt: skip
    for words in ["tonight", *wanted]:
        assert any(each.startswith(words) for each in asked), words
    assert "--sheet plan.html" in page
    # What an operator was seen to want besides.
    for words in ('"within 400 km"', "--hours 72", "--flux 190 --kp 6 --fof2-now", "jq",
                  '"6 m"', '"160 m"', "--json", "saturday", "TAB key"):  # fmt: skip
        assert words in page, words
    for word in ("Power lines kill", "thunder", "never less than 3 m", "estimate"):
        assert word in page, word


@pytest.mark.long
@pytest.mark.usefixtures("answers_once", "coarse_world")
def test_the_tutorial_does_what_it_says(tmp_path, monkeypatch):
    """If it changed on purpose: ``python docs/studies/tutorial_samples.py``."""
    # Empty, but there: astropy warns of one that is not.
    (tmp_path / "none").mkdir()
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "none"))
    monkeypatch.chdir(tmp_path)
    tutorial = load(ROOT / "docs" / "studies" / "tutorial_samples.py")
    matches = load(ROOT / "tests" / "test_readme.py").matches
    compared = 0
    for kind, shown, printed in tutorial.run(PAGE.read_text(encoding="utf-8")):
        if kind != "output":
            continue
        compared += 1
        fits = matches(printed.splitlines(), shown.splitlines())
        assert fits, f"printed now:\n{printed}"
    assert compared >= 8
    plan = (tmp_path / "plan.html").read_text(encoding="utf-8")
    for words in ("South America", "inverted V on the pole", "power lines"):
        assert words in plan, words
