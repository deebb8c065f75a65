"""Where an answer goes: nothing is replaced that is no file, nothing is lost."""

import errno
import os
import stat
import threading

import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.commands import emit
from advisor.show.formats.exports import rows_csv


def run(*words):
    return CliRunner().invoke(main, list(words))


def test_an_answer_can_go_into_a_pipe(tmp_path):
    """Without --overwrite, and the pipe is still one afterwards."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    got = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_text()))
    reader.start()
    result = run("hops", "--csv", "--output", str(pipe))
    reader.join(10)
    assert result.exit_code == 0, result.stderr
    assert got == [run("hops", "--csv").stdout]
    assert stat.S_ISFIFO(pipe.stat().st_mode)


@pytest.mark.slow
def test_an_answer_that_cannot_be_saved_goes_to_the_screen(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(emit, "write_whole", full)
    result = run("hops", "--csv", "--output", str(tmp_path / "x.csv"))
    assert result.exit_code == 1
    assert result.stdout == run("hops", "--csv").stdout
    (line,) = result.stderr.splitlines()
    assert line.endswith("No space left on device; the answer went to the screen")


def test_a_folder_that_cannot_be_written_is_found_before_the_work(
    tmp_path, monkeypatch
):
    """Not after the half minute that a search takes."""
    monkeypatch.setattr(
        "advisor.answers.hanging.search.HangSearch",
        lambda *_, **__: pytest.fail("searched"),
    )
    monkeypatch.setattr(os, "access", lambda *_: False)
    result = run("hang", "--output", str(tmp_path / "x.txt"))
    assert result.exit_code == 1
    assert "nothing may be written in the directory" in result.stderr


@pytest.mark.slow
def test_checksums_are_looked_up_only_to_be_shown(monkeypatch):
    looked = []
    monkeypatch.setattr("geo.tables.checksums", lambda: looked.append(1) or {})
    for words in (["hops"], ["hops", "--csv"]):
        assert run(*words).exit_code == 0
    assert not looked
    assert run("hops", "--json").exit_code == 0
    assert looked


@pytest.mark.parametrize("text", ["=1+1", "+x", "-x", "@x", "\tx"])
def test_a_spreadsheet_runs_no_name(text):
    """A sign alone, which stands for nothing there is, is no formula."""
    assert rows_csv([{"setup": text, "x": -1.5}]).splitlines()[1:] == [f"'{text},-1.5"]
    assert rows_csv([{"setup": "-", "x": 1}]) == "setup,x\n-,1\n"


@pytest.mark.parametrize("option", ["--sheet", "--ionosonde", "--output"])
def test_an_empty_name_is_told_to_be_one(option):
    """A shell's variable that is not set, and no directory."""
    result = CliRunner().invoke(main, ["tonight", option, ""])
    assert result.exit_code == 2
    assert f"'{option}': it names no file" in result.stderr
