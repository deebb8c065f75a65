"""Currents: the integrals behind them, invariants, limits, losses and loads."""

import dataclasses
import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad, quad_vec
from scipy.optimize import brentq
from scipy.special import ellipkm1

from advisor.antenna.ground import PERFECT, Ground
from advisor.antenna.shapes.registry import SHAPES, hang
from advisor.antenna.solver import currents
from advisor.antenna.solver.currents import internal_impedance, solve
from advisor.antenna.solver.farfield import power_budget
from advisor.antenna.solver.kernel import (
    VACUUM_PERMEABILITY_H_M,
    free_space_reaction,
    ground_reaction,
    half_functions,
    image_reaction,
)
from advisor.antenna.solver.mesh import Mesh, build_mesh
from advisor.antenna.wires import Load, Source, Wire, WireModel
from geo.errors import InputError

AVERAGE = Ground("average", 13.0, 0.005, "handbook")
DRY = Ground("very dry", 3.0, 1e-4, "ITU-R P.368")
LOSSLESS = np.inf
LAMBDA = 20.0
MHZ = 299.792458 / LAMBDA
K = 2 * np.pi / LAMBDA


def dipole(length=10.0, height=5.0, radius=0.001, at=None, **wire):
    wire = {"conductivity_s_m": LOSSLESS} | wire
    return WireModel(
        (Wire((0, 0, height), (0, length, height), radius, **wire),),
        (Source(0, 0.5 * length if at is None else at),),
    )


def three_sided(low=0.5, top=6.0, across=12.0, radius=0.001):
    corners = [(0, 0, low), (0, 0, top), (0, across, top), (0, across, low)]
    wires = tuple(Wire(a, b, radius, LOSSLESS) for a, b in itertools.pairwise(corners))
    return WireModel(wires, (Source(1, 0.0),))


def bare_mesh(*segments, radius=0.001):
    start, end = (np.array(ends, float) for ends in zip(*segments, strict=True))
    none = np.zeros(0)
    own = np.arange(len(start))
    return Mesh(start, end, own, np.full(len(start), radius), own, none, none)


# ---------------------------------------------------------------- integrals


@pytest.mark.parametrize("length", [0.05, 0.5, 1.0, 1.5])
def test_half_functions_follow_a_sine(length):
    value, slope = half_functions(np.array([length]), K)
    tolerance = 4e-3 * (K * length) ** 4 + 1e-12
    t = np.linspace(0, 1, 21)
    powers = t ** np.arange(4)[:, None]
    sine = np.sin(K * length * t) / np.sin(K * length)
    np.testing.assert_allclose(value[0, 1] @ powers, sine, atol=tolerance)
    np.testing.assert_allclose(value[0, 0] @ powers, sine[::-1], atol=tolerance)
    cosine = K * np.cos(K * length * t) / np.sin(K * length)
    np.testing.assert_allclose(
        slope[0, 1] @ powers, cosine, atol=8 * tolerance / length
    )


def by_adaptive_quadrature(mesh, p, q, sign=1.0):
    """The textbook double integral, with nothing taken out. `sign` is the image's."""
    value, slope = half_functions(mesh.length_m, K)
    mirror = np.array([1, 1, sign])
    length = mesh.length_m
    cosine = mesh.tangent[p] @ (sign * mirror * mesh.tangent[q])
    other_start, other_end = mesh.start_m[q] * mirror, mesh.end_m[q] * mirror
    out = np.empty((2, 2), complex)
    for a in range(2):
        for b in range(2):

            def integrand(v, u, a=a, b=b):
                pu, pv = u ** np.arange(4), v ** np.arange(4)
                apart = mesh.start_m[p] + u * (mesh.end_m - mesh.start_m)[p]
                apart = apart - other_start - v * (other_end - other_start)
                r = np.sqrt(apart @ apart + mesh.radius_m[p] ** 2)
                vector = cosine * (value[p, a] @ pu) * (value[q, b] @ pv)
                scalar = sign * (slope[p, a] @ pu) * (slope[q, b] @ pv) / K**2
                return (vector - scalar) * np.exp(-1j * K * r) / r

            parts = [
                dblquad(
                    lambda v, u, part=part, f=integrand: part(f(v, u)),
                    0,
                    1,
                    0,
                    1,
                    epsabs=1e-6,
                    epsrel=1e-6,
                )[0]
                for part in (np.real, np.imag)
            ]
            out[a, b] = (parts[0] + 1j * parts[1]) * length[p] * length[q]
    return 1j * 2e6 * np.pi * MHZ * VACUUM_PERMEABILITY_H_M / (4 * np.pi) * out


@pytest.mark.slow
@pytest.mark.parametrize(
    "other",
    [
        ((0, 1, 1), (0, 1.8, 1)),  # next in line
        ((0, 1, 1), (0.6, 1.5, 1.7)),  # at an angle, sharing a point
        ((0.08, 0.3, 1), (0.08, 1.2, 1)),  # abreast, staggered
        ((-0.4, 0.5, 1.1), (0.5, 0.45, 1.1)),  # passing over
        ((0, 2.2, 1), (0.1, 3.0, 1.4)),  # one apart
        ((4, 2.2, 1), (5, 3.0, 1.4)),  # far
    ],
)
def test_reactions_agree_with_adaptive_quadrature(outside, other):
    mesh = bare_mesh(((0, 0, 1), (0, 1, 1)), other, radius=0.02)
    ours = free_space_reaction(mesh, K)[0, :, 1]
    exact = by_adaptive_quadrature(mesh, 0, 1)
    np.testing.assert_allclose(ours, exact, rtol=2e-5, atol=2e-5 * abs(exact).max())
    check = outside(
        "scipy, adaptive quadrature of the double integral", "second library"
    )
    what, why = "reaction of two segments, six places, by its greatest", "of the rule"
    size = abs(exact).max()
    check.near(what, ours / size, exact / size, abs=4e-5, why=why)
    image = image_reaction(mesh, K)[0, :, 1]
    exact = by_adaptive_quadrature(mesh, 0, 1, sign=-1.0)
    np.testing.assert_allclose(image, exact, rtol=2e-5, atol=2e-5 * abs(exact).max())
    what, size = "the same with an image, by its greatest", abs(exact).max()
    check.near(what, image / size, exact / size, abs=4e-5, why=why)


@pytest.mark.slow
def test_a_segments_reaction_on_itself_is_that_of_its_surface(outside):
    """One integral over the distance along: 1/R round the wire is elliptic."""
    length, radius = 1.0, 0.02
    mesh = bare_mesh(((0, 0, 1), (0, 0.6, 1.8)), radius=radius)
    value, slope = half_functions(mesh.length_m, K)
    u, weight = np.polynomial.legendre.leggauss(12)
    half = np.pi * (np.arange(16) + 0.5) / 32

    def overlap(functions, w):
        """All pairs of halves, w apart."""
        at = w + 0.5 * (1 - w) * (1 + u)
        powers = np.arange(4)[:, None]
        ours, theirs = functions[0] @ at**powers, functions[0] @ (at - w) ** powers
        return 0.5 * (1 - w) * ((ours * weight) @ theirs.T)

    def kernel(w):
        long2 = w**2 + 4 * radius**2
        static = 2 / np.pi * ellipkm1(w**2 / long2) / np.sqrt(long2)
        r = np.sqrt(w**2 + (2 * radius * np.sin(half)) ** 2)
        return static + np.mean(np.expm1(-1j * K * r) / r)

    def integrand(w):
        both = overlap(value, w) - overlap(slope, w) / K**2
        return kernel(w) * (both + both.T)

    exact, _ = quad_vec(integrand, 0.0, length, epsrel=1e-8)
    exact *= 1j * 2e6 * np.pi * MHZ * VACUUM_PERMEABILITY_H_M / (4 * np.pi)
    check = outside("scipy, elliptic integral and quadrature", "second library")
    what, why = "reaction of a segment on itself [ohm]", "of the rule"
    ours = free_space_reaction(mesh, K)[0, :, 0]
    check.near(what, ours, exact, rel=3e-5, why=why)


@st.composite
def pieces(draw):
    """Two segments of the length that the mesh makes, anywhere above ground."""
    out = []
    for _ in range(2):
        start = [
            draw(st.floats(-3, 3)),
            draw(st.floats(-3, 3)),
            draw(st.floats(0.1, 4)),
        ]
        length, bearing = draw(st.floats(0.2, 1.2)), draw(st.floats(0, 6.28))
        rise = draw(st.floats(-1, 1))
        level = length * np.sqrt(1 - rise**2)
        end = (
            start[0] + level * np.sin(bearing),
            start[1] + level * np.cos(bearing),
            max(start[2] + length * rise, 0.1),
        )
        out.append((tuple(start), end))
    return out


@pytest.mark.slow
@settings(max_examples=25)
@given(pieces())
def test_over_a_very_good_conductor_the_tables_give_the_image(two):
    if min(np.linalg.norm(np.subtract(*ends)) for ends in two) < 0.1:
        return
    mesh = bare_mesh(*two)
    image = image_reaction(mesh, K)
    ground = ground_reaction(mesh, K, 1.0 - 1e10j)
    np.testing.assert_allclose(ground, image, atol=3e-4 * np.abs(image).max())


@pytest.mark.slow
@settings(max_examples=25)
@given(pieces())
def test_the_grounds_reaction_turns_with_the_frame_and_with_the_segments(two):
    (a, b), (c, d) = two
    if min(np.linalg.norm(np.subtract(*ends)) for ends in two) < 0.1:
        return
    eps = 13.0 - 6.0j
    here = ground_reaction(bare_mesh((a, b), (c, d)), K, eps)
    np.testing.assert_allclose(here, here.transpose(2, 3, 0, 1), atol=1e-9)

    def turned(point):
        c, s = np.cos(0.7), np.sin(0.7)
        x, y, z = point
        return (c * x - s * y + 3.0, s * x + c * y, z)

    there = ground_reaction(
        bare_mesh((turned(a), turned(b)), (turned(c), turned(d))), K, eps
    )
    np.testing.assert_allclose(there, here, atol=2e-5 * np.abs(here).max())
    back = ground_reaction(bare_mesh((a, b), (d, c)), K, eps)
    np.testing.assert_allclose(
        back[0, :, 1], -here[0, :, 1, ::-1], atol=1e-9 * np.abs(here).max()
    )


# ---------------------------------------------------------------- invariants


GROUNDS = [None, PERFECT, AVERAGE, DRY]


@pytest.mark.parametrize("ground", GROUNDS)
def test_two_feeds_are_reciprocal(ground):
    model = WireModel(
        (
            Wire((0, 0, 3), (2, 7, 5), 0.001),
            Wire((4, -2, 1), (4, 3, 6), 0.002),
        ),
        (Source(0, 3.0), Source(1, 2.0)),
    )
    y = solve(model, MHZ, ground).admittance_s
    assert y[0, 1] == pytest.approx(y[1, 0], rel=1e-9)
    assert abs(y[0, 1]) > 1e-6


@pytest.mark.parametrize("ground", GROUNDS)
def test_a_feed_mirrored_about_the_middle_sees_the_same(ground):
    near, far = (
        solve(dipole(at=at, length=13.0), MHZ, ground).z_in_ohm for at in (3.1, 9.9)
    )
    assert near == pytest.approx(far, rel=1e-6)


@pytest.mark.parametrize("ground", [None, AVERAGE])
def test_order_and_direction_of_wires_do_not_matter(ground):
    model = three_sided()
    z = solve(model, MHZ, ground).z_in_ohm[0]
    a, b, c = model.wires
    for wires, feed in (
        ((c, b, a), Source(1, 0.0)),
        ((dataclasses.replace(a, start_m=a.end_m, end_m=a.start_m), b, c), None),
        (
            (a, dataclasses.replace(b, start_m=b.end_m, end_m=b.start_m), c),
            Source(1, b.length_m),
        ),
    ):
        same = WireModel(wires, (feed or Source(1, 0.0),))
        assert solve(same, MHZ, ground).z_in_ohm[0] == pytest.approx(z, rel=1e-6)
    halves = tuple(
        Wire(p, q, 0.001, LOSSLESS)
        for p, q in ((b.start_m, (0, 5.0, 6.0)), ((0, 5.0, 6.0), b.end_m))
    )
    cut = solve(WireModel((a, *halves, c), (Source(1, 0.0),)), MHZ, ground)
    assert cut.z_in_ohm[0] == pytest.approx(z, rel=0.01)


@pytest.mark.parametrize("ground", [None, AVERAGE])
def test_bearing_and_place_do_not_matter(ground):
    model = three_sided()

    def moved(point):
        x, y, z = point
        return (7 + 0.6 * x + 0.8 * y, -40 - 0.8 * x + 0.6 * y, z)

    wires = tuple(
        dataclasses.replace(w, start_m=moved(w.start_m), end_m=moved(w.end_m))
        for w in model.wires
    )
    z = solve(model, MHZ, ground).z_in_ohm[0]
    there = solve(WireModel(wires, model.sources), MHZ, ground).z_in_ohm[0]
    assert there == pytest.approx(z, rel=2e-5)


def test_scaling_lengths_and_frequency_together_changes_nothing():
    big = solve(dipole(), MHZ, None).z_in_ohm[0]
    feed = Source(0, 0.5, gap_m=0.005)
    small = WireModel((Wire((0, 0, 0), (0, 1, 0), 1e-4, LOSSLESS),), (feed,))
    assert solve(small, 10 * MHZ, None).z_in_ohm[0] == pytest.approx(big, rel=1e-9)


THICK_M = 5e-3


@pytest.mark.parametrize(
    ("model", "part"),
    [
        (dipole(), 0.02),
        (three_sided(), 0.02),
        # End-fed, at the anti-resonance; the same of tube.
        (dipole(length=19.0), 0.02),
        (dipole(length=19.0, radius=THICK_M), 0.05),
        (dipole(insulation_m=1e-3, insulation_eps_r=3.0), 0.02),
    ],
)
def test_refining_moves_no_impedance_by_more_than_is_stated(model, part):
    z, fine = (
        solve(model, MHZ, AVERAGE, segments_per_wavelength=n).z_in_ohm[0]
        for n in (16.0, 100.0)
    )
    assert z == pytest.approx(fine, rel=part)


@pytest.mark.slow
@pytest.mark.parametrize("shape", list(SHAPES))
@pytest.mark.parametrize(("cut_mhz", "mhz"), [(3.65, 3.65), (7.1, 21.2), (50.2, 50.2)])
def test_every_shape_as_cut_is_within_two_percent_of_the_refined(shape, cut_mhz, mhz):
    points = [(0, 0, 6), (0, 0.4, 8), (3, 8, 8)] if shape == "free wire" else ()
    model = hang(shape, cut_mhz, points_m=points).model()
    z, fine = (
        solve(model, mhz, AVERAGE, segments_per_wavelength=n).z_in_ohm[0]
        for n in (16.0, 64.0)
    )
    assert z == pytest.approx(fine, rel=0.02)


def test_the_gap_is_as_wide_as_stated():
    """Against twenty feeds in a row, that share voltage and place."""
    at = 5.7 / 2 + np.arange(-9.5, 10) / 20 * 0.05
    wires = (Wire((0, 0, 0), (0, 5.7, 0), 5e-4),)
    row = WireModel(wires, tuple(Source(0, s, 1 / 20, gap_m=0.0025) for s in at))
    spread = solve(row, 50.0, None, segments_per_wavelength=100.0)
    one = solve(WireModel(wires, (Source(0, 5.7 / 2, gap_m=0.05),)), 50.0, None)
    expected = 1 / spread.source_currents_a.mean()
    assert one.z_in_ohm[0] == pytest.approx(expected, rel=0.02)
    delta = WireModel(wires, (Source(0, 5.7 / 2, gap_m=0.004),))
    narrow = solve(delta, 50.0, None).z_in_ohm[0]
    assert abs(narrow / expected - 1) > 0.05


@pytest.mark.parametrize("points", [3, 11, 101])
def test_a_wire_drawn_finely_is_the_same_wire(points):
    plain = solve(dipole(), MHZ, AVERAGE).z_in_ohm[0]
    y = np.linspace(0.0, 10.0, points)
    wires = tuple(
        Wire((0, a, 5), (0, b, 5), 0.001, LOSSLESS) for a, b in itertools.pairwise(y)
    )
    middle = Source(points // 2, 0.0)
    drawn = solve(WireModel(wires, (middle,)), MHZ, AVERAGE)
    assert len(drawn.mesh.radius_m) < points + 40
    assert drawn.z_in_ohm[0] == pytest.approx(plain, rel=0.01)


@pytest.mark.parametrize("apart", [0.003, 0.02])
def test_wires_side_by_side_are_cut_abreast(apart):
    pair = tuple(
        Wire((0, a, 8 + up), (0, 10 - a, 8 + up), 5e-4)
        for a, up in ((0.0, 0.0), (0.2, apart))
    )
    model = WireModel(pair, (Source(0, 5.0),))
    z, fine = (
        solve(model, MHZ, AVERAGE, segments_per_wavelength=n).z_in_ohm[0]
        for n in (16.0, 100.0)
    )
    assert z == pytest.approx(fine, rel=0.01)


@pytest.mark.parametrize("model", [dipole(height=1.0), three_sided()])
def test_real_ground_turns_into_its_limits(model):
    conductor = solve(model, MHZ, Ground("metal", 1.0, 1e8, "")).z_in_ohm[0]
    assert conductor == pytest.approx(solve(model, MHZ, PERFECT).z_in_ohm[0], rel=1e-3)
    air = solve(model, MHZ, Ground("air", 1.0 + 1e-7, 0.0, "")).z_in_ohm[0]
    assert air == pytest.approx(solve(model, MHZ, None).z_in_ohm[0], rel=1e-3)


def test_a_monopole_is_half_a_dipole():
    upright = Wire((0, 0, 0), (0, 0, 5), 0.001, LOSSLESS)
    both = Wire((0, 0, -5), (0, 0, 5), 0.001, LOSSLESS)
    # Dense enough that both are cut alike.
    mono, full = (
        solve(WireModel((wire,), (feed,)), MHZ, ground, segments_per_wavelength=80.0)
        for wire, feed, ground in (
            (upright, Source(0, 0.0), PERFECT),
            (both, Source(0, 5.0), None),
        )
    )
    assert mono.z_in_ohm[0] == pytest.approx(full.z_in_ohm[0] / 2, rel=1e-6)


def test_sources_drive_together():
    model = WireModel(
        (Wire((0, 0, 5), (0, 9, 5), 0.001), Wire((6, 0, 5), (6, 9, 5), 0.001)),
        (Source(0, 4.5, 1.0), Source(1, 4.5, 1j)),
    )
    both = solve(model, MHZ, AVERAGE)
    current = both.admittance_s @ np.array([1.0, 1j])
    np.testing.assert_allclose(both.source_currents_a, current, rtol=1e-9)
    np.testing.assert_allclose(both.z_in_ohm, np.array([1.0, 1j]) / current)
    power = 0.5 * np.real(np.conj(current) @ np.array([1.0, 1j]))
    assert both.input_w == pytest.approx(power)


def test_currents_are_those_at_the_feed_and_vanish_at_open_ends():
    solution = solve(dipole(), MHZ, None)
    assert abs(solution.half_currents_a[0, 0]) == 0.0
    assert abs(solution.half_currents_a[-1, 1]) == 0.0
    # The voltage is spread over 5 cm, through which the mean current is told.
    gap = int(np.argmin(np.abs(solution.mesh.start_m[:, 1] - 5.0)))
    assert solution.mesh.length_m[gap - 1 : gap + 1].sum() == pytest.approx(0.05)
    through = solution.half_currents_a[gap - 1 : gap + 1].mean()
    assert through == pytest.approx(solution.source_currents_a[0])
    shape = np.abs(solution.current_a([0.0, 1.0]))
    np.testing.assert_allclose(shape, np.abs(solution.half_currents_a))


# ---------------------------------------------------------------- losses and loads


def test_internal_impedance_reaches_skin_effect_and_direct_current():
    sigma, a = 5.8e7, 1e-3
    skin = np.sqrt(2 / (2e6 * np.pi * 14 * VACUUM_PERMEABILITY_H_M * sigma))
    # Within the skin depth over the radius of the flat-surface formula.
    flat = (1 + 1j) / (2 * np.pi * a * sigma * skin)
    assert internal_impedance(14.0, a, sigma) == pytest.approx(flat, rel=2 * skin / a)
    assert internal_impedance(1e-8, a, sigma).real == pytest.approx(
        1 / (np.pi * a**2 * sigma), rel=1e-6
    )
    assert internal_impedance(14.0, a, np.inf) == 0


def test_conductor_loss_is_half_the_wires_resistance_for_a_sine_current():
    # The mean square of a half sine is 1/2: R_loss = R' L / 2. The true current is a
    # little fuller than a sine.
    lossy = dipole(length=9.7, conductivity_s_m=1e6)
    solution = solve(lossy, MHZ, None)
    per_metre = internal_impedance(MHZ, 0.001, 1e6).real
    lost = solution.conductor_w / (0.5 * abs(solution.source_currents_a[0]) ** 2)
    assert lost == pytest.approx(0.5 * per_metre * 9.7, rel=0.05)
    assert lost > 0.5 * per_metre * 9.7


def test_a_load_at_the_feed_adds_to_the_input():
    load = Load(0, 5.0, resistance_ohm=25.0, inductance_h=1e-6)
    plain = dipole()
    loaded = dataclasses.replace(plain, loads=(load,))
    z0, z1 = (solve(m, MHZ, AVERAGE) for m in (plain, loaded))
    added = z1.z_in_ohm[0] - z0.z_in_ohm[0]
    assert added == pytest.approx(load.impedance_ohm(MHZ), rel=1e-9)
    spent = 0.5 * 25.0 * abs(z1.source_currents_a[0]) ** 2
    assert z1.load_w == pytest.approx(spent)


def test_a_trap_at_resonance_cuts_the_wire():
    at, cap = 4.0, 50e-12
    inductance = 1 / ((2e6 * np.pi * MHZ) ** 2 * cap)
    trap = Load(0, at, inductance_h=inductance, capacitance_f=cap, kind="trap")
    long = WireModel(
        (Wire((0, 0, 5), (0, 12, 5), 0.001, LOSSLESS),), (Source(0, 8.0),), (trap,)
    )
    solution = solve(long, MHZ, None)
    here = int(np.argmin(np.abs(solution.mesh.start_m[:, 1] - at)))
    peak = np.abs(solution.half_currents_a).max()
    assert abs(solution.half_currents_a[here - 1 : here + 1].mean()) < 1e-6 * peak


def test_a_coil_shortens_a_wire():
    def reactance(inductance):
        model = WireModel(
            (Wire((0, 0, 5), (0, 6, 5), 0.001, LOSSLESS),),
            (Source(0, 3.0),),
            (Load(0, 2.0, inductance_h=inductance),),
        )
        return solve(model, MHZ, None).z_in_ohm[0].imag

    assert reactance(1e-9) < -300.0
    assert abs(reactance(brentq(reactance, 1e-7, 1e-5, rtol=1e-6))) < 1.0


@pytest.mark.parametrize(("thickness", "eps_r"), [(0.0005, 2.3), (0.001, 3.0)])
def test_a_coat_lowers_resonance_by_a_few_percent(thickness, eps_r):
    # A coat raises the capacitance per length: 1/C falls by (1 - 1/ε) ln(b/a)/(2πε0).
    # With ln(ℓ/a), ℓ about a quarter wave, for the bare wire the speed factor is
    # sqrt(1 - (1 - 1/ε) ln(b/a) / ln(ℓ/a)): a rough check of size and sign.
    def resonance(**coat):
        model = dipole(radius=0.0005, **coat)
        return brentq(lambda f: solve(model, f, None).z_in_ohm[0].imag, 12, 16)

    bare = resonance()
    coated = resonance(insulation_m=thickness, insulation_eps_r=eps_r)
    share = (1 - 1 / eps_r) * np.log1p(thickness / 0.0005) / np.log(5.0 / 0.0005)
    assert coated / bare == pytest.approx(np.sqrt(1 - share), abs=0.012)
    assert coated < 0.99 * bare
    same = resonance(insulation_m=thickness, insulation_eps_r=1.0)
    assert same == pytest.approx(bare, rel=1e-9)


# ---------------------------------------------------------------- refusals


@pytest.mark.parametrize("frequency", [0.0, -7.0, np.nan, np.inf])
def test_a_frequency_that_cannot_be_is_refused(frequency):
    with pytest.raises(InputError, match="not positive"):
        solve(dipole(), frequency, None)


def test_singular_equations_are_refused():
    right = np.ones((3, 1), complex)
    twin = np.array([[1, 2, 3], [2, 4, 6], [3, 6, 1]], complex)
    with pytest.raises(InputError, match="no sound solution"):
        currents._solve_symmetric(twin, right)
    with pytest.raises(InputError, match="no sound solution"):
        currents._solve_symmetric(np.full((3, 3), np.nan + 0j), right)


# ---------------------------------------------------------------- random set-ups


@st.composite
def set_ups(draw):
    """A bent wire of two to four pieces with a feed somewhere along it."""
    count = draw(st.integers(2, 4))
    corners = [(0.0, 0.0, draw(st.floats(0.6, 8.0)))]
    for _ in range(count):
        step = draw(st.floats(1.5, 8.0))
        bearing = draw(st.floats(-1.2, 1.2))
        x, y, _ = corners[-1]
        up = draw(st.floats(0.6, 8.0))
        corners.append((x + step * np.sin(bearing), y + step * np.cos(bearing), up))
    wires = tuple(
        Wire(a, b, 0.001, draw(st.sampled_from([LOSSLESS, 5.8e7, 1e6])))
        for a, b in itertools.pairwise(corners)
    )
    which = draw(st.integers(0, count - 1))
    feed = Source(which, draw(st.floats(0.2, 0.8)) * wires[which].length_m)
    return WireModel(wires, (feed,))


@pytest.mark.slow
@settings(max_examples=20)
@given(set_ups(), st.floats(3.0, 30.0), st.sampled_from(GROUNDS))
def test_any_set_up_is_passive_and_keeps_its_power(model, mhz, ground):
    solution = solve(model, mhz, ground)
    assert solution.z_in_ohm[0].real > 0.0
    budget = power_budget(solution)
    if ground is None or ground.is_perfect:
        assert abs(budget.gap) < 1e-4
    else:
        assert budget.ground_w > -1e-5 * budget.input_w
    assert 0.0 < budget.efficiency < 1.0 + 1e-4


def test_the_mesh_can_be_had_apart():
    mesh = build_mesh(dipole(), LAMBDA, over_ground=True)
    reaction = free_space_reaction(mesh, K)
    assert reaction.shape == (len(mesh.radius_m), 2) * 2
    np.testing.assert_allclose(reaction, reaction.transpose(2, 3, 0, 1), rtol=1e-12)
