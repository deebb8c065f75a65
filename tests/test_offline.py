"""Nothing reaches for the network: every command, with every socket shut."""

import json
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest

from advisor.cli import main

ROOT = Path(__file__).resolve().parents[1]

SHUT = """
import json, socket, sys

def shut(*args, **kwargs):
    raise AssertionError("something reached for the network")

class Shut(socket.socket):
    __init__ = shut

socket.socket = Shut
for name in ("create_connection", "create_server", "getaddrinfo", "gethostbyname",
             "gethostbyname_ex", "gethostbyaddr", "getfqdn", "socketpair", "fromfd"):
    setattr(socket, name, shut)

from types import SimpleNamespace
from advisor.cli import main
from tests.once import put_in_for_good

put_in_for_good(SimpleNamespace(setattr=setattr))
for words in json.loads(sys.argv[1]):
    try:
        main(words, prog_name="skiplobe")
    except SystemExit as end:
        if end.code:
            sys.exit(f"{words} ended with {end.code}")
"""

WHEN = ["--date", "2026-12-05T14:00Z", "--hours", "1"]
WIRE = ["--shape", "ground-mounted vertical", "--band", "20 m"]
HERE = ["--from", "KF07jo", *WHEN, *WIRE]
THERE = [*HERE, "--to", "KE"]

LINES = {
    "tonight": [["tonight", *WHEN], ["tonight", *THERE, "--sheet", "tonight.html"]],
    "aim": [["aim", *THERE, "--sheet", "aim.html"]],
    "reach": [["reach", *HERE, "--sheet", "reach.html"]],
    "compare": [["compare", *THERE, "--sheet", "compare.html"]],
    "hang": [
        ["hang", "--from", "KF07jo", "--to", "KE", *WHEN, "--pole-m", "6", "--pole-m",
         "6", "--shape", "dipole", "--band", "20 m", "--sheet", "hang.html"]
    ],
    "activation": [
        ["activation", *THERE, "--sheet", "plan.html", "--calendar", "plan.ics"]
    ],
    "wire": [
        ["wire", "--shape", "dipole", "--band", "20 m", "--quick", "--sheet",
         "wire.html", "--chart", "gain.svg", "--swr-chart", "swr.png", "--sketch",
         "sketch.svg"]
    ],
    "why": [
        ["why", "--from", "KF07jo", "--to", "KE", *WIRE, "--at", "2026-12-05T14:00Z",
         "--sheet", "why.html", "--chart", "sum.svg"]
    ],
    # A server wants a socket; tests/browser/test_live.py sees that it asks nobody.
    "live": [["live", "--help"]],
    # tests/advisor/show/test_gallery.py draws every chart there is, as shut as this.
    "gallery": [["gallery", "--help"]],
    "chart": [["chart", "bands", *THERE, "--output", "chart.svg"]],
    "check": [["check", "--overwrite", "--chart", "came.svg", "--sheet", "check.html"]],
    "hops": [["hops"]],
    "sky": [["sky", "--from", "KF07jo", "--to", "KE", *WHEN, "--sheet", "sky.html"]],
    "station starter": [["station", "starter"]],
    # It asks; tests/advisor/commands/test_cli.py answers.
    "station new": [["station", "new", "--help"]],
    "station show": [["station", "show"]],
    "schema": [["schema", "tonight"]],
}  # fmt: skip
"""Something to run for every command; formats are added below."""


def commands(group, path=""):
    """Every command of a group by its words."""
    for name in group.list_commands(None):
        command = group.get_command(None, name)
        if isinstance(command, click.Group):
            yield from commands(command, f"{path}{name} ")
        else:
            yield f"{path}{name}", command


COMMANDS = dict(commands(main))


def test_no_command_is_forgotten():
    """A new command wants a line of its own above."""
    assert set(LINES) == set(COMMANDS)
    for name, command in COMMANDS.items():
        if any("--sheet" in each.opts for each in command.params):
            assert any("--sheet" in words for words in LINES[name]), name


def run(lines, directory, monkeypatch):
    """Run some lines with every socket shut."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(directory / "config"))
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", SHUT, json.dumps(lines)],
        cwd=directory,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
    )


def formats(name):
    """A plain line of a command in each of its formats."""
    words = LINES[name][-1]
    plain = words[: words.index("--sheet")] if "--sheet" in words else words
    flags = [
        each.opts[0]
        for each in COMMANDS[name].params
        if (each.name or "").startswith("as_")
    ]
    return [[*plain, flag] for flag in flags]


@pytest.mark.long
def test_every_command_works_without_a_network(tmp_path, monkeypatch):
    """With its pages, pictures and formats, all in one process."""
    lines = [words for name in COMMANDS for words in LINES[name] + formats(name)]
    result = run(lines, tmp_path, monkeypatch)
    assert result.returncode == 0, result.stderr
    assert "Traceback" not in result.stderr
    for words in lines:
        for file in (w for w in words if w.endswith((".html", ".svg", ".png", ".ics"))):
            assert (tmp_path / file).stat().st_size > 500, file


def test_the_shut_sockets_are_shut():
    """The test above could fail."""
    result = subprocess.run(
        [
            sys.executable,
            "-c",
            SHUT.partition("from advisor")[0]
            + "import urllib.request\n"
            + "urllib.request.urlopen('http://localhost:9/', timeout=1)",
        ],
        capture_output=True,
        text=True,
    )
    assert result.returncode == 1
    assert "something reached for the network" in result.stderr
