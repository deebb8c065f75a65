"""What the tests of all that is shown share."""

import os
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.answers.pictures.scene import Scene
from advisor.show.charts.files import svg_text
from advisor.station.file import demo_station, resolve_station


@pytest.fixture(scope="session")
def demo():
    """The shipped demonstration, 24 hours."""
    station, _ = resolve_station(demo_station(), {})
    start = np.datetime64("2026-12-05T00")
    # The same in every process, which find what one of them worked out.
    cache = Path(os.environ["SKIPLOBE_CACHE_DIR"])
    return Scene(answer(question_for(station, station.to, start, r12=60.0), cache))


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path_factory):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))


@pytest.fixture(scope="session")
def written():
    """Every text of a chart, in the order of its SVG."""

    def texts(figure):
        root = ElementTree.fromstring(svg_text(figure, "x"))
        each = root.iter("{http://www.w3.org/2000/svg}text")
        return ["".join(one.itertext()).strip() for one in each]

    return texts
