"""Files of answers and pages: whole, or as they were."""

import functools
import os
import stat
import threading
import time
from pathlib import Path

import pytest

from advisor.show.formats.wholefile import ABANDONED_S, is_there, why_not, write_whole


def test_a_file_is_written_and_replaced(tmp_path):
    path = tmp_path / "x.txt"
    write_whole(path, b"one")
    write_whole(path, b"two")
    assert path.read_bytes() == b"two"
    assert list(tmp_path.iterdir()) == [path]


def test_what_cannot_be_renamed_leaves_the_old_file_and_no_part(tmp_path, monkeypatch):
    path = tmp_path / "x.txt"
    path.write_bytes(b"old")

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(OSError, match="No space"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("name", ["none/x.txt", "file/x.txt", "n" * 300])
def test_a_name_that_cannot_be_is_an_error_of_the_system(tmp_path, name):
    """Cleaning up after it must not raise another one."""
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(OSError, match=r"No such|Not a directory|too long"):
        write_whole(tmp_path / name, b"x")
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_the_longest_name_can_be_written(tmp_path):
    """The part's name must not be longer than the file's may be."""
    path = tmp_path / ("é" * 125 + ".html")
    write_whole(path, b"x")
    assert path.read_bytes() == b"x"


def test_the_mode_of_the_old_file_is_kept(tmp_path):
    path = tmp_path / "x.txt"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_whole(path, b"new")
    assert (path.read_bytes(), stat.S_IMODE(path.stat().st_mode)) == (b"new", 0o640)


def test_a_new_file_has_the_mode_of_any_new_file(tmp_path):
    write_whole(tmp_path / "x.txt", b"x")
    (tmp_path / "y.txt").write_bytes(b"y")
    modes = {path.stat().st_mode for path in tmp_path.iterdir()}
    assert len(modes) == 1


def test_a_link_is_followed_and_stays(tmp_path):
    (tmp_path / "folder").mkdir()
    file, link = tmp_path / "folder" / "x.txt", tmp_path / "link"
    link.symlink_to(file)
    for content in (b"one", b"two"):  # to nothing, then to a file
        write_whole(link, content)
        assert link.is_symlink()
        assert file.read_bytes() == content
    assert [each.name for each in (tmp_path / "folder").iterdir()] == ["x.txt"]


def test_a_pipe_is_written_to_and_stays(tmp_path):
    """A reader gets all of it; neither is the pipe replaced nor asked about."""
    pipe, link = tmp_path / "pipe", tmp_path / "link"
    os.mkfifo(pipe)
    link.symlink_to(pipe)
    for name in (pipe, link):
        got: list[bytes] = []
        read = functools.partial(lambda got: got.append(pipe.read_bytes()), got)
        reader = threading.Thread(target=read)
        reader.start()
        assert not is_there(name)
        assert why_not(name) == ""
        write_whole(name, b"all of it")
        reader.join(10)
        assert got == [b"all of it"]
        assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert sorted(each.name for each in tmp_path.iterdir()) == ["link", "pipe"]


@pytest.mark.parametrize("folder", ["/dev/fd", "/proc/self/fd"])
def test_an_open_descriptor_is_written_to(folder, tmp_path):
    """As ``/dev/stdout`` is, and what a shell puts in for ``>(command)``."""
    if not Path(folder).is_dir():
        pytest.skip("this system does not name descriptors so")
    path = tmp_path / "x.txt"
    with path.open("wb") as file:
        name = Path(folder) / str(file.fileno())
        assert not is_there(name)
        write_whole(name, b"one ")
        write_whole(name, b"two")
        assert os.fstat(file.fileno()).st_ino == path.stat().st_ino
    assert path.read_bytes() == b"one two"


@pytest.mark.skipif(os.geteuid() != 0, reason="only root makes devices")
def test_a_device_stays_one(tmp_path):
    """On a node of the test's own, never on the machine's."""
    null = tmp_path / "null"
    try:
        os.mknod(null, 0o666 | stat.S_IFCHR, os.makedev(1, 3))
        null.write_bytes(b"")
    except OSError:
        pytest.skip("no device can be made or opened here")
    write_whole(null, b"gone")
    assert stat.S_ISCHR(null.stat().st_mode)
    assert [each.name for each in tmp_path.iterdir()] == ["null"]


def test_a_planted_link_is_not_written_through(tmp_path):
    """The part's name cannot be known beforehand, and a name in use is not taken."""
    victim = tmp_path / "victim"
    victim.write_bytes(b"mine")
    (tmp_path / f".o.txt.{os.getpid()}.partial").symlink_to(victim)
    write_whole(tmp_path / "o.txt", b"new")
    assert victim.read_bytes() == b"mine"
    assert not (tmp_path / "o.txt").is_symlink()


def test_parts_of_killed_processes_go_after_a_while(tmp_path):
    names = (".x.txt.1.partial", ".x.txt.2.partial", "x.partial")
    old, new, other = (tmp_path / name for name in names)
    for path in (old, new, other):
        path.write_bytes(b"")
    long_ago = time.time() - 2.0 * ABANDONED_S
    for path in (old, other):
        os.utime(path, (long_ago, long_ago))
    write_whole(tmp_path / "x.txt", b"x")
    assert not old.exists()
    assert new.exists()
    assert other.exists()


def test_what_speaks_against_writing_is_known_before(tmp_path, monkeypatch):
    assert why_not(tmp_path / "x.txt") == ""
    assert "no directory" in why_not(tmp_path / "none" / "x.txt")
    monkeypatch.setattr(os, "access", lambda *_: False)
    assert "nothing may be written in" in why_not(tmp_path / "x.txt")


def test_what_cannot_be_looked_at_is_not_there(tmp_path):
    (tmp_path / "link").symlink_to("nowhere")
    assert is_there(tmp_path / "link")
    assert not is_there(tmp_path / ("n" * 300))
    assert not is_there(tmp_path / "none" / "x")
