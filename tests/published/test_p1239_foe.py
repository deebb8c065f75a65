"""
The E and F1 formulas of ITU-R P.1239, worked through by hand.

E layer: P.1239 section 4 (the method of Muggleton and of Kouris),
foE^4 = A B C D. F1 layer: P.1239 section 3 (DuCharme, Petrie and Eyfrig 1971,
1973). The formulas were typed from memory and from an open-source reference model
that agrees with them; the arithmetic below was done step by step from the formulas
and not with the program.
"""

import numpy as np
import pytest

from geo import sun
from geo.ionosphere.layers import (
    foe_mhz,
    fof1_mhz,
    fof1_zenith_limit_deg,
    hours_since_sunset,
)

FOE = "ITU-R P.1239 section 4"
FOF1 = "DuCharme, Petrie and Eyfrig 1971, 1973"
MEMORY = "from memory"
BY_HAND = "half the last digit worked by hand"


@pytest.mark.parametrize(
    ("lat", "declination", "hour_angle", "flux", "expected"),
    [
        # Equator, equinox, noon, flux 100.
        #   A = 1 + 0.0094 * 34 = 1.3196; N = 0, so B = 1; C = 23 + 116 = 139
        #   z = 0, so D = 1; product 183.424; square root 13.5434; again 3.680
        pytest.param(0.0, 0.0, 0.0, 100.0, 3.680, id="noon at the equator"),
        # 50 N, sun at 20 N, noon, flux 150.
        #   A = 1 + 0.0094 * 84 = 1.7896
        #   m = 0.11 - 0.49 * 0.64279 = -0.20497; B = 0.86603^-0.20497 = 1.02992
        #   C = 92 + 35 * 0.64279 = 114.498; D = 0.86603^1.2 = 0.84147
        #   product 177.58; square root 13.3259; again 3.650
        pytest.param(50.0, 20.0, 0.0, 150.0, 3.650, id="summer noon at 50 N"),
        # The same in the southern hemisphere.
        pytest.param(-50.0, -20.0, 0.0, 150.0, 3.650, id="summer noon at 50 S"),
        # Equator, equinox, sun 10 deg high in the west, flux 100.
        #   bend 6.27e-13 * 30^8 = 6.27e-13 * 6.561e11 = 0.41137 deg
        #   cos(80 - 0.41137) = 0.180714; D = 0.180714^1.31 = 0.106331
        #   183.424 * 0.106331 = 19.5037; square root 4.41630; again 2.1015
        pytest.param(0.0, 0.0, 80.0, 100.0, 2.1015, id="twilight branch"),
        # Two hours after sunset there: z = 120.
        #   0.072^1.31 = exp(1.31 * -2.63109) = exp(-3.44673)
        #   exp(-1.4 * 2) = exp(-2.8) beats exp(25.2 - 33.6) = exp(-8.4)
        #   D = exp(-6.24673) = 0.00193678; product 0.355253; fourth root 0.7720
        pytest.param(0.0, 0.0, 120.0, 100.0, 0.7720, id="evening decay"),
        # Twenty minutes before sunrise there: z = 95, 11.67 h after sunset.
        #   exp(25.2 - 26.6) = exp(-1.4) beats exp(-16.3)
        #   D = exp(-4.84673) = 0.00785405; product 1.44062; fourth root 1.0956
        pytest.param(0.0, 0.0, -95.0, 100.0, 1.0956, id="before sunrise"),
        # Midnight there: floor 0.004 * (1 + 2.1)^2 = 0.03844; fourth root 0.4428
        pytest.param(0.0, 0.0, 180.0, 100.0, 0.4428, id="night floor"),
        # 80 N, sun at 20 S, noon of the polar night: z = 100, N = 100 held at 80.
        #   m = 0.11 - 0.49 * 0.173648 = 0.0249124
        #   B = 0.173648^0.0249124 = exp(-0.0436149) = 0.957322
        #   C = 92 + 35 * 0.173648 = 98.0777; A = 1.3196
        #   no sunset, so D = 0.072^1.2 * exp(25.2 - 28) = exp(-5.95731) = 0.00258692
        #   product 0.320518; square root 0.566143; again 0.7524
        pytest.param(80.0, -20.0, 0.0, 100.0, 0.7524, id="polar night at noon"),
    ],
)
def test_foe_by_hand(outside, lat, declination, hour_angle, flux, expected):
    """Half a unit of the last digit worked out."""
    foe = float(foe_mhz(lat, declination, hour_angle, flux))
    check = outside(FOE, MEMORY)
    check.near(
        "foE at eight places and hours [MHz]", foe, expected, abs=0.0005, why=BY_HAND
    )


def test_foe_by_hand_at_the_lowest_flux(outside):
    """Equator, noon, flux 63.75: A = 0.97885, times 139 is 136.060; root 3.4153."""
    ours = float(foe_mhz(0.0, 0.0, 0.0, 63.75))
    check = outside(FOE, MEMORY)
    check.near("foE at the lowest flux [MHz]", ours, 3.4153, abs=0.0001, why=BY_HAND)


@pytest.mark.parametrize("joint_deg", [73.0, 90.0])
@pytest.mark.parametrize("lat", [0.0, 11.0, 13.0, 40.0, 65.0])
@pytest.mark.parametrize("side", [-1.0, 1.0])
@pytest.mark.parametrize("flux", [65.0, 220.0])
def test_the_branches_of_the_sun_factor_join(outside, joint_deg, lat, side, flux):
    """
    At 73 and at 90 deg the printed branches meet within 0.004 MHz.

    cos(90 - 6.27e-13 * 40^8 deg) = cos(85.891) = 0.07166 against the printed 0.072:
    0.5 %, or 0.14 % of foE after the fourth root of the power 1.2.
    """
    # Hour angle of that zenith angle: cos H = (cos z - sin lat sin d) / (cos cos)
    declination = 10.0
    phi, delta = np.radians(lat), np.radians(declination)
    cosine = (np.cos(np.radians(joint_deg)) - np.sin(phi) * np.sin(delta)) / (
        np.cos(phi) * np.cos(delta)
    )
    hour_angle = side * np.degrees(np.arccos(cosine)) + np.array([-1e-5, 1e-5])
    zenith = sun.zenith_deg(lat, hour_angle, declination, 0.0)
    assert zenith.min() < joint_deg < zenith.max()
    step = abs(np.diff(foe_mhz(lat, declination, hour_angle, flux))[0])
    why = "0.14 % of foE: the printed 0.072 against 0.07166"
    check = outside(FOE, MEMORY)
    check.between("step where the branches meet [MHz]", step, high=0.004, why=why)


def test_foe_has_no_step_in_time(outside):
    """
    Nowhere more than 0.04 MHz a minute.

    The steepest place of the printed form is just before sunrise: foE grows by
    0.28 / 4 = 7 % per degree, at 1.9 MHz and a quarter of a degree a minute 0.033.
    """
    hour_angle = np.arange(-180.0, 180.0, 0.25)  # one minute
    lat = np.array(
        [-89.0, -66.0, -45.0, -20.0, -12.0, 0.0, 5.0, 31.9, 32.1, 50.0, 67.0]
    )
    declination = np.array([-23.4, -10.0, 0.0, 23.4])[:, None, None]
    foe = foe_mhz(lat[:, None], declination, hour_angle, 200.0)
    steepest = np.abs(np.diff(foe, axis=-1)).max(axis=(1, 2))
    why = "0.033 by hand before sunrise"
    check = outside(FOE, MEMORY)
    what = "greatest change of foE in a minute, four seasons [MHz]"
    check.between(what, steepest, high=0.04, why=why)


def test_the_one_step_in_latitude_is_that_of_the_printed_exponent(outside):
    """
    At 12 deg p changes from 1.31 to 1.20: D^(0.11 / 4) at sunset, 0.072^0.0275.

    That is 7 % of foE; at noon with the sun overhead nothing.
    """
    lat = np.array([12.0, 12.0001])
    at_sunset = foe_mhz(lat, 0.0, 90.0, 100.0)
    check = outside(FOE, MEMORY)
    ours, wanted = at_sunset[1] / at_sunset[0], 0.072 ** (-0.0275)
    why = "the step is not at the very sunset"
    check.near("step of foE at 12 degrees, sunset", ours, wanted, rel=1e-3, why=why)
    at_noon = foe_mhz(lat, 12.0, 0.0, 100.0)
    why = "a ten-thousandth of a degree"
    what = "foE on both sides of it, noon [MHz]"
    check.near(what, at_noon[1], at_noon[0], abs=1e-4, why=why)


def test_the_coefficients_join_at_latitude_32(outside):
    """cos 32 = 0.84805: m -0.3018 and -0.3055, C 121.37 and 121.68 by hand."""
    either = foe_mhz(np.array([31.9999, 32.0001]), -20.0, 0.0, 100.0)
    # B^(dm/4) = cos(52)^(-0.0037/4) = 1.0005 and (121.68/121.37)^0.25 = 1.0006
    check = outside(FOE, MEMORY)
    ours = either[1] / either[0]
    check.near("step of foE at 32 degrees", ours, 1.0011, abs=2e-4, why="by hand")


def test_hours_since_sunset_at_equinox_and_solstice(outside):
    """
    Equinox: sunset at 6 h everywhere. Solstice at 60 N by hand.

    cos H = -tan 60 * tan 23.44 = -1.73205 * 0.43357 = -0.75097: H = 138.675 deg, so
    at midnight (180 deg) sunset was 41.325 / 15 = 2.755 h ago.
    """
    check = outside("spherical trigonometry, any almanac", "worked apart")
    equinox = hours_since_sunset([-50.0, 0.0, 70.0], 0.0, 180.0)
    what = "hours since sunset, midnight, equinox [h]"
    check.near(what, equinox, 6.0, rel=1e-7, why="rounding of the machine")
    solstice = hours_since_sunset(60.0, 23.44, 180.0)
    what = "hours since sunset, midnight, 60 N, solstice [h]"
    check.near(what, solstice, 2.755, abs=0.001, why=BY_HAND)
    assert np.isnan(hours_since_sunset(60.0, 23.44, [-138.0, 0.0, 138.0])).all()
    assert np.isnan(hours_since_sunset(80.0, 23.44, 180.0))
    assert np.isinf(hours_since_sunset(80.0, -23.44, [0.0, 90.0])).all()


def test_fof1_by_hand(outside):
    """
    Geomagnetic latitude 40, R12 50, sun 60 deg from overhead.

    f0 = 4.35 + 0.232 - 0.192 = 4.390; f100 = 5.348 + 0.44 - 0.368 = 5.420;
    fs = 4.390 + 0.5 * 1.030 = 4.905; n = 0.093 + 0.184 - 0.0864 + 0.015 = 0.2056;
    0.5^0.2056 = 0.86718; product 4.2535.
    """
    ours = fof1_mhz([40.0, -40.0], 60.0, 50.0)
    check = outside(FOF1, "quoted")
    check.near("foF1, north and south [MHz]", ours, 4.2535, abs=0.0001, why=BY_HAND)


def test_fof1_limit_by_hand(outside):
    """
    The same place: 49.84733 + 13.98016 = 63.82749; 38.96113 + 20.39728 = 59.35841.

    At R12 = 50 half-way between: 61.59295 deg.
    """
    ours = float(fof1_zenith_limit_deg(40.0, 50.0))
    check = outside(FOF1, "quoted")
    check.near("last zenith angle of F1 [deg]", ours, 61.593, abs=0.001, why=BY_HAND)
    present = np.isfinite(fof1_mhz(40.0, [61.5, 61.7], 50.0))
    assert present.tolist() == [True, False]
