"""Work shared out over processes: what ends it from outside, and what is kept."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]

ENDLESS = """
import os, signal
from advisor.answers.shared import share_out

def work(index):
    while True:
        yield 1, bytes(100_000)

for _ in share_out(work, 2, len, 2):
    os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_a_killed_search_leaves_no_process_behind():
    """What it split off holds its output open, until it has found out."""
    words = [sys.executable, "-c", ENDLESS]
    done = subprocess.run(words, capture_output=True, timeout=60.0, cwd=ROOT)
    assert (done.returncode, done.stderr) == (-9, b"")


STOPPED = """
import os, signal
from advisor.answers.shared import share_out

class Stopping:
    # Ctrl-C comes as soon as this is unpacked, before anybody has it.
    def __reduce__(self):
        return os.kill, (os.getppid(), signal.SIGINT)

def work(index):
    yield 1, Stopping()

signal.signal(signal.SIGINT, signal.default_int_handler)
taken = []
try:
    for _ in share_out(work, 1, taken.append, 1):
        pass
except KeyboardInterrupt:
    print(len(taken))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_what_was_sent_before_ctrl_c_is_taken():
    """Else the best so far is lost with it."""
    words = [sys.executable, "-c", STOPPED]
    done = subprocess.run(words, capture_output=True, timeout=60.0, cwd=ROOT)
    assert (done.stdout, done.stderr) == (b"1\n", b"")
