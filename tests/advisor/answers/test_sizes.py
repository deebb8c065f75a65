"""What would take gigabytes is refused in one line before anything is worked out."""

import time

import numpy as np
import pytest
from click.testing import CliRunner

from advisor.answers.ask import MOST_CELLS, question_for
from advisor.cli import main
from advisor.station.file import resolve_station
from geo.errors import InputError

START = np.datetime64("2026-12-05")


def asked(targets, hours=72, setups=1, **values):
    wires = [{"name": f"wire {i}", "shape": "dipole"} for i in range(setups)]
    station, _ = resolve_station(None, {"place": "KF07jo", "setups": wires, **values})
    return question_for(station, targets, START, hours, r12=58.0)


@pytest.mark.parametrize(
    ("targets", "setups", "said"),
    [
        (40_000 * ["KE"], 1, "40000 targets are too many: ask for 40 at a time"),
        (["KE"], 41, "41 set-ups are too many: ask for 40 at a time"),
    ],
)
def test_so_many_are_refused_at_once(targets, setups, said):
    start = time.process_time()
    with pytest.raises(InputError) as error:
        asked(targets, setups=setups)
    assert str(error.value) == said
    assert time.process_time() - start < 1.0


def test_the_product_is_what_counts():
    rings = [f"within {100 * n} km" for n in range(10, 40)]
    points = sum(one.lat_deg.size for one in asked(rings, hours=1).targets)
    question = asked(rings[:2])
    bands = len(question.bands)
    assert 72 * bands * sum(t.lat_deg.size for t in question.targets) <= MOST_CELLS
    with pytest.raises(InputError) as error:
        asked(rings)
    assert str(error.value) == (
        f"{points} points of the targets, 72 hours and {bands} bands are "
        f"{points * 72 * bands} figures, {MOST_CELLS} at most: ask for fewer hours, "
        "bands or targets at a time"
    )


def test_the_command_says_it_too():
    words = ["tonight", "--from", "KF07jo", "--hours", "72"]
    for n in range(10, 40):
        words += ["--to", f"within {100 * n} km"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert "ask for fewer hours, bands or targets" in result.stderr
    assert result.stdout == ""
