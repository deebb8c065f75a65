"""Lightning noise: the table, its builder, no steps, and what is robust about it."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.propagation.lightning import (
    FLOOR_DB,
    atmospheric_noise,
    lightning_noise_db,
)
from advisor.propagation.noise import combine, man_made_noise
from geo.tables import read_arrays

ROOT = Path(__file__).resolve().parents[3]
SOURCE = ROOT.parent / "shared" / "data" / "lightning_monthly.npz"
CONGO, PACIFIC, EUROPE = (0.0, 23.0), (10.0, -140.0), (45.0, 10.0)


@pytest.fixture(scope="module")
def builder():
    """The script that made the table."""
    path = ROOT / "docs" / "studies" / "build_lightning.py"
    spec = importlib.util.spec_from_file_location("build_lightning", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def cells(builder):
    """The climatology."""
    if not SOURCE.exists():
        pytest.skip("the flashes are not at hand")
    return builder.Cells(SOURCE)


def test_flashes_of_the_world(cells):
    """
    Global means of LIS/OTD: 46 flashes a second, of which 78 % over land.

    By month they are those of the climatology itself, least in February and most in
    August.
    """
    by_month = cells.rate.sum(axis=-1)
    assert by_month.mean() == pytest.approx(46.0, abs=0.5)
    assert by_month.argmin() == 1
    assert by_month.argmax() == 7
    assert (cells.rate * cells.land).sum() / cells.rate.sum() == pytest.approx(
        0.78, abs=0.01
    )


# Worked apart by another program of the same rules: median noise factor by blocks of
# four hours of local time (means of even hours UTC), R12 60.
BLOCKS = {
    ("London", 51.5, 0.0): {(7, 7.0): [49, 43, 34, 35, 44, 50]},
    ("Boulder", 40.1, -105.1): {(7, 3.0): [69, 59, 51, 63, 69, 71]},
    ("Singapore", 1.3, 103.8): {(1, 10.0): [40, 37, 33, 36, 43, 43]},
    ("Kinshasa", -4.3, 15.3): {(1, 3.0): [69, 64, 58, 67, 71, 71]},
    ("Auckland", -36.9, 174.8): {(1, 10.0): [38, 33, 20, 21, 34, 40]},
    ("Miami", 25.8, -80.2): {(7, 15.0): [35, 34, 35, 37, 40, 39]},
}


@pytest.mark.slow
@pytest.mark.parametrize("place", BLOCKS, ids=lambda place: place[0])
def test_the_builder_against_another_program(builder, cells, place):
    name, lat, lon = place
    here = builder.Receivers(cells, [lat], [lon])
    hours = np.arange(0, 24, 2)
    block = ((hours + lon / 15.0) % 24.0 // 4.0).astype(int)
    for (month, frequency), expected in BLOCKS[place].items():
        found = np.array(
            [
                here.noise_db(builder.Sky(month, hour, 60.0), [frequency])[0, 0, 0]
                for hour in hours
            ]
        )
        ours = [found[block == k].mean() for k in range(6)]
        assert ours == pytest.approx(expected, abs=1.5), name


@pytest.mark.slow
def test_the_sum_of_storms_is_that_of_drawn_hours(builder):
    """Quantiles of storms that come by chance against 20,000 drawn hours."""
    dice = np.random.default_rng(5)
    power = 10.0 ** dice.normal(0.0, 2.0, 400)
    expected = dice.uniform(0.0, 0.2, 400)
    drawn = np.sort(dice.poisson(expected, (20_000, 400)) @ power)
    found = builder.quantile(
        power, expected, (builder.MEDIAN, builder.UPPER, builder.LOWER)
    )
    for ours, share in zip(found, (0.5, 0.9, 0.1), strict=True):
        there = drawn[int(share * drawn.size)]
        assert 10.0 * np.log10(ours / there) == pytest.approx(0.0, abs=1.6)


@pytest.mark.slow
def test_the_table_is_what_the_builder_makes(builder, cells):
    """One row of the table, one hour."""
    table = read_arrays("lightning_noise")["noise_db"]
    row = 10
    lat = np.full(builder.LONGITUDES.size, builder.LATITUDES[row])
    here = builder.Receivers(cells, lat, builder.LONGITUDES)
    sky = builder.Sky(7, builder.HOURS[9], builder.SPOTS[1])
    (found,) = here.noise_db(sky, builder.FREQUENCIES)
    # Half a decibel is rounding.
    assert np.abs(table[1, 6, 9, row] - found.T).max() < 0.51


def test_nodes_of_the_table_come_back():
    table = read_arrays("lightning_noise")
    noise = table["noise_db"]
    for at in [(0, 0, 0, 0, 0, 0), (1, 5, 11, 16, 35, 6), (0, 11, 4, 8, 20, 2)]:
        spots, month, hour, lat, lon, f = at
        found = lightning_noise_db(
            table["frequency_mhz"][f],
            table["lat_deg"][lat],
            table["lon_deg"][lon],
            month + 1.0,
            table["utc_hour"][hour],
            table["r12"][spots],
        )
        assert found == pytest.approx(noise[at], abs=1e-9)


@given(
    lat=st.floats(-90.0, 89.9),
    lon=st.floats(-180.0, 180.0),
    month=st.floats(0.5, 12.5),
    hour=st.floats(-24.0, 24.0),
    zenith=st.floats(0.0, 180.0),
    frequency=st.floats(1.0, 54.0),
    r12=st.floats(0.0, 200.0),
)
def test_no_steps_anywhere(lat, lon, month, hour, zenith, frequency, r12):
    here = atmospheric_noise(frequency, lat, lon, month, hour, r12, zenith)
    near = atmospheric_noise(
        frequency + 1e-4,
        lat + 1e-3,
        lon + 1e-3,
        month + 1e-3,
        hour + 1e-3,
        r12 + 1e-3,
        zenith + 1e-3,
    )
    assert near.factor_db == pytest.approx(float(here.factor_db), abs=0.3)
    assert near.upper_db == pytest.approx(float(here.upper_db), abs=0.01)
    assert near.lower_db == pytest.approx(float(here.lower_db), abs=0.01)


def test_the_day_and_the_year_and_the_world_go_round():
    z = lightning_noise_db(7.0, *EUROPE, 7.0, [0.0, 24.0, 48.0, -24.0], 60.0)
    assert np.ptp(z) < 1e-9
    around = lightning_noise_db(7.0, 10.0, [-179.99, 180.01], [0.5, 12.5], 3.0, 60.0)
    assert np.ptp(around) < 1e-6


def test_tropics_are_noisiest_and_nights_are_noisier_on_the_low_bands():
    night = lightning_noise_db(3.6, [0.0, 45.0, 75.0], [23.0, 10, 10], 4.0, 21.0, 60.0)
    assert np.all(np.diff(night) < -5.0)
    day = lightning_noise_db(3.6, *EUROPE, 4.0, 10.0, 60.0)
    assert night[1] > day + 10.0


def test_summer_nights_over_land_are_louder_than_winter_nights():
    for lat, lon, hour in ((45.0, 10.0, 22.0), (-30.0, 25.0, 21.0)):
        winter, summer = (1.0, 7.0) if lat > 0 else (7.0, 1.0)
        found = lightning_noise_db(3.6, lat, lon, [winter, summer], hour, 60.0)
        assert found[1] > found[0] + 5.0


def test_the_afternoon_peak_of_storms_is_heard():
    """On 7 MHz the Rockies' July is louder at 18 than at 10 hours."""
    hours = np.array([10.0, 18.0]) + 105.0 / 15.0
    morning, evening = lightning_noise_db(7.0, 40.0, -105.0, 7.0, hours, 60.0)
    assert evening > morning + 5.0


def test_above_10_mhz_a_built_up_place_in_middle_latitudes_hardly_hears_it():
    hours = np.arange(24.0)
    for month in (1.0, 7.0):
        noise = lightning_noise_db(14.1, *EUROPE, month, hours, 60.0)
        residential = man_made_noise("residential", 14.1)
        assert np.all(noise < residential.factor_db)


def test_at_night_on_80_m_it_rivals_a_quiet_place():
    noise = atmospheric_noise(3.6, *EUROPE, 7.0, 22.0, 60.0, 110.0)
    quiet = man_made_noise("quiet rural", 3.6)
    assert noise.factor_db > quiet.factor_db


def test_record_combines_with_man_made_noise():
    frequency = np.array([3.6, 7.1])
    sky = atmospheric_noise(frequency, *EUROPE, 7.0, 22.0, 60.0, 110.0)
    both = combine([sky, man_made_noise("rural", frequency)])
    assert np.all(both.factor_db > sky.factor_db)


def test_unusable_inputs_give_nan():
    noise = atmospheric_noise([0.9, 3.6], *EUROPE, 7.0, 22.0, 60.0, 110.0)
    assert np.isnan(noise.factor_db).tolist() == [True, False]
    assert np.isnan(lightning_noise_db(3.6, 95.0, 0.0, 1.0, 1.0, 60.0))
    assert np.isnan(lightning_noise_db(3.6, 45.0, 0.0, np.nan, 1.0, 60.0))


def test_shapes_broadcast_and_the_floor_holds():
    noise = atmospheric_noise(
        np.array([3.6, 14.1, 50.0]),
        *PACIFIC,
        7.0,
        np.arange(24.0)[:, None],
        60.0,
        np.linspace(30, 150, 24)[:, None],
    )
    assert noise.factor_db.shape == noise.upper_db.shape == noise.lower_db.shape
    assert noise.factor_db.shape == (24, 3)
    assert noise.factor_db.min() >= FLOOR_DB
    assert lightning_noise_db(1.5, *CONGO, 4.0, 20.0, 60.0) > 65.0
