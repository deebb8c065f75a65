"""Files of answers: whole or not at all, whatever happens to process and disk."""

import os
import shutil
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.antenna.solver import cache_files
from advisor.antenna.solver.cache_files import fetch, keep, path_of, prune, take_trouble

NAME = "trial\nquestion 1"
ARRAYS = {"z_ohm": np.array(50.0 + 3.0j), "gain": np.arange(12.0).reshape(3, 4)}


@pytest.fixture(autouse=True)
def no_trouble_left():
    """Nothing of one test is told in the next."""
    take_trouble()
    yield
    take_trouble()


def test_what_is_kept_is_fetched(tmp_path):
    assert fetch(tmp_path, NAME) is None
    keep(tmp_path, NAME, ARRAYS)
    found = fetch(tmp_path, NAME)
    assert sorted(found) == sorted(ARRAYS)
    for key, value in ARRAYS.items():
        np.testing.assert_array_equal(found[key], value)
    assert take_trouble() is None


def test_without_a_directory_nothing_is_done():
    keep(None, NAME, ARRAYS)
    assert fetch(None, NAME) is None


def test_trouble_is_told_once_and_the_first_of_it(tmp_path):
    file = tmp_path / "file"
    file.write_text("in the way")
    keep(file, NAME, ARRAYS)
    keep(file / "below", NAME, ARRAYS)
    told = take_trouble()
    assert f"cannot be kept in {file} (" in told
    assert take_trouble() is None
    assert file.read_text() == "in the way"


def test_a_file_of_another_question_is_damage(tmp_path):
    keep(tmp_path, NAME, ARRAYS)
    path_of(tmp_path, "trial\nquestion 2").write_bytes(
        path_of(tmp_path, NAME).read_bytes()
    )
    assert fetch(tmp_path, "trial\nquestion 2") is None
    assert "damaged file in the cache" in take_trouble()


@pytest.mark.slow
@settings(max_examples=300)
@given(
    st.floats(0, 1, exclude_max=True),
    st.binary(min_size=1, max_size=6),
    st.booleans(),
)
def test_whatever_stands_in_a_file_the_answer_is_right_or_none(
    tmp_path_factory, where, piece, is_cut
):
    """Overwritten or cut anywhere, a file never gives wrong figures or an error."""
    directory = tmp_path_factory.getbasetemp() / "damage"
    keep(directory, NAME, ARRAYS)
    path = path_of(directory, NAME)
    whole = path.read_bytes()
    at = int(where * len(whole))
    path.write_bytes(
        whole[:at] if is_cut else whole[:at] + piece + whole[at + len(piece) :]
    )
    found = fetch(directory, NAME)
    for key, value in (found or {}).items():
        np.testing.assert_array_equal(value, ARRAYS[key])


def test_a_file_left_by_a_killed_process_goes_after_a_while(tmp_path):
    left, new = tmp_path / "a.part", tmp_path / "b.part"
    for path in (left, new):
        path.write_bytes(bytes(10))
    long_ago = time.time() - 2 * cache_files.ABANDONED_S
    os.utime(left, (long_ago, long_ago))
    prune(tmp_path, cache_files.MOST_BYTES)
    assert [path.name for path in tmp_path.iterdir()] == ["b.part"]


def test_the_directory_is_looked_through_once(tmp_path, monkeypatch):
    """A search that keeps a thousand files must not sort a thousand each time."""
    looked = []
    real = cache_files.prune
    monkeypatch.setattr(
        cache_files, "prune", lambda *given: looked.append(1) or real(*given)
    )
    for n in range(20):
        keep(tmp_path, f"trial\nquestion {n:02d}", ARRAYS)
    assert len(looked) == 1
    assert len(list(tmp_path.iterdir())) == 20
    # Full, it is looked through again, and has room for more after that.
    size = next(tmp_path.iterdir()).stat().st_size
    monkeypatch.setattr(cache_files, "MOST_BYTES", 20 * size)
    for n in range(20, 23):
        keep(tmp_path, f"trial\nquestion {n:02d}", ARRAYS)
    assert len(looked) == 2
    assert len(list(tmp_path.iterdir())) == 20


def test_room_is_left_on_a_small_disk(tmp_path, monkeypatch):
    usage = shutil.disk_usage(tmp_path)._replace(free=cache_files.LEFT_FREE_BYTES - 1)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage)
    keep(tmp_path, NAME, ARRAYS)
    assert not list(tmp_path.iterdir())
    assert "only 49 MB are free" in take_trouble()


def test_a_full_disk_is_told_and_leaves_nothing(tmp_path, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(np, "savez", full)
    keep(tmp_path, NAME, ARRAYS)
    assert not list(tmp_path.iterdir())
    assert "No space left on device" in take_trouble()
