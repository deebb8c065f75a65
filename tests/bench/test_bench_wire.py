"""How fast wires over real ground are solved, beside plain linear algebra."""

import itertools
import time

import numpy as np
import pytest
from scipy.linalg import lapack

from advisor.antenna.ground import Ground, complex_permittivity
from advisor.antenna.shapes.earth import with_earth
from advisor.antenna.shapes.registry import hang
from advisor.antenna.solver import contact, mesh, sommerfeld
from advisor.antenna.solver.currents import solve
from advisor.antenna.solver.farfield import pattern_of
from advisor.antenna.solver.kernel import free_space_reaction, ground_reaction
from advisor.antenna.solver.mesh import build_mesh
from advisor.antenna.solver.sommerfeld import TableRange, tabulate
from advisor.antenna.solver.sweep import impedance_over
from advisor.antenna.wires import Source, Wire, WireModel

AVERAGE = Ground("average", 13.0, 0.005, "handbook")
TEN_BANDS_MHZ = [1.9, 3.65, 5.36, 7.1, 10.12, 14.2, 18.1, 21.2, 24.94, 28.5]
LIGHT = 299.792458


def best_s(job, repeat=5):
    """Least wall time of a few runs: other work on the machine only adds."""
    spent = []
    for _ in range(repeat):
        start = time.perf_counter()
        job()
        spent.append(time.perf_counter() - start)
    return min(spent)


def three_sided():
    """A wire of one wavelength on 7.1 MHz, its ends half a metre up."""
    corners = [(0, 0, 0.5), (0, 0, 9), (0, 25.2, 9), (0, 25.2, 0.5)]
    wires = tuple(Wire(a, b, 0.001) for a, b in itertools.pairwise(corners))
    return WireModel(wires, (Source(1, 0.0),))


def sloping(wavelengths, mhz):
    length = wavelengths * LIGHT / mhz
    return WireModel((Wire((0, 0, 4), (0, length, 9), 0.001),), (Source(0, 5.0),))


def linear_algebra_s(size):
    """A LAPACK solve and one complex exponential for every pair, same machine."""
    rng = np.random.default_rng(size)
    matrix = rng.normal(size=(size, size)) + 1j * rng.normal(size=(size, size))
    phase = 1j * rng.normal(size=(size, size))
    solved = best_s(lambda: lapack.zgesv(matrix, matrix[:, :1]))
    return solved, best_s(lambda: np.exp(phase))


@pytest.mark.bench
@pytest.mark.slow
def test_ten_bands_cold_and_warm(tmp_path, ratio, aim):
    model = three_sided()

    def all_bands(cache_dir=None):
        tabulate.cache_clear()
        for mhz in TEN_BANDS_MHZ:
            pattern_of(solve(model, mhz, AVERAGE, cache_dir=cache_dir))

    what = "one wavelength of wire, ten bands, full patterns, {}; to the yardstick"
    # The aims are 1 s and 0.1 s, of which the yardstick takes about 0.1 s.
    cold = ratio("wire, cold", all_bands, what.format("nothing cached"), most=30.0)
    all_bands(tmp_path)
    warm = ratio(
        "wire, ground tables cached",
        lambda: all_bands(tmp_path),
        what.format("ground tables from the disk"),
    )
    assert sommerfeld.tabulate.cache_info().misses == 0
    aim("wire, from the disk over cold", warm / cold, 1.0)


@pytest.mark.bench
@pytest.mark.slow
@pytest.mark.parametrize(("where", "up_m"), [("lying", 0.02), ("buried", -0.05)])
def test_eight_radials_on_ten_bands(ratio, where, up_m):
    """Turns of one radial are filled once; a wavelength on 14 MHz stands over them."""
    mast = [Wire((0, 0, max(up_m, 0.0)), (0, 0, 8), 0.001)]
    mast.append(Wire((0, 0, 8), (0, 13, 8), 0.001))
    if up_m < 0.0:
        mast.append(Wire((0, 0, 0), (0, 0, up_m), 0.001))
    turns = 2.0 * np.pi * np.arange(8) / 8
    tips = [(5.0 * np.sin(turn), 5.0 * np.cos(turn), up_m) for turn in turns]
    radials = [Wire((0, 0, up_m), tip, 0.001) for tip in tips]
    model = WireModel((*mast, *radials), (Source(0, 0.05),))

    def all_bands():
        tabulate.cache_clear()
        contact._table.cache_clear()
        for mhz in TEN_BANDS_MHZ:
            pattern_of(solve(model, mhz, AVERAGE))

    what = (
        f"one wavelength of wire over eight {where} radials, ten bands, nothing cached"
    )
    ratio(f"wire, {where} radials", all_bands, f"{what}; to the yardstick")


@pytest.mark.bench
@pytest.mark.slow
@pytest.mark.parametrize(("up_m", "most"), [(0.02, 0.5), (-0.05, 0.2)])
def test_many_radials_as_one(aim, monkeypatch, up_m, most):
    """64 of them round a mast, beside the same with every one by itself."""
    hung = hang("ground-mounted vertical", 7.1, {"radials_n": 64.0})
    model = with_earth(hung, radials_at_m=up_m).model()

    def solved():
        mesh._layout.cache_clear()
        solve(model, 7.1, AVERAGE)

    solved()
    as_one = best_s(solved, 3)
    monkeypatch.setattr(mesh, "first_of_turns", lambda m: np.arange(len(m.wires)))
    each = best_s(solved, 2)
    mesh._layout.cache_clear()
    what = f"wire, 64 radials at {up_m} m as one over each by itself"
    aim(what, as_one / each, most)


@pytest.mark.bench
@pytest.mark.slow
def test_a_band_from_three_fills(ratio):
    """Eleven frequencies as the SWR of a long wire asks for."""
    mhz = np.linspace(26.5, 31.5, 11)
    model = sloping(4.0, 28.5)
    ratio(
        "wire, SWR over a band",
        lambda: impedance_over(model, mhz, AVERAGE, 28.5),
        "impedance of four wavelengths of wire on eleven frequencies; to the yardstick",
    )


@pytest.mark.bench
@pytest.mark.slow
def test_growth_with_the_number_of_segments(aim, capsys):
    mhz = 28.5
    k = 2e6 * np.pi * mhz / 299792458.0
    eps = complex(complex_permittivity(AVERAGE, mhz))
    lines, fills = [], []
    for wavelengths in (2, 4, 8, 16):
        model = sloping(wavelengths, mhz)
        cut = build_mesh(model, LIGHT / mhz)
        size = len(cut.radius_m)
        span = TableRange(eps, 8 * k, 18 * k, k * model.wires[0].length_m).widened()

        def table(span=span):
            tabulate.cache_clear()
            tabulate(span)

        tabled = best_s(table, 3)
        free = best_s(lambda cut=cut: free_space_reaction(cut, k), 3)
        ground = best_s(lambda cut=cut: ground_reaction(cut, k, eps), 3)
        whole = best_s(lambda model=model: solve(model, mhz, AVERAGE), 3)
        solution = solve(model, mhz, AVERAGE)
        sky = best_s(lambda solution=solution: pattern_of(solution), 3)
        solved, phases = linear_algebra_s(size)
        fills.append((size, free + ground))
        lines.append(
            f"N {size:4d}: table {1e3 * tabled:6.1f}, fill {1e3 * free:6.1f} air +"
            f" {1e3 * ground:6.1f} ground, all but table {1e3 * whole:6.1f}, pattern"
            f" {1e3 * sky:6.1f}; zgesv {1e3 * solved:6.1f}, exp of N²"
            f" {1e3 * phases:5.2f}; fill over exp {(free + ground) / phases:4.0f}"
        )
    growth = np.log(fills[-1][1] / fills[0][1]) / np.log(fills[-1][0] / fills[0][0])
    with capsys.disabled():
        print("\nmilliseconds\n" + "\n".join(lines) + f"\nfill grows as N^{growth:.2f}")
    aim("growth with segments", growth, 2.3)
