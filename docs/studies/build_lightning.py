"""
Make ``tables/lightning_noise.npz``: the noise of lightning all over the world.

Usage: ``python docs/studies/build_lightning.py lightning_monthly.npz`` (half an hour).
The file holds the monthly flash rate as ``flash_rate_code`` (12 months, 180 rows from
90 N, 360 columns from 0 E), flashes per km2 and day = (code / 380)^4.

Every cell of the climatology holds thunderstorms that come and go by chance. Their
power is carried to the receiver by sky wave, ground wave and along the line of sight,
and what is kept is the *median* hour, not the mean: storms are rare and near ones
strong. The laws of the way (mirror hops, a closed form of absorption) are old and
simple on purpose: the one free figure, `SOURCE_J_HZ`, was settled together with them.
"""

import sys
from pathlib import Path

import numpy as np

from advisor.antenna.ground import (
    complex_permittivity,
    ground_by_name,
    reflection_vertical,
)
from advisor.propagation.groundwave import attenuation
from advisor.propagation.noise import KT0_DBW_HZ
from geo.ionosphere import maps
from geo.ionosphere.layers import layers_at
from geo.land import is_land
from geo.sphere import EARTH_RADIUS_KM
from geo.sun import subsolar_point

TABLE = Path(__file__).resolve().parents[2] / "tables" / "lightning_noise.npz"
LATITUDES = np.arange(-80.0, 81.0, 10.0)
LONGITUDES = np.arange(-180.0, 180.0, 10.0)
HOURS = np.arange(0.0, 24.0, 2.0)
FREQUENCIES = np.array([1.8, 3.5, 7.0, 10.0, 14.0, 21.0, 28.0])
SPOTS = np.array([20.0, 120.0])
FLOOR_DB = 5.0

# Flashes by local time over their mean, 0 to 23 h: land with the published peak in the
# afternoon, sea nearly flat since the published sets disagree. The shape is assumed.
LAND_DAY = np.array(
    [.81, .76, .73, .67, .61, .56, .51, .45, .42, .42, .49, .66,
     .96, 1.36, 1.72, 1.97, 2.02, 1.87, 1.62, 1.36, 1.16, 1.03, .96, .89]
)  # fmt: skip
SEA_DAY = np.array(
    [1.12, 1.14, 1.15, 1.15, 1.12, 1.10, 1.05, 1.0, .95, .92, .90, .90,
     .90, .90, .90, .92, .92, .92, .94, .96, 1.0, 1.03, 1.06, 1.10]
)  # fmt: skip

# Energy of a flash at 1 MHz, -19 dB(J/Hz), and its fall: 1/f^2 to 5 MHz, 1/f^3 beyond,
# between two published laws. From the peak field of a return stroke one expects 2 to
# 10 mJ/Hz without the residual loss below, which takes 8.7 dB of it.
SOURCE_J_HZ = 12.6e-3
STORM_PER_HOUR = 300.0
CHANNEL_KM = 5.0
NEAR_KM = 900.0
RESIDUAL_DB = 8.72
TOUCH_DB = 2.0
MEDIAN, UPPER, LOWER = 0.693, 0.105, 2.303
F2_KM, F2_HOP_KM, E_KM, E_HOP_KM = 300.0, 3500.0, 110.0, 1900.0


def source_w_hz(frequency_mhz):
    """Power density of one flash a second. [W/Hz]"""
    steep = np.where(frequency_mhz > 5.0, 5.0 / frequency_mhz, 1.0)
    return SOURCE_J_HZ / frequency_mhz**2 * steep


def vectors(lat_deg, lon_deg):
    """Unit vectors of places."""
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    return np.stack(
        [np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=-1
    ).astype(np.float32)


class Cells:
    """The climatology in one-degree cells and in cells of five degrees."""

    def __init__(self, path):
        code = np.load(path)["flash_rate_code"].astype(float)
        lat, lon = np.meshgrid(
            89.5 - np.arange(180.0), 0.5 + np.arange(360.0), indexing="ij"
        )
        self.lat, self.lon = lat.ravel(), lon.ravel()
        area = np.cos(np.radians(self.lat)) * (np.pi / 180.0 * EARTH_RADIUS_KM) ** 2
        # [flashes a second]
        self.rate = (code.reshape(12, -1) / 380.0) ** 4 * area / 86400.0
        self.land = is_land(self.lat, self.lon).astype(float)
        self.side_km = np.sqrt(area)
        self.parent = (
            np.floor((90.0 - self.lat) / 5.0) * 72 + np.floor(self.lon / 5.0)
        ).astype(int)
        self.wide_lat, self.wide_lon = (
            each.ravel()
            for each in np.meshgrid(
                87.5 - 5.0 * np.arange(36), 2.5 + 5.0 * np.arange(72), indexing="ij"
            )
        )
        self.wide_side_km = np.sqrt(np.bincount(self.parent, area))

    def rates(self, month, utc_hour):
        """Flashes a second in one-degree cells at an hour of a month's days."""
        hour = utc_hour + self.lon / 15.0
        land, sea = (
            np.interp(hour % 24.0, np.arange(25.0), np.append(day, day[0]))
            for day in (LAND_DAY, SEA_DAY)
        )
        return self.rate[month - 1] * (self.land * land + (1.0 - self.land) * sea)


class Sky:
    """Layers on a grid of two by three degrees at one hour."""

    LAT, LON = np.meshgrid(np.arange(-90.0, 91.0, 2.0), np.arange(0.0, 360.0, 3.0),
                           indexing="ij")  # fmt: skip

    def __init__(self, month, utc_hour, r12):
        minutes = np.timedelta64(int(utc_hour * 60), "m")
        when = np.datetime64(f"2024-{month:02d}-15") + minutes
        layers = layers_at(self.LAT.ravel(), self.LON.ravel(), when, r12)
        self.sun = vectors(*(each.item() for each in subsolar_point(when)))
        self.month, self.utc_hour, self.r12 = month, utc_hour, r12
        # The maps for R12 itself, whatever the index of that month was.
        points = maps.prepare_points(
            self.LAT.ravel(), self.LON.ravel(), layers.modip_deg
        )
        fof2, foe = maps.fof2_mhz(points, when, r12)[0], layers.foe_mhz[0]
        # ITU-R P.533-14 section 3.5.1 (from memory): factor B and the longest hop.
        x = np.maximum(fof2 / foe, 2.0)
        m = layers.m3000f2[0]
        b = m - 0.124 + (m**2 - 4.0) * (0.0215 + 0.005 * np.sin(7.854 / x - 1.9635))
        scale = 12610.0 + 2140.0 / x**2 - 49720.0 / x**4 + 688900.0 / x**6
        longest = np.minimum(4780.0 + scale * (1.0 / b - 0.303), 4000.0)
        rise = fof2 * (b - 1.0) / reach(3000.0 / longest)
        half_gyro = 0.5 * layers.gyro_mhz
        self.gyro_100km = layers.gyro_100km_mhz.astype(np.float32)
        self.foe, self.fof2, self.rise, self.longest, self.half_gyro = (
            each.astype(np.float32) for each in (foe, fof2, rise, longest, half_gyro)
        )

    def muf_mhz(self, place, hop_km):
        """MUF of an F2 hop at places of the grid."""
        share = np.minimum(hop_km / self.longest[place], 1.0)
        return (
            self.fof2[place]
            + self.rise[place] * reach(share)
            + self.half_gyro[place] * (1.0 - share)
        )

    def index(self, where):
        """Absorption index of the closed form at places given by their vectors."""
        chi = np.arccos(np.clip(where @ self.sun, -1.0, 1.0))
        chi = np.minimum(chi, np.radians(102.0))
        strength = (1.0 + 0.0037 * self.r12) * np.cos(0.881 * chi) ** 1.3
        return np.maximum(strength, 0.1)


def reach(share):
    """Series C of ITU-R P.533-14 section 3.5.1 (from memory)."""
    z = 1.0 - 2.0 * share
    series = ((((0.096 * z + 0.181) * z + 0.088) * z - 0.090) * z - 0.424) * z - 0.591
    return 0.74 + series * z


def on_grid(lat_deg, lon_deg):
    """Place of the sky's grid that is nearest."""
    row = np.rint((np.asarray(lat_deg) + 90.0) / 2.0).astype(np.int32)
    column = np.rint(np.asarray(lon_deg) / 3.0).astype(np.int32) % 120
    return row * 120 + column


class Hop:
    """Geometry of equal hops off a mirror over some distances."""

    def __init__(self, distance_km, height_km, longest_km):
        self.hops = np.maximum(np.ceil(distance_km / longest_km - 1e-6), 1.0)
        self.hop_km = distance_km / self.hops
        half = self.hop_km / (2.0 * EARTH_RADIUS_KM)
        radius = EARTH_RADIUS_KM + height_km
        elevation = np.arctan2(np.cos(half) - EARTH_RADIUS_KM / radius, np.sin(half))
        elevation = np.maximum(elevation, 0.0)
        side = np.sqrt(
            height_km**2 + 4.0 * EARTH_RADIUS_KM * radius * np.sin(0.5 * half) ** 2
        )
        gain = np.maximum(3.0 * np.cos(elevation) ** 2, 0.3)
        self.plain_db = (
            32.45
            + 20.0 * np.log10(2.0 * self.hops * side)
            + TOUCH_DB * (self.hops - 1.0)
            + RESIDUAL_DB
            - 10.0 * np.log10(gain)
        )
        self.sec_100 = slant(elevation, 100.0)
        self.sec_110 = slant(elevation, 110.0)

    def loss_db(self, frequency_mhz, index, gyro_mhz):
        """Loss of the sky wave, receiving antenna included."""
        fall = (frequency_mhz + gyro_mhz) ** 1.98 + 10.2
        absorbed = 677.2 * self.hops * index * self.sec_100 / fall
        return self.plain_db + 20.0 * np.log10(frequency_mhz) + absorbed


def slant(elevation, height_km):
    """Secant of the incidence at a height."""
    sine = EARTH_RADIUS_KM * np.cos(elevation) / (EARTH_RADIUS_KM + height_km)
    return 1.0 / np.sqrt(1.0 - sine**2)


def support(ratio, lower, upper):
    """ITU-R P.533-14 section 3.6 (from memory), of frequency over MUF."""
    below = np.maximum(1.0 - ratio, 0.0) / (1.0 - lower)
    above = np.maximum(ratio - 1.0, 0.0) / (upper - 1.0)
    share = np.where(ratio <= 1.0, 1.3 - 0.8 / (1.0 + below), 0.8 / (1.0 + above) - 0.3)
    return np.clip(share, 0.0, 1.0)


class Ways:
    """The ways from sources to receivers, pairs in any shape."""

    PARTS = (0.1, 0.3, 0.5, 0.7, 0.9)

    def __init__(self, lat_deg, lon_deg, source_lat_deg, source_lon_deg, side_km):
        here = vectors(lat_deg, lon_deg)
        there = vectors(source_lat_deg, source_lon_deg)
        self.here, self.there, cosine = np.broadcast_arrays(
            here, there, (here * there).sum(axis=-1)[..., None]
        )
        self.angle = np.arccos(np.clip(cosine[..., 0], -1.0, 1.0))
        true_km = self.angle * EARTH_RADIUS_KM
        self.km = np.sqrt(true_km**2 + (0.38 * side_km) ** 2).astype(np.float32)
        self.points = np.stack([self.along(part) for part in self.PARTS])
        ends = np.minimum(2000.0 / np.maximum(true_km, 1.0), 0.5)
        self.f2_at = [self.place(part) for part in (ends, 1.0 - ends)]
        ends = np.minimum(950.0 / np.maximum(true_km, 1.0), 0.5)
        self.e_at = [self.place(part) for part in (ends, 1.0 - ends)]
        self.mid = self.place(0.5)
        self.f2 = Hop(self.km, F2_KM, F2_HOP_KM)
        self.e = Hop(self.km, E_KM, E_HOP_KM)

    def along(self, part):
        """Unit vectors a part of the way from the receiver to the source."""
        part = np.broadcast_to(part, self.angle.shape)
        whole = np.maximum(np.sin(self.angle), 1e-6)
        near = np.where(self.angle < 1e-5, 1.0 - part,
                        np.sin((1.0 - part) * self.angle) / whole)  # fmt: skip
        far = np.where(self.angle < 1e-5, part, np.sin(part * self.angle) / whole)
        point = near[..., None] * self.here + far[..., None] * self.there
        size = np.linalg.norm(point, axis=-1, keepdims=True)
        return (point / np.maximum(size, 1e-6)).astype(np.float32)

    def place(self, part):
        """Place of the sky's grid there."""
        x, y, z = np.moveaxis(self.along(part), -1, 0)
        lat = np.degrees(np.arcsin(np.clip(z, -1.0, 1.0)))
        return on_grid(lat, np.degrees(np.arctan2(y, x)))

    def sky_wave(self, sky, frequency_mhz):
        """
        Share of the power that arrives by sky wave; a frequency at a time.

        Yields an array of the pairs' shape for each frequency.
        """
        index = np.mean([sky.index(point) for point in self.points], axis=0)
        gyro = sky.gyro_100km[self.mid]
        muf = np.minimum(*(sky.muf_mhz(at, self.f2.hop_km) for at in self.f2_at))
        foe = [sky.foe[at] for at in self.e_at]
        e_muf = np.minimum(*foe) * self.e.sec_110
        screen = 1.05 * np.maximum(*foe) * self.f2.sec_110
        for f in frequency_mhz:
            open_ = np.clip((f / screen - 0.85) / 0.15, 0.0, 1.0)
            f2 = support(f / muf, 0.8, 1.2) * open_
            e = support(f / e_muf, 0.95, 1.05)
            yield f2 * 10.0 ** (-0.1 * self.f2.loss_db(f, index, gyro)) + e * 10.0 ** (
                -0.1 * self.e.loss_db(f, index, gyro)
            )


def near_share(km, land, frequency_mhz):
    """Share that arrives from near by, by ground wave or the line of sight."""
    elevation = np.arctan(CHANNEL_KM / km) - km / (2.0 * EARTH_RADIUS_KM * 4.0 / 3.0)
    level = []
    for name in ("land", "sea water"):
        eps = complex_permittivity(ground_by_name(name), frequency_mhz)
        ground = np.abs(attenuation(frequency_mhz, km, eps)) ** 2
        mirror = reflection_vertical(np.degrees(np.maximum(elevation, 0.0)), eps)
        sight = np.abs(1.0 + mirror) ** 2 / 4.0 * np.cos(elevation) ** 2
        sight = np.where(elevation > 0.0, sight, 0.0)
        level.append(10.0 * np.log10(np.maximum(np.maximum(ground, sight), 1e-30)))
    free_db = 32.45 + 20.0 * np.log10(frequency_mhz * km)
    mixed = land * level[0] + (1.0 - land) * level[1] - free_db - RESIDUAL_DB
    return 3.0 * 10.0 ** (0.1 * mixed)


def quantile(power, expected, beyond):
    """
    Quantiles of the sum of storms that come by chance, the last axis all sources.

    Sorted by power, the strongest storm that is there at that quantile, and all the
    weaker ones by their mean. Returns one array for each of ``beyond``.
    """
    order = np.argsort(-power, axis=-1)
    power = np.take_along_axis(power, order, axis=-1)
    expected = np.take_along_axis(np.broadcast_to(expected, power.shape), order, -1)
    count = np.cumsum(expected, axis=-1)
    mean = np.cumsum((power * expected)[..., ::-1], axis=-1)[..., ::-1]
    found = []
    for level in beyond:
        k = np.minimum((count < level).sum(axis=-1), power.shape[-1] - 1)[..., None]
        here, rest = (np.take_along_axis(each, k, -1)[..., 0] for each in (power, mean))
        past = np.take_along_axis(count, k, -1)[..., 0]
        before = past - np.take_along_axis(expected, k, -1)[..., 0]
        used = np.clip(level - before, 0.0, past - before)
        heard = past >= level
        found.append(np.where(heard, here + rest - here * used, 0.0))
    return found


class Receivers:
    """Some receivers and all that is heard at them."""

    def __init__(self, cells, lat_deg, lon_deg):
        self.cells = cells
        lat, lon = np.asarray(lat_deg)[:, None], np.asarray(lon_deg)[:, None]
        self.far = Ways(lat, lon, cells.wide_lat, cells.wide_lon, cells.wide_side_km)
        cosine = vectors(lat[:, 0], lon[:, 0]) @ vectors(cells.lat, cells.lon).T
        close = cosine > np.cos(NEAR_KM / EARTH_RADIUS_KM)
        struck = cells.rate.any(axis=0)
        most = int((close & struck).sum(axis=-1).max())
        # The near cells of each receiver in a row, padded with none (-1).
        self.near = np.full((lat.size, most), -1)
        for row, found in enumerate(close & struck):
            which = np.flatnonzero(found)
            self.near[row, : which.size] = which
        at = self.near
        self.ways = Ways(lat, lon, cells.lat[at], cells.lon[at], cells.side_km[at])
        self.land = 0.5 * (is_land(lat, lon) + cells.land[at])
        self._direct = {}

    def direct(self, frequency_mhz):
        """Share from near by, kept since it is the same at all hours."""
        if frequency_mhz not in self._direct:
            self._direct[frequency_mhz] = near_share(
                self.ways.km, self.land, frequency_mhz
            )
        return self._direct[frequency_mhz]

    def noise_db(self, sky, frequency_mhz, beyond=(MEDIAN,)):
        """Noise factor, (quantiles, frequencies, receivers). [dB]"""
        rate = self.cells.rates(sky.month, sky.utc_hour)
        there = self.near >= 0
        near_rate = np.where(there, rate[self.near], 0.0)
        whole = np.bincount(self.cells.parent, rate, minlength=36 * 72)
        taken = np.zeros((len(self.near), whole.size))
        rows = np.broadcast_to(np.arange(len(self.near))[:, None], self.near.shape)
        np.add.at(taken, (rows, self.cells.parent[self.near]), near_rate)
        rates = np.concatenate([np.maximum(whole - taken, 0.0), near_rate], axis=-1)
        expected = rates * 3600.0 / STORM_PER_HOUR
        found = []
        far = self.far.sky_wave(sky, frequency_mhz)
        near = self.ways.sky_wave(sky, frequency_mhz)
        for f, far_share, near_sky in zip(frequency_mhz, far, near, strict=True):
            share = np.concatenate([far_share, near_sky + self.direct(f)], axis=-1)
            storm = source_w_hz(f) * STORM_PER_HOUR / 3600.0 * share
            found.append(quantile(storm, expected, beyond))
        watts = np.maximum(np.moveaxis(np.array(found), 1, 0), 1e-40)
        return np.maximum(10.0 * np.log10(watts) - KT0_DBW_HZ, FLOOR_DB)


def build(path):
    """Return the table, (R12, months, hours, latitudes, longitudes, frequencies)."""
    cells = Cells(path)
    rows = [
        Receivers(cells, np.full(LONGITUDES.size, lat), LONGITUDES) for lat in LATITUDES
    ]
    shape = (SPOTS.size, 12, HOURS.size, LATITUDES.size, LONGITUDES.size)
    noise = np.empty((*shape, FREQUENCIES.size), dtype=np.uint8)
    for spots, month, hour in np.ndindex(shape[:3]):
        sky = Sky(month + 1, HOURS[hour], SPOTS[spots])
        for row, here in enumerate(rows):
            (found,) = here.noise_db(sky, FREQUENCIES)
            noise[spots, month, hour, row] = np.rint(found.T)
    return noise


if __name__ == "__main__":
    np.savez_compressed(
        TABLE,
        noise_db=build(sys.argv[1]),
        r12=SPOTS,
        utc_hour=HOURS,
        lat_deg=LATITUDES,
        lon_deg=LONGITUDES,
        frequency_mhz=FREQUENCIES,
        source=np.array(
            "NASA GHRC, LIS/OTD 0.5 degree high resolution monthly climatology"
            " V2.3.2013, doi 10.5067/LIS/LIS-OTD/DATA302; Cecil, Buechler and"
            " Blakeslee, Atmospheric Research 135-136 (2014) 404; carried to the"
            " receiver by docs/studies/build_lightning.py"
        ),
    )
