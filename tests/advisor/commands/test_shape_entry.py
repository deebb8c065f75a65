"""One entry says everything about a shape: a copy of it is worked out as it is."""

import re

import pytest
from click.testing import CliRunner

from advisor.answers.hanging.starts import (
    changes,
    clearances,
    defaults,
    knobs,
    own_lengths,
    shapes_to_try,
)
from advisor.answers.hanging.supports import reasons_by_band
from advisor.answers.low_wires import low_parts
from advisor.antenna.shapes.registry import SHAPES, hang
from advisor.antenna.shapes.search import AtHand
from advisor.cli import main
from advisor.station.bands import bands_for_region

BANDS = bands_for_region(1)
COPIES = {"dipole": "zigzag", "inverted L": "inverted Q"}
"""Names as long as those they stand for, so that columns stay as wide."""

WHERE = ["--from", "KF07jo", "--to", "KE", "--band", "20 m"]
WHEN = ["--date", "2026-12-05T14:00Z", "--hours", "2"]
POLES = ["--pole-m", "9", "--pole-m", "7", "--apart-m", "22", "--wire-m", "35"]
QUICK = [
    ["tonight", *WHERE, *WHEN],
    ["reach", "--from", "KF07jo", "--band", "20 m", *WHEN],
]
SLOW = [
    ["wire", "--band", "20 m", "--quick"],
    ["aim", *WHERE, *WHEN],
    ["compare", *WHERE, *WHEN],
    ["why", *WHERE, "--at", "2026-12-05T14:00Z"],
    ["activation", *WHERE, *WHEN],
    # On 40 m the upright part of an L goes up to its corner.
    ["hang", *WHERE[:-1], "40 m", *WHEN, *POLES],
]
COMMANDS = [*QUICK, *(pytest.param(words, marks=pytest.mark.slow) for words in SLOW)]


@pytest.fixture(autouse=True)
def own_places(monkeypatch, tmp_path):
    """Register the copies; keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    for name, copy in COPIES.items():
        monkeypatch.setitem(SHAPES, copy, SHAPES[name])


def answered(*words):
    """Run a command that must answer."""
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.mark.slow
@pytest.mark.parametrize("name", COPIES)
@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: words[0])
def test_a_copy_has_the_figures_of_the_original(words, name):
    copy = COPIES[name]
    told = answered(*words, "--shape", copy)
    assert copy in told
    assert told.replace(copy, name) == answered(*words, "--shape", name)


@pytest.mark.parametrize("name", COPIES)
def test_a_copy_is_searched_as_the_original_is(name):
    """What hangs where, which ranges and starts, what does not fit and why."""
    copy, at_hand = COPIES[name], AtHand((9.0, 7.0), 8.0, 30.0)
    assert shapes_to_try([copy]) == (copy,)
    assert copy in shapes_to_try()
    for ask in (clearances, lambda shape: defaults(shape, BANDS)):
        assert ask(copy) == ask(name)
    for ask in (own_lengths, changes, knobs):
        assert ask(copy, at_hand) == ask(name, at_hand)
    assert changes(name, at_hand)
    for sizes in [{}, {"height_m": 2.6}]:
        told = reasons_by_band(copy, sizes, BANDS, at_hand, False, 2.5)
        assert str(told).replace(copy, name) == str(
            reasons_by_band(name, sizes, BANDS, at_hand, False, 2.5)
        )
        assert any(told.values())
    for mhz in (7.1, 21.2):
        assert low_parts(hang(copy, mhz), mhz) == low_parts(hang(name, mhz), mhz)


@pytest.mark.parametrize("name", COPIES)
def test_a_copy_is_another_word_for_what_people_say(name):
    """Its synonyms lead to it as well, from the same entry."""
    for word in SHAPES[name].synonyms:
        result = CliRunner().invoke(main, ["wire", "--shape", word])
        assert result.exit_code == 2
        assert re.search(rf"did you mean .*'{name}'.*'{COPIES[name]}'", result.stderr)


@pytest.mark.parametrize("name", COPIES)
def test_a_copy_in_a_station_file_is_shown_with_the_same_defaults(name, tmp_path):
    file = tmp_path / "station.toml"

    def shown(shape):
        wire = f'[[setups]]\nshape = "{shape}"\nbands = ["40 m", "20 m"]\n'
        file.write_text(f'place = "KF07jo"\n{wire}')
        return answered("station", "show", "--station", str(file))

    told = shown(COPIES[name])
    assert COPIES[name] in told
    assert told.replace(COPIES[name], name) == shown(name)
    assert re.search(r"setups\[0\]\.cut +each band", told)
