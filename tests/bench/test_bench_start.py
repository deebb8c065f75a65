"""How soon the program answers, beside the bare interpreter."""

import subprocess
import sys

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
