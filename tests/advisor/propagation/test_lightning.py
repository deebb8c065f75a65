"""Lightning noise: the coarse table, no steps, and what is robust about it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.propagation.lightning import (
    atmospheric_noise,
    lightning_at_1_mhz_db,
    storminess,
)
from advisor.propagation.noise import combine, man_made_noise
from geo.tables import read_table, table_root

CONGO, PACIFIC, EUROPE = (0.0, 23.0), (10.0, -140.0), (45.0, 10.0)


@pytest.mark.parametrize("name", ["atmospheric_noise", "thunderstorm_centres"])
def test_tables_can_be_read_by_astropy(name):
    from astropy.table import Table

    table = Table.read(table_root() / f"{name}.ecsv", format="ascii.ecsv")
    assert len(table) == len(read_table(name))


def test_spot_values_of_the_tables():
    table = read_table("atmospheric_noise")
    row = [
        r
        for r in table.rows()
        if r["region"] == "tropical continent" and r["season"] == "summer"
    ]
    assert float(row[0]["lt_20_24_db"]) == 88.0
    assert read_table("thunderstorm_centres").rows()[0]["centre"] == "central Africa"


def test_table_rows_come_back_at_their_places_and_hours():
    hours = np.array([2.0, 10.0, 14.0, 22.0])
    quiet = lightning_at_1_mhz_db(*EUROPE, 1.0, hours)
    assert quiet == pytest.approx([55, 20, 20, 57], abs=1.0)
    summer = lightning_at_1_mhz_db(*EUROPE, 7.0, hours)
    assert summer == pytest.approx([62, 35, 48, 68], abs=1.5)
    ocean = lightning_at_1_mhz_db(*PACIFIC, 1.0, hours)
    assert ocean == pytest.approx([75, 45, 50, 76], abs=0.5)
    polar = lightning_at_1_mhz_db(80.0, 0.0, 7.0, hours)
    assert polar == pytest.approx([45, 20, 30, 45])


@given(
    lat=st.floats(-90.0, 89.9),
    lon=st.floats(-180.0, 180.0),
    month=st.floats(0.5, 12.5),
    hour=st.floats(-24.0, 24.0),
    zenith=st.floats(0.0, 180.0),
    frequency=st.floats(1.0, 54.0),
)
def test_no_steps_anywhere(lat, lon, month, hour, zenith, frequency):
    here = atmospheric_noise(frequency, lat, lon, month, hour, zenith)
    near = atmospheric_noise(
        frequency + 1e-4,
        lat + 1e-3,
        lon + 1e-3,
        month + 1e-3,
        hour + 1e-3,
        zenith + 1e-3,
    )
    assert near.factor_db == pytest.approx(float(here.factor_db), abs=0.1)
    assert near.upper_db == pytest.approx(float(here.upper_db), abs=0.01)
    assert here.lower_db == 7.5


def test_day_goes_round_midnight():
    z = lightning_at_1_mhz_db(*EUROPE, 7.0, [0.0, 24.0, 48.0, -24.0])
    assert z == pytest.approx(65.0, abs=1.0)
    assert np.ptp(z) < 1e-9


def test_seasons_turn_round_below_the_equator():
    north = lightning_at_1_mhz_db(45.0, -160.0, [1.0, 7.0], 14.0)
    south = lightning_at_1_mhz_db(-45.0, -160.0, [7.0, 1.0], 14.0)
    assert north == pytest.approx(south, abs=0.1)
    assert north[1] > north[0] + 20.0


def test_tropics_are_noisiest_and_nights_are_noisier_on_the_low_bands():
    night = atmospheric_noise(
        3.6, [0.0, 45.0, 70.0], [23.0, 10.0, 10.0], 4.0, 22.0, 120
    )
    assert np.all(np.diff(night.factor_db) < -10.0)
    day = atmospheric_noise(3.6, *EUROPE, 4.0, 12.0, 40.0)
    assert night.factor_db[1] > day.factor_db + 10.0


def test_above_10_mhz_a_built_up_place_in_middle_latitudes_hardly_hears_it():
    hours = np.arange(24.0)
    for month in (1.0, 7.0):
        for zenith in (40.0, 120.0):
            noise = atmospheric_noise(14.1, *EUROPE, month, hours, zenith)
            residential = man_made_noise("residential", 14.1)
            assert np.all(noise.factor_db < residential.factor_db - 5.0)


def test_at_night_on_80_m_it_rivals_a_quiet_place():
    noise = atmospheric_noise(3.6, *EUROPE, 7.0, 22.0, 110.0)
    quiet = man_made_noise("quiet rural", 3.6)
    assert noise.factor_db > quiet.factor_db


def test_storminess_is_a_share_and_peaks_at_its_centres():
    lat, lon = np.meshgrid(np.linspace(-90, 90, 37), np.linspace(-180, 175, 72))
    weight = storminess(lat, lon)
    assert weight.shape == lat.shape
    assert weight.min() >= 0.0
    assert weight.max() <= 1.0
    assert storminess(*CONGO) == pytest.approx(1.0)
    assert storminess(0.0, -140.0) < 0.05


def test_record_combines_with_man_made_noise():
    sky = atmospheric_noise(np.array([3.6, 7.1]), *EUROPE, 7.0, 22.0, 110.0)
    both = combine([sky, man_made_noise("rural", np.array([3.6, 7.1]))])
    assert np.all(both.factor_db > sky.factor_db)


def test_unusable_inputs_give_nan():
    noise = atmospheric_noise([0.9, 3.6], *EUROPE, 7.0, 22.0, 110.0)
    assert np.isnan(noise.factor_db).tolist() == [True, False]
    assert np.isnan(lightning_at_1_mhz_db(95.0, 0.0, 1.0, 1.0))
    assert np.isnan(lightning_at_1_mhz_db(45.0, 0.0, np.nan, 1.0))


def test_shapes_broadcast():
    noise = atmospheric_noise(
        np.array([3.6, 7.1, 14.1]),
        45.0,
        10.0,
        7.0,
        np.arange(24.0)[:, None],
        np.linspace(30, 150, 24)[:, None],
    )
    assert noise.factor_db.shape == noise.upper_db.shape == noise.lower_db.shape
    assert noise.factor_db.shape == (24, 3)
