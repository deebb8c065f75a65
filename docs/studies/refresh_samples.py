"""
Rewrite the samples in README and the pages of ``docs/`` with what is printed today.

A sample is a fenced block marked ``console`` with one ``$ skiplobe ...`` line. One that
ends in ``...`` is cut after as many lines as it has now. Usage, from the root of the
checkout: ``python docs/studies/refresh_samples.py``
"""

import os
import re
import shlex
import tempfile
from pathlib import Path

from click.testing import CliRunner

from advisor.cli import main

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
SAMPLE = re.compile(r"^```console\n\$ skiplobe ([^\n]*)\n(.*?)^```$", re.M | re.S)


def refreshed(match):
    """One block with today's output."""
    words, shown = match[1], match[2].splitlines()
    result = CliRunner().invoke(main, shlex.split(words), catch_exceptions=False)
    if result.exit_code != 0:
        raise SystemExit(f"skiplobe {words}: {result.output}")
    lines = result.stdout.splitlines()
    if shown[-1:] == ["..."]:
        lines = [*lines[: len(shown) - 1], "..."]
    body = "".join(f"{line}\n" for line in lines)
    return f"```console\n$ skiplobe {words}\n{body}```"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as empty:
        os.environ["XDG_CONFIG_HOME"] = empty
        for page in PAGES:
            page.write_text(SAMPLE.sub(refreshed, page.read_text("utf-8")), "utf-8")
