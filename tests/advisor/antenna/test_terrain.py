"""The field over uneven ground against turned patterns, exact wedges and full waves."""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.special import hankel2, jv

from advisor.antenna import terrain
from advisor.antenna.closedform import wavelength_m
from advisor.antenna.ground import (
    Ground,
    complex_permittivity,
    ground_by_name,
    reflection_horizontal,
    reflection_vertical,
)
from advisor.antenna.terrain import field_over

AVERAGE = ground_by_name("average")
METAL = Ground("metal", 1.0001, 50.0, "as good as perfect")
ANGLES_DEG = np.array([3.0, 5.0, 8.0, 12.0, 18.0, 25.0, 35.0, 45.0])


def _db(ratio):
    return 20.0 * np.log10(np.abs(ratio))


def _over_plane(tilt_deg, height_m, mhz, ground, elevation_deg):
    """Direct and mirrored ray over a plane that rises along the bearing."""
    k = 2.0 * np.pi / float(wavelength_m(mhz))
    eps = complex_permittivity(ground, mhz)
    over = elevation_deg - tilt_deg
    clear_m = height_m * np.cos(np.radians(tilt_deg))
    turned = np.exp(-2j * k * clear_m * np.sin(np.radians(over)))
    return (
        1.0 + reflection_vertical(over, eps) * turned,
        1.0 + reflection_horizontal(over, eps) * turned,
    )


@pytest.mark.parametrize("mhz", [3.6, 14.1, 28.5])
def test_flat_ground_is_flat_ground(mhz):
    """Flat, however many points say so: Fresnel's coefficients to 0.1 dB."""
    points = np.array([-200.0, -30.0, 0.0, 17.0, 80.0, 900.0])
    angles = np.array([0.5, 1.0, 2.0, 5.0, 20.0, 60.0, 90.0])
    found = field_over(points, np.zeros((2, 6)), [5.0, 12.0], angles, mhz, AVERAGE)
    for h, height in enumerate((5.0, 12.0)):
        expected = _over_plane(0.0, height, mhz, AVERAGE, angles)
        for one, other in zip(found, expected, strict=True):
            np.testing.assert_allclose(_db(one[1, h]), _db(other), atol=0.1)


@pytest.mark.parametrize(
    ("tilt_deg", "within"), [(-10.0, 0.35), (-4.0, 0.35), (4.0, 0.35), (10.0, 0.8)]
)
@pytest.mark.parametrize("mhz", [3.6, 14.1, 28.5])
def test_a_plane_slope_is_a_turned_pattern(tilt_deg, within, mhz):
    """From one degree over the slope on; it ends where no ray of these is mirrored."""
    points = np.array([-3e4, 0.0, 3e6])
    rise = points * np.tan(np.radians(tilt_deg))
    above = np.array([1.0, 2.0, 4.0, 8.0, 14.0, 20.0, 30.0])
    angles = above + max(tilt_deg, 0.0)
    found = field_over(points, rise[None], [10.0], angles, mhz, AVERAGE)
    expected = _over_plane(tilt_deg, 10.0, mhz, AVERAGE, angles)
    for one, other in zip(found, expected, strict=True):
        np.testing.assert_allclose(_db(one[0, 0]), _db(other), atol=within)


def _exact_wedge(n, k_rho, phi, towards, sign):
    """
    Field over that of the wave alone beside a perfect wedge, plane wave coming in.

    Angles from the face that the source stands on, n times pi outside the wedge.
    MacDonald's series; C. A. Balanis, Advanced Engineering Electromagnetics, section
    11.6 (from memory).
    """
    order = np.arange(int(4 * n * (k_rho + 30)))
    weight = np.where(order == 0, 1.0, 2.0) * np.exp(0.5j * np.pi * order / n)
    terms = weight * jv(order / n, k_rho)
    angles = np.cos(np.outer(phi - towards, order / n))
    angles += sign * np.cos(np.outer(phi + towards, order / n))
    wave = np.exp(1j * k_rho * np.cos(phi - towards))
    return (angles @ terms) / n / wave


@pytest.mark.slow
@pytest.mark.parametrize(
    ("drop_deg", "from_edge_m"), [(20.0, 60.0), (45.0, 25.0), (80.0, 25.0)]
)
def test_the_edge_of_a_plateau_is_an_exact_wedge(drop_deg, from_edge_m):
    """From a plateau over its edge: 80 degrees is nearly a knife edge."""
    mhz, height = 14.1, 10.0
    k = 2.0 * np.pi / float(wavelength_m(mhz))
    drop = np.tan(np.radians(drop_deg))
    points = np.array([-2e4, 0.0, from_edge_m, from_edge_m + 3e5])
    fall = np.array([[0.0, 0.0, 0.0, -3e5 * drop]])
    found = field_over(points, fall, [height], ANGLES_DEG, mhz, METAL)
    n = 1.0 + drop_deg / 180.0
    rho = np.hypot(from_edge_m, height)
    for one, sign, within in ((found[0], 1.0, 0.9), (found[1], -1.0, 0.6)):
        exact = _exact_wedge(
            n,
            k * rho,
            np.arctan2(height, from_edge_m),
            np.pi - np.radians(ANGLES_DEG),
            sign,
        )
        strong = np.abs(exact) > 0.5
        np.testing.assert_allclose(
            _db(one[0, 0])[strong], _db(exact)[strong], atol=within
        )


def _full_wave(points, height, source, mhz, sign):
    """
    Exact field at a source over a bump on a perfect plane, on plane waves.

    Point matching of a single layer, twelve pulses a wavelength; the plane is in the
    Green's function. ``sign`` is -1 for horizontal and 1 for vertical polarisation.
    """
    length = float(wavelength_m(mhz))
    k = 2.0 * np.pi / length
    cuts = [
        np.linspace(0.0, 1.0, max(3, int(12 * np.hypot(dx, dz) / length) + 2))
        for dx, dz in zip(np.diff(points), np.diff(height), strict=True)
    ]
    x, z, tx, tz, ds = (
        np.concatenate(each)
        for each in zip(
            *(
                (
                    points[i] + 0.5 * (cut[1:] + cut[:-1]) * np.diff(points)[i],
                    height[i] + 0.5 * (cut[1:] + cut[:-1]) * np.diff(height)[i],
                    np.full(cut.size - 1, np.diff(points)[i]),
                    np.full(cut.size - 1, np.diff(height)[i]),
                    np.diff(cut) * np.hypot(np.diff(points)[i], np.diff(height)[i]),
                )
                for i, cut in enumerate(cuts)
            ),
            strict=True,
        )
    )
    nx, nz = -tz / np.hypot(tx, tz), tx / np.hypot(tx, tz)
    angle = np.radians(ANGLES_DEG)
    ca, sa = np.cos(angle), np.sin(angle)

    def waves(px, pz):
        px, pz = np.atleast_1d(px)[:, None], np.atleast_1d(pz)[:, None]
        return np.exp(1j * k * (px * ca + pz * sa)), sign * np.exp(
            1j * k * (px * ca - pz * sa)
        )

    dx, dz, up = x[:, None] - x, z[:, None] - z, z[:, None] + z
    r, image = np.hypot(dx, dz) + np.eye(x.size), np.hypot(dx, up)
    down, mirrored = waves(x, z)
    if sign < 0.0:
        matrix = hankel2(0, k * r) - hankel2(0, k * image)
        own = 1.0 - 2j / np.pi * (np.log(0.25 * k * ds) + np.euler_gamma - 1.0)
        np.fill_diagonal(matrix, own - hankel2(0, k * np.diag(image)))
        layer = np.linalg.solve(-0.25j * matrix * ds, -(down + mirrored))
    else:
        facing = dx * nx[:, None] + dz * nz[:, None]
        other = dx * nx[:, None] + up * nz[:, None]
        matrix = 0.25j * k * hankel2(1, k * image) * other / image
        np.fill_diagonal(r, 1.0)
        matrix += 0.25j * k * hankel2(1, k * r) * facing / r
        matrix = matrix * ds - 0.5 * np.eye(x.size)
        slope = (
            1j
            * k
            * (
                (nx[:, None] * ca + nz[:, None] * sa) * down
                + (nx[:, None] * ca - nz[:, None] * sa) * mirrored
            )
        )
        layer = np.linalg.solve(matrix, -slope)
    at_source = hankel2(0, k * np.hypot(source[0] - x, source[1] - z))
    at_source += sign * hankel2(0, k * np.hypot(source[0] - x, source[1] + z))
    direct, below = (each[0] for each in waves(*source))
    return (direct + below - 0.25j * (at_source * ds) @ layer) / direct


def _hill(width_m, height_m, middle_m):
    along = np.linspace(-0.5, 0.5, 31)
    height = height_m * np.cos(np.pi * along) ** 2
    return middle_m + width_m * along, np.where(np.abs(along) < 0.5, height, 0.0)


def _random_hills(seed):
    """Smooth hills of up to 12 m every 50 m or so, with slopes to 20 degrees."""
    knots = np.linspace(-200.0, 400.0, 13)
    up = np.random.default_rng(seed).uniform(0.0, 12.0, knots.size)
    up[[0, -1]] = 0.0
    along = np.linspace(-200.0, 400.0, 121)
    return along, PchipInterpolator(knots, up)(along).clip(min=0.0)


@pytest.mark.parametrize(
    ("points", "height"),
    [
        pytest.param(*_hill(300.0, 20.0, 0.0), id="on a gentle hill"),
        pytest.param(*_hill(300.0, 60.0, 0.0), id="on a steep hill"),
        pytest.param(*_hill(400.0, 50.0, -80.0), id="on its slope"),
        pytest.param(*_hill(300.0, 20.0, 250.0), id="before a hill"),
        pytest.param(
            np.array([-200.0, -180.0, 60.0, 65.0]),
            np.array([0.0, 20.0, 20.0, 0.0]),
            id="before a step down",
        ),
        pytest.param(
            np.array([100.0, 140.0, 180.0]), np.array([0.0, 12.0, 0.0]), id="a ridge"
        ),
    ],
)
def test_hills_and_steps_against_a_full_wave_solution(points, height):
    """
    Both polarisations where the field is not in a null.
    Metal is the worst case for vertical polarisation, whose wave along the ground
    never ends there; what hills throw back is left out besides.
    """
    mhz, up = 14.1, 10.0
    foot = float(np.interp(0.0, points, height, left=0.0, right=0.0))
    along = np.unique([*points, -250.0, 0.0, 500.0])
    ground = np.interp(along, points, height, left=0.0, right=0.0)
    found = field_over(along, (ground - foot)[None], [up], ANGLES_DEG, mhz, METAL)
    for one, sign, within in ((found[0], 1.0, 1.2), (found[1], -1.0, 0.35)):
        exact = _full_wave(points, height, (0.0, foot + up), mhz, sign)
        strong = (np.abs(exact) > 0.4) & (ANGLES_DEG > 4.0)
        np.testing.assert_allclose(
            _db(one[0, 0])[strong], _db(exact)[strong], atol=within
        )


def _layers(x, z, tx, tz, wave, within_m):
    """
    Single and double layer of pulses on pieces of ground, at their middles (N, N).

    Four points on pieces near by; on a piece itself the logarithm apart. Farther off
    than ``within_m`` waves in the soil have died.
    """
    ds = np.hypot(tx, tz)
    nx, nz = -tz / ds, tx / ds
    single, double = np.zeros((2, x.size, x.size), dtype=complex)
    apart = np.abs(np.subtract.outer(np.arange(x.size), np.arange(x.size)))
    way = np.hypot(x - x[:, None], z - z[:, None])
    far = (apart > 4) & (way < within_m)
    for (i, j), points in (
        (np.nonzero(far), 1),
        (np.nonzero((apart > 0) & (apart <= 4)), 4),
    ):
        for at, share in zip(*np.polynomial.legendre.leggauss(points), strict=True):
            px, pz = x[j] + 0.5 * at * tx[j] - x[i], z[j] + 0.5 * at * tz[j] - z[i]
            r, weight = np.hypot(px, pz), 0.5 * share * ds[j]
            single[i, j] += -0.25j * hankel2(0, wave * r) * weight
            facing = (px * nx[j] + pz * nz[j]) / r
            double[i, j] += 0.25j * wave * hankel2(1, wave * r) * facing * weight
    at, share = np.polynomial.legendre.leggauss(12)
    half = 0.5 * ds
    t = 0.5 * half[:, None] * (at + 1.0)
    smooth = hankel2(0, wave * t) + 2j / np.pi * np.log(t)
    own = half * (smooth @ share) - 4j / np.pi * half * (np.log(half) - 1.0)
    np.fill_diagonal(single, -0.25j * own)
    return single, double


def _full_wave_over_soil(points, height, source, mhz, ground, is_vertical):
    """
    Exact field at a source over a bump on level soil, on plane waves.

    Both media, field and its slope on 700 m of their border: what the bump adds to the
    wave and its Fresnel reflection, which level soil knows already. C. Mueller,
    Foundations of the Mathematical Theory of Electromagnetic Waves, 1969 (from memory).
    """
    k = 2.0 * np.pi / float(wavelength_m(mhz))
    eps = complex(complex_permittivity(ground, mhz))
    k1 = k * np.conj(np.sqrt(np.conj(eps)))
    low, high = points[0] - 30.0, points[-1] + 30.0
    ends = [*np.arange(low, -350.0, -1.8)[:0:-1], *np.arange(low, high, 0.6)]
    ends = np.append(ends, np.arange(high, 350.0, 1.8))
    up = np.interp(ends, points, height, left=0.0, right=0.0)
    x, z = 0.5 * (ends[1:] + ends[:-1]), 0.5 * (up[1:] + up[:-1])
    tx, tz = np.diff(ends), np.diff(up)
    ds = np.hypot(tx, tz)
    nx, nz = (-tz / ds)[:, None], (tx / ds)[:, None]
    ca, sa = np.cos(np.radians(ANGLES_DEG)), np.sin(np.radians(ANGLES_DEG))
    reflection = reflection_vertical if is_vertical else reflection_horizontal
    mirror = reflection(ANGLES_DEG, eps)

    def waves(px, pz):
        px, pz = np.atleast_1d(px)[:, None], np.atleast_1d(pz)[:, None]
        down = np.exp(1j * k * (px * ca + pz * sa))
        return down, mirror * np.exp(1j * k * (px * ca - pz * sa))

    down, back = waves(x, z)
    slope = 1j * k * ((nx * ca + nz * sa) * down + (nx * ca - nz * sa) * back)
    single, double = _layers(x, z, tx, tz, k, np.inf)
    below, turned = _layers(x, z, tx, tz, k1, 8.0 / abs(k1.imag))
    below *= eps if is_vertical else 1.0
    half = 0.5 * np.eye(x.size)
    wrong = (half + turned) @ (down + back) - below @ slope
    wrong[(x < low + 10.0) | (x > high - 10.0)] = 0.0
    matrix = np.block([[half - double, single], [half + turned, -below]])
    found = np.linalg.solve(matrix, np.concatenate([np.zeros_like(wrong), -wrong]))
    dx, dz = x - source[0], z - source[1]
    r = np.hypot(dx, dz)
    facing = (dx * nx[:, 0] + dz * nz[:, 0]) / r
    added = (0.25j * k * hankel2(1, k * r) * facing * ds) @ found[: x.size]
    added += (0.25j * hankel2(0, k * r) * ds) @ found[x.size :]
    direct, mirrored = (each[0] for each in waves(*source))
    return (direct + mirrored + added) / direct


@pytest.mark.slow
@pytest.mark.parametrize(
    ("points", "height"),
    [
        pytest.param(*_hill(200.0, 15.0, 0.0), id="on a hill"),
        pytest.param(
            np.array([-100.0, -80.0, 40.0, 45.0]),
            np.array([0.0, 10.0, 10.0, 0.0]),
            id="before a step down",
        ),
        pytest.param(
            np.array([60.0, 100.0, 140.0]), np.array([0.0, 12.0, 0.0]), id="a ridge"
        ),
    ],
)
def test_hills_of_soil_against_a_full_wave_solution_in_both_media(points, height):
    """Over average soil at every angle, nulls among them."""
    mhz, up = 14.1, 10.0
    foot = float(np.interp(0.0, points, height, left=0.0, right=0.0))
    along = np.unique([*points, -250.0, 0.0, 500.0])
    ground = np.interp(along, points, height, left=0.0, right=0.0)
    found = field_over(along, (ground - foot)[None], [up], ANGLES_DEG, mhz, AVERAGE)
    for one, is_vertical, within in ((found[0], True, 0.25), (found[1], False, 0.1)):
        exact = _full_wave_over_soil(
            points, height, (0.0, foot + up), mhz, AVERAGE, is_vertical
        )
        np.testing.assert_allclose(_db(one[0, 0]), _db(exact), atol=within)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_random_hills_against_a_full_wave_solution(seed):
    """
    Reciprocity: the other solution is of a wave coming in, ours of a source sending.

    A layer on a closed body (hills and their mirror image) rings at the body's own
    frequencies, a few tenths of a per cent wide: the middle of three is taken.
    """
    points, height = _random_hills(seed)
    foot = float(np.interp(0.0, points, height))
    along = np.unique([*points, -250.0, 500.0])
    ground = np.interp(along, points, height, left=0.0, right=0.0)
    found = field_over(along, (ground - foot)[None], [10.0], ANGLES_DEG, 14.1, METAL)
    for one, sign, within in ((found[0], 1.0, 1.2), (found[1], -1.0, 0.35)):
        exact = np.median(
            [
                np.abs(_full_wave(points, height, (0.0, foot + 10.0), mhz, sign))
                for mhz in (14.0, 14.1, 14.2)
            ],
            axis=0,
        )
        strong = (exact > 0.4) & (ANGLES_DEG > 4.0)
        assert strong.sum() > 2
        np.testing.assert_allclose(
            _db(one[0, 0])[strong], _db(exact)[strong], atol=within
        )


@pytest.mark.parametrize("seed", range(3))
def test_random_profiles_converge_and_do_not_step(seed, monkeypatch):
    """Twice as many pieces, the same field; half a degree on, nearly the same."""
    rng = np.random.default_rng(seed)
    points = np.array([-500.0, -100.0, 0.0, 60.0, 150.0, 400.0, 900.0, 2500.0])
    slope = np.radians(rng.uniform(-12.0, 4.0, points.size - 1))
    rise = np.append(0.0, np.cumsum(np.diff(points) * np.tan(slope)))
    rise -= rise[2]
    angles = np.arange(4.0, 40.0, 0.5)
    coarse = field_over(points, rise[None], [9.0], angles, 14.1, AVERAGE)
    monkeypatch.setattr(terrain, "_WIDENING", 0.5 * terrain._WIDENING)
    monkeypatch.setattr(terrain, "_FINEST", 0.5 * terrain._FINEST)
    monkeypatch.setattr(terrain, "_TURN_RAD", 0.5 * terrain._TURN_RAD)
    fine = field_over(points, rise[None], [9.0], angles, 14.1, AVERAGE)
    for one, other in zip(coarse, fine, strict=True):
        np.testing.assert_allclose(one[0, 0], other[0, 0], atol=0.08)
        assert np.abs(np.diff(one[0, 0])).max() < 0.5


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_random_profiles_send_what_they_are_given(seed):
    """
    Energy over both ways ahead, a mean over heights of the source.

    What a line source gives off over a mirror swings about what it gives off alone as
    its own echo comes and goes with its height; the mean is that, to 4 %. Soil keeps
    some of it.
    """
    points = np.array([-2500, -900, -400, -150, -60, 0, 60, 150, 400, 900, 2500.0])
    slope = np.radians(np.random.default_rng(seed).uniform(-10.0, 10.0, 10))
    rise = np.append(0.0, np.cumsum(np.diff(points) * np.tan(slope)))
    rise -= rise[5]
    angles = np.append(np.arange(0.05, 20.0, 0.25), np.arange(20.0, 90.1, 1.0))
    sources = np.linspace(8.0, 8.0 + 3.0 * float(wavelength_m(14.1)), 40)
    shares = []
    for ground in (METAL, AVERAGE):
        total = np.zeros(2)
        for along, up in ((points, rise), (-points[::-1], rise[::-1])):
            sent = field_over(along, up[None], sources, angles, 14.1, ground)
            power = np.abs(np.stack(sent)[:, 0]) ** 2
            total += np.trapezoid(power, np.radians(angles)).mean(axis=-1)
        shares.append(total / (2.0 * np.pi))
    np.testing.assert_allclose(shares[0], 1.0, atol=0.04)
    assert (shares[1] < shares[0]).all()
    assert (shares[1] > 0.5).all()
