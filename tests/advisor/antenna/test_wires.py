"""Wires and loads: what they are, and what is refused."""

import numpy as np
import pytest

from advisor.antenna.wires import Load, Wire
from geo.errors import InputError


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"end_m": (0, 0, 5)}, "same point"),
        ({"radius_m": 0.0}, "radius"),
        ({"radius_m": float("nan")}, "radius"),
        ({"end_m": (0, np.inf, 5)}, "finite"),
        ({"conductivity_s_m": 0.0}, "conductivity"),
        ({"insulation_eps_r": 0.5}, "insulation"),
    ],
)
def test_wires_that_cannot_be_are_refused(change, said):
    good = {"start_m": (0, 0, 5), "end_m": (0, 10, 5), "radius_m": 0.001}
    with pytest.raises(InputError, match=said):
        Wire(**(good | change))


@pytest.mark.parametrize("kind", ["serial", ""])
def test_loads_that_cannot_be_are_refused(kind):
    with pytest.raises(InputError, match="series, parallel, trap"):
        Load(0, 1.0, resistance_ohm=1.0, kind=kind)
    with pytest.raises(InputError, match="0 or more"):
        Load(0, 1.0)
    with pytest.raises(InputError, match="0 or more"):
        Load(0, 1.0, resistance_ohm=-1.0)


def test_load_impedances_are_those_of_the_circuit():
    f = 7.0
    w = 2e6 * np.pi * f
    r, ind, cap = 3.0, 5e-6, 60e-12
    parts = {"resistance_ohm": r, "inductance_h": ind, "capacitance_f": cap}
    series = Load(0, 0.0, **parts).impedance_ohm(f)
    assert series == pytest.approx(r + 1j * (w * ind - 1 / (w * cap)))
    parallel = Load(0, 0.0, kind="parallel", **parts).impedance_ohm(f)
    assert 1 / parallel == pytest.approx(1 / r + 1j * (w * cap - 1 / (w * ind)))
    trap = Load(0, 0.0, kind="trap", **parts).impedance_ohm(f)
    assert 1 / trap == pytest.approx(1 / (r + 1j * w * ind) + 1j * w * cap)
