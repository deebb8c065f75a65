"""How much memory every command takes on the demonstration, and a large question."""

import subprocess
import sys

import pytest

MOST_MB = 250.0
LARGE_MB = 600.0
WHEN = ["--date", "2026-12-05"]
COMMANDS = {
    "tonight": WHEN, "aim": WHEN, "compare": WHEN, "reach": WHEN, "activation": WHEN,
    "hang": WHEN, "why": ["--at", "2026-12-05T17:00Z"], "wire": [], "sky": WHEN,
    "hops": [], "chart": ["map", *WHEN, "--output", "map.svg"],
}  # fmt: skip
REGIONS = "014 018 011 015 005 021 029 035 030 034 039 151"
PLACE = ["--from", "KF07jo"]
DOZEN = [word for region in REGIONS.split() for word in ("--to", region)]

# The most that this process or one it has split off ever held; kB but on macOS.
MEASURED = """
import atexit, resource, sys
from advisor.cli import main

def tell():
    who = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    most = max(resource.getrusage(each).ru_maxrss for each in who)
    print(most / (2**20 if sys.platform == "darwin" else 2**10), file=sys.stderr)

atexit.register(tell)
main()
"""

# A process starts with the most its parent ever held, and pytest by then holds much.
SMALL = "import subprocess, sys; sys.exit(subprocess.call(sys.argv[1:]))"


def most_mb(words, directory):
    """Run a command; give the most memory it held at once."""
    pytest.importorskip("resource")
    job = [sys.executable, "-c", SMALL, sys.executable, "-c", MEASURED, *words]
    done = subprocess.run(job, capture_output=True, text=True, cwd=directory)
    assert done.returncode == 0, done.stderr
    return float(done.stderr.split()[-1])


@pytest.mark.bench
@pytest.mark.parametrize("command", COMMANDS)
def test_the_demonstration(command, aim, capsys, tmp_path):
    found = most_mb([command, *COMMANDS[command]], tmp_path)
    with capsys.disabled():
        print(f"\nmemory, {command}: {found:.0f} MB", end="")
    aim(f"memory, {command}, MB", found, MOST_MB)


@pytest.mark.bench
def test_the_largest_question(aim, capsys, tmp_path):
    """A dozen regions for a day on ten bands."""
    found = most_mb(["tonight", *PLACE, *WHEN, "--hours", "24", *DOZEN], tmp_path)
    with capsys.disabled():
        print(f"\nmemory, a dozen regions for a day: {found:.0f} MB", end="")
    aim("memory, a dozen regions for a day, MB", found, LARGE_MB)
