"""
Run the tutorial as a reader would, and rewrite what it prints.

Blocks marked ``toml`` are written to the file their first line names, blocks marked
``sh`` and ``python`` are run in order in one directory, and a block marked ``output``
holds what the one before it printed. One that ends in ``...`` is cut there; where a
block is longer than `MOST_LINES`, it is cut when it is rewritten. Usage, from the root
of the checkout: ``python docs/studies/tutorial_samples.py``
"""

import contextlib
import io
import os
import re
import shlex
import tempfile
from collections.abc import Iterator
from pathlib import Path

from click.testing import CliRunner

from advisor.cli import main

PAGE = Path(__file__).resolve().parents[1] / "tutorial.md"
BLOCK = re.compile(r"^```(toml|sh|python|output)\n(.*?)^```$", re.M | re.S)
MOST_LINES = 24


def run(page: str) -> Iterator[tuple[str, str, str]]:
    """Kind, text and printed lines of each block, run where this process stands."""
    names: dict[str, object] = {"__name__": "tutorial"}
    printed = ""
    for kind, text in BLOCK.findall(page):
        if kind == "output":
            yield kind, text, printed
            continue
        if kind == "toml":
            printed = ""
            name = text.partition("\n")[0].removeprefix("# ")
            Path(name).write_text(text, encoding="utf-8")
        elif kind == "sh":
            printed = "".join(map(_command, text.splitlines()))
        else:
            told = io.StringIO()
            with contextlib.redirect_stdout(told):
                exec(compile(text, str(PAGE), "exec"), names)
            printed = told.getvalue()
        yield kind, text, printed


def _command(line: str) -> str:
    """Standard output of one command."""
    program, *words = shlex.split(line)
    if program != "skiplobe":
        raise ValueError(f"not a command of this program: {line}")
    result = CliRunner().invoke(main, words, catch_exceptions=False)
    if result.exit_code != 0:
        raise ValueError(f"{line}\n{result.output}")
    return result.stdout


def cut(printed: str) -> str:
    """Lines as they stand in the page."""
    lines = [line.rstrip() for line in printed.splitlines()]
    if len(lines) > MOST_LINES:
        lines = [*lines[:MOST_LINES], "..."]
    return "".join(f"{line}\n" for line in lines)


if __name__ == "__main__":
    page = PAGE.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as directory:
        os.environ["XDG_CONFIG_HOME"] = directory
        os.chdir(directory)
        shown = iter([cut(out) for kind, _, out in run(page) if kind == "output"])
    page = re.sub(
        r"^```output\n.*?^```$",
        lambda _: f"```output\n{next(shown)}```",
        page,
        flags=re.M | re.S,
    )
    PAGE.write_text(page, encoding="utf-8")
