"""
Lightning noise: a coarse climatology, honest to ten decibels at best.

The standard's world charts and their coefficients are not at hand. What stands here
is the general picture, remembered and rounded: strong in the tropics and by night,
weak at high latitudes and in winter mornings. Treat every figure as plus or minus
10 dB, more within a few hundred kilometres of a storm and where sea and land meet,
and never call it by the standard's name. What is robust: above some 10 MHz in built
surroundings man-made noise is stronger than lightning except in the tropics, while
on 1.8 to 7 MHz at night lightning rivals the noise of quiet places.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.propagation.noise import Noise
from geo.sphere import distance_km
from geo.tables import read_table

MODEL_ERROR_DB = 10.0
"""How far the median may be off, not part of the deciles. [dB]"""

_HOUR_COLUMNS = ("lt_00_04_db", "lt_08_12_db", "lt_12_16_db", "lt_20_24_db")
# Middles of the table's hours, with the last and the first once more around midnight.
_HOURS = np.array([-2.0, 2.0, 10.0, 14.0, 22.0, 26.0])
_SEASONS = ("winter", "summer")
_SEASON_SWITCH_DEG = 10.0

_DAY_ZENITH_DEG, _NIGHT_ZENITH_DEG = 80.0, 95.0
_LOWEST_MHZ, _DIP_MHZ, _JOIN_MHZ = 1.0, 3.0, 10.0
_NIGHT_FALL_DB, _DAY_FALL_DB = 45.0, 40.0

_NIGHT_UPPER_DB, _DAY_UPPER_DB, _LOWER_DB = 10.0, 13.0, 7.5


@cache
def _grid() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Table as (storminess, season, latitude, hour) and its latitudes."""
    table = read_table("atmospheric_noise")
    latitudes = np.unique(table.numbers("geographic_lat_deg"))
    body = np.stack([table.numbers(name) for name in _HOUR_COLUMNS], axis=-1)
    grid = body.reshape(latitudes.size, 2, len(_SEASONS), len(_HOUR_COLUMNS))
    grid = grid.transpose(1, 2, 0, 3)[..., [-1, 0, 1, 2, 3, 0]]
    grid.flags.writeable = latitudes.flags.writeable = False
    return grid, latitudes


def storminess(lat_deg: ArrayLike, lon_deg: ArrayLike) -> NDArray[np.float64]:
    """
    How much a place counts as stormy land rather than quiet land or sea.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Place. They broadcast. [deg]

    Returns
    -------
    weight : numpy.ndarray
        0 to 1.

    Notes
    -----
    The greatest of bell-shaped weights around a dozen thunderstorm centres. Where
    they lie and how far they reach is the project's choice, without a source.

    Examples
    --------
    >>> storminess([0.0, 0.0, 50.0], [23.0, -140.0, 10.0]).round(1)
    array([1., 0., 0.])
    """
    table = read_table("thunderstorm_centres")
    away = distance_km(
        np.asarray(lat_deg, dtype=float)[..., None],
        np.asarray(lon_deg, dtype=float)[..., None],
        table.numbers("latitude_deg"),
        table.numbers("longitude_deg"),
    )
    bells = np.exp(-0.5 * (away / table.numbers("reach_km")) ** 2)
    return np.asarray(bells.max(axis=-1))


def lightning_at_1_mhz_db(
    lat_deg: ArrayLike, lon_deg: ArrayLike, month: ArrayLike, local_hour: ArrayLike
) -> NDArray[np.float64]:
    """
    Median lightning noise at 1 MHz.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Place. [deg]
    month : array_like
        Month of the year counted at its middle: 1 is mid-January, 6.5 the turn from
        June to July.
    local_hour : array_like
        Local mean time; whole days may be added. All broadcast. [h]

    Returns
    -------
    factor_db : numpy.ndarray
        Noise factor over kT0B, plus or minus `MODEL_ERROR_DB`; NaN where an input
        is NaN. [dB]

    Notes
    -----
    Straight lines between the table's latitudes (held below 10 and above 65
    degrees), between its hours around the clock and between its two kinds of
    region; a cosine between mid-winter and mid-summer, whose swing dies out between
    10 degrees and the equator.

    Examples
    --------
    >>> lightning_at_1_mhz_db([50.0, 0.0], [10.0, 23.0], 7.0, 22.0).round(0)
    array([63., 88.])
    """
    lat, lon, phase, hour = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (lat_deg, lon_deg, month, local_hour))
    )
    valid = np.isfinite(lat + lon + phase + hour) & (np.abs(lat) <= 90.0)
    lat, lon, phase, hour = (np.where(valid, v, 0.0) for v in (lat, lon, phase, hour))
    grid, latitudes = _grid()
    row = np.interp(np.abs(lat), latitudes, np.arange(latitudes.size))
    column = np.interp(hour % 24.0, _HOURS, np.arange(_HOURS.size))
    low = np.minimum(row.astype(np.int64), latitudes.size - 2)
    first = np.minimum(column.astype(np.int64), _HOURS.size - 2)
    up, on = row - low, column - first
    by_kind = (1.0 - up) * (
        (1.0 - on) * grid[:, :, low, first] + on * grid[:, :, low, first + 1]
    ) + up * (
        (1.0 - on) * grid[:, :, low + 1, first] + on * grid[:, :, low + 1, first + 1]
    )
    stormy = storminess(lat, lon)
    by_season = (1.0 - stormy) * by_kind[0] + stormy * by_kind[1]
    north = np.clip(lat / _SEASON_SWITCH_DEG, -1.0, 1.0)
    summer = 0.5 - 0.5 * north * np.cos(2.0 * np.pi * (phase - 1.0) / 12.0)
    factor = (1.0 - summer) * by_season[0] + summer * by_season[1]
    return np.asarray(np.where(valid, factor, np.nan))


def atmospheric_noise(
    frequency_mhz: ArrayLike,
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    month: ArrayLike,
    local_hour: ArrayLike,
    zenith_deg: ArrayLike,
) -> Noise:
    r"""
    Median lightning noise at a frequency and its spread over the days.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, 1 or more. [MHz]
    lat_deg, lon_deg : array_like
        Receiving place. [deg]
    month, local_hour : array_like
        As in `lightning_at_1_mhz_db`.
    zenith_deg : array_like
        Solar zenith angle at the place. All broadcast. [deg]

    Returns
    -------
    noise : Noise
        Median and deciles; NaN below 1 MHz or where an input is NaN. The error of
        the median, `MODEL_ERROR_DB`, is not in the deciles.

    Notes
    -----
    With :math:`z` the noise at 1 MHz and :math:`L = \log_{10} f`, by night

    .. math:: z - (0.4 z + 4) L \;(f \le 10),\qquad 0.6 z - 4 - 45 (L - 1) \;(f > 10)

    and by day straight in :math:`L` from :math:`z` to a dip of :math:`0.7 z` at
    3 MHz and a hump of :math:`29 + 0.08 z` at 10 MHz, then falling 40 dB per decade:
    by day distant storms are absorbed on the low bands and are heard again where
    absorption ends. Between zenith angles of 80 and 95 degrees the two are blended.

    A sketch of the published frequency curves, from memory with low confidence.

    Examples
    --------
    >>> noise = atmospheric_noise([3.0, 10.0, 20.0], 50.0, 10.0, 1.0, 22.0, 120.0)
    >>> noise.factor_db.round(0)
    array([41., 28., 14.])
    """
    frequency = np.asarray(frequency_mhz, dtype=float)
    log_f = np.log10(np.where(frequency >= _LOWEST_MHZ, frequency, np.nan))
    z = lightning_at_1_mhz_db(lat_deg, lon_deg, month, local_hour)
    past_join = np.maximum(log_f - np.log10(_JOIN_MHZ), 0.0)
    to_join = np.minimum(log_f, np.log10(_JOIN_MHZ))
    night = z - (0.4 * z + 4.0) * to_join - _NIGHT_FALL_DB * past_join
    dip_at = np.log10(_DIP_MHZ)
    dip, hump = 0.7 * z, 29.0 + 0.08 * z
    day = np.where(
        log_f < dip_at,
        z + (dip - z) * log_f / dip_at,
        dip + (hump - dip) * (to_join - dip_at) / (np.log10(_JOIN_MHZ) - dip_at),
    )
    day = day - _DAY_FALL_DB * past_join
    zenith = np.asarray(zenith_deg, dtype=float)
    dark = np.interp(zenith, (_DAY_ZENITH_DEG, _NIGHT_ZENITH_DEG), (0.0, 1.0))
    factor = np.asarray(dark * night + (1.0 - dark) * day)
    upper = dark * _NIGHT_UPPER_DB + (1.0 - dark) * _DAY_UPPER_DB
    return Noise(
        factor,
        np.asarray(np.broadcast_to(upper, factor.shape)),
        np.full(factor.shape, _LOWER_DB),
    )
