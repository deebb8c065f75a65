"""
The steps of a whole circuit, each from its printed formula (2026-11).

Used by ``circuit_modes.py`` and ``circuits.py``. Scalars and the standard library only:
nothing here is shared with the program, so that a slip on either side shows as a
difference. Angles are in degrees, lengths in km, frequencies in MHz and losses in dB.
"""

import cmath
import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from statistics import NormalDist

EARTH_KM = 6371.0
NORMAL = NormalDist()
DECILE_SIGMAS = NORMAL.inv_cdf(0.9)
RESIDUAL_DB = 8.72
NOTHING_DB = 400.0

WINDOW_SLICES = 8
"""Slices of the F2 layer's days for the long-path window: the program's choice."""

MAN_MADE = {
    "city": (76.8, 27.7, 11.0, 6.7, 8.4),
    "residential": (72.5, 27.7, 10.6, 5.3, 5.8),
    "rural": (67.2, 27.7, 9.2, 4.6, 6.8),
    "quiet rural": (53.6, 28.6, 9.2, 4.6, 6.8),
}
"""P.372 Part 6: c, d, upper and lower decile in time, sigma from place to place."""

SOILS = {"land": (22.0, 0.003), "sea": (70.0, 5.0), "average": (13.0, 0.005)}
"""P.368 and P.527: relative permittivity and conductivity in S/m."""


@dataclass(frozen=True)
class Sky:
    """The layers over one place at one time; deciles of foEs as (10, 50, 90 %)."""

    place: tuple[float, float]
    hour: float
    zenith: float
    fof2: float
    m3000: float
    foe: float
    fof1: float
    foes: tuple[float, float, float]
    gyro300: float
    gyro100: float
    geomagnetic: float
    low: float
    high: float


# --- places and times ---------------------------------------------------------------


def unit(lat, lon):
    """Unit vector of a place."""
    a, b = math.radians(lat), math.radians(lon)
    return (math.cos(a) * math.cos(b), math.cos(a) * math.sin(b), math.sin(a))


def great_circle(here, there, long_path):
    """Length, and a function that gives the place so many km along."""
    u, v = unit(*here), unit(*there)
    dot = sum(a * b for a, b in zip(u, v, strict=True))
    cross = (
        u[1] * v[2] - u[2] * v[1],
        u[2] * v[0] - u[0] * v[2],
        u[0] * v[1] - u[1] * v[0],
    )
    angle = math.atan2(math.sqrt(sum(c * c for c in cross)), dot)
    if angle < 1e-12:
        return 0.0, lambda _: here
    side = [(b - a * dot) / math.sin(angle) for a, b in zip(u, v, strict=True)]
    if long_path:
        angle, side = 2.0 * math.pi - angle, [-s for s in side]

    def along(km):
        t = km / EARTH_KM
        x, y, z = (
            a * math.cos(t) + s * math.sin(t) for a, s in zip(u, side, strict=True)
        )
        return (
            math.degrees(math.atan2(z, math.hypot(x, y))),
            math.degrees(math.atan2(y, x)),
        )

    return angle * EARTH_KM, along


def sun_zenith(place, utc):
    """Zenith angle of the sun, low-precision formula of the Astronomical Almanac."""
    when = datetime.fromisoformat(utc).replace(tzinfo=UTC)
    days = (when - datetime(2000, 1, 1, 12, tzinfo=UTC)).total_seconds() / 86400
    mean_lon = 280.460 + 0.9856474 * days
    anomaly = math.radians(357.528 + 0.9856003 * days)
    lon = math.radians(
        mean_lon + 1.915 * math.sin(anomaly) + 0.020 * math.sin(2 * anomaly)
    )
    tilt = math.radians(23.439 - 4e-7 * days)
    ascension = math.atan2(math.cos(tilt) * math.sin(lon), math.cos(lon))
    declination = math.asin(math.sin(tilt) * math.sin(lon))
    sidereal = 280.46062 + 360.98564737 * days
    lat = math.radians(place[0])
    hour_angle = math.radians(sidereal + place[1]) - ascension
    cosine = math.sin(lat) * math.sin(declination)
    cosine += math.cos(lat) * math.cos(declination) * math.cos(hour_angle)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def local_hour(place, utc):
    """Local mean time."""
    day = datetime.fromisoformat(utc)
    return (day.hour + day.minute / 60.0 + place[1] / 15.0) % 24.0


def month_at(utc):
    """Month of the year, 1.0 at the middle of January."""
    day = datetime.fromisoformat(utc)
    start = datetime(day.year, day.month, 1)
    end = datetime(day.year + day.month // 12, day.month % 12 + 1, 1)
    return day.month - 0.5 + (day - start) / (end - start)


def straight(x, knots, values):
    """Straight lines between knots, held at the ends."""
    if x <= knots[0]:
        return values[0]
    for i in range(1, len(knots)):
        if x <= knots[i]:
            part = (x - knots[i - 1]) / (knots[i] - knots[i - 1])
            return values[i - 1] + part * (values[i] - values[i - 1])
    return values[-1]


def round_year(month, values):
    """Straight lines between the middles of the months, round the year."""
    return straight((month - 1.0) % 12.0, range(13), [*values, values[0]])


# --- one hop: the triangle Earth centre, station, mirror point ------------------------


def takeoff(hop_km, height_km):
    """Elevation of the ray."""
    half = hop_km / (2.0 * EARTH_KM)
    up = (EARTH_KM + height_km) * math.cos(half) - EARTH_KM
    out = (EARTH_KM + height_km) * math.sin(half)
    return math.degrees(math.atan2(up, out))


def ray_km(hop_km, height_km, hops=1):
    """Ray length: twice the straight line from station to mirror, for each hop."""
    half = hop_km / (2.0 * EARTH_KM)
    up = (EARTH_KM + height_km) * math.cos(half) - EARTH_KM
    out = (EARTH_KM + height_km) * math.sin(half)
    return 2.0 * hops * math.hypot(up, out)


def secant(elevation_deg, height_km):
    """Secant of the incidence at a height: sine rule in the same triangle."""
    sine = EARTH_KM * math.cos(math.radians(elevation_deg)) / (EARTH_KM + height_km)
    return 1.0 / math.sqrt(1.0 - sine * sine)


# --- what the layers return -----------------------------------------------------------


def f2_muf(hop_km, sky):
    """P.533 section 3.5.1: basic MUF of one hop at one control point."""
    x, m = sky.fof2 / sky.foe, sky.m3000
    wave = 0.0215 + 0.005 * math.sin(7.854 / max(x, 2.0) - 1.9635)
    b = m - 0.124 + (m * m - 4.0) * wave
    x = max(x, 2.0)
    k = 12610.0 + 2140.0 * x**-2 - 49720.0 * x**-4 + 688900.0 * x**-6
    longest = min(4780.0 + k * (1.0 / b - 0.303), 4000.0)
    if hop_km > longest:
        return math.nan

    def reach(d):
        z = 1.0 - 2.0 * min(d / longest, 1.0)
        return (
            0.74 - 0.591 * z - 0.424 * z**2 - 0.090 * z**3
            + 0.088 * z**4 + 0.181 * z**5 + 0.096 * z**6
        )  # fmt: skip

    ordinary = (1.0 + reach(hop_km) / reach(3000.0) * (b - 1.0)) * sky.fof2
    return ordinary + 0.5 * sky.gyro300 * (1.0 - hop_km / longest)


def mirror_km(f, hop_km, sky, r12):
    """P.533 section 5.1: mirror-reflection height at one control point."""
    x, xr = sky.fof2 / sky.foe, f / sky.fof2
    y = max(x, 1.8)
    delta_m = 0.18 / (y - 1.4) + 0.096 * (r12 - 25.0) / 150.0
    h = 1490.0 / (sky.m3000 + delta_m) - 316.0
    if x > 3.33 and xr >= 1.0:
        xr = min(xr, 4.0877)  # where the cubic turns down; the program's choice
        e1 = -0.09707 * xr**3 + 0.6870 * xr**2 - 0.7506 * xr + 0.6
        if xr <= 1.71:
            f1 = -1.862 * xr**4 + 12.95 * xr**3 - 32.03 * xr**2 + 33.50 * xr - 10.91
        else:
            f1 = 1.21 + 0.2 * xr
        if xr <= 3.7:
            g = -2.102 * xr**4 + 19.50 * xr**3 - 63.15 * xr**2 + 90.47 * xr - 44.73
        else:
            g = 19.25
        a = (hop_km - (160.0 + (h + 43.0) * g)) / (h + 140.0)
        a1 = 140.0 + (h - 47.0) * e1
        b1 = 150.0 + (h - 17.0) * f1 - a1
        found = a1 + b1 * 2.4**-a if b1 >= 0.0 and a >= 0.0 else a1 + b1
    elif x > 3.33:
        z = max(xr, 0.1)
        a2 = 151.0 + (h - 47.0) * (0.1906 * z * z + 0.00583 * z + 0.1936)
        b2 = 141.0 + (h - 24.0) * (0.645 * z * z + 0.883 * z + 0.162) - a2
        df = min(0.115 * hop_km / (z * (h + 140.0)), 0.65)
        b = -7.535 * df**4 + 15.75 * df**3 - 8.834 * df**2 - 0.378 * df + 1.0
        found = a2 + b2 * b if b2 >= 0.0 else a2 + b2
    else:
        j = -0.7126 * y**3 + 5.863 * y**2 - 16.13 * y + 16.07
        u = 8e-5 * (h - 80.0) * (1.0 + 11.0 * y**-2.2) + 1.2e-3 * h * y**-3.6
        found = 115.0 + h * j + u * hop_km
    return min(found, 800.0)


def f1_muf(distance, fof1, r12):
    """P.1240 Annex 1: MUF of one F1 hop of 2000 to 3400 km."""
    if not 2000.0 <= distance <= 3400.0:
        return math.nan
    j0 = 0.16 + 2.64e-3 * distance - 0.40e-6 * distance**2
    j100 = -0.52 + 2.69e-3 * distance - 0.39e-6 * distance**2
    return fof1 * (j0 - 0.01 * (j0 - j100) * r12)


def share_of_days(f, muf, low, high):
    """P.533 section 3.6: share of days on which a layer returns a frequency."""
    if math.isnan(muf):
        return 0.0
    if f <= muf:
        p = 130.0 - 80.0 / (1.0 + (muf - f) / (muf * (1.0 - low)))
    else:
        p = 80.0 / (1.0 + (f - muf) / (muf * (high - 1.0))) - 30.0
    return min(max(p, 0.0), 100.0) / 100.0


def ratio_on(share, low, high):
    """The same solved for the frequency: what a share of days is above."""
    if share >= 0.5:
        return 1.0 - (0.8 / (1.3 - share) - 1.0) * (1.0 - low)
    return 1.0 + (0.8 / (0.3 + share) - 1.0) * (high - 1.0)


def f2_spread(dip_deg, place, utc):
    """Deciles of foF2, smooth fit of geo/ionosphere/variability.py."""
    day = datetime.fromisoformat(utc)
    of_year = (day - datetime(day.year, 1, 1)).total_seconds() / 86400.0 + 1.0
    north = math.cos(2.0 * math.pi * (of_year - 355.0) / 365.25)
    winter = 0.5 * (1.0 + north * math.tanh(place[0] / 15.0))
    hour = local_hour(place, utc)
    lat = abs(math.degrees(math.atan(0.5 * math.tan(math.radians(dip_deg)))))
    n = 0.5 * (1.0 + math.cos(math.radians(15.0 * (hour - 1.0))))
    e = math.exp(2.37 * (math.cos(math.radians(15.0 * (hour - 21.0))) - 1.0))
    u = 0.2 * winter + n * (0.5 + 0.3 * winter)
    mid = 1.0 / (1.0 + math.exp(-(lat - 25.0) / 4.0))
    low = (1.0 - mid) * (0.88 - 0.09 * e) + mid * (0.90 - 0.06 * u)
    high = (1.0 - mid) * (1.15 + 0.18 * e) + mid * (1.09 + 0.10 * u)
    return low, high


def with_map_error(low, high):
    """Deciles with the 14 % of the maps themselves (docs/method.md)."""
    return 1.0 - math.hypot(1.0 - low, 0.14), 1.0 + math.hypot(high - 1.0, 0.14)


# --- sporadic E -------------------------------------------------------------------


def foes_law(skies):
    """Median and both spreads of ln foEs, from the lowest of the places."""
    low, mid, high = (min(sky.foes[k] for sky in skies) for k in range(3))
    return (
        mid,
        max(math.log(mid / low) / DECILE_SIGMAS, 1e-6),
        max(math.log(high / mid) / DECILE_SIGMAS, 1e-6),
    )


def share_above(level, law):
    """Share of days on which foEs is above a level."""
    mid, below, above = law
    rise = math.log(level / mid)
    return NORMAL.cdf(-rise / (above if rise > 0.0 else below))


def foes_above(share, law):
    """The foEs that a share of days is above."""
    mid, below, above = law
    sigmas = NORMAL.inv_cdf(1.0 - share)
    return mid * math.exp(sigmas * (above if sigmas > 0.0 else below))


def es_loss(hop_km, f, foes, hops):
    """All hops: P.534 from 30 MHz, the secant law up to 20, a blend between."""
    p = ray_km(hop_km, 105.0)
    patch = 40.0 / (1.0 + p / 130.0 + (p / 250.0) ** 2) + 0.2 * (p / 2600.0) ** 2
    patch = patch * (f / foes) ** 2 + math.exp((p - 1660.0) / 280.0)
    within = f <= foes * secant(takeoff(hop_km, 105.0), 105.0)
    layer = RESIDUAL_DB if within else NOTHING_DB
    high = min(max((f - 20.0) / 10.0, 0.0), 1.0)
    return high * hops * patch + (1.0 - high) * layer


# --- losses -------------------------------------------------------------------------


def absorption_index(zenith_deg, r12):
    """Closed form after Lucas and Haydon."""
    chi = min(zenith_deg, 102.0)
    sun = max(math.cos(math.radians(0.881 * chi)), 0.0) ** 1.3
    return max((1.0 + 0.0037 * r12) * sun, 0.1)


def fresnel(elevation_deg, soil, f):
    """Textbook reflection of smooth ground: horizontal and vertical polarisation."""
    eps_r, sigma = SOILS[soil]
    eps = complex(eps_r, -sigma / (2e6 * math.pi * f * 8.8541878128e-12))
    sine = math.sin(math.radians(elevation_deg))
    root = cmath.sqrt(eps - 1.0 + sine * sine)
    return (sine - root) / (sine + root), (eps * sine - root) / (eps * sine + root)


def touch_db(elevation_deg, soil, f):
    """Loss of one touch of the ground, half of the power in each polarisation."""
    both = fresnel(max(elevation_deg, 0.0), soil, f)
    return -10.0 * math.log10(0.5 * sum(abs(r) ** 2 for r in both))


def auroral_db(table, distance, sky, month):
    """P.533 section 5.2, Table 2, straight between the middles of its classes."""
    season_month = month + (6.0 if sky.geomagnetic < 0.0 else 0.0)
    winter = round_year(season_month, [1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1])
    summer = round_year(season_month, [0, 0, 0, 0, 0, 1, 1, 1, 0, 0, 0, 0])
    shares = {"winter": winter, "summer": summer, "equinox": 1.0 - winter - summer}
    far = straight(distance, (2000.0, 3000.0), (0.0, 1.0))
    # The first class, 01 to 04 h, has its middle at 02.5 h.
    place = (sky.hour - 2.5) / 3.0 % 8.0
    total = 0.0
    for season, share in shares.items():
        for kind, part in (("near", 1.0 - far), ("far", far)):
            rows = table[kind, season]
            by_latitude = [straight(place, range(9), [*v, v[0]]) for v in rows.values()]
            loss = straight(abs(sky.geomagnetic), list(rows), by_latitude)
            total += share * part * loss
    return total


# --- antennas and noise ---------------------------------------------------------------


def half_wave(kappa):
    """Spectrum of a half-wave's sinusoidal current."""
    if abs(kappa * kappa - 1.0) < 1e-9:
        return 0.25 * math.pi
    return math.cos(0.5 * math.pi * kappa) / (1.0 - kappa * kappa)


@cache
def dipole_over_ground(f):
    """
    Half-wave dipole over average ground: gain by elevation, mean over azimuth, and
    efficiency.

    Half a wavelength up, at most 12 m. The power taken in is that of the current in its
    own field, one plane wave of the spectrum after the other (closedform.py, Notes).
    """
    wave_m = 299.792458 / f
    phase = 4.0 * math.pi * min(0.5 * wave_m, 12.0) / wave_m
    eps_r, sigma = SOILS["average"]
    eps = complex(eps_r, -sigma / (2e6 * math.pi * f * 8.8541878128e-12))

    def echoes(c):
        root = cmath.sqrt(eps - 1.0 + c * c)
        if root.imag > 0.0:
            root = -root
        delay = cmath.exp(-1j * phase * c)
        te, tm = (c - root) / (c + root), (eps * c - root) / (eps * c + root)
        return te * delay, tm * delay

    def spectrum(kappa):
        """Round the circle, sin^2 and cos^2 of the azimuth from the wire."""
        points = 12 + math.ceil(1.6 * kappa)
        te = tm = 0.0
        for i in range(points):
            cosine = math.cos((i + 0.5) * 0.5 * math.pi / points)
            g2 = half_wave(kappa * cosine) ** 2 / points
            te, tm = te + g2 * (1.0 - cosine**2), tm + g2 * cosine**2
        return te, tm

    taken = sky = 0.0
    steps = 600
    for i in range(steps):  # travelling waves, finest at the horizon
        t = (i + 0.5) / steps
        elevation, width = 0.5 * math.pi * t * t, math.pi * t / steps
        c, kappa = math.sin(elevation), math.cos(elevation)
        te, tm = spectrum(kappa)
        echo_te, echo_tm = echoes(c)
        te, tm = te * kappa * width, tm * kappa * c * c * width
        taken += te * (1.0 + echo_te.real) + tm * (1.0 - echo_tm.real)
        sky += 0.5 * (te * abs(1.0 + echo_te) ** 2 + tm * abs(1.0 - echo_tm) ** 2)
    end = math.asinh(28.0 / phase)
    for i in range(steps):  # waves that die away upwards
        t = (i + 0.5) / steps
        v, width = end * t * t, 2.0 * end * t / steps
        kappa, decay = math.cosh(v), math.sinh(v)
        te, tm = spectrum(kappa)
        echo_te, echo_tm = echoes(-1j * decay)
        near = te * echo_te.imag + tm * decay * decay * echo_tm.imag
        taken -= near * kappa * width

    def gain_dbi(elevation_deg):
        c = math.sin(math.radians(elevation_deg))
        te, tm = spectrum(math.cos(math.radians(elevation_deg)))
        echo_te, echo_tm = echoes(c)
        power = te * abs(1.0 + echo_te) ** 2 + tm * c * c * abs(1.0 - echo_tm) ** 2
        return 10.0 * math.log10(max(power / taken, 1e-30))

    return gain_dbi, 10.0 * math.log10(sky / taken)


def noise_db(environment, f, fof2, lightning, any_place):
    """P.372: man-made, galactic where it gets through, lightning and kT0 together."""
    c, d, up, down, places = MAN_MADE[environment]
    if any_place:
        up, down = (math.hypot(x, DECILE_SIGMAS * places) for x in (up, down))
    parts = [(c - d * math.log10(f), up, down), (0.0, 0.0, 0.0), lightning]
    if f > fof2:
        parts.append((52.0 - 23.0 * math.log10(f), 2.0, 2.0))
    k = 10.0 / math.log(10.0)
    found = []
    for side in (1, 2):
        alpha = beta = gamma = 0.0
        for part in parts:
            s = part[side] / DECILE_SIGMAS / k
            m = math.exp(part[0] / k + s * s / 2.0)
            alpha, gamma = alpha + m, gamma + math.exp(part[0] / k)
            beta += m * m * (math.exp(s * s) - 1.0)
        s = math.sqrt(math.log(1.0 + beta / alpha**2))
        if max(part[side] for part in parts) > 12.0:
            s = math.sqrt(2.0 * math.log(alpha / gamma))
        found.append((k * (math.log(alpha) - s * s / 2.0), DECILE_SIGMAS * k * s))
    return 0.5 * (found[0][0] + found[1][0]), found[0][1], found[1][1]


# --- long paths, P.533 section 5.3 (from memory) --------------------------------------


@dataclass(frozen=True)
class Window:
    """Limits in MHz, the upper one for each slice of days, weakest first."""

    lower: float
    uppers: list[float]
    gyro: float
    distance: float
    hops: int

    def loss(self, f, upper):
        """Loss between isotropic antennas, everything included."""
        focus = self.distance / (EARTH_KM * abs(math.sin(self.distance / EARTH_KM)))
        gain = min(10.0 * math.log10(focus), 15.0)
        path = ray_km(self.distance / self.hops, 300.0, self.hops)
        free = 139.6 - 20.0 * math.log10(path)
        u, lo, hi = ((q + self.gyro) ** 2 for q in (f, self.lower, upper))
        if self.lower > upper:  # closed: the program's own rule
            s = -max((u - lo) ** 2 / lo, (u - hi) ** 2 / hi) / (2.0 * u)
        else:
            s = 1.0 - hi / (hi + lo) * (lo / u + u / hi)
        field = free * s - 30.0 + gain + 0.17
        return min(137.2 + 20.0 * math.log10(f) - field, 400.0)


def hours_of(utc):
    """The 24 hours of a day."""
    day = datetime.fromisoformat(utc).replace(hour=0, minute=0)
    return [(day + timedelta(hours=h)).isoformat() for h in range(24)]


def crossings_km(distance, hops):
    """Where along the path the rays cross a height of 90 km."""
    hop = distance / hops
    up = takeoff(hop, 300.0)
    inset = EARTH_KM * math.radians(90.0 - up - incidence_90(up))
    return [x for n in range(hops) for x in (n * hop + inset, (n + 1) * hop - inset)]


def incidence_90(elevation):
    """Angle of incidence at 90 km."""
    sine = EARTH_KM * math.cos(math.radians(elevation)) / (EARTH_KM + 90.0)
    return math.degrees(math.asin(sine))


def bearing_off_east(place, onward):
    """How far a path runs off the east-west line: 0 along it, 1 north-south."""
    u, v = unit(*place), unit(*onward)
    north = v[2] - u[2] * sum(a * b for a, b in zip(u, v, strict=True))
    north /= math.cos(math.radians(place[0]))
    east = math.cos(math.radians(onward[0]))
    east *= math.sin(math.radians(onward[1] - place[1]))
    return abs(math.degrees(math.atan2(east, north)) % 180.0 - 90.0) / 90.0


def upper_limits(sky, daily, off_east, utc):
    """
    Upper limit at one control point in each slice of the F2 layer's days.

    From the MUFs of a 4000 km hop in the 24 hours, ``daily``.
    """
    w, x, y = (
        a + (b - a) * off_east
        for a, b in zip((0.1, 1.2, 0.6), (0.2, 0.2, 0.4), strict=True)
    )
    local = [local_hour(sky.place, hour) for hour in hours_of(utc)]
    noon = daily[min(range(24), key=lambda h: abs(local[h] - 12.0))]
    now = daily[datetime.fromisoformat(utc).hour]
    k = 1.2 + w * now / noon + x * ((noon / now) ** (1.0 / 3.0) - 1.0)
    k += y * (min(daily) / noon) ** 2
    shares = [1.0 - (i + 0.5) / WINDOW_SLICES for i in range(WINDOW_SLICES)]
    low, high = (
        1.0 - math.hypot(1.0 - sky.low, 0.14),
        1.0 + math.hypot(sky.high - 1.0, 0.14),
    )
    return [k * now * ratio_on(share, low, high) for share in shares]


def lower_limit(distance, hops, along, gyro, r12, utc):
    """Lower limit, from absorption, with its slow fall after sunset."""
    up = takeoff(distance / hops, 300.0)
    path = ray_km(distance / hops, 300.0, hops)
    places = [along(km) for km in crossings_km(distance, hops)]
    stamps = hours_of(utc)
    month = month_at(stamps[0])
    middle = along(0.5 * distance)[0]
    season = 1.0
    for sign, shift in ((1.0, 0.0), (-1.0, 6.0)):
        count = sum(sign * along(km)[0] > 35.0 for km in (0.0, distance))
        first, second = ((0.0, 0.0), (0.05, 0.02), (0.10, 0.05))[count]
        year = [first, second, 0, 0, 0, 0, 0, 0, 0, 0, second, first]
        season += round_year(month + shift, year)
    anomaly = round_year(
        month + (6.0 if middle < 0.0 else 0.0),
        [1.3, 1.15, 1.03, 1, 1, 1, 1, 1, 1, 1.03, 1.15, 1.3],
    )
    anomaly = 1.0 + (anomaly - 1.0) * straight(abs(middle), (30, 60, 90), (0, 1, 0))
    night = math.sqrt(distance / 3000.0)
    raw = []
    for stamp in stamps:
        heights = [math.cos(math.radians(sun_zenith(p, stamp))) for p in places]
        lit = sum(math.sqrt(max(height, 0.0)) for height in heights)
        inside = (1.0 + 0.009 * r12) * lit
        inside /= math.cos(math.radians(incidence_90(up))) * math.log(9.5e6 / path)
        limit = (5.3 * season * math.sqrt(inside) - gyro) * anomaly
        raw.append(max(limit, night))
    now = datetime.fromisoformat(utc).hour
    lower = raw[now]
    for h in range(24):  # an evening's fall that has begun in the last three hours
        before, at = raw[h - 1], raw[h]
        if before > 2.0 * night >= at:
            since = (now - h + (2.0 * night - at) / (before - at)) % 24.0
            if since <= 3.0:
                lower = max(lower, 2.0 * night * math.exp(-0.23 * since))
    return lower
