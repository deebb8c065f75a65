"""
Whole circuits against a second computation that shares no code with the program.

``docs/studies/circuits.py`` works every step from two places to a chance out again, in
scalars, from the printed formulas of ITU-R P.372, P.525, P.533, P.534, P.842 and
P.1240, of Lucas and Haydon and of the Astronomical Almanac (status of each:
docs/method.md). It reads the layers, the lightning noise, the auroral table and the
outlines of land from the program, which have tests of their own.

Tolerances are in the study: thousandths where both ought to be equal; 0.1 dB where the
sun's place (0.01 deg), the grid of reflection angles or the whole degrees of the far
end's pattern come in; 0.002 in a chance, which is what 0.04 dB makes at its steepest.
"""

import importlib.util
import sys
from pathlib import Path

import pytest

STUDIES = Path(__file__).resolve().parents[2] / "docs" / "studies"


def load_study():
    """Load the study, which imports its neighbours by name."""
    spec = importlib.util.spec_from_file_location("circuits", STUDIES / "circuits.py")
    module = importlib.util.module_from_spec(spec)
    sys.path.insert(0, str(STUDIES))
    try:
        spec.loader.exec_module(module)
    finally:
        sys.path.remove(str(STUDIES))
    return module


study = load_study()


@pytest.mark.slow
@pytest.mark.parametrize("circuit", study.CIRCUITS, ids=lambda circuit: circuit.name)
def test_both_agree_on_every_mode_and_band(outside, circuit):
    """MUF, angle, every loss, support, S/N and chance, one by one."""
    found = study.compare(circuit)
    check = outside("second computation, docs/studies/circuits.py", "worked apart")
    for what, (count, apart, where) in found.items():
        allowed = study.TOLERANCES.get(what, 0.0)
        assert apart <= allowed, f"{what}: {apart:.4f} at {where}"
        if count:
            what = f"whole circuits: largest difference in {what}"
            if allowed:
                check.near(what, apart, 0.0, abs=allowed, why="see Whole circuits")
            else:
                check.equal(what, apart, 0.0, shown="0")
    # Each band has three chances; without modes nothing would be compared.
    assert found["chance"][0] == 3 * len(study.BANDS)
    assert found["loss [dB]"][0] >= len(study.BANDS)


@pytest.mark.slow
def test_the_circuits_cover_what_they_should(outside):
    """Short to long, day and night, all seasons, quiet and active, every layer."""
    worked = [study.work_out(circuit) for circuit in study.CIRCUITS]
    lengths = [distance for distance, *_ in worked]
    for low, high in [(0, 300), (300, 2000), (2000, 4000), (4000, 7000),
                      (7000, 9000), (9000, 20000), (20000, 40000)]:  # fmt: skip
        assert any(low <= length < high for length in lengths)
    check = outside("second computation, docs/studies/circuits.py", "worked apart")
    suns = [skies["mid"].zenith for _, skies, *_ in worked]
    assert min(suns) < 40.0
    assert max(suns) > 110.0
    assert {int(circuit.utc[5:7]) for circuit in study.CIRCUITS} >= {1, 3, 6, 9, 12}
    activity = [circuit.r12 for circuit in study.CIRCUITS]
    assert min(activity) <= 10.0
    assert max(activity) >= 150.0
    shown = {study.both_rows(circuit)[0] for circuit in study.CIRCUITS}
    layers = {name.lstrip("0123456789") for name in shown}
    check.equal("layers met on the circuits", sorted(layers), ["E", "Es", "F1", "F2"])
