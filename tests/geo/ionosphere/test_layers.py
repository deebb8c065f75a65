"""The E and F1 layers against other published forms, and the Layers record."""

import dataclasses
import warnings

import numpy as np
import pytest

from geo import magnetic
from geo.errors import InputError
from geo.ionosphere import layers, maps, variability
from geo.ionosphere.layers import foe_mhz, fof1_mhz, fof1_zenith_limit_deg, layers_at
from geo.solar import flux_from_r12
from geo.sun import zenith_deg

DAY = np.datetime64("2026-12-05", "s") + np.arange(24) * np.timedelta64(3600, "s")


@pytest.fixture(scope="module")
def sky():
    """Hobart, Quito, London, Longyearbyen over a day."""
    return layers_at([-42.9, -0.2, 51.5, 78.2], [147.3, -78.5, -0.1, 15.6], DAY, 58.0)


@pytest.mark.parametrize("r12", [0.0, 50.0, 100.0, 150.0])
def test_foe_by_day_agrees_with_the_handbook_form(outside, r12):
    """
    foE = 0.9 ((180 + 1.44 R12) cos z)^0.25, Davies, Ionospheric Radio (1990).

    From memory. A simpler form of other data: within 0.2 MHz by day, no bias.
    """
    lat = np.array([-60.0, -30.0, 0.0, 15.0, 40.0, 55.0])[:, None, None]
    declination = np.array([-23.0, 0.0, 23.0])[:, None]
    hour_angle = np.arange(-75.0, 76.0, 15.0)
    zenith = zenith_deg(lat, hour_angle, declination, 0.0)
    day = zenith < 72.0
    handbook = 0.9 * ((180.0 + 1.44 * r12) * np.cos(np.radians(zenith[day]))) ** 0.25
    apart = foe_mhz(lat, declination, hour_angle, flux_from_r12(r12))[day] - handbook
    check = outside("Davies 1990: 0.9 ((180 + 1.44 R) cos z)^0.25", "from memory")
    why = "a simpler form of other data"
    check.near("foE by day, difference [MHz]", apart, 0.0, abs=0.2, why=why)
    check.near("foE by day, bias [MHz]", apart.mean(), 0.0, abs=0.05, why=why)


def test_foe_by_day_agrees_with_an_open_model(outside):
    """
    foE of Titheridge in the form of NeQuick (Nava et al. 2008), as PyIRI has it.

    Another law of season and latitude: within 0.35 MHz with the sun 15 deg high or
    more.
    """
    from PyIRI.main_library import foE, solzen_effective

    hour_angle = np.arange(-90.0, 91.0, 10.0)
    lat = np.array([-50.0, -20.0, 0.0, 30.0, 55.0])
    for month, declination in ((3, -2.0), (6, 23.3), (12, -23.3)):
        zenith = zenith_deg(lat, hour_angle[:, None], declination, 0.0)
        model = foE(month, solzen_effective(zenith), lat, 120.0)
        ours = foe_mhz(lat, declination, hour_angle[:, None], 120.0)
        apart = (ours - model)[zenith < 75.0]
        assert apart.size > 20
        check = outside("foE of NeQuick (Nava et al. 2008) in PyIRI", "second library")
        why = "another law of season and latitude"
        what = "foE by day against another law, difference [MHz]"
        check.near(what, apart, 0.0, abs=0.35, why=why)


def test_foe_peaks_at_local_noon_and_is_even_about_it():
    hour_angle = np.arange(-60.0, 61.0, 5.0)
    foe = foe_mhz([[-70.0], [0.0], [33.0], [52.0]], -10.0, hour_angle, 110.0)
    assert (foe.argmax(axis=1) == 12).all()
    np.testing.assert_allclose(foe, foe[:, ::-1])


def test_foe_is_the_same_in_both_hemispheres_half_a_year_apart():
    north = foe_mhz([10.0, 40.0, 70.0], 15.0, 30.0, 130.0)
    np.testing.assert_allclose(
        foe_mhz([-10.0, -40.0, -70.0], -15.0, 30.0, 130.0), north
    )


def test_foe_grows_with_the_sun():
    flux = np.linspace(64.0, 250.0, 20)
    for hour_angle in (0.0, 80.0, 180.0):
        assert (np.diff(foe_mhz(45.0, 5.0, hour_angle, flux)) > 0.0).all()


def test_foe_never_falls_below_its_floor_by_night(outside):
    """(0.004 (1 + 0.021 F)^2)^(1/4), ITU-R P.1239 section 4: 0.44 MHz at F 100."""
    night = foe_mhz([[-30.0], [0.0], [60.0]], 0.0, np.arange(150.0, 211.0, 5.0), 100.0)
    check = outside("ITU-R P.1239 section 4, least foE", "from memory")
    why = "half the last digit worked"
    check.near("foE at night, flux 100 [MHz]", night.min(), 0.4428, abs=0.0001, why=why)
    assert night.max() < 0.7


def test_foe_lasts_longer_after_sunset_than_before_sunrise():
    """Two hours either side of the night at 45 deg: recombination takes time."""
    evening, morning = foe_mhz(45.0, 0.0, [120.0, -120.0], 100.0)
    assert evening > 1.2 * morning


def test_foe_of_nowhere_is_nan():
    assert np.isnan(foe_mhz([91.0, np.nan, 0.0], [0.0, 0.0, np.nan], 0.0, 100.0)).all()
    assert np.isnan(foe_mhz(0.0, 0.0, 0.0, np.nan))


@pytest.mark.parametrize("r12", [0.0, 100.0])
def test_fof1_agrees_with_the_handbook_form(outside, r12):
    """foF1 = (4.3 + 0.01 R12) cos^0.2 z, Davies 1990, from memory: 0.25 MHz."""
    lat = np.array([0.0, 20.0, 40.0, 60.0])[:, None]
    zenith = np.array([10.0, 25.0, 38.0])
    handbook = (4.3 + 0.01 * r12) * np.cos(np.radians(zenith)) ** 0.2
    check = outside("Davies 1990: (4.3 + 0.01 R) cos^0.2 z", "from memory")
    ours, why = fof1_mhz(lat, zenith, r12), "no latitude in it"
    check.near("foF1 [MHz]", ours, handbook, abs=0.25, why=why)


# PyIRI calls it; numpy 2.5 has another name.
@pytest.mark.filterwarnings("ignore:numpy.fix is deprecated")
def test_fof1_is_that_of_an_open_model(outside):
    """
    The law of DuCharme, Petrie and Eyfrig as PyIRI has it, in its own hours.

    Taken where the sun is less than 45 deg from overhead: further down PyIRI turns
    foF1 into foE. It puts in the dip latitude, we the geomagnetic one; here both get
    the same.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from PyIRI import main_library as theirs

    lat, lon = np.array([-30.0, 0.0, 20.0, 45.0]), np.array([-60.0, 0.0, 30.0, 120.0])
    hours = np.arange(0.0, 24.0, 1.0)
    index = theirs.R12_2_IG12(np.array([10.0, 100.0]))
    spots = [theirs.IG12_2_R12(each) for each in index]
    zenith, _, _ = theirs.solzen_timearray_grid(2026, 6, 15, hours, lon, lat)
    nothing = np.zeros((hours.size, lon.size, 2))
    _, fof1 = theirs.Probability_F1(2026, 6, hours, lon, lat, lat, index, nothing)
    high = zenith < 45.0
    assert high.sum() > 10
    check = outside("DuCharme, Petrie and Eyfrig in PyIRI 0.1.7", "second library")
    for level, r12 in enumerate(spots):
        ours = fof1_mhz(np.broadcast_to(lat, zenith.shape)[high], zenith[high], r12)
        model = fof1[..., level][high]
        what, why = "foF1 by day, R12 10 and 100 [MHz]", "rounding of the machine"
        check.near(what, ours, model, abs=1e-9, why=why)


def test_fof1_ends_sooner_in_an_active_year_and_is_never_there_by_night():
    lat = np.array([0.0, 30.0, 60.0, 90.0])
    quiet, active = (fof1_zenith_limit_deg(lat, r12) for r12 in (0.0, 150.0))
    assert (active[:3] < quiet[:3]).all()
    assert np.isnan(fof1_mhz(lat, 90.5, 400.0)).all()


def test_fof1_is_absent_in_midwinter_at_50_degrees_and_present_in_summer():
    """The F1 layer is a summer layer: noon zenith angle 73.4 against 26.6 deg."""
    assert np.isnan(fof1_mhz(52.0, 73.4, 100.0))
    assert 4.5 < fof1_mhz(52.0, 26.6, 100.0) < 5.5


def test_shapes_and_read_only(sky):
    for field in dataclasses.fields(sky):
        array = getattr(sky, field.name)
        assert array.shape in {(24, 4), (24,), (4,)}
        assert not array.flags.writeable
    per_point = "lat_deg lon_deg gyro_mhz gyro_100km_mhz dip_deg modip_deg"
    assert {getattr(sky, name).shape for name in per_point.split()} == {(4,)}
    assert sky.times.shape == sky.r12.shape == sky.flux_sfu.shape == (24,)
    assert sky.fof2_mhz.shape == sky.foe_mhz.shape == sky.foes_mhz.shape == (24, 4)


def test_record_repeats_what_the_parts_say(sky):
    """Guards the wiring: order of places, modip to the maps, flux from R12."""
    points = maps.prepare_points(sky.lat_deg, sky.lon_deg, sky.modip_deg)
    np.testing.assert_array_equal(sky.fof2_mhz, maps.fof2_mhz(points, DAY, sky.ig12))
    np.testing.assert_array_equal(sky.m3000f2, maps.m3000f2(points, DAY, 58.0))
    lower, upper = variability.fof2_decile_ratios(
        magnetic.dip_latitude_deg(sky.dip_deg), sky.local_hour, sky.winter_share
    )
    np.testing.assert_array_equal(sky.fof2_lower_ratio, lower)
    np.testing.assert_array_equal(sky.fof2_upper_ratio, upper)
    np.testing.assert_array_equal(
        sky.fof1_mhz, fof1_mhz(sky.geomagnetic_lat_deg, sky.zenith_deg, 58.0)
    )
    np.testing.assert_array_equal(sky.flux_sfu, np.full(24, flux_from_r12(58.0)))
    for i, place in enumerate(zip(sky.lat_deg, sky.lon_deg, strict=True)):
        alone = layers_at(*place, DAY, np.full(24, 58.0))
        for field in dataclasses.fields(sky):
            array = getattr(sky, field.name)
            if array.shape[-1] == 4:
                np.testing.assert_allclose(
                    array[..., i], getattr(alone, field.name)[..., 0], rtol=1e-12
                )
    dip = magnetic.dip_deg(sky.lat_deg, sky.lon_deg, 300.0, 2026.93)
    np.testing.assert_allclose(sky.dip_deg, dip, atol=0.01)
    assert (sky.gyro_100km_mhz > sky.gyro_mhz).all()


def test_a_place_asked_twice_is_the_same_place_twice():
    """In any order, with places that are none among them."""
    lat = np.array([51.5, -42.9, 51.5, np.nan, 51.5, -42.9, 91.0])
    lon = np.array([-0.1, 147.3, -0.1, 10.0, 30.0, 147.3, 0.0])
    sky = layers_at(lat, lon, DAY[[3]], 58.0)
    alone = [layers_at(*place, DAY[[3]], 58.0) for place in zip(lat, lon, strict=True)]
    for field in dataclasses.fields(sky):
        one = getattr(sky, field.name)
        if one.shape[-1] == lat.size:
            apart = np.concatenate([getattr(a, field.name) for a in alone], axis=-1)
            np.testing.assert_allclose(one, apart, rtol=1e-12, err_msg=field.name)


def test_the_index_may_change_with_time():
    two = layers_at(51.5, 0.0, DAY[[12, 12]], [20.0, 120.0])
    one = layers_at(51.5, 0.0, DAY[12], 120.0)
    assert two.foe_mhz[1, 0] == pytest.approx(one.foe_mhz[0, 0], rel=1e-12)
    assert two.fof2_mhz[1, 0] == pytest.approx(one.fof2_mhz[0, 0], rel=1e-12)
    assert two.foe_mhz[0, 0] < 0.93 * two.foe_mhz[1, 0]
    assert two.fof2_mhz[0, 0] < 0.8 * two.fof2_mhz[1, 0]


def test_a_negative_index_keeps_the_flux_of_none():
    low, none = (layers_at(51.5, 0.0, DAY[12], r12) for r12 in (-10.0, 0.0))
    assert low.foe_mhz == none.foe_mhz
    assert low.fof2_mhz < none.fof2_mhz


def test_foe_and_sun_peak_together(sky):
    """foE is highest in the hour in which the sun is, at places that see it."""
    lit = sky.zenith_deg.min(axis=0) < 85.0
    assert lit.tolist() == [True, True, True, False]
    assert (sky.foe_mhz.argmax(0) == sky.zenith_deg.argmin(0))[lit].all()
    assert (np.abs(sky.local_hour[sky.foe_mhz.argmax(0), range(4)] - 12.0) < 1.0)[
        lit
    ].all()


def test_foe_of_the_record_lasts_into_the_evening(sky):
    """Guards the sense of the hour angle: Quito, 2 h either side of the night."""
    evening, morning = (
        np.abs(sky.local_hour[:, 1] - hour).argmin() for hour in (20.2, 4.0)
    )
    assert sky.foe_mhz[evening, 1] > 1.2 * sky.foe_mhz[morning, 1]


def test_a_plausible_winter_day_at_london(sky):
    """
    December at middle latitude, moderate sun: F2 7 to 9 MHz at noon, about 3 by night.

    Ranges as seen in any year of European ionograms; common knowledge, no source.
    """
    noon, midnight = 12, 0
    assert 6.5 < sky.fof2_mhz[noon, 2] < 9.5
    assert 2.0 < sky.fof2_mhz[midnight, 2] < 4.5
    assert 2.2 < sky.foe_mhz[noon, 2] < 3.0
    assert sky.foe_mhz[midnight, 2] < 0.6
    assert 2.6 < sky.m3000f2[:, 2].min() < sky.m3000f2[:, 2].max() < 3.7
    assert np.isnan(sky.fof1_mhz[:, 2]).all()


def test_orders_that_always_hold(sky):
    assert (sky.fof2_lower_ratio < 1.0).all()
    assert (sky.fof2_upper_ratio > 1.0).all()
    assert (sky.foes_lower_mhz <= sky.foes_mhz).all()
    assert (sky.foes_mhz <= sky.foes_upper_mhz).all()
    present = np.isfinite(sky.fof1_mhz)
    assert present.any()
    assert (sky.fof1_mhz > sky.foe_mhz)[present].all()


def test_summer_in_the_south_is_winter_in_the_north(sky):
    assert (sky.winter_share[:, 0] < 0.1).all()
    assert (sky.winter_share[:, 2] > 0.9).all()


def test_nowhere_is_nan_and_the_rest_stays():
    sky = layers_at([91.0, 51.5], [0.0, 0.0], DAY[:2], 58.0)
    for name in ("zenith_deg", "foe_mhz", "fof2_mhz", "m3000f2", "foes_mhz"):
        assert np.isnan(getattr(sky, name)[:, 0]).all()
        assert np.isfinite(getattr(sky, name)[:, 1]).all()


def test_a_date_beyond_the_sun_is_refused():
    with pytest.raises(InputError, match="1899-07-30 to 2053-10-08"):
        layers_at(0.0, 0.0, np.datetime64("2060-01-01"), 50.0)


def test_places_in_blocks_are_the_places_at_once(monkeypatch):
    """Memory alone depends on how many are worked out together."""
    lat, lon = np.linspace(-80.0, 80.0, 10), np.linspace(-90.0, 90.0, 10)
    given = (lat, lon, np.datetime64("2026-12-05T12:00"), 58.0)
    whole = layers_at(*given)
    monkeypatch.setattr(layers, "_PLACES_AT_ONCE", 4)
    parts = layers_at(*given)
    for name in ("fof2_mhz", "m3000f2", "foes_upper_mhz", "hmf2_km"):
        assert np.allclose(getattr(parts, name), getattr(whole, name), rtol=1e-12)
