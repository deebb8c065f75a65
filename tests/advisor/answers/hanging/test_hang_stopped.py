"""What `hang` does when it is stopped half-way."""

import os
import subprocess
import sys

import pytest

POLES = ["--pole-m", "9", "--pole-m", "9", "--apart-m", "14"]


def stopped(home, when):
    """Run `hang` in a process that gets Ctrl-C as soon as ``when`` is true."""
    words = ["hang", "--from", "KF07jo", "--to", "KE", "--date", "2026-12-05"]
    words += [*POLES, "--hours", "1", "--r12", "60", "--no-cache", "--csv"]
    words += ["--band", "20 m", "--shape", "dipole", "--shape", "sloper"]
    # By the search's own steps, not by the clock: its pace is the machine's matter.
    code = (
        "import os, signal\n"
        "from advisor.answers.hanging.search import HangSearch\n"
        "from advisor.cli import main\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "whole = HangSearch._candidate\n"
        "pid = os.getpid()\n"
        "def candidate(search, *words):\n"
        f"    if {when}:\n"
        "        os.kill(pid, signal.SIGINT)\n"
        "    return whole(search, *words)\n"
        "HangSearch._candidate = candidate\n"
        f"main({words!r})\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        env={**os.environ, "HOME": str(home), "OPENBLAS_NUM_THREADS": "1"},
    )
    assert "Traceback" not in done.stderr
    return done


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_ctrl_c_leaves_the_best_so_far(tmp_path):
    """Exit code 130, an answer on stdout, no trace."""
    done = stopped(tmp_path, "search.has_any")
    assert done.returncode == 130, done.stderr
    assert "best so far" in done.stderr
    assert done.stdout.startswith("rank,shape")


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_ctrl_c_before_anything_is_found_says_so(tmp_path):
    """Exit code 130 too, and nothing that looks like an answer."""
    done = stopped(tmp_path, "True")
    assert (done.returncode, done.stdout) == (130, ""), done.stderr
    assert "stopped before anything was found" in done.stderr
