"""What was measured today: how far it moves the month, and where it stops."""

import numpy as np
import pytest

from geo.ionosphere.conditions import Conditions
from geo.ionosphere.flare import fadeout_frequency_mhz, flare_class, flare_flux_w_m2
from geo.ionosphere.layers import layers_at
from geo.ionosphere.measured import FLARE_DECAY_HOURS, MeasuredSky
from geo.ionosphere.storm import storm_factor_from_kp
from geo.places import parse_place

NOW = np.datetime64("2026-06-21T12:10:00")
NOON = np.datetime64("2026-06-21T12:00:00")
HOUR = np.timedelta64(1, "h")
HERE = parse_place("50,0")


def sky(**known):
    """Today's sky at 50 N 0 E."""
    return MeasuredSky(NOW, "the test", HERE, **known)


def xrays(newest_w_m2, quiet_w_m2=1e-6):
    """Six quiet hours by the minute, then one reading at five past twelve."""
    ago = np.arange(360)[::-1] * np.timedelta64(1, "m")
    times = np.datetime64("2026-06-21T12:05:00") - ago
    flux = np.full(360, quiet_w_m2)
    flux[-1] = newest_w_m2
    return sky(xray_times=times, xray_w_m2=flux)


# --- X-rays ---------------------------------------------------------------------------


def test_a_flare_from_nothing_is_what_the_what_if_has_at_its_hour():
    """With a quiet level that absorbs nothing both are NOAA's law and nothing else."""
    hours = NOON + np.arange(-2, 4) * HOUR
    seen = Conditions(measured=xrays(2e-4, quiet_w_m2=1e-8)).over([50], [0], hours, 60)
    assumed = Conditions(flare="X2").over([50], [0], hours, 60)
    assert seen.fadeout_mhz[2] == pytest.approx(assumed.fadeout_mhz[2])
    assert (seen.fadeout_mhz[:2] == 0.0).all()
    assert (np.diff(seen.fadeout_mhz[2:, 0]) < 0.0).all()


def test_the_excess_dies_away_from_the_reading():
    measured = xrays(1e-4)
    at_14 = measured.xrays_at(NOON + 2 * HOUR)
    hours = (14.5 - 12.0 - 5.0 / 60.0) / FLARE_DECAY_HOURS
    assert at_14 == pytest.approx(1e-6 + 99e-6 * np.exp(-hours))


def test_the_quiet_level_absorbs_nothing_more_than_the_month():
    """C1 has a frequency of 5 MHz by the law: the month's absorption holds it."""
    hours = NOON + np.arange(3) * HOUR
    quiet = Conditions(measured=xrays(1e-6)).over([50], [0], hours, 60)
    month = layers_at([50], [0], hours, 60)
    assert (quiet.fadeout_mhz == 0.0).all()
    assert (quiet.fof2_mhz == month.fof2_mhz).all()


def test_losses_add_so_that_quiet_and_excess_make_up_the_whole():
    measured = xrays(5e-5)
    over = measured.fadeout_mhz(NOON, [[30.0]]) ** 1.5
    quiet = fadeout_frequency_mhz(1e-6, 30.0) ** 1.5
    assert over + quiet == pytest.approx(fadeout_frequency_mhz(5e-5, 30.0) ** 1.5)


def test_no_fade_by_night():
    assert (xrays(1e-3).fadeout_mhz(NOON, [[95.0, 120.0]]) == 0.0).all()


def test_words_of_a_flare():
    said = xrays(2e-4).words(NOON)
    assert said[0] == ("The sky is today's, asked for at 2026-06-21 12:10Z (the test).")
    assert said[1].startswith("X-rays X2.0 at 12:05Z (5 min old), quiet level C1.0: ")
    # By the law 28.0 MHz of the whole and 5.0 of the quiet level.
    assert "on 26.6 MHz where the sun is overhead" in said[1]


@pytest.mark.parametrize("name", ["A1.0", "B9.7", "C1.0", "M5.0", "X13.0"])
def test_a_class_is_read_as_it_is_written(name):
    assert flare_class(flare_flux_w_m2(name)) == name


def test_protons_measured_are_those_that_may_be_typed():
    hours = NOON + np.arange(3) * HOUR
    seen = Conditions(measured=sky(proton_flux=100.0)).over([75], [0], hours, 60)
    typed = Conditions(proton_flux=100.0).over([75], [0], hours, 60)
    assert (seen.fadeout_mhz == typed.fadeout_mhz).all()
    assert (seen.fadeout_mhz > 5.0).all()
    assert "at least 100 protons" in sky(proton_flux=100.0).words(NOON)[1]


# --- Kp -------------------------------------------------------------------------------


def test_a_storm_that_is_forecast_lowers_only_what_comes_after_it():
    blocks = np.arange("2026-06-19T00", "2026-06-24T00", 3, "datetime64[h]")
    kp = np.where(blocks < np.datetime64("2026-06-22T00"), 2.0, 7.0)
    measured = sky(kp_times=blocks.astype("datetime64[s]"), kp=kp, kp_observed=21)
    hours = NOON + np.array([0, 6, 24, 36]) * HOUR
    stormy = Conditions(measured=measured).over([50], [0], hours, 60)
    factor = (stormy.fof2_mhz / layers_at([50], [0], hours, 60).fof2_mhz)[:, 0]
    assert factor[:2].tolist() == [1.0, 1.0]
    assert 1.0 > factor[2] > factor[3] > 0.65
    # Held long enough it is what the same Kp does that is typed.
    late = np.datetime64("2026-06-24T12:00:00")
    geomagnetic = layers_at([50], [0], late, 60).geomagnetic_lat_deg
    assert Conditions(measured=measured).over([50], [0], late, 60).fof2_mhz == (
        pytest.approx(
            layers_at([50], [0], late, 60).fof2_mhz
            * storm_factor_from_kp(7.0, geomagnetic, 175.5)
        )
    )


def test_days_ahead_it_is_the_outlook_of_today():
    said = sky().words(NOON + 100 * HOUR)
    assert said[0].startswith("The sky is of today's outlook, asked for at 2026-06-21")


def test_records_that_hold_the_same_are_equal():
    assert Conditions(measured=xrays(1e-4)) == Conditions(measured=xrays(1e-4))
    assert Conditions(measured=xrays(1e-4)) != Conditions(measured=xrays(2e-4))
    assert hash(xrays(1e-4)) == hash(xrays(1e-4))


@pytest.mark.parametrize(("last", "is_warned"), [(2.0, False), (8.0, True)])
def test_a_sudden_storm_is_warned_of_though_fof2_follows_slowly(last, is_warned):
    """The oval follows the Kp of the hour, foF2 that of the past day and a half."""
    now = np.datetime64("2026-11-30T12:00:00")
    blocks = now + np.arange(-13, 9) * np.timedelta64(3, "h")
    kp = np.r_[np.full(12, 2.0), last, np.full(9, 2.0)]
    place = parse_place("50,0")
    sky = MeasuredSky(now, "x", place, kp_times=blocks, kp=kp, kp_observed=13)
    hours = now + np.arange(3) * np.timedelta64(1, "h")
    steady = float(sky.steady_kp(hours).max())
    told = Conditions(kp=steady, measured=sky)
    assert steady < 5.0
    assert told.strongest_kp(hours) == max(last, steady)
    # What was three hours before is still about; what comes later is not yet.
    assert sky.strongest_kp(hours + np.timedelta64(6, "h")) == 2.0
    warned = any("Do not rely" in each for each in told.words(hours, np.full(3, 60.0)))
    assert warned == is_warned
