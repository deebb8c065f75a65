"""What stops the program before, behind or within a command ends in one line."""

import json
import os
import subprocess
import sys
from pathlib import Path
from shutil import copytree, ignore_patterns

import pytest
from click.testing import CliRunner

from advisor import cli

ROOT = Path(__file__).resolve().parents[1]

# Ctrl-C comes while a module is being imported.
STOP_AT = """
import builtins, os, signal, sys
# Where the tests run in the background it may be ignored.
signal.signal(signal.SIGINT, signal.default_int_handler)
from advisor.__main__ import run
real, sys.argv = builtins.__import__, ["skiplobe", *{words}]
def stopping(name, *more, **named):
    if name == {name!r}:
        os.kill(os.getpid(), signal.SIGINT)
    return real(name, *more, **named)
builtins.__import__ = stopping
run()
"""


def spawn(code, **more):
    return subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, text=True, timeout=60, **more
    )


@pytest.mark.parametrize("name", ["geo", "advisor"])
@pytest.mark.parametrize("told", ["", "__version__ = '1.0.1'"], ids=["none", "other"])
def test_a_package_of_another_is_told(name, told, tmp_path):
    """Another project's file over ours, or, when that one is uninstalled, none."""
    for each in ("geo", "advisor"):
        copytree(ROOT / each, tmp_path / each, ignore=ignore_patterns("__pycache__"))
    ours = tmp_path / name / "__init__.py"
    ours.write_text(told) if told else ours.unlink()
    found = subprocess.run(
        # Without what else is installed, ourselves among it.
        [sys.executable, "-S", "-c", "from advisor.__main__ import run; run()"],
        cwd=tmp_path, text=True, capture_output=True, env={"PYTHONPATH": str(tmp_path)},
    )  # fmt: skip
    assert found.returncode == 1
    assert found.stderr == (
        f"skiplobe: its package '{name}' has been replaced by another of that name: "
        "install skiplobe into an environment of its own (pipx, or a venv)\n"
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", ["click", "numpy", "geo.ionosphere.layers"])
def test_ctrl_c_is_one_line_and_130(name):
    """During start-up and within a command."""
    words = ["sky", "--from", "KF07jo", "--date", "2026-12-05", "--hours", "1"]
    code = STOP_AT.format(words=json.dumps(words), name=name)
    found = spawn(code, capture_output=True)
    assert (found.returncode, found.stderr) == (130, "skiplobe: stopped\n")


@pytest.mark.slow
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device is always full")
@pytest.mark.parametrize("word", ["--help", "--version", "hops"])
def test_a_full_disk_behind_stdout_is_one_line(word):
    """Found out while writing or at the end; nothing is written to the device."""
    with Path("/dev/full").open("w") as full:
        found = subprocess.run(
            [sys.executable, "-m", "advisor", word],
            cwd=ROOT, stdout=full, stderr=subprocess.PIPE, text=True, timeout=60,
        )  # fmt: skip
    assert found.returncode == 1
    (line,) = found.stderr.splitlines()
    assert line.startswith("skiplobe: cannot write")
    assert "No space left" in line


def test_too_little_memory_is_one_line(monkeypatch):
    def too_much(*_, **__):
        raise MemoryError("Unable to allocate 8.4 GiB")

    monkeypatch.setattr("advisor.answers.skies.hops.hop_rows", too_much, raising=True)
    result = CliRunner().invoke(cli.main, ["hops"])
    assert result.exit_code == 1
    assert result.stdout == ""
    assert "fewer targets, hours or set-ups at once" in result.stderr
    assert len(result.stderr.splitlines()) == 1


@pytest.mark.slow
@pytest.mark.parametrize("name", ["OPENBLAS_NUM_THREADS", "MPLBACKEND"])
def test_the_users_settings_for_others_change_nothing(name):
    code = (
        "import os; from advisor.cli import main\n"
        "main(['hops', '--csv'], standalone_mode=False)\n"
        f"print(os.environ[{name!r}])"
    )
    env = {**os.environ, name: "7"}
    found = spawn(code, capture_output=True, env=env)
    assert found.stdout.splitlines()[-1] in ("1", "agg")
