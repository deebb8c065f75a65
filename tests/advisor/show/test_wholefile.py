"""Files of answers and pages: whole, or as they were."""

from pathlib import Path

import pytest

from advisor.show.formats.wholefile import is_there, write_whole


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


def test_what_cannot_be_looked_at_is_not_there(tmp_path):
    (tmp_path / "link").symlink_to("nowhere")
    assert is_there(tmp_path / "link")
    assert not is_there(tmp_path / ("n" * 300))
    assert not is_there(tmp_path / "none" / "x")
