"""Ground wave: limits, joins, reciprocity and mixed paths."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.antenna.ground import PERFECT, complex_permittivity, ground_by_name
from advisor.propagation.groundwave import (
    EFFECTIVE_RADIUS_KM,
    SHORT_MONOPOLE_RECEIVE_DBI,
    SHORT_MONOPOLE_SEND_DBI,
    attenuation,
    creeping_wave_roots,
    field_to_loss_db,
    flat_attenuation,
    ground_wave_field_dbuv_m,
    mixed_path_field_dbuv_m,
    surface_impedance,
)

BANDS = np.array([0.5, 1.85, 3.6, 7.1, 14.1, 28.5, 50.1])
GROUNDS = ["sea water", "very good land", "average", "land", "very dry", "cold ice"]


def _decibels(value):
    return 20.0 * np.log10(np.abs(value))


def _join_km(frequency):
    scale = np.cbrt(np.pi * frequency / 0.299792458 * EFFECTIVE_RADIUS_KM)
    return 0.3 * EFFECTIVE_RADIUS_KM / scale


@pytest.mark.parametrize("name", [*GROUNDS, "perfect"])
def test_both_formulas_meet_at_the_join(name):
    eps = complex_permittivity(ground_by_name(name), BANDS)
    join = _join_km(BANDS)
    near = _decibels(attenuation(BANDS, join * (1 - 1e-9), eps))
    far = _decibels(attenuation(BANDS, join * (1 + 1e-9), eps))
    assert far == pytest.approx(near, abs=0.06)


def test_perfect_ground_gives_one_over_distance_before_the_bulge_counts():
    distance = np.array([0.5, 1.0, 2.0, 5.0])
    eps = complex_permittivity(PERFECT, 3.6)
    field = ground_wave_field_dbuv_m(3.6, distance, eps)
    expected = 20.0 * np.log10(300e3 / distance)
    assert field == pytest.approx(expected, abs=0.05)


def test_nearly_perfect_ground_joins_the_perfect_one():
    """No 0/0 in the curvature bracket: the rest goes with the impedance."""
    distance = np.array([1.0, 10.0, 30.0, 200.0])
    perfect = attenuation(7.1, distance, complex(1.0, -np.inf))
    for loss in (1e12, 1e9, 1e7):
        assert attenuation(7.1, distance, 1.0 - 1j * loss) == pytest.approx(
            perfect, abs=150.0 / np.sqrt(loss)
        )


def test_curvature_bracket_joins_its_own_series():
    """|s| passes 0.1 between these grounds; nothing may be seen of it."""
    eps = 1.0 - 1j * np.geomspace(2e4, 4e5, 400)
    weakened = _decibels(attenuation(7.1, 20.0, eps))
    assert np.abs(np.diff(weakened, n=2)).max() < 1e-3


def test_flat_attenuation_limits():
    assert flat_attenuation(0.0) == 1.0
    far = np.array([200.0, 200.0 * np.exp(-0.5j), -200.0j])
    assert flat_attenuation(far) == pytest.approx(-0.5 / far, rel=0.01)
    assert flat_attenuation(1e-6) == pytest.approx(
        1.0 - 1j * np.sqrt(np.pi) * 1e-3, abs=3e-6
    )


def test_field_falls_with_distance_and_with_frequency_over_land():
    distance = np.geomspace(0.5, 1500.0, 400)
    eps = complex_permittivity(ground_by_name("average"), BANDS)[:, None]
    field = ground_wave_field_dbuv_m(BANDS[:, None], distance, eps)
    assert np.all(np.diff(field, axis=-1) < 0.0)
    # beyond a few kilometres, where the numerical distance is large
    assert np.all(np.diff(field[:, distance > 10.0], axis=0) < 0.0)
    assert np.abs(np.diff(field, axis=-1)).max() < 12.0


def test_sea_carries_further_than_land():
    field = [
        float(
            ground_wave_field_dbuv_m(
                3.6, 100.0, complex_permittivity(ground_by_name(name), 3.6)
            )
        )
        for name in ("sea water", "very good land", "average", "very dry")
    ]
    assert field == sorted(field, reverse=True)
    assert field[0] - field[2] > 30.0


def test_shadow_decays_at_the_rate_of_the_first_root():
    eps = complex_permittivity(ground_by_name("average"), 7.1)
    nu = np.cbrt(np.pi * 7.1 / 0.299792458 * EFFECTIVE_RADIUS_KM)
    root = creeping_wave_roots(-1j * nu * surface_impedance(eps), 1)[0]
    per_km = 20.0 * np.log10(np.e) * nu / EFFECTIVE_RADIUS_KM * -root.imag
    drop = ground_wave_field_dbuv_m(7.1, 1000.0, eps) - ground_wave_field_dbuv_m(
        7.1, 1500.0, eps
    )
    # the spherical wave adds sqrt(1/d): 10 log 1.5
    assert drop == pytest.approx(500.0 * per_km + 10.0 * np.log10(1.5), abs=0.01)


@pytest.mark.parametrize("name", GROUNDS)
def test_roots_solve_the_mode_equation_and_are_all_different(name):
    from scipy.special import airye

    eps = complex_permittivity(ground_by_name(name), BANDS)
    nu = np.cbrt(np.pi * BANDS / 0.299792458 * EFFECTIVE_RADIUS_KM)
    q = -1j * nu * surface_impedance(eps)
    roots = creeping_wave_roots(q, 60)
    rotation = np.exp(-2j * np.pi / 3.0)
    value, slope, _, _ = airye(roots * rotation)
    left, right = rotation * slope, q[:, None] * value
    assert np.abs(left - right) / (np.abs(left) + np.abs(right)) == pytest.approx(
        0.0, abs=1e-9
    )
    assert np.all(np.diff(-roots.imag, axis=-1) > 0.3)


@given(
    frequency=st.floats(0.5, 60.0),
    eps_r=st.floats(2.0, 80.0),
    sigma=st.floats(1e-5, 5.0),
    distance=st.floats(0.5, 1500.0),
)
def test_never_stronger_than_over_a_flat_perfect_conductor(
    frequency, eps_r, sigma, distance
):
    eps = eps_r - 17975j * sigma / frequency
    weakened = np.abs(attenuation(frequency, distance, eps))
    # a strongly inductive ground guides a surface wave: up to a few per cent more
    assert 0.0 < weakened < 1.35


def test_unusable_inputs_give_nan_and_leave_the_others_alone():
    eps = np.array([13.0 - 12j, np.nan, 13.0 - 12j, 13.0 - 12j])
    field = ground_wave_field_dbuv_m([7.1, 7.1, 0.0, 7.1], [50.0, 50.0, 50.0, -1], eps)
    assert np.isfinite(field).tolist() == [True, False, False, False]


def test_loss_and_gains_give_the_power_of_the_received_field():
    """1 kW over perfect ground at 1 km: voltage of the short receiving monopole."""
    # E = 0.3 V/m; matched short monopole takes E^2 lambda^2 / (640 pi^2)
    frequency, field = 7.0, 0.3
    wavelength = 299.792458 / frequency
    received = 10.0 * np.log10(field**2 * wavelength**2 / (640.0 * np.pi**2))
    loss = field_to_loss_db(frequency, 20.0 * np.log10(field * 1e6))
    by_budget = 30.0 + SHORT_MONOPOLE_SEND_DBI + SHORT_MONOPOLE_RECEIVE_DBI - loss
    assert by_budget == pytest.approx(received, abs=0.05)


def test_mixed_path_of_one_ground_is_that_ground():
    eps = complex_permittivity(ground_by_name("land"), 3.6)
    whole = ground_wave_field_dbuv_m(3.6, 90.0, eps)
    cut = mixed_path_field_dbuv_m(3.6, [20.0, 30.0, 40.0], np.full(3, eps))
    assert cut == pytest.approx(float(whole))


def test_mixed_path_is_the_same_both_ways():
    frequency = np.array([1.85, 3.6, 7.1])
    soils = [ground_by_name(n) for n in ("average", "sea water", "very dry")]
    eps = np.stack([complex_permittivity(g, frequency) for g in soils], axis=-1)
    there = mixed_path_field_dbuv_m(frequency, [10.0, 60.0, 25.0], eps)
    back = mixed_path_field_dbuv_m(frequency, [25.0, 60.0, 10.0], eps[:, ::-1])
    assert there.shape == (3,)
    assert there == pytest.approx(back)


def test_field_recovers_behind_the_coast():
    """Millington's recovery: just past the shore the field rises with distance."""
    land, sea = (
        complex_permittivity(ground_by_name(n), 3.6) for n in ("average", "sea water")
    )
    at_shore = ground_wave_field_dbuv_m(3.6, 50.0, land)
    past = mixed_path_field_dbuv_m(3.6, [50.0, 20.0], np.array([land, sea]))
    assert past > at_shore + 3.0


def test_many_cells_share_the_roots():
    distance = np.geomspace(1.0, 800.0, 300)
    eps = complex_permittivity(ground_by_name("average"), BANDS)[:, None]
    all_at_once = attenuation(BANDS[:, None], distance, eps)
    assert all_at_once.shape == (BANDS.size, 300)
    assert all_at_once[3, 200] == pytest.approx(
        complex(attenuation(BANDS[3], distance[200], eps[3, 0]))
    )
