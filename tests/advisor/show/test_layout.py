"""Columns, blocks and days of plain text, and how wide the screen is taken to be."""

import os
import pty
import subprocess
import sys
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from advisor.cli import main
from advisor.commands.screen import line_width
from advisor.show.text.cells import Column, hours_of
from advisor.show.text.layout import (
    LEAST_WIDTH,
    WIDTH,
    day_lines,
    lines_of,
    paragraph,
    table,
)

TONIGHT = ["tonight", "--date", "2026-12-05T14:00Z", "--r12", "60", "--more"]
KENYA = ["--from", "KF07jo", "--to", "KE"]


def run(*words):
    """Standard output of a command that must work."""
    result = CliRunner().invoke(main, list(words))
    assert result.exit_code == 0, result.output
    return result.stdout


words = st.text(st.characters(codec="ascii", categories=["L", "N"]), max_size=12)


@given(
    st.integers(1, 9).flatmap(
        lambda n: st.tuples(
            st.lists(words, min_size=n, max_size=n),
            st.lists(st.lists(words, min_size=n, max_size=n), max_size=4),
        )
    ),
    st.integers(1, 3),
    st.integers(LEAST_WIDTH, 120),
)
def test_blocks_hold_every_cell_in_order_and_fit(parts, keys, width):
    """Nothing is lost by splitting; only one column beside the keys may be too wide."""
    head, rows = parts
    with lines_of(width):
        text = table(head, rows, keys=keys)
    blocks = text.split("\n\n") if any("".join(r) for r in [head, *rows]) else [text]
    widest = max((len(line) for line in text.splitlines()), default=0)
    cells = [max([len(h), *(len(r[i]) for r in rows)]) for i, h in enumerate(head)]
    first = sum(cells[:keys]) + 2 * (len(cells[:keys]) - 1)
    alone = max((first + 2 + cell for cell in cells[keys:]), default=first)
    assert widest <= max(width, alone)
    if all(all(line) for line in [head, *rows]):
        for n, line in enumerate([head, *rows]):
            found = []
            for k, block in enumerate(blocks):
                parted = block.splitlines()[n].split()
                found += parted if k == 0 else parted[keys:]
            assert found == line


def test_a_table_that_fits_is_one_block():
    with lines_of(LEAST_WIDTH):
        assert "\n\n" not in table(["a", "b"], [["1", "2"]])


def test_a_date_stands_where_the_day_changes_in_every_block():
    times = np.datetime64("2026-12-05T22") + np.arange(50).astype("m8[h]")
    above = day_lines(times)
    assert [line for line in above if line] == [
        "Sun 2026-12-06",
        "Mon 2026-12-07",
    ]
    assert above[2] == "Sun 2026-12-06"
    rows = [[str(time)[-2:], *["x" * 20] * 3] for time in times]
    with lines_of(50):
        text = table(["UTC", "a", "b", "c"], rows, above=above)
    assert text.count("\n\n") == 1
    assert text.count("2026-12-06\n 00") == 2


def test_no_hours_no_days():
    assert day_lines([]) == []


@pytest.mark.parametrize(("asked", "held"), [(1, LEAST_WIDTH), (60, 60), (500, WIDTH)])
def test_prose_is_never_wider_than_can_be_read(asked, held):
    with lines_of(asked):
        lines = paragraph("word " * 200).splitlines()
    assert held - 5 <= max(map(len, lines)) <= held
    assert max(map(len, paragraph("word " * 200).splitlines())) <= WIDTH


@pytest.mark.slow
def test_three_days_say_which_day():
    """An hour that comes three times is told with its day; the table has the dates."""
    text = run(*TONIGHT, "--hours", "72", *KENYA)
    assert text.count("\nSun 2026-12-06\n") == 1
    assert text.count("\nMon 2026-12-07\n") == 1
    assert text.count("\nTue 2026-12-08\n") == 1
    best = " ".join(text[text.index("Best:") :].split("\n\n")[0].split())
    for day in ("5 Dec 14-", "6 Dec ", "7 Dec ", "8 Dec "):
        assert day in best


@pytest.mark.slow
def test_a_day_or_less_needs_no_day():
    text = run(*TONIGHT, "--hours", "24", *KENYA)
    assert " Dec " not in text.partition("Best:")[2]
    assert text.count("\nSun 2026-12-06\n") == 1


HOURS = [*TONIGHT[1:-1], "--hours", "2"]


@pytest.mark.slow
@pytest.mark.parametrize(
    "words",
    [
        ["tonight", *HOURS],
        ["aim", *HOURS, "--more"],
        ["compare", *HOURS, "--more"],
        ["reach", *HOURS, "--more"],
        ["hang", *HOURS, "--shape", "dipole", "--band", "20m", "--more"],
        ["activation", *HOURS, "--set-up", "20 m vertical", "--more"],
        ["why", "--at", "2026-12-05T14:00Z", "--more"],
        ["sky", *HOURS, "--distance"],
        ["sky", *HOURS, *KENYA],
        ["wire", "--quick", "--band", "20m", "--set-up", "linked dipole", "--more"],
        ["hops", "--more"],
        ["station", "show"],
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_columns_are_followed(words, monkeypatch):
    """Lines are no longer than COLUMNS says; words and figures stay."""
    wide = run(*words)
    monkeypatch.setenv("COLUMNS", "72")
    narrow = run(*words)
    assert [line for line in narrow.splitlines() if len(line) > 72] == []
    assert set(wide.split()) - set(narrow.split()) == set()


@pytest.mark.parametrize(
    "named", ["", "0", "-5", "wide", "99999999999999999999", "７０"]
)
def test_columns_that_are_none_are_passed_over(named):
    # Back before the end of the test: what reports it asks for the columns too.
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", named)
        assert line_width(None) is None


def test_a_file_does_not_depend_on_the_screen(monkeypatch, tmp_path):
    """A terminal of 50 columns for standard output is no matter to a file."""
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(os, "get_terminal_size", lambda *_: os.terminal_size((50, 9)))
    monkeypatch.setattr(sys.stdout, "fileno", lambda: 1, raising=False)
    assert line_width(None) == 50
    assert line_width(tmp_path / "answer.txt") is None


@pytest.mark.slow
def test_a_terminal_is_filled_and_a_pipe_is_not(tmp_path):
    """A real terminal of 50 columns against a pipe."""
    import fcntl
    import struct
    import termios

    command = [sys.executable, "-m", "advisor", "hops"]
    environ = {k: v for k, v in os.environ.items() if k != "COLUMNS"}
    environ["XDG_CONFIG_HOME"] = str(tmp_path)
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 50, 0, 0))
    with subprocess.Popen(command, stdout=theirs, env=environ) as running:
        os.close(theirs)
        seen = b""
        try:
            while part := os.read(ours, 65536):
                seen += part
        except OSError:
            pass  # the other end is closed
        finally:
            os.close(ours)
    assert running.returncode == 0
    lines = seen.decode().splitlines()
    assert 40 < max(map(len, lines)) <= 50
    piped = subprocess.run(command, capture_output=True, env=environ, check=True)
    assert piped.stdout.decode() == run("hops")


def test_hours_of_a_question_have_the_local_day_beside_them():
    """The weekday where a day begins by the local clock, the date where one does."""
    times = np.datetime64("2026-12-05T21") + np.arange(4).astype("m8[h]")
    for zone in ("Africa/Johannesburg", None):
        asked = SimpleNamespace(times=times, station=SimpleNamespace(time_zone=zone))
        shown = hours_of(asked, [Column("n", str)])
        assert ("Sun 00:00" in shown) == bool(zone)
        assert ("Johannesburg" in shown) == bool(zone)
        assert "\nSun 2026-12-06\n" in shown
