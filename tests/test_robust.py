"""Bad days: killed half-way, two at once, no home, no room, a cache in pieces."""

import ctypes
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[1]
ASK = ["tonight", "--from", "KF07jo", "--to", "KE", "--date", "2026-12-05T14:00Z"]
ASK += ["--hours", "1", "--r12", "60", "--shape", "dipole", "--band", "20 m"]
PAGE = ["wire", "--shape", "dipole", "--band", "20 m", "--quick", "--sheet"]

BLOCKED = """
import sys, time
from pathlib import Path

def wait(self, target):
    if str(target).endswith({end!r}):
        print("READY", flush=True)
        time.sleep(600)
    return rename(self, target)

rename, Path.replace = Path.replace, wait
from advisor.cli import main
main(sys.argv[1:], prog_name="skiplobe")
"""
"""The program, but it stops between writing a file and giving it its name."""


def empty_home(tmp_path):
    """Make an environment of its own: home, cache and nothing in them."""
    kept = {
        k: v for k, v in os.environ.items() if not k.startswith(("XDG", "SKIPLOBE"))
    }
    (tmp_path / "home").mkdir()
    (tmp_path / "work").mkdir()
    return {
        **kept,
        "HOME": str(tmp_path / "home"),
        "XDG_CONFIG_HOME": str(tmp_path / "config"),
        "SKIPLOBE_CACHE_DIR": str(tmp_path / "cache"),
        "PYTHONPATH": str(ROOT),
        "PYTHONWARNINGS": "error",
    }


@pytest.fixture
def home(tmp_path):
    """A home with nothing in it."""
    return empty_home(tmp_path)


def start(words, env, code=None, **more):
    """Start the program, or the code given in its stead."""
    program = ["-c", code] if code else ["-m", "advisor"]
    return subprocess.Popen(
        [sys.executable, *program, *words],
        env=env,
        cwd=Path(env["HOME"]).parent / "work",
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **more,
    )


def ask(env, *words, **more):
    """Run a question to its end; its output, and what it said besides."""
    process = start([*ASK, *words], env, **more)
    said, told = process.communicate(timeout=300)
    assert process.returncode == 0, told
    assert "Traceback" not in told
    return said, told


def kill_when_ready(words, env, end):
    """Kill the program between writing a file that ends so and naming it."""
    process = start(words, env, code=BLOCKED.format(end=end))
    for line in process.stdout:
        if line.startswith("READY"):
            break
    else:
        pytest.fail(process.stderr.read())
    process.send_signal(signal.SIGKILL)
    process.communicate()
    assert process.returncode == -signal.SIGKILL


@pytest.fixture(scope="module")
def right(tmp_path_factory):
    """The answer as it must be."""
    return ask(empty_home(tmp_path_factory.mktemp("right")), "--json", "--no-cache")


@pytest.fixture(scope="module")
def solved(tmp_path_factory, right):
    """A cache with all that the question wants."""
    env = empty_home(tmp_path_factory.mktemp("solved"))
    assert ask(env, "--json") == right
    return Path(env["SKIPLOBE_CACHE_DIR"])


@pytest.mark.slow
def test_killed_between_writing_and_naming_a_solved_wire(home, right):
    cache = Path(home["SKIPLOBE_CACHE_DIR"])
    kill_when_ready([*ASK, "--json"], home, ".npz")
    assert list(cache.glob("*.part"))
    assert not list(cache.glob("solution-*.npz"))
    assert ask(home, "--json") == right
    assert list(cache.glob("solution-*.npz"))


@pytest.mark.slow
def test_killed_between_writing_and_naming_a_page(home):
    work = Path(home["HOME"]).parent / "work"
    page = work / "hill.html"
    words = [*PAGE, "hill.html"]
    kill_when_ready(words, home, "hill.html")
    assert not page.exists()
    made = start(words, home)
    assert "written: hill.html" in made.communicate()[1]
    whole = page.read_bytes()
    assert whole.rstrip().endswith(b"</html>")
    # And with a page there already, that stays.
    words += ["--overwrite", "--height-m", "7"]
    kill_when_ready(words, home, "hill.html")
    assert page.read_bytes() == whole


@pytest.mark.long
def test_killed_at_any_moment(home, right):
    """Whenever it is, what is read afterwards is right."""
    draw = random.Random(3)
    began = time.monotonic()
    ask(home, "--json")
    takes_s = time.monotonic() - began
    for path in Path(home["SKIPLOBE_CACHE_DIR"]).iterdir():
        path.unlink()
    for _ in range(3):
        process = start([*ASK, "--json"], home)
        time.sleep(takes_s * draw.uniform(0.4, 1.0))
        process.kill()
        process.communicate()
        assert ask(home, "--json") == right
        for path in Path(home["SKIPLOBE_CACHE_DIR"]).glob("*.npz"):
            path.unlink()


@pytest.mark.slow
def test_two_at_once_share_the_cache(home, right):
    running = [start([*ASK, "--json"], home) for _ in range(3)]
    for process in running:
        assert process.communicate() == right
        assert process.returncode == 0
    assert not list(Path(home["SKIPLOBE_CACHE_DIR"]).glob("*.part"))
    assert ask(home, "--json") == right


def one_line_about_the_cache(told):
    """One line, about the cache, and that the answer is the same."""
    (line,) = told.splitlines()
    assert line.startswith("skiplobe: ")
    assert "the answer is the same" in line
    return line


@pytest.mark.slow
def test_a_cache_that_is_a_file(home, right):
    cache = Path(home["SKIPLOBE_CACHE_DIR"])
    cache.write_text("mine")
    said, told = ask(home, "--json")
    assert said == right[0]
    assert str(cache) in one_line_about_the_cache(told)
    assert cache.read_text() == "mine"
    # Who wants no cache is not told of it.
    assert ask(home, "--json", "--no-cache") == right


@pytest.mark.slow
@pytest.mark.parametrize("damage", ["empty", "cut", "other"])
def test_a_cache_in_pieces(home, right, solved, damage):
    cache = shutil.copytree(solved, home["SKIPLOBE_CACHE_DIR"])
    files = sorted(Path(cache).glob("*.npz"))
    contents = [path.read_bytes() for path in files]
    for path, content in zip(files, contents, strict=True):
        path.write_bytes(
            {
                "empty": b"",
                "cut": content[: len(content) // 2],
                "other": contents[files.index(path) - 1],
            }[damage]
        )
    assert len(files) > 1
    said, told = ask(home, "--json")
    assert said == right[0]
    assert "damaged" in one_line_about_the_cache(told)
    assert ask(home, "--json") == right


@pytest.mark.slow
def test_a_file_of_another_version_is_not_read(home, right, solved):
    """Its name holds the solver's source: it is not so much as looked at."""
    cache = Path(shutil.copytree(solved, home["SKIPLOBE_CACHE_DIR"]))
    for n, path in enumerate(sorted(cache.glob("*.npz"))):
        path.rename(cache / f"solution-{n:032x}.npz")
    assert ask(home, "--json") == right


def without_override():
    """Let rights count for the superuser too: give up those that pass them by."""
    drop_from_bounding_set, override, read_search = 24, 1, 2  # <linux/capability.h>
    if os.getuid() == 0:
        for right in (override, read_search):
            if ctypes.CDLL(None).prctl(drop_from_bounding_set, right, 0, 0, 0):
                raise OSError("rights cannot be given up here")


@pytest.mark.slow
def test_a_home_that_can_only_be_read(home, right, tmp_path):
    del home["SKIPLOBE_CACHE_DIR"]
    (tmp_path / "home").chmod(0o555)
    said, told = ask(home, "--json", preexec_fn=without_override)
    (tmp_path / "home").chmod(0o755)
    assert said == right[0]
    assert "ermission denied" in one_line_about_the_cache(told)
    assert not list((tmp_path / "home").iterdir())


@pytest.mark.slow
def test_a_picture_with_a_home_that_can_only_be_read(home, tmp_path):
    """The library that draws has caches of its own, and says nothing of them."""
    del home["SKIPLOBE_CACHE_DIR"]
    (tmp_path / "home").chmod(0o555)
    words = ["chart", "fan", *ASK[1:], "--output", "fan.svg"]
    process = start(words, home, preexec_fn=without_override)
    told = process.communicate()[1]
    (tmp_path / "home").chmod(0o755)
    assert process.returncode == 0, told
    first, second = told.splitlines()
    assert first == "written: fan.svg"
    assert "ermission denied" in one_line_about_the_cache(second)


@pytest.mark.slow
def test_a_home_that_cannot_be_looked_into(home, right, tmp_path):
    """As when the program runs for somebody else with one's own home."""
    for name in ("SKIPLOBE_CACHE_DIR", "XDG_CONFIG_HOME"):
        del home[name]
    (tmp_path / "home").chmod(0)
    said, told = ask(home, "--json", preexec_fn=without_override)
    (tmp_path / "home").chmod(0o755)
    assert said == right[0]
    assert "ermission denied" in one_line_about_the_cache(told)


NO_HOME = """
import os, sys
os.path.expanduser = lambda path: path
from advisor.cli import main
main(sys.argv[1:], prog_name="skiplobe")
"""
"""The program for a user whom the system knows no home of: '~' stays as it is."""


@pytest.mark.slow
def test_no_home_at_all(home, right, tmp_path):
    del home["SKIPLOBE_CACHE_DIR"]
    process = start([*ASK, "--json"], {**home}, code=NO_HOME)
    said, told = process.communicate()
    assert process.returncode == 0, told
    assert said == right[0]
    assert told == "skiplobe: no home directory, so solved wires are not kept\n"
    assert not list((tmp_path / "work").iterdir()), "a directory called ~"


def small_files():
    """Let no file grow over 4 kB: what a full disk does, for whoever runs this."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))


@pytest.mark.slow
def test_a_full_disk_for_the_cache(home, right):
    said, told = ask(home, "--json", preexec_fn=small_files)
    assert said == right[0]
    assert "too large" in one_line_about_the_cache(told)
    # What is small enough for such a disk is whole; of the rest nothing is left.
    for left in Path(home["SKIPLOBE_CACHE_DIR"]).iterdir():
        with np.load(left) as whole:
            assert all(whole[name].size for name in whole.files)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "file"),
    [
        ([*PAGE, "hill.html"], "hill.html"),
        ([*ASK, "--json", "--output", "hill.json"], "hill.json"),
    ],
)
def test_a_full_disk_for_a_file(home, words, file):
    work = Path(home["HOME"]).parent / "work"
    (work / file).write_text("old")
    process = start([*words, "--no-cache", "--overwrite"], home, preexec_fn=small_files)
    told = process.communicate()[1]
    assert process.returncode == 1
    # A page can be built again from nothing; words have a screen to go to.
    rest = "; the answer went to the screen" if "--output" in words else ""
    line = f"skiplobe: cannot write '{file}': File too large{rest}"
    # Before it no more than what a wire that takes long is busy with.
    assert [x for x in told.splitlines() if not x.endswith(" ...")] == [line]
    assert (work / file).read_text() == "old"
    assert [path.name for path in work.iterdir()] == [file]


@pytest.mark.slow
def test_no_output_at_all(home):
    """As under a service manager that has closed it."""
    process = start(["hops"], home, preexec_fn=lambda: os.close(1))
    told = process.communicate()[1]
    assert process.returncode == 1
    assert told.startswith("skiplobe: cannot write the answer")
    assert len(told.splitlines()) == 1


@pytest.mark.slow
def test_a_reader_that_leaves_early(home):
    """As in 'skiplobe hops | head -1'."""
    with start(["hops", "--json"], home) as process:
        process.stdout.close()
        assert "Traceback" not in process.stderr.read()
