"""The pattern: look-up between grid points, validation, lobes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from advisor.antenna.pattern import FLOOR_DBI, Pattern, standard_grid

ROWS, COLUMNS = 7, 8
GRID = standard_grid(90.0 / (ROWS - 1), 360.0 / COLUMNS)

grids = hnp.arrays(
    np.float64, (ROWS, COLUMNS), elements=st.floats(0.0, 100.0, width=32)
)
takeoffs = st.floats(0.0, 90.0)
azimuths = st.floats(-1000.0, 1000.0)


def make(vertical, horizontal=None, grid=GRID, efficiency=0.5):
    vertical = np.asarray(vertical, dtype=float)
    if horizontal is None:
        horizontal = np.zeros_like(vertical)
    return Pattern(*grid, vertical, horizontal, efficiency, 14.1)


def sampled(function, elevation_step=1.0, azimuth_step=2.0):
    """Pattern whose gain is a function of elevation and azimuth in radians."""
    elevation, azimuth = standard_grid(elevation_step, azimuth_step)
    values = function(np.radians(elevation)[:, None], np.radians(azimuth))
    shape = (elevation.size, azimuth.size)
    return make(np.broadcast_to(values, shape), grid=(elevation, azimuth))


@pytest.mark.slow
@given(grids, grids)
def test_exact_on_the_grid_with_polarisations_added(vertical, horizontal):
    pattern = make(vertical, horizontal)
    found = pattern.gain(GRID[0][:, None], GRID[1])
    np.testing.assert_allclose(found, vertical + horizontal, rtol=1e-12, atol=1e-11)


@given(grids, takeoffs, azimuths)
def test_between_the_neighbours(values, takeoff, azimuth):
    up = min(int(takeoff / (90.0 / (ROWS - 1))), ROWS - 2)
    along = int((azimuth % 360.0) / (360.0 / COLUMNS)) % COLUMNS
    corners = values[up : up + 2][:, [along, (along + 1) % COLUMNS]]
    found = make(values).gain(takeoff, azimuth)
    slack = 1e-9 * (1.0 + values.max())
    assert corners.min() - slack <= found <= corners.max() + slack
    assert found >= 0.0


@given(grids, takeoffs, st.floats(0.0, 360.0), st.integers(-3, 3))
def test_periodic_in_azimuth(values, takeoff, azimuth, turns):
    pattern = make(values)
    found = pattern.gain(takeoff, azimuth + 360.0 * turns)
    assert found == pytest.approx(
        float(pattern.gain(takeoff, azimuth)), rel=1e-9, abs=1e-9
    )


@given(takeoffs, azimuths, hnp.arrays(np.float64, 3, elements=st.floats(0.0, 1.0)))
def test_bilinear_gain_is_reproduced(takeoff, azimuth, parts):
    # A triangle wave in azimuth, straight between its corners on grid points, times
    # a straight line in elevation.
    base, slope, twist = parts

    def gain(elevation_deg, azimuth_deg):
        swing = np.abs((azimuth_deg + 180.0) % 360.0 - 180.0) / 180.0
        return base + slope * elevation_deg / 90.0 + twist * elevation_deg * swing

    pattern = make(gain(GRID[0][:, None], GRID[1]))
    assert pattern.gain(takeoff, azimuth) == pytest.approx(
        gain(takeoff, azimuth), abs=1e-9
    )


def test_halfway_between_four_corners():
    values = np.zeros((ROWS, COLUMNS))
    values[2, 7], values[3, 0] = 4.0, 8.0
    assert make(values).gain(2.5 * 15.0, -22.5) == pytest.approx(3.0)


def test_shapes_broadcast():
    pattern = make(np.ones((ROWS, COLUMNS)))
    assert pattern.gain(10.0, 20.0).shape == ()
    assert pattern.gain(10.0, np.zeros(3)).shape == (3,)
    assert pattern.gain(np.zeros((4, 1, 2)), np.zeros((5, 1))).shape == (4, 5, 2)
    assert pattern.gain(np.zeros((0, 2)), 1.0).shape == (0, 2)


def test_broadcast_agrees_with_one_by_one():
    rng = np.random.default_rng(1)
    pattern = make(rng.random((ROWS, COLUMNS)))
    takeoff, azimuth = rng.uniform(0, 90, (3, 1)), rng.uniform(-720, 720, 4)
    found = pattern.gain(takeoff, azimuth)
    singly = [[pattern.gain(t, a) for a in azimuth] for t in takeoff[:, 0]]
    np.testing.assert_array_equal(found, singly)


@pytest.mark.parametrize(
    ("takeoff", "azimuth"),
    [(-0.01, 0.0), (90.01, 0.0), (np.nan, 0.0), (10.0, np.nan), (10.0, np.inf)],
)
def test_off_the_sky_is_nan(takeoff, azimuth):
    pattern = make(np.ones((ROWS, COLUMNS)))
    assert np.isnan(pattern.gain(takeoff, azimuth))
    assert np.isnan(pattern.gain_dbi(takeoff, azimuth))


def test_horizon_and_zenith_belong_to_the_sky():
    values = np.arange(ROWS * COLUMNS, dtype=float).reshape(ROWS, COLUMNS)
    pattern = make(values)
    assert pattern.gain(0.0, 45.0) == pytest.approx(1.0)
    assert pattern.gain(90.0, 45.0) == pytest.approx(COLUMNS * (ROWS - 1) + 1.0)


def test_decibels_have_a_floor():
    values = np.full((ROWS, COLUMNS), 100.0)
    values[0] = 0.0
    found = make(values).gain_dbi([0.0, 90.0], 0.0)
    assert found.tolist() == [FLOOR_DBI, 20.0]


def test_one_azimuth_will_do_for_an_all_round_pattern():
    grid = (np.array([0.0, 45.0, 90.0]), np.array([0.0]))
    pattern = make([[1.0], [2.0], [1.0]], grid=grid)
    assert pattern.gain(22.5, 123.4) == pytest.approx(1.5)
    assert pattern.lobes(45.0).maxima_deg == ()


def test_arrays_are_copies_and_read_only():
    values = np.ones((ROWS, COLUMNS))
    pattern = make(values)
    values[:] = 5.0
    assert pattern.gain(10.0, 10.0) == 1.0
    with pytest.raises(ValueError, match="read-only"):
        pattern.vertical[0, 0] = 2.0


ELEVATION, AZIMUTH = GRID
ONES = np.ones((ROWS, COLUMNS))
NEGATIVE = ONES - 2.0 * np.eye(ROWS, COLUMNS)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((ELEVATION[:-1], AZIMUTH, ONES[:-1], ONES[:-1], 0.5, 14.0), "elevation_deg"),
        ((ELEVATION**2 / 90.0, AZIMUTH, ONES, ONES, 0.5, 14.0), "elevation_deg"),
        ((np.array([0.0]), AZIMUTH, ONES[:1], ONES[:1], 0.5, 14.0), "elevation_deg"),
        ((ELEVATION, AZIMUTH + 1.0, ONES, ONES, 0.5, 14.0), "azimuth_deg"),
        ((ELEVATION, np.linspace(0, 360, 8), ONES, ONES, 0.5, 14.0), "leave out 360"),
        ((ELEVATION, np.array([]), ONES, ONES, 0.5, 14.0), "azimuth_deg"),
        ((ELEVATION, AZIMUTH, ONES.T, ONES, 0.5, 14.0), "vertical has shape"),
        ((ELEVATION, AZIMUTH, ONES, ONES[:, :1], 0.5, 14.0), "horizontal has shape"),
        ((ELEVATION, AZIMUTH, NEGATIVE, ONES, 0.5, 14.0), "vertical must"),
        ((ELEVATION, AZIMUTH, ONES, ONES * np.nan, 0.5, 14.0), "horizontal must"),
        ((ELEVATION, AZIMUTH, ONES, ONES, 1.1, 14.0), "efficiency"),
        ((ELEVATION, AZIMUTH, ONES, ONES, float("nan"), 14.0), "efficiency"),
        ((ELEVATION, AZIMUTH, ONES, ONES, 0.5, 0.0), "frequency"),
    ],
)
def test_a_malformed_pattern_is_refused(arguments, message):
    with pytest.raises(ValueError, match=message):
        Pattern(*arguments)


def test_standard_grid_divides_evenly():
    elevation, azimuth = standard_grid()
    assert (elevation.size, azimuth.size) == (91, 180)
    assert (elevation[-1], azimuth[-1]) == (90.0, 358.0)


def test_sky_power_of_known_shapes():
    # Mean over the hemisphere of 1 is half the sphere's; of sin(el) is 1/4 of it,
    # whatever the azimuth adds.
    assert sampled(lambda el, _az: 0 * el + 1.0).sky_power() == pytest.approx(
        0.5, rel=2e-4
    )
    tilted = sampled(lambda el, az: np.sin(el) * (1.0 + np.cos(az)))
    assert tilted.sky_power() == pytest.approx(0.25, rel=2e-4)


def test_peak_is_the_strongest_of_the_grid():
    pattern = sampled(lambda el, az: np.sin(2.0 * el) ** 2 * (2.0 + np.cos(az - 1.0)))
    peak = pattern.peak()
    assert peak.takeoff_deg == 45.0
    assert peak.azimuth_deg == pytest.approx(np.degrees(1.0), abs=1.0)
    assert peak.gain_dbi == pytest.approx(10 * np.log10(3.0), abs=0.01)


def test_lobes_of_a_figure_of_eight():
    pattern = sampled(lambda el, az: np.cos(el) * (1e-3 + np.sin(az - 0.3) ** 2))
    lobes = pattern.lobes(30.0)
    tilt = np.degrees(0.3)
    assert lobes.maxima_deg == pytest.approx((90.0 + tilt, 270.0 + tilt), abs=0.05)
    assert sorted(lobes.minima_deg) == pytest.approx((tilt, 180.0 + tilt), abs=0.5)
    assert lobes.maxima_dbi[0] == pytest.approx(10 * np.log10(np.cos(0.5236)), abs=0.01)


def test_lobes_are_ranked_and_counted():
    def clover(el, az):
        return np.cos(el) * (1.0 + 0.5 * np.cos(az) + 0.6 * np.cos(4.0 * az))

    lobes = sampled(clover).lobes(0.0)
    assert len(lobes.maxima_deg) == len(lobes.minima_deg) == 4
    assert lobes.maxima_deg[0] == pytest.approx(0.0, abs=0.05)
    assert list(lobes.maxima_dbi) == sorted(lobes.maxima_dbi, reverse=True)
    assert list(lobes.minima_dbi) == sorted(lobes.minima_dbi)


@pytest.mark.parametrize("ripple", [0.0, 1e-12, 0.04])
def test_no_lobes_where_the_gain_is_the_same_all_round(ripple):
    pattern = sampled(lambda el, az: np.cos(el) * (1.0 + ripple * np.sin(3.0 * az)))
    lobes = pattern.lobes(20.0)
    assert lobes.maxima_deg == lobes.minima_deg == ()


@given(st.integers(0, 179), st.integers(1, 6))
def test_lobes_turn_with_the_pattern(shift, count):
    angle = np.radians(2.0 * shift)
    pattern = sampled(lambda el, az: np.cos(el) * (1.1 + np.cos(count * (az - angle))))
    lobes = pattern.lobes(0.0)
    found = np.sort(np.mod(np.array(lobes.maxima_deg) - 2.0 * shift + 1.0, 360.0))
    wanted = 1.0 + 360.0 / count * np.arange(count)
    np.testing.assert_allclose(found, wanted, atol=0.02)
    assert len(lobes.minima_deg) == count


def test_lobes_out_of_range_are_none():
    assert make(ONES).lobes(-5.0).maxima_deg == ()
