"""Day-to-day spread of foF2: ranges it was laid through, bounds, smoothness."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.ionosphere import variability
from geo.sun import local_mean_hour

HOURS = np.arange(0.0, 24.0, 0.25)
DAY = (HOURS > 9.0) & (HOURS < 15.0)
SEEN = "public ionograms of 2019, day-to-day spread of foF2", "page at hand"


@given(st.floats(-90, 90), st.floats(-48, 48), st.floats(0, 1))
def test_bounds_everywhere(lat, hour, winter):
    lower, upper = variability.fof2_decile_ratios(lat, hour, winter)
    assert 0.789 < lower < 0.901
    assert 1.089 < upper < 1.331


# Public ionograms of 2019, lower and upper deciles over the median: middle latitudes
# 0.85-0.92 and 1.08-1.18, low latitudes by day 0.85-0.92 and 1.1-1.2, from sunset to
# midnight 0.73-0.84 and 1.25-1.42, all hours and places together 0.86 and 1.15.
def test_middle_latitudes_lie_in_the_range_seen(outside):
    lower, upper = variability.fof2_decile_ratios(50.0, HOURS, 0.5)
    check = outside(*SEEN)
    check.between("lower decile at 50 degrees, all hours", lower, 0.85, 0.92)
    check.between("upper decile at 50 degrees, all hours", upper, 1.08, 1.18)
    assert lower.mean() == pytest.approx(0.87, abs=0.01)
    assert upper.mean() == pytest.approx(1.14, abs=0.015)


def test_low_latitudes_lie_in_the_range_seen(outside):
    lower, upper = variability.fof2_decile_ratios(5.0, HOURS, 0.5)
    evening = (HOURS >= 18.5) & (HOURS <= 23.5)
    check = outside(*SEEN)
    check.between("lower decile at 5 degrees, day", lower[DAY], low=0.85)
    check.between("upper decile at 5 degrees, day", upper[DAY], 1.1, 1.2)
    check.between("lower decile at 5 degrees, evening", lower[evening], 0.73, 0.84)
    check.between("upper decile at 5 degrees, evening", upper[evening], 1.25, 1.42)
    at_peak = variability.fof2_decile_ratios(5.0, 21.0, 0.5)
    np.testing.assert_allclose(at_peak, [0.79, 1.33], atol=0.005)


def test_all_hours_and_places_together(outside):
    lat = np.degrees(np.arcsin(np.linspace(-1.0, 1.0, 181)))[:, None]  # equal areas
    lower, upper = variability.fof2_decile_ratios(lat, HOURS, 0.5)
    check = outside(*SEEN)
    why = "five stations for the globe"
    what = "lower decile over the median, all together"
    check.near(what, lower.mean(), 0.86, abs=0.01, why=why)
    what = "upper decile over the median, all together"
    check.near(what, upper.mean(), 1.15, abs=0.015, why=why)


# Variability of NmF2 over Moscow, abstract in an open abstract service: 12 % by day in
# July is the least, 43 % by night in December the most. Only the order is tested.
def test_order_of_day_and_season_over_moscow():
    width = {
        (season, hour): np.subtract(
            *variability.fof2_decile_ratios(51.0, hour, season)[::-1]
        )
        for season in (0.0, 1.0)
        for hour in (0.0, 12.0)
    }
    assert min(width, key=width.get) == (0.0, 12.0)
    assert max(width, key=width.get) == (1.0, 0.0)


@pytest.mark.parametrize("lat", [0.0, 25.0, 60.0])
def test_no_steps(lat):
    hour = np.linspace(0.0, 24.0, 1441)
    for ratio in variability.fof2_decile_ratios(lat, hour, 0.7):
        assert ratio[0] == pytest.approx(ratio[-1], abs=1e-12)
        assert np.abs(np.diff(ratio)).max() < 0.002  # a minute
    lats = np.linspace(-90.0, 90.0, 1801)
    for ratio in variability.fof2_decile_ratios(lats, 21.0, 0.7):
        np.testing.assert_allclose(ratio, ratio[::-1], atol=1e-12)
        assert np.abs(np.diff(ratio)).max() < 0.002  # a tenth of a degree


def test_local_hour_and_winter_share_shapes_and_values():
    times = np.array(["2026-06-21T00", "2026-12-21T12", "NaT"], "datetime64[s]")
    lon, lat = np.array([0.0, 90.0, -75.0, np.nan]), np.array([50.0, 0.0, -50.0, 0.0])
    hour = local_mean_hour(lon, times[:, None])
    np.testing.assert_allclose(
        hour, [[0, 6, 19, np.nan], [12, 18, 7, np.nan], [np.nan] * 4]
    )
    winter = variability.winter_share(times, lat)
    assert winter.shape == (3, 4)
    np.testing.assert_allclose(winter[:2, [1, 3]], 0.5)
    assert winter[0, 0] < 0.01 < 0.99 < winter[1, 0]
    assert winter[1, 2] < 0.01 < 0.99 < winter[0, 2]
    assert np.isnan(winter[2]).all()


def test_seasons_do_not_step_at_the_new_year():
    ends = np.array(["2026-12-31T23:59:59", "2027-01-01T00:00:00"], "datetime64[s]")
    winter = variability.winter_share(ends, [60.0, -60.0])
    assert np.abs(np.diff(winter, axis=0)).max() < 0.001


def test_missing_stays_missing():
    for i in range(3):
        arguments = [30.0, 12.0, 0.5]
        arguments[i] = np.nan
        assert np.isnan(variability.fof2_decile_ratios(*arguments)).all()
