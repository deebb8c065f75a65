"""Numerical maps against what is published about them and about the F2 layer."""

from __future__ import annotations

import numpy as np
import pytest

from geo import magnetic
from geo.ionosphere import maps
from geo.tables import read_arrays


def local_noon(month, lon_deg, hour=12.0):
    utc = (hour - lon_deg / 15.0) % 24.0
    return np.datetime64(f"1960-{month:02d}-15T00", "s") + np.timedelta64(
        int(3600 * utc), "s"
    )


def points_at(lat_deg, lon_deg):
    lat, lon = np.broadcast_arrays(lat_deg, lon_deg)
    dip = magnetic.dip_deg(lat, lon, 300.0, 1960.0)
    return maps.prepare_points(lat, lon, magnetic.modip_deg(lat, dip))


# ITU-R P.1239, section 2: foF2 has 6 harmonics and 76 functions, 988 coefficients;
# M(3000)F2 4 and 49, 441; two levels and twelve months (counts from memory).
# M. Leftin, S. M. Ostrow and C. Preston, ESSA Technical Report ERL 73-ITS 63 (1968).
@pytest.mark.parametrize(
    ("which", "terms", "functions"),
    [
        (maps.FOF2, 13, 76),
        (maps.M3000F2, 9, 49),
        (maps.FOES_LOWER, 5, 55),
        (maps.FOES_MEDIAN, 7, 61),
        (maps.FOES_UPPER, 5, 55),
    ],
)
def test_number_of_coefficients(outside, which, terms, functions):
    check = outside("ITU-R P.1239 section 2; Leftin et al. 1968, counts", "from memory")
    check.equal("geographic functions of a map", which.functions, functions)
    shape = read_arrays(which.table)[which.array].shape
    check.equal("months, levels, terms, functions", shape, (12, 2, terms, functions))
    assert {76: 988, 49: 441}.get(functions, terms * functions) == terms * functions


# W. B. Jones and R. M. Gallet, ITU Telecommunication Journal 32, 18-28 (1965): the
# constant term of the series is the mean over the day, and every geographic function
# but the first vanishes or is known where sin(modip) = 0 on the equator.
def test_mean_of_the_day_on_the_magnetic_equator(outside):
    points = maps.prepare_points(0.0, 40.0, 0.0)
    times = np.datetime64("1960-07-15T12") + np.arange(-12, 12) * np.timedelta64(1, "h")
    # With modip 0 only the power 0 of each longitude order is left.
    lon = np.radians(40.0)
    table = read_arrays("ccir_maps")["fof2"][6, 0, 0]
    start, total = 12, table[0]
    for order, power in enumerate(maps.FOF2.sin_powers[1:], start=1):
        total += table[start] * np.cos(order * lon)
        total += table[start + 1] * np.sin(order * lon)
        start += 2 * (power + 1)
    assert start == 76
    day = maps.fof2_mhz(points, times, 0.0).mean()
    # Neighbouring months enter by up to 1 part in 60 at the ends of the day.
    outside("Jones and Gallet, ITU Telecomm. J. 32 (1965), form", "worked apart").near(
        "foF2 on the magnetic equator, mean of the day [MHz]",
        day,
        total,
        abs=0.05,
        why="neighbouring months enter by 1/60",
    )


# E. V. Appleton, "Two anomalies in the ionosphere", Nature 157, 691 (1946): in the
# afternoon foF2 is least over the magnetic equator, between two crests at some 15 deg
# of dip latitude.
@pytest.mark.parametrize("lon_deg", [110.0, 80.0, -75.0])
def test_equatorial_anomaly(outside, lon_deg):
    lat = np.arange(-45.0, 46.0, 1.0)
    dip_lat = magnetic.dip_latitude_deg(magnetic.dip_deg(lat, lon_deg, 300.0, 1960.0))
    afternoon = local_noon(3, lon_deg, 17.0)
    fof2 = maps.fof2_mhz(points_at(lat, lon_deg), afternoon, 100.0)[0]
    trough = np.abs(dip_lat) < 8.0
    south = (dip_lat < -8.0) & (dip_lat > -35.0)
    north = (dip_lat > 8.0) & (dip_lat < 35.0)
    least = dip_lat[trough][fof2[trough].argmin()]
    crests = [dip_lat[side][fof2[side].argmax()] for side in (south, north)]
    check = outside("Appleton, Nature 157, 691 (1946)", "from memory")
    why = "over the magnetic equator"
    check.between("dip latitude of the trough [deg]", least, -5.0, 5.0, why=why)
    what = "dip latitude of the crests [deg]"
    check.near(what, crests, [-15.0, 15.0], abs=6.0, why="told as some 15")
    over = [fof2[side].max() - fof2[trough].min() for side in (south, north)]
    check.between("crests over trough [MHz]", over, low=1.0, why="plainly above")


# H. Rishbeth and O. K. Garriott, "Introduction to Ionospheric Physics" (1969), seasonal
# anomaly: at middle latitudes noon foF2 is higher in winter than in summer, strongly
# at high solar activity, hardly at low.
@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "winter", "summer"),
    [
        (51.5, -0.6, 12, 6),
        (38.7, -77.1, 12, 6),
        (43.0, 141.0, 12, 6),
        (-35.3, 149.1, 6, 12),
    ],
)
def test_seasonal_anomaly(outside, lat_deg, lon_deg, winter, summer):
    points = points_at(lat_deg, lon_deg)
    ratio = [
        maps.fof2_mhz(points, local_noon(winter, lon_deg), r12).item()
        / maps.fof2_mhz(points, local_noon(summer, lon_deg), r12).item()
        for r12 in (0.0, 100.0, 150.0)
    ]
    check = outside("Rishbeth and Garriott 1969, seasonal anomaly", "from memory")
    what = "noon foF2, winter over summer, R12 150, four places"
    check.between(what, ratio[2], low=1.15, why="strongly at high activity")
    rising = ratio[0] < ratio[1] < ratio[2]
    check.holds("the ratio with solar activity", rising, "rises")


# Same book: at night the order is reversed, winter nights are the lowest.
def test_winter_nights_are_low(outside):
    points = points_at(51.5, -0.6)
    night = [
        maps.fof2_mhz(points, local_noon(m, -0.6, 0.0), 100.0).item() for m in (12, 6)
    ]
    check = outside("Rishbeth and Garriott 1969", "from memory")
    what = "midnight foF2, winter over summer, 51.5 N"
    check.between(what, night[0] / night[1], high=0.7, why="the order is reversed")


# K. Davies, "Ionospheric Radio" (1990): M(3000)F2 lies near 3, is higher by day in
# winter and falls with solar activity, as the layer rises (from memory).
def test_m3000_falls_with_solar_activity(outside):
    points = points_at(51.5, -0.6)
    times = [local_noon(12, -0.6), local_noon(6, -0.6)]
    quiet, active = (maps.m3000f2(points, times, r).ravel() for r in (0.0, 150.0))
    check = outside("Davies, Ionospheric Radio (1990)", "from memory")
    what = "M(3000)F2, fall from R12 0 to 150, both seasons"
    check.between(what, quiet - active, low=0.3, why="falls, as the layer rises")
    check.holds("M(3000)F2 by day", quiet[0] > quiet[1], "higher in winter")
    both = np.concatenate([active, quiet])
    check.between("M(3000)F2, quiet and active", both, 2.4, 3.9, why="near 3")


# Sporadic E facts as taught: in the northern middle latitudes it peaks from mid-May to
# early August, and eastern Asia has the strongest of all (Leftin et al. 1968, text).
def test_sporadic_e_is_a_summer_thing_and_strongest_in_eastern_asia(outside):
    hours = np.arange(24) * np.timedelta64(1, "h")
    lat, lon = np.full(4, 37.0), np.array([-100.0, -70.0, 10.0, 135.0])
    points = points_at(lat, lon)
    upper = np.stack(
        [
            maps.foes_mhz(points, np.datetime64(f"1960-{m:02d}-15") + hours, 60.0)[
                2
            ].mean(axis=0)
            for m in range(1, 13)
        ]
    )
    check = outside("Leftin et al. 1968, text", "from memory")
    summer = np.isin(upper.argmax(axis=0) + 1, [5, 6, 7])
    check.holds("month of the strongest sporadic E, 37 N", summer, "May to July")
    strongest = upper.max(axis=0).argmax() == 3
    check.holds("where it is strongest", strongest, "eastern Asia")
    what = "upper decile of foEs, June over January"
    check.between(what, upper[5] / upper[0], low=1.2, why="plainly above")
