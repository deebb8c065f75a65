"""Random command lines: an answer or one line, no trace, no file left half done."""

import json
import re
import shutil

import click
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from advisor.cli import main
from tests.fuzz import makers

pytestmark = [pytest.mark.fuzz, pytest.mark.slow]

WEIGHT = {"tonight": 14, "sky": 8, "aim": 8, "compare": 8, "reach": 8, "why": 4}
WEIGHT |= {"station": 10, "hops": 8, "wire": 6, "activation": 2, "chart": 2, "hang": 1}
"""How often each command comes up; one not named here comes up once."""

WORKS_LONG = ("--sheet", "--chart", "--swr-chart", "--sketch")
WORKS_LONG += ("--site-chart", "--calendar")
"""Options taken one time in so many only."""

ONLINE = "--fetch"
"""The one option that asks the network; never drawn."""

TALK = re.compile(r"written: |skiplobe wire: .* \.\.\.$|Where are you .*: $")
"""Lines of stderr that are no error."""

NAMES = ("new.txt", "new.json", "new.html", "new.svg", "new.png", "new.ics", "old.txt")
NAMES += ("old.html", "none/x.txt", "none/x.html", "none/x.svg", ".", "old.txt/x")
NAMES += ("n" * 300 + ".html", "sp ace.html", "-", "ü山\udcff.html", "a\nb.html")
"""Files to write: new, there already, in no directory, a directory, below a file."""


def commands(group, path=()):
    """Every command with the words that call it."""
    for name in group.list_commands(None):
        command = group.get_command(None, name)
        if isinstance(command, click.Group):
            yield from commands(command, (*path, name))
        else:
            yield (*path, name), command


COMMANDS = dict(commands(main))

GOOD = {
    "place": makers.PLACES,
    "targets": makers.targets("KF07jo"),
    "target": makers.targets("KF07jo"),
    "power_w": st.floats(0.001, 10_000),
    "far_power_w": st.floats(0.001, 10_000),
    "emission": makers.EMISSIONS,
    "noise": makers.NOISES,
    "far_noise": makers.NOISES,
    "noise_trim_db": st.floats(-20, 20),
    "ground": makers.GROUNDS,
    "horizon_deg": st.floats(0, 60),
    "far_kind": st.sampled_from(["modest", "usual", "big"]),
    "far_antenna": st.sampled_from(["dipole", "isotropic", "vertical"]),
    "iaru_region": st.sampled_from([1, 2, 3]),
    "length_m": st.floats(5, 30),
    "height_m": st.sampled_from([2, 8, 20]),
    "bearing_deg": st.one_of(st.just("any"), st.floats(0, 360)),
    "dims": st.sampled_from(
        [
            "sag_m=0.5",
            "feed_share=0.4",
            "line=RG-213",
            "line_m=25",
            "tuner=false",
            "radials_n=3",
            "wire_mm=1",
            "cut=one length",
            "bearing_deg=any",
        ]
    ),
    "bands": st.sampled_from([*makers.BANDS, "14", "7.1", "10.1 MHz"]),
    "spots": st.sampled_from(["edge 180deg 40m", "0deg 9m", "far 10deg 2000m"]),
    "start": makers.MOMENTS,
    "moment": makers.MOMENTS,
    "hours": st.sampled_from([1, 1, 2, 3]),
    "r12": st.floats(0, 250),
    "flux": st.floats(60, 300),
    "soundings": st.builds(
        lambda mhz, place: f"{mhz:.1f}@{place}", st.floats(2, 12), makers.PLACES
    ),
    "kp": st.floats(0, 9),
    "flare": makers.FLARES,
    "proton_flux": st.floats(0, 1e5),
    "zone": st.sampled_from(["Africa/Nairobi", "UTC", "Asia/Kathmandu"]),
    "distances": st.floats(1, 4000),
    "takeoffs": st.floats(0, 90),
    "priorities": st.floats(0.1, 10),
    "change_min": st.floats(0, 240),
    "swap_min": st.floats(0, 240),
    "enough_h": st.floats(0.1, 24),
    "poles": st.floats(1, 20),
    "apart_m": st.floats(1, 60),
    "wire_m": st.floats(5, 90),
    "sectors": st.sampled_from(["300-60", "0-360", "10-10", "90-270"]),
    "shape": st.sampled_from(["dipole", "ground-mounted vertical"]),
    "shapes": st.sampled_from(["dipole", "ground-mounted vertical"]),
}


@st.composite
def option(draw, parameter, spoil):
    """One option as words; the wrong kind of value if it is to be spoilt."""
    flag = draw(st.sampled_from(parameter.opts))
    if parameter.is_flag:
        return [flag]
    if isinstance(parameter.type, click.Path):
        if parameter.name == "station_file":
            return [flag, draw(st.sampled_from(["hill.toml", "none.toml", "."]))]
        return [flag, draw(st.sampled_from(NAMES))]
    good = GOOD.get(parameter.name)
    if good is None and isinstance(parameter.type, click.Choice):
        good = st.sampled_from(parameter.type.choices)
    if spoil or good is None:
        good = st.one_of(makers.NUMBERS.map(str), makers.SCRAPS)
    return [flag, str(draw(good))]


@st.composite
def lines(draw):
    """The words of a command."""
    names = [p for p in COMMANDS for _ in range(WEIGHT.get(p[0], 1))]
    path = draw(st.sampled_from(names))
    if path == ("gallery",) and draw(st.integers(0, 7)):
        # It draws every chart there is.
        path = ("tonight",)
    command = COMMANDS[path]
    known = {each.name: each for each in command.params}
    words = list(path)
    spoil = draw(st.integers(0, 3)) == 0
    must = {"place": "KF07jo", "targets": "KE", "start": "2026-12-05", "hours": 1}
    must |= {"shape": "ground-mounted vertical", "bands": "20 m", "r12": 60}
    must |= {"moment": "2026-12-05T14:00Z", "poles": 6, "shapes": "dipole"}
    must |= {"output": "new.svg"} if path == ("chart",) else {}
    for name, value in must.items():
        # Left out at times; kept for the most part, so that most lines are answered.
        parameter = known.pop(name, None)
        if parameter is None:
            continue
        kind = draw(st.integers(0, 9))
        if kind == 0 and name not in ("hours", "bands", "shape", "shapes", "start"):
            continue
        if kind < 7 and name in GOOD:
            words += draw(option(parameter, spoil and kind == 1))
        else:
            words += [parameter.opts[-1], str(value)]
    rest = [
        each
        for each in known.values()
        if isinstance(each, click.Option)
        and each.opts[0] != ONLINE
        and (each.opts[0] not in WORKS_LONG or draw(st.integers(0, 24)) == 0)
    ]
    for parameter in draw(st.lists(st.sampled_from(rest), max_size=5)) if rest else []:
        words += draw(option(parameter, spoil and draw(st.booleans())))
    for parameter in command.params:
        if isinstance(parameter, click.Argument):
            known_words = getattr(parameter.type, "choices", ("tonight", "sky"))
            words.append(draw(st.sampled_from([*known_words, "x"])))
    if draw(st.integers(0, 30)) == 0:
        words.insert(draw(st.integers(1, len(words))), draw(makers.SCRAPS))
    return words


STATION = 'place = "KF07jo"\nto = ["KE"]\n[[setups]]\nname = "up"\n'
STATION += 'shape = "ground-mounted vertical"\nbands = ["20 m", "40 m"]\n'


@pytest.fixture
def directory(tmp_path, monkeypatch):
    """A place to work in, with no station file of one's own."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    return work


def seen(directory):
    """What is in a directory."""
    return {
        str(path.relative_to(directory)): path.read_bytes()
        for path in directory.rglob("*")
        if path.is_file()
    }


def put_back(directory, before):
    """Make a directory as it was."""
    for path in directory.iterdir():
        if path.is_dir():
            shutil.rmtree(path)
        elif path.name not in before:
            path.unlink()
    for name, content in before.items():
        (directory / name).write_bytes(content)


def assert_well_behaved(words, result, before, after):
    """Exit code 0, or 1 or 2 with one line; files whole or as they were."""
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise AssertionError(words) from result.exception
    assert result.exit_code in (0, 1, 2), words
    lines = [x for x in result.stderr.splitlines() if not TALK.match(x)]
    assert not [name for name in after if "partial" in name], words
    if result.exit_code:
        assert len(lines) == 1, (words, result.stderr)
        assert lines[0].strip()
        assert len(lines[0]) < 2000, (words, result.stderr)
        assert result.exit_code == 1 or result.stdout == "", words
        if result.exit_code == 2:
            assert after == before, words
        return
    assert lines == [], (words, result.stderr)
    for name, content in before.items():
        assert after[name] == content or "--overwrite" in words, words
    result.stdout_bytes.decode()
    if "--json" in words and result.stdout:
        json.loads(result.stdout, parse_constant=lambda word: pytest.fail(word))
    elif not {"--csv", "--help"} & set(words):
        figures = result.stdout.replace("(", " ").replace(",", " ").split()
        assert not {"nan", "inf", "-inf", "NaT"} & set(figures), (words, result.stdout)


@pytest.mark.long
def test_command_lines(portion, tally, directory):
    """Any command, any options, good and bad values."""
    (directory / "hill.toml").write_text(STATION)
    (directory / "old.txt").write_text("kept")
    (directory / "old.html").write_text("kept")
    before = seen(directory)
    runner = CliRunner()

    @portion(0.2)
    @given(lines(), st.integers(0, 9))
    def run(words, twice):
        result = runner.invoke(main, words)
        after = seen(directory)
        put_back(directory, before)
        assert_well_behaved(words, result, before, after)
        tally["command lines", "refused" if result.exit_code else "answered"] += 1
        if twice == 0:
            again = runner.invoke(main, words)
            assert again.stdout_bytes == result.stdout_bytes, words
            assert seen(directory) == after, words
            put_back(directory, before)

    run()
