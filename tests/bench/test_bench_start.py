"""
How soon the program answers, beside the bare interpreter.

What is wanted was said in seconds of a machine on which numpy starts in 0.07 s.
"""

import subprocess
import sys
from itertools import count

import pytest

QUIET = {"capture_output": True, "check": True}
RUN = [sys.executable, "-c", "from advisor.cli import main; main()"]


def bare():
    """Start the interpreter, do nothing."""
    subprocess.run([sys.executable, "-c", "pass"], **QUIET)


def with_numpy():
    """Start the interpreter, import numpy."""
    subprocess.run([sys.executable, "-c", "import numpy"], **QUIET)


@pytest.mark.bench
@pytest.mark.slow
def test_help_comes_at_once(ratio):
    """It loads click and nothing heavy."""
    ratio(
        "cold start, --help",
        lambda: subprocess.run([*RUN, "--help"], **QUIET),
        "`skiplobe --help` to an interpreter that does nothing",
        beside=bare,
        children=True,
        repeat=7,
        most=10.0,
    )


@pytest.mark.bench
@pytest.mark.slow
def test_the_demonstration(ratio, tmp_path, monkeypatch):
    """From the cache of solved wires, which the first run fills."""
    monkeypatch.setenv("SKIPLOBE_CACHE_DIR", str(tmp_path))
    job = [*RUN, "tonight", "--date", "2026-12-05"]
    first = subprocess.run(job, **QUIET).stdout
    assert b"Best: " in first
    ratio(
        "cold start, tonight",
        lambda: subprocess.run(job, **QUIET),
        "`skiplobe tonight` on the demonstration to an interpreter with numpy",
        beside=with_numpy,
        children=True,
    )


STARTED = """
import advisor.answers.ask as ask

def stop(*_, **__):
    raise SystemExit

ask.answer = stop
from advisor.cli import main
main()
"""


@pytest.mark.bench
@pytest.mark.slow
def test_an_answer_before_its_work(ratio):
    """Libraries, station, targets and question, up to where the sky is asked."""
    job = [sys.executable, "-c", STARTED, "tonight", "--date", "2026-12-05"]
    assert not subprocess.run(job, **QUIET).stdout
    ratio(
        "start before the work, tonight",
        lambda: subprocess.run(job, **QUIET),
        "`skiplobe tonight` until it asks for the sky; to an interpreter with numpy",
        beside=with_numpy,
        children=True,
        most=6.4,
    )


@pytest.mark.bench
@pytest.mark.slow
def test_nothing_kept(ratio, tmp_path, monkeypatch):
    """Wires and rays searched anew, each time in an empty folder."""
    fresh = (tmp_path / str(n) for n in count())

    def job():
        monkeypatch.setenv("SKIPLOBE_CACHE_DIR", str(next(fresh)))
        subprocess.run([*RUN, "tonight", "--date", "2026-12-05"], **QUIET)

    ratio(
        "empty cache, tonight",
        job,
        "`skiplobe tonight` on the demonstration; to an interpreter with numpy",
        beside=with_numpy,
        children=True,
        most=28.0,
    )


@pytest.mark.bench
@pytest.mark.slow
def test_the_page(ratio, tmp_path, monkeypatch):
    """Its second time: wires and rays, those of the world map too, are kept."""
    monkeypatch.setenv("SKIPLOBE_CACHE_DIR", str(tmp_path))
    page = ["--sheet", str(tmp_path / "page.html"), "--overwrite"]
    job = [*RUN, "tonight", "--date", "2026-12-05", *page]
    subprocess.run(job, **QUIET)
    ratio(
        "page, tonight",
        lambda: subprocess.run(job, **QUIET),
        "`skiplobe tonight --sheet`, kept; to an interpreter with numpy",
        beside=with_numpy,
        children=True,
        most=17.0,
    )
