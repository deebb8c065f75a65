"""Solved wires on disk: same answer, never a wrong one, never in the way."""

import os
import re
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from advisor.antenna.ground import Ground, ground_by_name
from advisor.antenna.shapes.registry import hang
from advisor.antenna.solver import cache, cache_files
from advisor.antenna.solver.cache import identity, solve_wire
from advisor.antenna.solver.cache_files import fetch, keep, prune
from advisor.engine import wires
from advisor.station.bands import bands_for_region
from advisor.station.setup import build_set_up

ROOT = Path(__file__).resolve().parents[4]
AVERAGE = ground_by_name("average")
MODEL = hang("dipole", 14.1, {"height_m": 6.0}).model()
MHZ = 14.1


def kept(directory):
    return sorted(directory.glob("solution-*.npz"))


def assert_same(one, other):
    """Bit for bit."""
    assert one.z_ohm == other.z_ohm
    assert one.conductor_share == other.conductor_share
    assert one.load_share == other.load_share
    assert one.ground_share == other.ground_share
    assert one.pattern.efficiency == other.pattern.efficiency
    assert one.pattern.frequency_mhz == other.pattern.frequency_mhz
    for name in ("elevation_deg", "azimuth_deg", "vertical", "horizontal"):
        np.testing.assert_array_equal(
            getattr(one.pattern, name), getattr(other.pattern, name)
        )


@pytest.fixture
def never_solve(monkeypatch):
    """Fail if anything is solved."""

    def refuse(*_, **__):
        pytest.fail("solved again")

    return lambda: monkeypatch.setattr(cache, "solve", refuse)


def test_the_second_time_it_is_read_and_the_same_to_the_last_bit(tmp_path, never_solve):
    without = solve_wire(MODEL, MHZ, AVERAGE)
    first = solve_wire(MODEL, MHZ, AVERAGE, tmp_path)
    assert len(kept(tmp_path)) == 1
    never_solve()
    second = solve_wire(MODEL, MHZ, AVERAGE, tmp_path)
    assert_same(first, without)
    assert_same(second, without)


def test_shares_sum_to_one_over_real_ground_and_perfect_ground():
    for ground in (AVERAGE, ground_by_name("perfect")):
        solved = solve_wire(MODEL, MHZ, ground)
        total = solved.pattern.efficiency + solved.conductor_share
        total += solved.load_share + solved.ground_share
        assert total == pytest.approx(1.0, abs=1e-3)
        assert solved.conductor_share > 0.0
        assert (solved.ground_share > 0.0) == (ground is AVERAGE)


def test_every_part_of_the_question_counts(tmp_path):
    """Another height, radius, frequency or ground is another question."""
    wet = Ground("average", 13.0, 0.0051, "")
    thick = hang("dipole", 14.1, {"height_m": 6.0, "sag_m": 0.01}).model()
    questions = [
        (MODEL, MHZ, AVERAGE),
        (MODEL, 14.2, AVERAGE),
        (MODEL, MHZ, wet),
        (thick, MHZ, AVERAGE),
        (hang("dipole", 14.1, {"height_m": 6.01}).model(), MHZ, AVERAGE),
        (hang("dipole", 14.1, {"height_m": 6.0, "feed_share": 0.4}).model(), MHZ,
         AVERAGE),
    ]  # fmt: skip
    answers = [solve_wire(*question, tmp_path) for question in questions]
    assert len(kept(tmp_path)) == len(questions)
    assert len({answer.z_ohm for answer in answers}) == len(questions)


def test_the_name_of_a_ground_does_not_count(tmp_path, never_solve):
    solve_wire(MODEL, MHZ, AVERAGE, tmp_path)
    never_solve()
    solve_wire(
        MODEL, MHZ, Ground("mine", AVERAGE.eps_r, AVERAGE.sigma_s_m, ""), tmp_path
    )


def test_another_version_of_the_solver_never_reads_old_answers(tmp_path, monkeypatch):
    solve_wire(MODEL, MHZ, AVERAGE, tmp_path)
    monkeypatch.setattr(cache, "solver_version", lambda: "another")
    assert fetch(tmp_path, identity("solution", MODEL, MHZ, 13.0, 0.005)) is None
    solve_wire(MODEL, MHZ, AVERAGE, tmp_path)
    assert len(kept(tmp_path)) == 2


def test_the_version_is_that_of_the_source():
    assert cache.solver_version() == cache.solver_version()
    assert len(cache.solver_version()) == 16


@pytest.mark.parametrize("damage", ["empty", "half", "text", "flipped", "other"])
def test_a_damaged_file_is_solved_anew_and_replaced(tmp_path, damage):
    good = solve_wire(MODEL, MHZ, AVERAGE, tmp_path)
    (path,) = kept(tmp_path)
    whole = path.read_bytes()
    if damage == "other":
        # A good file of another question under this name.
        solve_wire(MODEL, 14.2, AVERAGE, tmp_path)
        (other,) = set(kept(tmp_path)) - {path}
        path.write_bytes(other.read_bytes())
    else:
        middle = len(whole) // 2
        path.write_bytes(
            {
                "empty": b"",
                "half": whole[:middle],
                "text": b"not a table at all",
                "flipped": whole[:middle] + bytes([whole[middle] ^ 1])
                + whole[middle + 1 :],
            }[damage]
        )  # fmt: skip
    assert_same(solve_wire(MODEL, MHZ, AVERAGE, tmp_path), good)
    assert fetch(tmp_path, identity("solution", MODEL, MHZ, 13.0, 0.005)) is not None


def test_no_byte_changed_anywhere_gets_through(tmp_path):
    """The archive's checksums and the question inside leave no gap."""
    name = identity("trial", 1.0)
    keep(tmp_path, name, {"z_ohm": np.array(50.0 + 3.0j)})
    (path,) = tmp_path.glob("trial-*.npz")
    whole = path.read_bytes()
    assert fetch(tmp_path, name)["z_ohm"] == 50.0 + 3.0j
    caught = 0
    for place in range(0, len(whole), 7):
        path.write_bytes(
            whole[:place] + bytes([whole[place] ^ 255]) + whole[place + 1 :]
        )
        found = fetch(tmp_path, name)
        # A byte that nobody reads, as a date, may change; the answer may not.
        if found is not None and "z_ohm" in found:
            assert found["z_ohm"] == 50.0 + 3.0j
        else:
            caught += 1
    # Most bytes are read, and what was written whole is found again.
    assert caught > len(whole) / 14
    path.write_bytes(whole)
    assert fetch(tmp_path, name)["z_ohm"] == 50.0 + 3.0j


def test_arrays_of_another_form_are_solved_anew(tmp_path):
    name = identity("solution", MODEL, MHZ, 13.0, 0.005)
    shares = np.array([0.5, 0.1, 0.0, 0.4])
    bad = {
        "z_ohm": np.array(50.0 + 0j),
        "shares": shares,
        "vertical": np.full((3, 4), np.nan),
        "horizontal": np.zeros((3, 4)),
    }
    for arrays in (bad, {**bad, "shares": shares[:2]}, {"z_ohm": bad["z_ohm"]}):
        keep(tmp_path, name, arrays)
        assert solve_wire(MODEL, MHZ, AVERAGE, tmp_path).pattern.elevation_deg.size > 3


def test_a_directory_that_cannot_be_written_is_done_without(tmp_path):
    file = tmp_path / "file"
    file.write_text("in the way")
    assert_same(
        solve_wire(MODEL, MHZ, AVERAGE, file / "below"), solve_wire(MODEL, MHZ, AVERAGE)
    )
    assert file.read_text() == "in the way"


def test_a_directory_that_is_only_read_still_serves(tmp_path, monkeypatch, never_solve):
    good = solve_wire(MODEL, MHZ, AVERAGE, tmp_path)

    def forbidden(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "utime", forbidden)
    never_solve()
    assert_same(solve_wire(MODEL, MHZ, AVERAGE, tmp_path), good)


@pytest.mark.parametrize("key", ["z_ohm", "vertical", "shares"])
def test_what_is_no_number_is_never_believed(key, tmp_path):
    good = solve_wire(MODEL, MHZ, AVERAGE, tmp_path)
    (path,) = tmp_path.glob("solution-*.npz")
    with np.load(path) as stored:
        arrays = dict(stored)
    arrays[key] = np.full_like(arrays[key], np.nan)
    np.savez(path, **arrays)
    assert_same(solve_wire(MODEL, MHZ, AVERAGE, tmp_path), good)


def test_a_wire_that_is_only_tried_is_not_kept(tmp_path):
    """But it is read where it is there, and the ground's table is kept."""
    good = solve_wire(MODEL, MHZ, AVERAGE, tmp_path, is_kept=False)
    assert not list(tmp_path.glob("solution-*"))
    assert list(tmp_path.iterdir())
    solve_wire(MODEL, MHZ, AVERAGE, tmp_path)
    assert_same(solve_wire(MODEL, MHZ, AVERAGE, tmp_path, is_kept=False), good)


def test_a_full_disk_leaves_nothing_half_written(tmp_path, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(np, "savez", full)
    solve_wire(MODEL, MHZ, AVERAGE, tmp_path)
    assert not list(tmp_path.iterdir())


def test_what_was_not_used_for_longest_goes_first(tmp_path):
    for n in range(5):
        path = tmp_path / f"solution-{n}.npz"
        path.write_bytes(bytes(100))
        os.utime(path, (1000 + n, 1000 + n))
    (tmp_path / "solution-4.npz.part").write_bytes(bytes(100))
    os.utime(tmp_path / "solution-4.npz.part", (1, 1))
    (tmp_path / "notes.txt").write_bytes(bytes(1000))
    assert prune(tmp_path, 340) == 300  # a tenth is freed besides
    left = sorted(path.name for path in tmp_path.iterdir())
    assert left == [
        "notes.txt",
        "solution-2.npz",
        "solution-3.npz",
        "solution-4.npz",
    ]


def test_reading_counts_as_use_and_writing_makes_room(tmp_path, monkeypatch):
    names = [identity("trial", n) for n in range(4)]
    for n, name in enumerate(names[:3]):
        keep(tmp_path, name, {"x": np.zeros(1000)})
        (newest,) = set(tmp_path.iterdir()) - set(
            cache_files.path_of(tmp_path, other) for other in names[:n]
        )
        os.utime(newest, (1000 + n, 1000 + n))
    assert fetch(tmp_path, names[0]) is not None
    size = next(tmp_path.iterdir()).stat().st_size
    monkeypatch.setattr(cache_files, "MOST_BYTES", 3.5 * size)
    keep(tmp_path, names[3], {"x": np.zeros(1000)})
    found = [fetch(tmp_path, name) is not None for name in names]
    assert found == [True, False, True, True]


def test_kinds_do_not_mix(tmp_path):
    keep(tmp_path, identity("sweep", 1.0), {"x": np.zeros(1)})
    assert fetch(tmp_path, identity("exposure", 1.0)) is None


WORKER = """
import sys
from pathlib import Path
from advisor.antenna.ground import ground_by_name
from advisor.antenna.shapes.registry import hang
from advisor.antenna.solver.cache import solve_wire
for mhz in (14.0, 14.1, 14.2, 14.3):
    model = hang("dipole", 14.1, {"height_m": 6.0}).model()
    solved = solve_wire(model, mhz, ground_by_name("average"), Path(sys.argv[1]))
    print(repr(solved.z_ohm), solved.pattern.vertical.sum().hex())
"""


@pytest.mark.slow
def test_two_processes_at_once_get_the_same(tmp_path):
    running = [
        subprocess.Popen(
            [sys.executable, "-c", WORKER, str(tmp_path)],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            text=True,
        )
        for _ in range(2)
    ]
    said = [process.communicate()[0] for process in running]
    assert [process.returncode for process in running] == [0, 0]
    assert said[0] == said[1]
    assert len(said[0].splitlines()) == 4
    assert not list(tmp_path.glob("*.part"))


def set_up():
    return build_set_up(
        {"shape": "bottom-fed half-square", "length_m": 24.0},
        tuple(band.name for band in bands_for_region(1)[:10]),
    )


@pytest.mark.bench
@pytest.mark.slow
def test_ten_bands_from_the_cache(tmp_path, capsys, aim):
    """Warm against cold in one run; the aim is 0.1 s on a quiet machine."""

    def spent():
        wires.solve_at.cache_clear()
        start = time.perf_counter()
        found = wires.solve_setup(set_up(), bands_for_region(1), "average", tmp_path)
        assert len(found) == 10
        return time.perf_counter() - start

    cold_s = spent()
    warm_s = min(spent() for _ in range(5))
    with capsys.disabled():
        print(
            f"\nten bands of one wire: cold {cold_s:.2f} s, from the cache"
            f" {1e3 * warm_s:.0f} ms, {cold_s / warm_s:.0f} times faster"
        )
    aim("ten bands from the cache, s", warm_s, min(0.2 * cold_s, 0.4))


def test_the_version_counts_every_module_that_decides():
    """Whatever the solver imports of its own package, an edit of it is seen."""
    named = {f"advisor.antenna.{n.replace('/', '.')}" for n in cache._SOLVER}
    waiting = {
        "advisor.antenna.solver.currents", "advisor.antenna.solver.farfield",
        "advisor.antenna.solver.nearfield", "advisor.antenna.pattern",
        "advisor.antenna.exposure",
    }  # fmt: skip
    seen = set()
    while waiting:
        name = waiting.pop()
        seen.add(name)
        source = (ROOT / f"{name.replace('.', '/')}.py").read_text()
        found = set(re.findall(r"^from (advisor\.antenna[\w.]*) import", source, re.M))
        waiting |= found - seen
    # How files are kept decides nothing.
    missing = seen - {"advisor.antenna.solver.cache_files"} - named
    assert not missing
