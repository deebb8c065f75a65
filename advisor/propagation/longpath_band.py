"""
The long-path band of a question's paths, hour by hour.

`advisor.propagation.longpath` and `advisor.propagation.longpath_limits` hold the
formulas; here the layers and the sun are read where the standard reads them, over a
whole day, because noon, the least value of the day and the evening count.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.propagation import longpath, longpath_limits
from advisor.propagation.losses import mean_fadeout_mhz
from advisor.propagation.modes import NO_MODE_DB
from advisor.propagation.muf import ratio_exceeded, with_map_error
from geo.ionosphere.flare import fadeout_db
from geo.ionosphere.hops import MAX_HOP_F2_KM, fewest_hops
from geo.ionosphere.layers import Layers, Sky, layers_at
from geo.magnetic import decimal_year_of, gyro_mhz
from geo.paths import CONTROL_POINTS, FAR_HALF_HOP, MID, NEAR_HALF_HOP, Paths
from geo.records import ArrayRecord
from geo.sphere import bearing_deg, destination
from geo.sun import month_phase, subsolar_point, zenith_deg

SLICES = 8
"""Equal slices of the F2 layer's rank over which the band moves."""

_SLICE_EXCEEDED = 1.0 - (np.arange(SLICES) + 0.5) / SLICES
"""Share of days stronger than the middle of each slice, weakest slice first."""

_GYRO_HEIGHT_KM = 100.0

_LOW_DEG = 0.5 * sum(longpath.GAIN_TAKEOFF_DEG)
"""Angle at which long paths cross what a flare or protons add; the method names
none, so the middle of its range of angles is taken. [deg]"""


@dataclass(frozen=True, eq=False)
class LongpathBand(ArrayRecord):
    """
    Limits of the long-path band over path, hour and slice of days.

    Attributes
    ----------
    weight : numpy.ndarray
        Shape (P,): 0 up to 7000 km, 1 from 9000 km.
    distance_km : numpy.ndarray
        Shape (P,). [km]
    lower_mhz : numpy.ndarray
        Shape (P, T). [MHz]
    upper_mhz : numpy.ndarray
        Shape (P, T, V), V slices of the F2 layer's rank, weakest first. [MHz]
    gyro_mhz : numpy.ndarray
        Shape (P,), mean along the path. [MHz]
    fadeout_mhz : numpy.ndarray
        Shape (P, T), what a flare or protons take 1 dB of; 0 on a quiet day. [MHz]
    """

    weight: NDArray[np.float64]
    distance_km: NDArray[np.float64]
    lower_mhz: NDArray[np.float64]
    upper_mhz: NDArray[np.float64]
    gyro_mhz: NDArray[np.float64]
    fadeout_mhz: NDArray[np.float64]

    def loss_db(self, frequency_mhz: NDArray[np.float64]) -> NDArray[np.float64]:
        """
        Loss between isotropic antennas.

        Parameters
        ----------
        frequency_mhz : numpy.ndarray
            Shape (B,). [MHz]

        Returns
        -------
        loss_db : numpy.ndarray
            Shape (P, T, B, V); `NO_MODE_DB` on paths that do not use the band.
        """
        whole = np.full((*self.lower_mhz.shape, frequency_mhz.size, SLICES), NO_MODE_DB)
        far = np.flatnonzero(self.weight > 0.0)
        if far.size:
            whole[far] = longpath.long_path_loss_db(
                frequency_mhz[None, None, :, None],
                self.distance_km[far, None, None, None],
                self.lower_mhz[far, :, None, None],
                self.upper_mhz[far, :, None, :],
                self.gyro_mhz[far, None, None, None],
            ) + fadeout_db(
                frequency_mhz[None, None, :, None],
                self.fadeout_mhz[far, :, None, None],
                _LOW_DEG,
                fewest_hops(self.distance_km[far], MAX_HOP_F2_KM)[:, None, None, None],
            )
        return np.minimum(whole, NO_MODE_DB)

    def median_loss_db(self, frequency_mhz: NDArray[np.float64]) -> NDArray[np.float64]:
        """
        Loss on the middle day.

        Parameters
        ----------
        frequency_mhz : numpy.ndarray
            Shape (B,). [MHz]

        Returns
        -------
        loss_db : numpy.ndarray
            Shape (P, T, B), mean of the two middle slices. [dB]
        """
        slices = self.loss_db(frequency_mhz)[..., SLICES // 2 - 1 : SLICES // 2 + 1]
        return np.asarray(slices.mean(axis=-1))

    def without_absorption(self) -> LongpathBand:
        """
        Return the band as it were if nothing were absorbed by day.

        Returns
        -------
        band : LongpathBand
            With the lower limit of the night and no fadeout.
        """
        night = longpath_limits.night_limit_mhz(self.distance_km)
        return replace(
            self,
            lower_mhz=np.minimum(self.lower_mhz, night[:, None]),
            fadeout_mhz=np.zeros_like(self.fadeout_mhz),
        )

    def with_stronger_layer(self, ratio: float) -> LongpathBand:
        """
        Return the band as it were under a stronger F2 layer.

        Parameters
        ----------
        ratio : float
            How much stronger.

        Returns
        -------
        band : LongpathBand
            With a higher upper limit.
        """
        return replace(self, upper_mhz=ratio * self.upper_mhz)


def longpath_band(paths: Paths, layers: Layers, sky: Sky = layers_at) -> LongpathBand:
    """
    Work out the band of every path long enough to use it.

    Parameters
    ----------
    paths : Paths
        P paths.
    layers : Layers
        Layers at their control points, T whole hours.
    sky : callable, optional
        Gives the layers at other hours of the day, under the same conditions.

    Returns
    -------
    band : LongpathBand
        Limits; NaN on paths up to 7000 km, whose weight is 0.

    References
    ----------
    ITU-R P.533-14, sections 5.3 and 5.4 (from memory).
    """
    weight = np.interp(
        paths.distance_km,
        (longpath.SHORT_LIMIT_KM, longpath.LONG_LIMIT_KM),
        (0.0, 1.0),
    )
    body = (paths.distance_km.size, layers.r12.size)
    lower, upper = np.full(body, np.nan), np.full((*body, SLICES), np.nan)
    gyro = np.full(body[0], np.nan)
    far = np.flatnonzero(weight > 0.0)
    if far.size:
        day = layers.times[0].astype("datetime64[D]").astype("datetime64[s]")
        hours = day + np.arange(24).astype("timedelta64[h]")
        hour = (layers.times - layers.times.astype("datetime64[D]")).astype(int) // 3600
        gyro[far], daily = _lower_daily(paths, far, layers, hours)
        lower[far] = daily[hour].T
        upper[far] = _upper(paths, far, layers, hours, sky)
    fadeout = mean_fadeout_mhz(paths, layers)[..., 0, 0]
    return LongpathBand(weight, paths.distance_km, lower, upper, gyro, fadeout)


def _lower_daily(
    paths: Paths,
    far: NDArray[np.intp],
    layers: Layers,
    hours: NDArray[np.datetime64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean gyrofrequency (F,) and the lower limit over one day (24, F)."""
    along = longpath_limits.crossing_distances_km(paths.distance_km[far])
    start_lat = paths.control_lat_deg[far, -2][:, None]
    start_lon = paths.control_lon_deg[far, -2][:, None]
    towards = paths.bearing_deg[far][:, None]
    lat, lon = destination(start_lat, start_lon, towards, along)
    year = float(decimal_year_of(hours[:1])[0])
    gyro = np.nanmean(gyro_mhz(lat, lon, _GYRO_HEIGHT_KM, year), axis=-1)
    sun_lat, sun_lon = (angle[:, None, None] for angle in subsolar_point(hours))
    month = float(month_phase(hours[:1])[0])
    distance = paths.distance_km[far]
    raw = longpath_limits.lower_limit_mhz(
        zenith_deg(lat, lon, sun_lat, sun_lon),
        distance,
        float(layers.r12.mean()),
        gyro,
        longpath_limits.seasonal_factor(start_lat[:, 0], paths.lat_deg[far], month),
        longpath_limits.winter_anomaly(paths.control_lat_deg[far, MID], month),
    )
    return gyro, longpath_limits.evening_decay(raw, distance)


def _upper(
    paths: Paths,
    far: NDArray[np.intp],
    layers: Layers,
    hours: NDArray[np.datetime64],
    sky: Sky,
) -> NDArray[np.float64]:
    """Upper limit by slice of days, the lower of two control points, (F, T, V)."""
    ends = [NEAR_HALF_HOP, FAR_HALF_HOP]
    lat = paths.control_lat_deg[far][:, ends]
    lon = paths.control_lon_deg[far][:, ends]
    r12 = float(layers.r12.mean())
    day = sky(lat.ravel(), lon.ravel(), hours, r12)
    daily = longpath_limits.reference_muf_mhz(day.fof2_mhz, day.m3000f2)
    noon_row = np.abs((day.local_hour - 12.0 + 12.0) % 24.0 - 12.0).argmin(axis=0)
    noon = daily[noon_row, np.arange(daily.shape[1])].reshape(lat.shape)
    least = daily.min(axis=0).reshape(lat.shape)

    def here(values: NDArray[np.float64]) -> NDArray[np.float64]:
        shaped = values.reshape(values.shape[0], -1, CONTROL_POINTS)
        return shaped[:, far][:, :, ends]

    now = longpath_limits.reference_muf_mhz(here(layers.fof2_mhz), here(layers.m3000f2))
    middle = bearing_deg(
        paths.control_lat_deg[far, MID],
        paths.control_lon_deg[far, MID],
        paths.control_lat_deg[far, FAR_HALF_HOP],
        paths.control_lon_deg[far, FAR_HALF_HOP],
    )
    limit = longpath_limits.upper_limit_mhz(now, noon, least, middle[:, None])
    ratios = with_map_error(
        here(layers.fof2_lower_ratio),
        here(layers.fof2_upper_ratio),
        here(layers.unsounded),
    )
    moved = limit[..., None] * ratio_exceeded(
        _SLICE_EXCEEDED, *(ratio[..., None] for ratio in ratios)
    )
    return np.asarray(moved.min(axis=2).transpose(1, 0, 2))
