"""Rays kept in memory and on disk: the same to the last bit, and never stale."""

import numpy as np
import pytest

from advisor.propagation import kept, modes
from advisor.propagation.modes import hop_modes
from geo.ionosphere.layers import layers_at
from geo.paths import paths_to

BANDS = np.array([7.1, 14.1])
TIMES = np.array(["2026-03-21T03"], "datetime64[s]")


def sky(r12=60.0):
    """Two paths and their layers."""
    paths = paths_to(48.0, 10.0, [45.0, 40.0], [5.0, 30.0])
    where = paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel()
    return paths, layers_at(*where, TIMES, r12)


def whole(found):
    """All arrays of some modes, as bytes."""
    each = {**vars(found), **found.losses_db}
    return {k: v.tobytes() for k, v in each.items() if isinstance(v, np.ndarray)}


@pytest.fixture
def searches(monkeypatch):
    """Count the searches, with nothing in memory at first."""
    monkeypatch.setattr(kept, "_held", kept.OrderedDict())
    count = []
    search = modes.rays_of_modes

    def counted(asked):
        count.append(asked)
        return search(asked)

    monkeypatch.setattr(modes, "rays_of_modes", counted)
    return count


@pytest.mark.slow
def test_memory_and_disk_give_the_same_bytes(searches, tmp_path):
    first = whole(hop_modes(*sky(), BANDS, 3.0, tmp_path))
    assert whole(hop_modes(*sky(), BANDS)) == first
    kept._held.clear()
    assert whole(hop_modes(*sky(), BANDS, 3.0, tmp_path)) == first
    assert len(searches) == 1
    assert len(list(tmp_path.glob("rays-*.npz"))) == 1
    # My horizon is no part of it.
    assert np.any(hop_modes(*sky(), BANDS, 40.0).losses_db["horizon"] > 20.0)
    assert len(searches) == 1


@pytest.mark.slow
def test_whatever_decides_a_ray_asks_anew(searches, monkeypatch):
    hop_modes(*sky(), BANDS)
    hop_modes(*sky(61.0), BANDS)
    hop_modes(*sky(), BANDS + 0.001)
    monkeypatch.setattr(kept, "_version", lambda: "another")
    hop_modes(*sky(), BANDS)
    assert len(searches) == 4


@pytest.mark.slow
def test_a_damaged_file_is_worked_out_anew(searches, tmp_path):
    first = whole(hop_modes(*sky(), BANDS, 3.0, tmp_path))
    (file,) = tmp_path.iterdir()
    file.write_bytes(file.read_bytes()[:5000])
    kept._held.clear()
    assert whole(hop_modes(*sky(), BANDS, 3.0, tmp_path)) == first
    assert len(searches) == 2


def test_memory_is_bounded_and_what_was_asked_last_stays(monkeypatch):
    monkeypatch.setattr(kept, "_held", kept.OrderedDict())
    monkeypatch.setattr(kept, "MOST_BYTES", 2500)
    done = []

    def ask(number, size=125):
        def work():
            done.append(number)
            return {"values": np.full(size, number)}

        return kept.kept("test", [np.array(number)], work)

    for number in (1.0, 2.0, 1.0, 3.0, 1.0, 2.0):
        assert ask(number)["values"][0] == number
    assert done == [1.0, 2.0, 3.0, 2.0]
    monkeypatch.setattr(kept, "MOST_EACH_BYTES", 999)
    for _ in range(2):
        ask(4.0)
    assert done[-2:] == [4.0, 4.0]
