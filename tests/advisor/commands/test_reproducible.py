"""Same inputs, same bytes: every command and format, wherever it runs."""

import json
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest

from advisor.cli import main

ROOT = Path(__file__).resolve().parents[3]
ASKED = ["--date", "2026-12-05T22:00Z", "--hours", "2"]
SHORT = [*ASKED, "--band", "20m", "--band", "40m"]
HERE = ["--from", "KF07jo"]
WORDS = {
    "tonight": [*SHORT, *HERE, "--to", "KE", "--to", "ZW", "--local", "Asia/Tokyo"],
    "aim": [*SHORT, *HERE, "--to", "KE", "--to", "ZW"],
    "compare": [*SHORT, "--kp", "5", "--weights", "operators"],
    "reach": SHORT,
    "hang": [
        *ASKED[:2],
        "--hours",
        "1",
        "--band",
        "20m",
        "--shape",
        "dipole",
        "--shape",
        "sloper",
    ],
    "activation": [*SHORT, "--local", "Asia/Tokyo"],
    "why": ["--at", "2026-12-05T22:00Z", *HERE, "--to", "KE", "--band", "20m"],
    "sky": [*ASKED, *HERE, "--to", "KE"],
    "wire": ["--quick", "--band", "20m"],
    "check": [*HERE, "log.csv"],
    "hops": ["--at", "2026-12-05T22:00Z", *HERE],
    "chart": ["bands", *SHORT],
    "schema": ["tonight"],
    "station show": [],
    "station starter": [],
}
LEFT_OUT = {
    "gallery": "the pictures of 'chart' over again",
    "live": "serves a page until it is closed",
    "station new": "asks at the terminal",
}
LOG = """time,band,where,way,who,snr_db
2026-10-11T13:01Z,20 m,KI88,heard,a,4
2026-10-11T13:20Z,40 m,KI88,not heard,a,
2026-10-12T17:05Z,20 m,KG44,contact,b,
2026-10-12T17:40Z,20 m,KG44,heard me,b,-9
"""
"""A short one: that of the demonstration takes as long as all the rest."""
FORMATS = ("--json", "--csv", "--ecsv", "--geojson")
WITH_PAGES = ("activation", "wire")
WIRES = ("compare", "wire")
"""Commands to be asked once more where nothing was solved before."""
PAGES = {"--sheet": "page.html", "--calendar": "slots.ics", "--chart": "gain.svg"}

EVERYTHING = """
import json, sys
from types import SimpleNamespace
from advisor.cli import main
from tests.once import put_in_for_good
# In each format the same answer, worked out once in a process.
put_in_for_good(SimpleNamespace(setattr=setattr))
for words in json.loads(sys.argv[1]):
    main(words, standalone_mode=False)
"""


def leaves(group=main, path=()):
    """Every command with its words."""
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            yield from leaves(command, (*path, name))
        else:
            yield " ".join((*path, name)), command


def every_call(*, plain=False):
    """Words of every command, in every format, each to a file; or as text only."""
    calls = []
    for name, command in leaves():
        if name in LEFT_OUT:
            continue
        given = {option for each in command.params for option in each.opts}
        formats = [[]]
        if not plain:
            formats += [[each] for each in FORMATS if each in given]
        if not plain and "--provenance" in given:
            formats.append(["--provenance"])
        stem = name.replace(" ", "-")
        for extra in formats:
            ending = ".svg" if name == "chart" else ".txt"
            file = f"{stem}{''.join(extra)}{ending}"
            calls.append([*name.split(), *WORDS[name], *extra, "--output", file])
        # Pages besides the answer, for one set-up where there may be only one. That of
        # a plan holds all that one of 'tonight' does; others are made by the same code.
        if plain or name not in WITH_PAGES:
            continue
        pages = {o: f"{stem}-{file}" for o, file in PAGES.items() if o in given}
        if pages:
            picked = ["--set-up", "linked dipole"] if "--chart" in pages else []
            page_words = [word for pair in pages.items() for word in pair]
            to = ["--output", f"{stem}-with-pages.txt"]
            calls.append([*name.split(), *WORDS[name], *picked, *page_words, *to])
    return calls


def left_in(directory, cache, calls, **environment):
    """Run everything there in one process: each file left, and what it said."""
    directory.mkdir()
    (directory / "log.csv").write_text(LOG, encoding="utf-8")
    environ = dict(os.environ)
    for name in ("COLUMNS", "LC_ALL", "LANG", "TZ", "PYTHONHASHSEED"):
        environ.pop(name, None)
    environ |= {
        "SKIPLOBE_CACHE_DIR": str(cache),
        "XDG_CONFIG_HOME": str(directory / "config"),
        "MPLCONFIGDIR": str(directory / "config"),
        "PYTHONPATH": str(ROOT),
        **environment,
    }
    process = subprocess.run(
        [sys.executable, "-c", EVERYTHING, json.dumps(calls)],
        cwd=directory,
        env=environ,
        capture_output=True,
    )
    assert process.returncode == 0, process.stderr[-2000:]
    files = {path.name: path.read_bytes() for path in directory.glob("*.*")}
    return files | {"standard output": process.stdout}


def test_every_command_is_here():
    """A new command must be added above."""
    assert {name for name, _ in leaves()} == {*WORDS, *LEFT_OUT}


@pytest.mark.long
def test_same_inputs_same_bytes(tmp_path):
    """
    Other directories, hash seeds, time zones, languages; wires solved and read back.

    The second finds on the disk what the first solved; the third, of another seed too,
    solves anew.
    """
    here, there, again = (tmp_path / name for name in ("here", "else where", "again"))
    calls = every_call()
    first = left_in(here, tmp_path / "one", calls, PYTHONHASHSEED="1", TZ="UTC")
    assert any((tmp_path / "one").rglob("*.np?"))
    second = left_in(
        there,
        tmp_path / "one",
        calls,
        PYTHONHASHSEED="4711",
        TZ="Pacific/Kiritimati",
        LANG="tr_TR.UTF-8",
        LC_ALL="tr_TR.UTF-8",
    )
    assert len(first) == len(calls) + 4 + 2  # pages besides, the log and the screen
    assert all(first.values()), [name for name, data in first.items() if not data]
    assert set(second) == set(first)
    assert [name for name, data in second.items() if data != first[name]] == []
    plain = [words for words in every_call(plain=True) if words[0] in WIRES]
    cold = {"PYTHONHASHSEED": "29", "LC_ALL": "C"}
    third = left_in(again, tmp_path / "two", plain, **cold)
    del third["standard output"]
    del third["log.csv"]
    assert len(third) == len(plain) == len(WIRES)
    assert [name for name, data in third.items() if data != first[name]] == []
