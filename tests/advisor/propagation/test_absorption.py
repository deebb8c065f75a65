"""Absorption in the D region: its table, its limits, no steps."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.propagation.absorption import (
    CROSSING_HEIGHT_KM,
    DAY_FACTOR,
    LAG_H,
    crossing_distance_km,
    crossing_loss_db,
    d_region,
    overhead_absorption,
    returned_share,
)
from geo.ionosphere.layers import layers_at
from geo.sphere import EARTH_RADIUS_KM, destination
from geo.sun import month_phase, subsolar_point, zenith_deg
from geo.tables import read_table, table_root

ROOT = Path(__file__).resolve().parents[3]
SOURCE = ROOT.parent / "shared" / "data" / "absorption_firi2018.csv"


def test_the_table_is_what_the_builder_makes():
    if not SOURCE.exists():
        pytest.skip("the integrals are not at hand")
    path = ROOT / "docs" / "studies" / "build_absorption.py"
    spec = importlib.util.spec_from_file_location("build_absorption", path)
    builder = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(builder)
    shipped = (table_root() / "absorption.ecsv").read_text(encoding="utf-8")
    assert builder.table_text(SOURCE) == shipped


def test_the_table_can_be_read_by_astropy():
    from astropy.table import Table

    table = Table.read(table_root() / "absorption.ecsv", format="ascii.ecsv")
    assert len(table) == len(read_table("absorption")) == 180
    assert table["chi_60_db_mhz2"].unit == "dB MHz2"


def test_its_spot_value():
    """Named in the head of the table; the day's factor is on top."""
    found = overhead_absorption(45.0, 1.0, 60.0, 75.0)
    assert found == pytest.approx(DAY_FACTOR * 210.9, rel=1e-12)
    assert overhead_absorption(-45.0, 7.0, 60.0, 75.0) == found
    # Beyond 100 degrees it stands alone, beyond 130 the sun no longer counts.
    assert overhead_absorption(45.0, 1.0, [130.0, 180.0], 75.0) == pytest.approx(9.0)


@given(
    lat=st.floats(-89.9, 89.9),
    month=st.floats(0.5, 12.5),
    zenith=st.floats(0.0, 179.0),
    flux=st.floats(60.0, 300.0),
)
def test_no_steps_and_never_less_by_a_higher_sun(lat, month, zenith, flux):
    here = overhead_absorption(lat, month, zenith, flux)
    assert here > 0.0
    near = overhead_absorption(lat + 1e-4, month + 1e-4, zenith + 1e-4, flux + 1e-3)
    assert near == pytest.approx(here, rel=1e-3)
    assert overhead_absorption(lat, month, zenith + 1.0, flux) <= here * (1 + 1e-12)
    assert overhead_absorption(lat, month, zenith, flux + 20.0) >= here * (1 - 1e-12)


def test_month_goes_round_the_year_and_the_equator_has_no_step():
    assert overhead_absorption(50.0, 0.5, 60.0, 75.0) == pytest.approx(
        overhead_absorption(50.0, 12.5, 60.0, 75.0)
    )
    north, south = overhead_absorption([1e-9, -1e-9], 3.0, 60.0, 120.0)
    assert north == pytest.approx(south, rel=1e-6)


def test_what_is_left_at_night_is_a_fiftieth():
    """Of the overhead value 0.02 to 0.03 at night, 0.02 to 0.05 at 95 degrees."""
    day = overhead_absorption([0.0, 30.0, 45.0], 4.0, 0.0, 75.0)
    night = overhead_absorption([0.0, 30.0, 45.0], 4.0, 130.0, 75.0)
    assert np.all((night / day > 0.012) & (night / day < 0.03))


def test_a_crossing_adds_up_and_scales():
    one = crossing_loss_db(7.1, 15.0, 200.0, 2.0, 1.1)
    assert crossing_loss_db(7.1, 15.0, 400.0, 2.0, 1.1) == pytest.approx(2.0 * one)
    # Far above the E layer straight up it is half of the plain quotient.
    assert crossing_loss_db(30.0, 90.0, 200.0, 0.5, 1.0) == pytest.approx(
        0.5 * 200.0 / 31.0**2
    )
    # Along the dip equator the field does not help: the loss rises by (f+fH)^2/f^2.
    ratio = crossing_loss_db(3.6, 20.0, 200.0, 2.0, 0.0) / crossing_loss_db(
        3.6, 20.0, 200.0, 2.0, 1.2
    )
    assert ratio == pytest.approx((4.8 / 3.6) ** 2)


def test_share_joins_at_both_ends():
    assert returned_share([1e-6, 0.1, 5.0, 1e3]) == pytest.approx([0.37, 0.37, 1, 1])
    ratio = np.geomspace(0.05, 10.0, 4000)
    assert np.abs(np.diff(returned_share(ratio))).max() < 0.004


def test_place_of_the_crossing_is_that_of_a_straight_ray():
    beta = np.radians([0.0, 3.0, 10.0, 45.0, 90.0])
    # From where it crosses, seen from the Earth's centre.
    angle = crossing_distance_km(np.degrees(beta)) / EARTH_RADIUS_KM
    radius = EARTH_RADIUS_KM + CROSSING_HEIGHT_KM
    east = radius * np.sin(angle)
    up = radius * np.cos(angle) - EARTH_RADIUS_KM
    assert east * np.sin(beta) == pytest.approx(up * np.cos(beta), abs=1e-6)


@pytest.mark.slow
def test_along_a_path_each_crossing_counts_with_its_own_sky():
    """Two rays over three hops against the pure functions at each crossing's place."""
    times = np.array(["2026-12-05T06:00", "2026-12-05T17:00"], "datetime64[s]")
    here, bearing = (40.0, -20.0), np.array([70.0, 160.0])
    length, frequency = np.array([6000.0, 7500.0]), np.array([3.6, 14.1])
    takeoff = np.array([8.0, 14.0])
    flux = layers_at(0.0, 0.0, times, 90.0).flux_sfu
    region = d_region(*here, bearing, length, times, flux)
    touches = [k / 3.0 * length[:, None, None] for k in range(4)]
    path, hour = np.arange(2)[:, None, None], np.arange(2)[:, None]
    ours = region.loss_db(path, hour, frequency, takeoff[:, None, None], touches)
    assert ours.shape == (2, 2, 2)
    sub_lat, sub_lon = subsolar_point(times)
    for p, t, f in np.ndindex(2, 2, 2):
        whole = 0.0
        for hop in range(3):
            inset = crossing_distance_km(takeoff[p])
            for along in (touches[hop][p] + inset, touches[hop + 1][p] - inset):
                lat, lon = destination(*here, bearing[p], along.item())
                sky = layers_at(lat, lon, times[t], 90.0)
                zenith = zenith_deg(lat, lon, sub_lat[t], sub_lon[t] + 15.0 * LAG_H)
                month = month_phase(times)[t]
                dip = np.radians(sky.dip_deg)
                whole += crossing_loss_db(
                    frequency[f],
                    takeoff[p],
                    overhead_absorption(lat, month, zenith, flux[t]),
                    sky.foe_mhz,
                    np.abs(sky.gyro_100km_mhz * np.sin(dip)),
                ).item()
        # Straight lines between places 300 km apart.
        assert ours[p, t, f] == pytest.approx(whole, rel=0.03)


def test_each_ray_reads_its_own_path_and_hour():
    """Asked in any order, alone or together; hops add up, and no hop is nothing."""
    times = np.array(["2026-12-05T06:00", "2026-12-05T12:00"], "datetime64[s]")
    flux, far = np.array([100.0, 100.0]), np.array([3000.0, 3000.0])
    region = d_region(0.0, 0.0, np.array([90.0, 300.0]), far, times, flux)
    path, hour = np.array([1, 0, 0, 1]), np.array([0, 1, 0, 1])
    takeoff = np.array([20.0, 10.0, 0.0, np.nan])
    three = [0.0, 1000.0, 2000.0, 3000.0]
    ours = region.loss_db(path, hour, 7.1, takeoff, three)
    assert np.isnan(ours[3])
    assert np.unique(ours[:3]).size == 3
    for n in range(3):
        each = [
            region.loss_db(path[n], hour[n], 7.1, takeoff[n], three[k : k + 2])
            for k in range(3)
        ]
        assert ours[n] == pytest.approx(sum(each))
        assert min(each) > 0.0
    assert np.all(region.loss_db(path, hour, 7.1, 20.0, [0.0]) == 0.0)


def test_unusable_inputs_give_nan():
    found = overhead_absorption([95.0, 45.0, 45.0], [1.0, np.nan, 1.0], 60.0, 75.0)
    assert np.isnan(found).tolist() == [True, True, False]
