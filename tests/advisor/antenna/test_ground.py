"""The ground's constants and its plane-wave reflection."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.antenna.ground import (
    PERFECT,
    Ground,
    complex_permittivity,
    ground_by_name,
    ground_names,
    reflection_horizontal,
    reflection_te,
    reflection_tm,
    reflection_vertical,
)
from geo.errors import InputError
from geo.tables import read_table, table_root

AVERAGE = ground_by_name("average")

elevations = st.floats(0.0, 90.0)
permittivities = st.builds(
    lambda eps_r, log_loss: complex(eps_r, -(10.0**log_loss)),
    st.floats(1.0, 90.0),
    st.floats(-6.0, 5.0),
)


def test_table_matches_its_stated_spot_values():
    table = read_table("ground_constants")
    assert dict(table.units) == {"eps_r": "1", "sigma_s_m": "S / m"}
    sea, average = ground_by_name("sea water"), AVERAGE
    assert (sea.eps_r, sea.sigma_s_m) == (70.0, 5.0)
    assert (average.eps_r, average.sigma_s_m) == (13.0, 0.005)


def test_astropy_reads_the_table_with_units():
    table = pytest.importorskip("astropy.table").Table
    read = table.read(table_root() / "ground_constants.ecsv", format="ascii.ecsv")
    assert str(read["sigma_s_m"].unit) == "S / m"
    assert len(read) == len(ground_names()) - 1


def test_every_ground_is_lower_case_and_carries_its_source():
    assert len(set(ground_names())) == len(ground_names())
    for name in ground_names():
        ground = ground_by_name(name)
        assert ground.name == name == name.lower()
        assert ground.reference
        if ground is not PERFECT:
            assert "from memory" in ground.reference


def test_names_forgive_capitals_and_spaces():
    assert ground_by_name("  Very   Good LAND ") is ground_by_name("very good land")
    assert ground_by_name("perfect") is PERFECT


def test_unknown_name_gets_near_matches():
    with pytest.raises(InputError, match=r"'averge'; did you mean 'average'\?"):
        ground_by_name("averge")
    with pytest.raises(InputError, match=r"known: sea water, .*perfect"):
        ground_by_name("xyz")


@pytest.mark.parametrize("eps_r", [0.9, -1.0, float("nan"), float("inf")])
def test_impossible_permittivity_is_refused(eps_r):
    with pytest.raises(InputError, match="permittivity"):
        Ground("odd", eps_r, 0.001, "")


@pytest.mark.parametrize("sigma", [-0.001, float("nan")])
def test_impossible_conductivity_is_refused(sigma):
    with pytest.raises(InputError, match="conductivity"):
        Ground("odd", 10.0, sigma, "")


def test_permittivity_constant(outside):
    # ITU-R P.527 gives 18000 σ/f(MHz), rounded; 1/(2π 1e6 ε0) is 17975.1.
    eps = complex_permittivity(Ground("unit", 5.0, 1.0, ""), 1.0)
    assert eps.real == 5.0
    check = outside("CODATA: 1/(2 pi 1e6 eps0)", "worked apart")
    why = "half the last digit"
    check.near("permittivity constant", -eps.imag, 17975.1, abs=0.05, why=why)
    check = outside("ITU-R P.527: 18000 sigma/f", "from memory")
    check.near("the same", -eps.imag, 18000.0, rel=2e-3, why="rounded there")


def test_permittivity_keeps_shape_and_marks_bad_frequencies():
    eps = complex_permittivity(AVERAGE, [[1.8, 0.0], [-1.0, np.nan]])
    assert eps.shape == (2, 2)
    assert np.isnan(eps).tolist() == [[False, True], [True, True]]


def test_perfect_ground_reflects_everything_at_every_angle():
    eps = complex_permittivity(PERFECT, 14.0)
    elevation = np.linspace(0.0, 90.0, 19)
    np.testing.assert_array_equal(reflection_horizontal(elevation, eps), -1.0)
    np.testing.assert_array_equal(reflection_vertical(elevation, eps), 1.0)


def test_good_conductor_tends_to_the_perfect_one():
    eps = complex_permittivity(Ground("copper", 1.0, 5.8e7, ""), 14.0)
    assert reflection_horizontal(30.0, eps) == pytest.approx(-1.0, abs=1e-5)
    assert reflection_vertical(30.0, eps) == pytest.approx(1.0, abs=2e-5)


def test_air_reflects_nothing():
    elevation = np.array([0.0, 1.0, 45.0, 90.0])
    np.testing.assert_array_equal(reflection_horizontal(elevation, 1.0), 0.0)
    np.testing.assert_array_equal(reflection_vertical(elevation, 1.0), 0.0)


def test_out_of_range_is_nan_and_broadcasts():
    eps = complex_permittivity(AVERAGE, [3.6, 0.0])
    for function in (reflection_horizontal, reflection_vertical):
        found = function([[-1.0], [10.0], [90.1], [np.nan]], eps)
        assert np.isnan(found).tolist() == [
            [True, True],
            [False, True],
            [True, True],
            [True, True],
        ]


@given(elevations, permittivities)
def test_a_passive_ground_never_reflects_more_than_arrives(elevation, eps):
    assert abs(reflection_horizontal(elevation, eps)) <= 1.0 + 1e-12
    assert abs(reflection_vertical(elevation, eps)) <= 1.0 + 1e-12


@given(permittivities)
def test_polarisations_agree_where_they_cannot_be_told_apart(eps):
    # Straight down both are (1 - n)/(1 + n), apart from the sign convention; at
    # grazing both are -1. (Any textbook of optics.)
    n = np.sqrt(eps)
    assert reflection_horizontal(90.0, eps) == pytest.approx((1 - n) / (1 + n))
    assert reflection_vertical(90.0, eps) == pytest.approx((n - 1) / (n + 1))
    assert reflection_horizontal(0.0, eps) == pytest.approx(-1.0)
    assert reflection_vertical(0.0, eps) == pytest.approx(-1.0)


@given(elevations.filter(lambda e: e > 0.1), permittivities)
def test_agrees_with_the_textbook_form(elevation, eps):
    sine, cosine = np.sin(np.radians(elevation)), np.cos(np.radians(elevation))
    q = np.sqrt(eps - cosine**2)
    assert reflection_horizontal(elevation, eps) == pytest.approx(
        (sine - q) / (sine + q), abs=1e-9
    )
    assert reflection_vertical(elevation, eps) == pytest.approx(
        (eps * sine - q) / (eps * sine + q), abs=1e-9
    )


@given(st.floats(0.0, 50.0), permittivities)
def test_identity_between_the_two_reflections(decay, eps):
    # R_TE + R_TM = λ² C with C = 2 (n² - 1)/((u0 + u1)(n² u0 + u1)): Michalski and
    # Mosig, IEEE Trans. Antennas Propag. 45(3), 1997, in the notation of u = jkc.
    u0, u1 = decay, np.sqrt(1.0 + decay**2 - eps)
    c = 2.0 * (eps - 1.0) / ((u0 + u1) * (eps * u0 + u1))
    found = reflection_te(-1j * decay, eps) + reflection_tm(-1j * decay, eps)
    assert found == pytest.approx((1.0 + decay**2) * c, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("zero", [0.0, -0.0])
def test_lossless_ground_takes_near_field_only_up_to_its_own_wavenumber(zero):
    eps = complex(4.0, zero)
    # κ² = 1 + decay² is under ε: the wave travels on in the ground and takes power,
    # so the imaginary part is negative. Over ε it dies away there too.
    inside, outside = -1j * np.array([0.5, 1.5]), -1j * np.array([2.0, 30.0])
    assert (reflection_te(inside, eps).imag < 0.0).all()
    assert (reflection_tm(inside, eps).imag < 0.0).all()
    np.testing.assert_allclose(reflection_te(outside, eps).imag, 0.0, atol=1e-15)
    np.testing.assert_allclose(reflection_tm(outside, eps).imag, 0.0, atol=1e-15)
