"""The ground's four integrals: against other paths, limits and published forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import jv, wofz

from advisor.antenna.ground import reflection_te, reflection_tm
from advisor.antenna.solver import sommerfeld
from advisor.antenna.solver.cache_files import fetch, take_trouble
from advisor.antenna.solver.sommerfeld import (
    F_H,
    F_TE,
    F_ZZ,
    TableRange,
    W,
    ground_table,
    radial_points,
    sommerfeld_integrals,
    tabulate,
)

AVERAGE = 13.0 - 6.4j
DRY = 3.0 - 0.06j
SEA = 70.0 - 6000.0j
GROUNDS = [AVERAGE, DRY, SEA, 4.0 + 0j]


def kernels(lam, eps):
    """The definitions as they stand, for complex λ in the first quadrant."""
    u0, u1 = np.sqrt(lam**2 - 1 + 0j), np.sqrt(lam**2 - eps)
    te, tm = (u0 - u1) / (u0 + u1), (eps * u0 - u1) / (eps * u0 + u1)
    c = 2 * (eps - 1) / ((u0 + u1) * (eps * u0 + u1))
    return u0, np.array([te / u0, tm / u0 - u0 * c, te / u0 - u0 * c, c])


def by_another_path(eps, rho, zeta):
    """Adaptive quadrature on an arc through the first quadrant, then along the axis."""
    far = 1.2 * np.sqrt(complex(eps)).real + 1.0
    rise = min(0.5, 2.0 / max(rho, 1e-3))

    def integrand(lam, slope, which):
        u0, kernel = kernels(lam, eps)
        return kernel[which] * lam * jv(0, lam * rho) * np.exp(-u0 * zeta) * slope

    def arc(angle, which):
        lam = 0.5 * far * (1 - np.cos(angle)) + 1j * rise * np.sin(angle)
        slope = 0.5 * far * np.sin(angle) + 1j * rise * np.cos(angle)
        return integrand(lam, slope, which)

    out = []
    for which in range(4):
        options = {"limit": 2000, "epsabs": 1e-11, "epsrel": 1e-10}
        value = 0j
        for part, unit in ((np.real, 1.0), (np.imag, 1j)):
            value += (
                unit
                * quad(lambda t, p=part, w=which: p(arc(t, w)), 0, np.pi, **options)[0]
            )
            value += (
                unit
                * quad(
                    lambda x, p=part, w=which: p(integrand(x + 0j, 1.0, w)),
                    far,
                    far + 42.0 / zeta,
                    **options,
                )[0]
            )
        out.append(value)
    return np.array(out)


@pytest.mark.parametrize("eps", GROUNDS)
@pytest.mark.parametrize(("rho", "zeta"), [(0.0, 0.5), (2.0, 0.3), (9.0, 1.0)])
def test_integrals_agree_with_adaptive_quadrature_on_another_path(
    outside, eps, rho, zeta
):
    ours = sommerfeld_integrals(eps, [rho], [zeta])[0, 0]
    outside("scipy, adaptive quadrature on another path", "second library").near(
        "four Sommerfeld integrals, four grounds, three places",
        ours,
        by_another_path(eps, rho, zeta),
        abs=1e-8,
        why="of the quadrature",
    )


@pytest.mark.parametrize("eps", GROUNDS)
def test_a_value_does_not_depend_on_the_grid_around_it(eps):
    alone = sommerfeld_integrals(eps, [3.0], [0.4])[0, 0]
    among = sommerfeld_integrals(eps, [0.0, 30.0, 3.0], [9.0, 0.4, 0.05])[2, 1]
    np.testing.assert_allclose(among, alone, atol=1e-11)


@pytest.mark.parametrize("eps", GROUNDS)
def test_fading_ripples_out_leaves_the_integrals_as_they_are(monkeypatch, eps):
    """Far along a low wire: the whole integrand to the end, or faded out."""
    rho, zeta = np.array([0.0, 0.03, 0.2, 1.0, 4.0, 12.0]), np.array([0.02, 0.1, 1.0])
    faded = sommerfeld_integrals(eps, rho, zeta)
    points = radial_points(eps, 12.0, 0.02, 1.0)[0].size
    assert radial_points(eps, 12.0, 0.02, 1.0, fades=True)[0].size < points / 3
    monkeypatch.setattr(sommerfeld, "_FADE_AT_RADIANS", 1e9)
    whole = sommerfeld_integrals(eps, rho, zeta)
    image = 1.0 / np.hypot(rho[:, None], zeta)[..., None]
    assert np.max(np.abs(faded - whole) / image) < 2e-8
    assert np.max(np.abs(faded - whole)) > 0.0


@pytest.mark.parametrize("eps", [AVERAGE, DRY, 4.0 + 0j])
def test_close_to_the_image_charge_sees_a_static_mirror(eps):
    r = 1e-4
    value = sommerfeld_integrals(eps, [0.6 * r], [0.8 * r])[0, 0, F_H]
    assert value * r == pytest.approx(-(eps - 1) / (eps + 1), rel=2e-3)


def test_a_conductor_gives_the_image():
    rho, zeta = np.array([0.0, 1.0, 7.0]), np.array([0.2, 1.5])
    r = np.hypot(rho[:, None], zeta)
    image = np.exp(-1j * r) / r
    values = sommerfeld_integrals(1.0 - 1e11j, rho, zeta)
    for which, sign in ((F_TE, -1), (F_ZZ, 1), (F_H, -1)):
        np.testing.assert_allclose(values[..., which], sign * image, rtol=1e-4)
    assert np.abs(values[..., W]).max() < 1e-4


def test_ground_as_thin_as_air_gives_nothing():
    # What is left reflects only rays within √|ε - 1| of the horizon.
    for thin in (1e-3, 1e-6, 1e-9):
        values = sommerfeld_integrals(1.0 + thin, [0.0, 2.0], [0.3, 3.0])
        assert np.abs(values).max() < np.sqrt(thin)


@pytest.mark.parametrize("eps", [AVERAGE, SEA])
def test_kernels_use_the_plane_wave_reflection_coefficients(eps):
    # Identity R_TE + R_TM = λ² C, and both coefficients as the ground module has them.
    for lam in (0.3, 0.99, 1.7, 30.0):
        u0, kernel = kernels(lam + 0j, eps)
        te, tm = reflection_te(-1j * u0, eps), reflection_tm(-1j * u0, eps)
        assert kernel[F_TE] * u0 == pytest.approx(complex(te), rel=1e-9)
        assert te + tm == pytest.approx(lam**2 * kernel[W], rel=1e-7, abs=1e-12)


@pytest.mark.parametrize("eps", [AVERAGE, DRY])
def test_far_away_the_reflected_ray_remains(eps):
    # Geometrical optics: the leading term is the Fresnel coefficient at that angle.
    r, sine = 400.0, np.sin(np.radians(40.0))
    value = sommerfeld_integrals(eps, [r * np.cos(np.radians(40.0))], [r * sine])[0, 0]
    ray = np.exp(-1j * r) / r
    assert value[F_TE] / ray == pytest.approx(
        complex(reflection_te(sine, eps)), abs=0.01
    )


@pytest.mark.slow
@pytest.mark.parametrize("rho", [20.0, 60.0])
@pytest.mark.parametrize("eps", [40.0 - 60.0j, 20.0 - 150.0j])
def test_vertical_current_on_the_ground_makes_nortons_ground_wave(outside, rho, eps):
    # K. A. Norton, Proc. IRE 25 (1937) 1203: the direct and reflected waves cancel at
    # the horizon and 2 F(w) exp(-jkR)/R is left (form from memory).
    # The vertical potential's kernel is F_zz less the derivative of W.
    step = 4e-3
    values = sommerfeld_integrals(eps, [rho], [step, 2 * step, 3 * step])[0]
    slope = (values[2, W] - values[0, W]) / (2 * step)
    direct = np.exp(-1j * rho) / rho
    ours = direct + values[1, F_ZZ] - slope
    w = -0.5j * rho * (eps - 1) / eps**2
    attenuation = 1 - 1j * np.sqrt(np.pi * w) * wofz(-np.sqrt(w))
    check = outside("Norton, Proc. IRE 25 (1937) 1203", "from memory")
    what, why = "ground wave of a vertical current", "leading term, near by"
    check.near(what, ours / (2 * direct), attenuation, rel=0.06, why=why)


@pytest.mark.parametrize("eps", GROUNDS)
@pytest.mark.parametrize(
    ("low", "high", "far"), [(0.5, 4.0, 6.3), (0.1, 0.1, 6.3), (0.05, 2.0, 12.0)]
)
def test_the_spline_follows_the_integrals(eps, low, high, far):
    table = ground_table(TableRange(eps, low, high, far))
    rho = np.concatenate([[0.0, far], far * np.linspace(0.003, 0.99, 23) ** 2])
    zeta = np.geomspace(low, high, 11) if high > low else np.array([low])
    exact = sommerfeld_integrals(eps, rho, zeta)
    grid = np.meshgrid(rho, zeta, indexing="ij")
    distance = np.hypot(*grid)[..., None]
    assert np.abs((table(*grid) - exact) * distance).max() < 6e-5
    both = table(*grid, all_four=False)
    np.testing.assert_allclose(both, table(*grid)[..., [F_TE, F_H]], atol=1e-12)


def test_out_of_range_is_nan():
    table = ground_table(TableRange(AVERAGE, 0.5, 1.0, 2.0))
    assert np.isnan(table(np.array([1.0, 9.0]), np.array([0.1, 0.7]))).all()


@settings(max_examples=30)
@given(st.floats(1e-3, 30.0), st.floats(1.0, 50.0), st.floats(0.0, 50.0))
def test_a_widened_range_holds_the_range(low, ratio, far):
    asked = TableRange(AVERAGE, low, low * ratio, far)
    wide = asked.widened()
    assert wide.zeta_min < asked.zeta_min
    assert wide.zeta_max > asked.zeta_max
    assert wide.rho_max > asked.rho_max
    assert wide.zeta_min > 0.7 * asked.zeta_min
    x, y = sommerfeld._coordinates(wide, [0.0, far], [low, low * ratio])
    assert min(x.min(), y.min()) >= 0.0


SMALL = TableRange(AVERAGE, 0.5, 1.0, 2.0)


def test_the_cache_is_written_once_and_read_back(tmp_path, monkeypatch):
    made = ground_table(SMALL, tmp_path / "new")
    files = list((tmp_path / "new").iterdir())
    assert [file.suffix for file in files] == [".npz"]

    def refuse(*_):
        raise AssertionError("the table was made again")

    monkeypatch.setattr(sommerfeld, "tabulate", refuse)
    read = ground_table(SMALL, tmp_path / "new")
    np.testing.assert_array_equal(read.coefficients, made.coefficients)
    assert read.span == made.span


def damage_cut(data):
    return data[: len(data) // 2]


def damage_bits(data):
    middle = len(data) // 2
    return data[:middle] + bytes([data[middle] ^ 255]) + data[middle + 1 :]


@pytest.mark.parametrize(
    "damage", [damage_cut, damage_bits, lambda _: b"", lambda _: b"not a table"]
)
def test_a_damaged_cache_file_is_made_again(tmp_path, damage):
    good = ground_table(SMALL, tmp_path)
    (path,) = tmp_path.iterdir()
    whole = path.read_bytes()
    path.write_bytes(damage(whole))
    again = ground_table(SMALL, tmp_path)
    np.testing.assert_array_equal(again.coefficients, good.coefficients)
    assert "damaged" in take_trouble()
    assert fetch(tmp_path, str(np.load(path)["identity"])) is not None


def test_a_cache_that_cannot_be_written_is_done_without(tmp_path):
    blocker = tmp_path / "file"
    blocker.write_text("here first")
    table = ground_table(SMALL, blocker / "below")
    np.testing.assert_array_equal(
        table.coefficients, tabulate(SMALL.widened()).coefficients
    )
    assert list(tmp_path.iterdir()) == [blocker]


def test_different_ranges_have_different_files(tmp_path):
    ground_table(SMALL, tmp_path)
    ground_table(TableRange(DRY, 0.5, 1.0, 2.0), tmp_path)
    ground_table(TableRange(AVERAGE, 0.5, 1.0, 4.0), tmp_path)
    assert len(list(tmp_path.iterdir())) == 3
