"""Wires that touch soil or lie in it: limits, balance of powers, published cases."""

import itertools

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.optimize import newton
from scipy.special import hankel2, kv

from advisor.antenna.ground import PERFECT, Ground, complex_permittivity
from advisor.antenna.solver import contact, kernel
from advisor.antenna.solver.currents import solve, wavenumber
from advisor.antenna.solver.farfield import pattern_of, sky_power
from advisor.antenna.solver.kernel import WAVE_IMPEDANCE_OHM, legendre
from advisor.antenna.solver.mesh import build_mesh
from advisor.antenna.solver.nearfield import near_field
from advisor.antenna.solver.sommerfeld import wavenumber_below
from advisor.antenna.wires import Source, Wire, WireModel
from geo.errors import InputError

AVERAGE = Ground("average", 13.0, 0.005, "handbook")
POOR = Ground("poor", 5.0, 0.001, "handbook")
SEA = Ground("sea water", 70.0, 5.0, "ITU-R P.527")
NOTHING = Ground("hardly there", 1.0 + 1e-9, 0.0, "made up")
MHZ = 14.1


def wire(*ends, radius_m=0.002, metal=5.8e7, **coat):
    return Wire(*ends, radius_m, metal, **coat)


def upright(height_m=5.0, stake_m=1.0, **made):
    foot = (0, 0, 0)
    wires = (wire(foot, (0, 0, height_m), **made), wire(foot, (0, 0, -stake_m), **made))
    return WireModel(wires, (Source(0, 0.025),))


def over_radials(count, length_m=5.0, height_m=5.0, depth_m=0.05):
    hub = (0, 0, -depth_m)
    turns = 2.0 * np.pi * np.arange(count) / count
    tips = [(length_m * np.sin(a), length_m * np.cos(a), -depth_m) for a in turns]
    wires = (
        wire((0, 0, 0), (0, 0, height_m)),
        wire((0, 0, 0), hub),
        *(wire(hub, tip) for tip in tips),
    )
    return WireModel(wires, (Source(0, 0.025),))


def sloping():
    above = wire((0, 0, 0), (2, 1, 4))
    return WireModel((above, wire((0, 0, 0), (-1, -0.5, -2))), (Source(0, 1.0),))


def at_random(seed):
    """A bent wire in the air, one in the ground, joined or not; the feed anywhere."""
    rng = np.random.default_rng(seed)
    foot = (0.0, 0.0, 0.0)
    top = (*rng.uniform(-2, 2, 2), rng.uniform(1, 4))
    deep = (*rng.uniform(-2, 2, 2), -rng.uniform(0.3, 2.0))
    tip = (*rng.uniform(3, 6, 2), rng.uniform(0.5, 5))
    root = (*rng.uniform(-6, -3, 2), -rng.uniform(0.05, 1.0))
    wires = [wire(foot, top), wire(top, tip), wire(deep, root)]
    if seed % 2:
        wires.append(wire(foot, deep))
    else:
        wires[0] = wire((0.0, 0.0, rng.uniform(0.02, 0.3)), top)
    fed = int(rng.integers(3))
    return WireModel(tuple(wires), (Source(fed, 0.5 * wires[fed].length_m),))


def lying(length_m, depth_m, **made):
    half = 0.5 * length_m
    one = wire((0, -half, -depth_m), (0, half, -depth_m), **made)
    return WireModel((one,), (Source(0, half),))


@pytest.mark.parametrize(
    "model", [upright(), over_radials(3, 2.5), sloping(), lying(8.0, 0.5)]
)
def test_ground_as_thin_as_air_is_no_ground(model):
    free = solve(model, MHZ, None).z_in_ohm[0]
    assert solve(model, MHZ, NOTHING).z_in_ohm[0] == pytest.approx(free, rel=1e-6)


@pytest.mark.slow
def test_ground_that_conducts_without_end_is_a_mirror():
    metal = Ground("metal", 1.0, 3e4, "made up")
    mirror = solve(
        WireModel((wire((0, 0, 0), (0, 0, 5)),), (Source(0, 0.025),)), MHZ, PERFECT
    )
    sunk = solve(upright(stake_m=0.1), MHZ, metal)
    assert sunk.z_in_ohm[0] == pytest.approx(mirror.z_in_ohm[0], rel=0.01)


def downwards(solution, eps, turns=64):
    """Power of the waves that travel down for good in a ground without loss.

    Transmission lines of plane waves, both polarisations: nothing of the kernels.
    """
    mesh, k = solution.mesh, solution.wavenumber_rad_m
    x, weight = legendre(3)
    current = (solution.current_a(x) * weight * mesh.length_m[:, None]).ravel()
    span = (mesh.end_m - mesh.start_m)[:, None]
    place = k * (mesh.start_m[:, None] + x[:, None] * span).reshape(-1, 3)
    way = np.repeat(mesh.tangent, x.size, axis=0)
    z, under = place[:, 2], place[:, 2] < 0.0
    critical = np.arcsin(eps**-0.5)
    halves = 2.0 ** -np.arange(14.0)
    edges = np.unique(
        np.concatenate(
            [[0.0], critical * (1 - halves), critical + (np.pi / 2 - critical) * halves]
        )
    )
    node, share = legendre(24)
    total = 0.0
    for low, high in itertools.pairwise(edges):
        angle = low + (high - low) * node
        lam = eps**0.5 * np.sin(angle)
        d_lam = eps**0.5 * np.cos(angle) * (high - low) * share
        u0, u1 = wavenumber_below(lam, 1.0 + 0j), wavenumber_below(lam, eps + 0j)
        te0, te1, tm0, tm1 = 1j / u0, 1j / u1, u0 / 1j, u1 / (1j * eps)
        above = np.where(under, 0, np.exp(-u0[:, None] * np.maximum(z, 0)))
        straight = np.where(under, np.exp(-u1[:, None] * np.minimum(z, 0)), 0)
        back = np.where(under, np.exp(u1[:, None] * np.minimum(z, 0)), 0)
        echo_te, echo_tm = (te0 - te1) / (te0 + te1), (tm0 - tm1) / (tm0 + tm1)
        for turn in 2.0 * np.pi * np.arange(turns) / turns:
            c, s = np.cos(turn), np.sin(turn)
            wave = current * np.exp(1j * lam[:, None] * (place[:, :2] @ [c, s]))
            along, across = way[:, :2] @ [c, s], way[:, :2] @ [-s, c]
            down, up = wave * straight, wave * back
            te = (wave * above) @ across * te0 * te1 / (te0 + te1)
            te += (down @ across + up @ across * echo_te) * te1 / 2
            tm = (wave * above) @ along * tm0 * tm1 / (tm0 + tm1)
            tm += (down @ along + up @ along * echo_tm) * tm1 / 2
            rise = way[:, 2]
            tm += (wave * above) @ rise * lam * tm1 / (tm0 + tm1)
            tm += (down @ rise - up @ rise * echo_tm) * lam / (2 * eps)
            power = np.abs(te) ** 2 * np.real(1 / te1) + np.abs(tm) ** 2 * np.real(
                1 / tm1
            )
            total += np.sum(power * lam * d_lam) * 2.0 * np.pi / turns
    return 0.5 * total * WAVE_IMPEDANCE_OHM * k**2 / (4.0 * np.pi**2)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_what_goes_in_comes_out_on_both_sides(seed):
    """Over soil without loss: input = sky + ground + copper."""
    eps = (3.0, 8.0, 20.0)[seed % 3]
    solution = solve(at_random(seed), MHZ, Ground("dry", eps, 0.0, "made up"))
    spent = sky_power(solution) + downwards(solution, eps) + solution.conductor_w
    assert spent == pytest.approx(solution.input_w, rel=3e-4)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6, 10))
def test_finer_segments_change_little_and_ports_are_reciprocal(seed):
    model = at_random(seed)
    both = WireModel(model.wires, (*model.sources, Source(2, 0.1)))
    ground = (AVERAGE, POOR)[seed % 2]
    coarse, fine = (
        solve(both, MHZ, ground, segments_per_wavelength=per) for per in (16, 32)
    )
    between = coarse.admittance_s
    assert between[0, 1] == pytest.approx(between[1, 0], rel=1e-7)
    own = np.sqrt(abs(between[0, 0] * between[1, 1]))
    assert np.abs(fine.admittance_s - between).max() < 0.02 * own
    assert 0.0 < sky_power(coarse) < coarse.input_w


@pytest.mark.slow
def test_two_stakes_have_the_resistance_of_rods_in_soil(outside):
    """At 50 kHz the ground conducts as at rest; a wire in the air joins them."""
    length, radius, apart = 1.5, 0.008, 12.0
    made = {"radius_m": radius, "metal": np.inf}
    feet = [(0, y, 0) for y in (0, apart)]
    tops = [(0, y, 0.5) for y in (0, apart)]
    wires = [wire(*tops, **made)]
    for foot, top in zip(feet, tops, strict=True):
        wires += [wire(foot, top, **made), wire(foot, (*foot[:2], -length), **made)]
    model = WireModel(tuple(wires), (Source(0, apart / 2),))
    check = outside("H. B. Dwight, Electrical Engineering 55, 1936, rod", "from memory")
    for sigma in (0.01, 0.001):
        ours = solve(model, 0.05, Ground("moist", 10.0, sigma, "made up")).z_in_ohm[0]
        alone = (np.log(4 * length / radius) - 1) / (2 * np.pi * sigma * length)
        rods = 2 * (alone - 1 / (2 * np.pi * sigma * apart))
        why = "the rod's charge is taken as even"
        check.near("two ground rods of 1.5 m [ohm]", ours.real, rods, rel=0.02, why=why)


def wait_and_pope_ohm(mhz, ground, count, length_m, radius_m, height_m):
    """What ground and radials add to a sine-shaped current over a perfect ground."""
    k = wavenumber(mhz)
    soil = WAVE_IMPEDANCE_OHM / np.sqrt(complex(complex_permittivity(ground, mhz)))
    rho = np.geomspace(0.05, 60e3 / mhz, 40_001)
    apart = 2 * np.pi * rho / count
    grid = 1j * k * WAVE_IMPEDANCE_OHM * apart / (2 * np.pi)
    grid *= np.log(np.maximum(apart / (2 * np.pi * radius_m), 1.0001))
    surface = np.where(rho < length_m, soil * grid / (soil + grid), soil)
    loss = -surface * np.exp(-2j * k * np.hypot(rho, height_m)) / (2 * np.pi * rho)
    return np.sum(0.5 * (loss[1:] + loss[:-1]) * np.diff(rho))


@pytest.mark.slow
def test_buried_radials_add_the_resistance_of_their_number(outside):
    quarter = 75.0 / 7.1
    mast = WireModel((wire((0, 0, 0), (0, 0, quarter)),), (Source(0, 0.025),))
    perfect = solve(mast, 7.1, PERFECT).z_in_ohm[0].real
    check = outside(
        "J. R. Wait and W. A. Pope, Applied Scientific Research B 4, 1954, radials",
        "from memory",
    )
    added = []
    for count in (8, 16):
        model = over_radials(count, quarter, quarter)
        z_ohm = solve(model, 7.1, AVERAGE).z_in_ohm[0]
        expected = wait_and_pope_ohm(7.1, AVERAGE, count, quarter, 0.002, quarter)
        what, why = (
            f"resistance added with {count} radials [ohm]",
            "sine-shaped current",
        )
        added.append(z_ohm.real - perfect)
        check.near(what, added[-1], expected.real, abs=4.5, why=why)
    assert added[0] > 1.7 * added[1] > 0.0


def wave_along(solution, near_m, far_m):
    """What the current of a straight wire goes by over a part of it, per metre."""
    y, current = solution.mesh.start_m[:, 1], solution.half_currents_a[:, 0]
    run = CubicSpline(y, current)
    middle, step = np.linspace(near_m, far_m, 41), 0.8
    # Waves both ways: I(y - h) + I(y + h) = 2 cosh(γh) I(y).
    both, own = run(middle - step) + run(middle + step), 2 * run(middle)
    return np.arccosh(np.vdot(own, both) / np.vdot(own, own)) / step


def wait_wavenumber(mhz, ground, height_m, radius_m):
    """Root of Wait's equation for a thin wire over soil, over that of air."""
    k = wavenumber(mhz)
    eps = complex(complex_permittivity(ground, mhz))
    t, weight = legendre(400)
    across = k * abs(eps) ** 0.5 * t / (1.0 - t)
    weight = 2.0 * k * abs(eps) ** 0.5 * weight / (1.0 - t) ** 2

    def miss(beta):
        u0 = np.sqrt(across**2 + beta**2 - k**2)
        u1 = np.sqrt(across**2 + beta**2 - k**2 * eps)
        waves = weight * np.exp(-2.0 * u0 * height_m)
        zeta = np.sqrt(beta**2 - k**2)
        near = kv(0, zeta * radius_m) - kv(0, 2.0 * zeta * height_m)
        level = near + np.sum(waves / (u0 + u1))
        return k**2 * level - beta**2 * (near + np.sum(waves / (eps * u0 + u1)))

    return newton(miss, k * (1.2 - 0.1j), x1=k * (1.3 - 0.2j), tol=1e-10) / k


@pytest.mark.slow
@pytest.mark.parametrize(
    ("ground", "height_m", "near_m", "rel", "decay_rel"),
    [(AVERAGE, 0.02, 8.0, 0.005, 0.04), (SEA, 0.05, 2.0, 0.001, 0.01)],
)
def test_a_lying_wire_carries_the_published_wave(
    outside, ground, height_m, near_m, rel, decay_rel
):
    made = {"radius_m": 0.001, "metal": np.inf}
    solution = solve(lying(60.0, -height_m, **made), MHZ, ground)
    gamma = wave_along(solution, near_m, 26.0) / wavenumber(MHZ)
    wait = wait_wavenumber(MHZ, ground, height_m, 0.001)
    check = outside("J. R. Wait, Radio Science 7, 1972, 675: modal", "from memory")
    why = "other waves run beside it"
    what = "wavenumber along it over that in air"
    check.near(what, gamma.imag, wait.real, rel=rel, why=why)
    check.near("its decay", gamma.real, -wait.imag, rel=decay_rel, why=why)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("ground", "depth_m", "length_m", "rel"),
    [(SEA, 1.0, 30.0, 0.004), (AVERAGE, 3.0, 40.0, 0.02)],
)
def test_a_buried_wire_in_a_coat_carries_the_published_wave(
    outside, ground, depth_m, length_m, rel
):
    mhz, a, coat, inside = 7.1, 0.001, 0.002, 2.3
    made = {"insulation_m": coat, "insulation_eps_r": inside, "metal": np.inf}
    solution = solve(lying(length_m, depth_m, radius_m=a, **made), mhz, ground)
    gamma = wave_along(solution, 2.0, length_m / 2 - 4.0)
    k0 = wavenumber(mhz)
    eps = complex(complex_permittivity(ground, mhz))
    k4, log = k0 * np.sqrt(eps), np.log1p(coat / a)
    x = k4 * (a + coat)
    outer = hankel2(0, x) / (x * hankel2(1, x))
    king = np.sqrt(inside * (log + outer) / (log + inside / eps * outer))
    check = outside(
        "R. W. P. King and G. S. Smith, Antennas in Matter, 1981: insulated antenna",
        "from memory",
    )
    why = "asks for a ground far denser than the coat"
    what = "wavenumber along it over that in air"
    check.near(what, gamma.imag / k0, king.real, rel=rel, why=why)
    check.near("its decay", gamma.real / k0, -king.imag, rel=0.03, why=why)


def test_the_tables_hold_what_is_integrated():
    eps = complex(complex_permittivity(AVERAGE, 7.1))
    rng = np.random.default_rng(5)
    for above, below in (
        ((1e-3, 1.0), None),
        (None, (1e-3, 0.5)),
        ((1e-3, 1.0), (1e-3, 0.5)),
    ):
        reach = contact.Reach(eps, 3.0, above, below).widened()
        table = contact._table(reach)
        spans = [span for span in (above, below) if span]
        for _ in range(6):
            rho = np.array([10.0 ** rng.uniform(-3, 0.4)])
            offs = [
                np.array([span[0] * (span[1] / span[0]) ** rng.random()])
                for span in spans
            ]
            if len(offs) == 2:
                read = table(rho, offs[0], -offs[1], True)
            else:
                sign = -1.0 if below else 1.0
                read = table(rho, 0.3 * sign * offs[0], 0.7 * sign * offs[0], True)
            whole = contact.left_over(eps, rho, *offs, side=1 if below else 0).reshape(
                4
            )
            # Over the direct image, which it stands beside.
            far = np.hypot(rho[0], sum(offs)[0])
            assert np.abs(read[0] - whole).max() < 2e-3 * max(
                1.0 / far, np.abs(whole).max()
            )


@pytest.mark.slow
def test_fields_near_a_stake_are_those_a_probe_picks_up():
    """By reciprocity: open-circuit voltage of a dipole of 10 cm over half of that."""
    model = upright(stake_m=1.5)
    solution = solve(model, MHZ, AVERAGE)
    for place in ((1.0, 2.0, 0.5), (0.0, 5.5, 0.3)):
        picked = []
        for way in np.eye(3):
            ends = [tuple(np.array(place) + side * 0.05 * way) for side in (-1, 1)]
            probe = wire(*ends, radius_m=0.0003, metal=np.inf)
            feeds = (*model.sources, Source(2, 0.05, gap_m=0.01))
            both = solve(WireModel((*model.wires, probe), feeds), MHZ, AVERAGE)
            (_, _), (across, own) = both.admittance_s
            picked.append(abs(across / own) / 0.05)
        told, _ = near_field(solution, [place])
        assert np.linalg.norm(told) == pytest.approx(np.linalg.norm(picked), rel=0.2)


@pytest.mark.parametrize(
    ("wires", "said"),
    [
        ([wire((0, 0, -1), (0, 0, 5))], "let two wires meet there"),
        ([wire((0, 0, 0), (0, 0, 5))], "add a stake"),
        ([wire((0, 0, 0), (0, 5, 0))], "lies on the ground"),
        ([wire((0, 0, -0.005), (0, 5, -0.005))], "keep it 0.01 m above or under"),
    ],
)
def test_what_ends_in_no_way_is_refused(wires, said):
    with pytest.raises(InputError, match=said):
        solve(WireModel(tuple(wires), (Source(0, 1.0),)), MHZ, AVERAGE)


@pytest.mark.slow
def test_a_bare_end_on_the_soil_costs_by_how_it_conducts():
    """1 cm off it is open; 2 cm in it is fed into the soil: the caution's 1 to 6 dB."""
    lost = []
    for soil in (Ground("very dry", 3.0, 1e-4, "P.527"), AVERAGE,
                 Ground("rich", 20.0, 0.03, "handbook")):  # fmt: skip
        gains = []
        for end_m in (0.05, 0.01, -0.02):
            tip = (0.0, 19.0, max(end_m, 0.0))
            wires = [wire((0, 0, 8), tip)]
            if end_m < 0.0:
                wires.append(wire(tip, (0.0, 19.0, end_m)))
            solved = solve(WireModel(tuple(wires), (Source(0, 10.0),)), 7.1, soil)
            gains.append(float(pattern_of(solved).gain_dbi(30.0, 0.0)))
        assert gains[0] - gains[1] == pytest.approx(0.0, abs=0.1)
        lost.append(gains[1] - gains[2])
    assert lost[0] < 0.2 < 1.0 < lost[1] < lost[2] < 6.0


def test_pairs_that_are_alike_are_filled_once(monkeypatch):
    """Radials are turns of one another: few pairs of their own, the same matrix."""
    k, eps = wavenumber(MHZ), complex(complex_permittivity(AVERAGE, MHZ))
    turned = "advisor.antenna.solver.mesh.first_of_turns"
    monkeypatch.setattr(turned, lambda model: np.arange(len(model.wires)))
    mesh = build_mesh(over_radials(6, depth_m=0.06), 21.0, over_ground=True)
    pairs = mesh.pairs
    first, _ = kernel._alike(mesh, *pairs)
    assert len(first) < 0.35 * len(pairs[0])
    ours = contact.contact_reaction(mesh, k, eps)
    each = np.arange(len(pairs[0]))
    monkeypatch.setattr(kernel, "_alike", lambda _, *of: (each[: len(of[0])],) * 2)
    whole = contact.contact_reaction(mesh, k, eps)
    assert np.abs(ours - whole).max() < 1e-7 * np.abs(whole).max()
