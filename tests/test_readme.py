"""README and guide: the two commands are as promised, the samples are real."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from advisor.cli import main

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
ELLIPSIS = "..."


def blocks(text, language):
    """Fenced blocks of one language."""
    return re.findall(rf"^```{language}\n(.*?)^```", text, re.M | re.S)


def samples():
    """Command and printed output of every block marked ``console``."""
    for page in PAGES:
        for block in blocks(page.read_text(encoding="utf-8"), "console"):
            line, _, shown = block.removeprefix("$ ").partition("\n")
            marks = () if page.name == "README.md" else pytest.mark.slow
            yield pytest.param(line, shown, id=f"{page.name}: {line}", marks=marks)


def alike(ours, shown):
    """
    Same words and numbers; a number may differ by one in its last digit.

    In full precision it may differ by a few roundings: processors do not all add alike.
    """
    if NUMBER.sub("#", ours).split() != NUMBER.sub("#", shown).split():
        return False
    for one, other in zip(NUMBER.findall(ours), NUMBER.findall(shown), strict=True):
        step = 10.0 ** -len(other.partition(".")[2])
        rounding = 8.0 * sys.float_info.epsilon * abs(float(other))
        if abs(float(one) - float(other)) > max(1.001 * step, rounding):
            return False
    return True


def matches(ours, shown):
    """Whether output lines fit a sample; one that ends in ``...`` is cut there."""
    if shown[-1:] == [ELLIPSIS]:
        ours, shown = ours[: len(shown) - 1], shown[:-1]
    return len(ours) == len(shown) and all(map(alike, ours, shown))


def test_matches_is_strict():
    assert matches(["20 m 7", "y 2", "z"], ["20 m 8", "y 2", "..."])
    assert not matches(["20 m 7"], ["20 m 9"])
    assert not matches(["20 m 7"], ["40 m 7"])
    assert not matches(["a", "b"], ["a"])
    assert not matches(["a"], ["a", "b"])
    assert not matches(["a"], ["a", "b", "..."])
    assert not matches(["to 1.25"], ["to 1.21"])
    assert matches(["1.8553561050871843"], ["1.8553561050871838"])
    assert not matches(["1.8553561050871843"], ["1.8553561050871738"])


def test_there_are_samples():
    assert len(list(samples())) >= 4


@pytest.mark.usefixtures("answers_once")
@pytest.mark.parametrize(("line", "shown"), list(samples()))
def test_samples_are_what_the_program_prints(line, shown, monkeypatch, tmp_path):
    """If it changed on purpose: ``python docs/studies/refresh_samples.py``."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    program, *words = shlex.split(line)
    assert program == "skiplobe"
    result = CliRunner().invoke(main, words, catch_exceptions=False)
    fits = matches(result.stdout.splitlines(), shown.splitlines())
    assert fits, f"printed now:\n{result.output}"


def test_exactly_two_commands_do_all_the_set_up():
    """Each one line in a block of its own; nothing else asks for a shell."""
    assert blocks(README, "sh") == [
        "python3 -m venv .venv && . .venv/bin/activate && pip install -q . && "
        "skiplobe tonight\n",
        "python3 -m venv .venv && .venv/bin/pip install -q -e '.[dev]' && "
        ".venv/bin/python -m pytest -q -n auto\n",
    ]
    languages = set(re.findall(r"^```(\w*)$", README, re.M)) - {""}
    assert languages <= {"sh", "console", "toml", "text"}


def test_no_page_promises_a_command_that_does_not_exist():
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        # In code only, blocks and spans; "--debug" and capitals are no commands.
        code = re.findall(r"^```.*?^```|`[^`\n]+`", text, re.M | re.S)
        found = re.findall(r"\bskiplobe ([a-z]+)(?: ([a-z]+))?", "\n".join(code))
        for words in found:
            assert words[0] in main.commands, f"{page.name}: skiplobe {words[0]}"
            group = getattr(main.commands[words[0]], "commands", None)
            if group and words[1]:
                assert words[1] in group, f"{page.name}: skiplobe {' '.join(words)}"


@pytest.mark.slow
def test_the_demonstration_runs_as_installed(tmp_path):
    """The end of README's first command, from a directory with nothing in it."""
    program = Path(sys.executable).with_name("skiplobe")
    env = {"PATH": os.defpath, "HOME": str(tmp_path)}
    result = subprocess.run(
        [program, "tonight"], cwd=tmp_path, env=env, capture_output=True, text=True
    )
    assert result.returncode == 0, result.stderr
    assert result.stderr == ""
    assert result.stdout.startswith("Demonstration")
    for word in ("Best:", "UTC", "sample points", "Cautions", "power lines", "--more"):
        assert word in result.stdout
