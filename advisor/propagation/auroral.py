"""
Auroral and other losses at high latitude, as the standard tabulates them.

Under the auroral zone particles from the magnetosphere ionise the D region by night
too, and irregular layers scatter the ray. The monthly median of both is a table by
geomagnetic latitude, local time, season and path length.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.tables import read_table

SEASONS = ("winter", "equinox", "summer")
"""Seasons of the table, in the order of its axis."""

_DISTANCE_CLASSES = ("near", "far")
_DISTANCE_KNOTS_KM = (2000.0, 3000.0)
_HOUR_COLUMNS = (
    "lt_01_04_db",
    "lt_04_07_db",
    "lt_07_10_db",
    "lt_10_13_db",
    "lt_13_16_db",
    "lt_16_19_db",
    "lt_19_22_db",
    "lt_22_01_db",
)
_FIRST_HOUR, _HOUR_STEP = 2.5, 3.0
_LATITUDE_STEP_DEG = 5.0

_WINTER_MONTHS = np.array([1.0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1])
_SUMMER_MONTHS = np.roll(_WINTER_MONTHS, 6)


@cache
def _grid() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Table as (distance, season, latitude, hour) and its latitudes, 0 dB first."""
    table = read_table("auroral_loss")
    latitudes = np.unique(table.numbers("geomagnetic_lat_deg"))
    shape = (len(_DISTANCE_CLASSES), len(SEASONS), latitudes.size, len(_HOUR_COLUMNS))
    body = np.stack([table.numbers(name) for name in _HOUR_COLUMNS], axis=-1)
    grid = np.pad(body.reshape(shape), ((0, 0), (0, 0), (1, 0), (0, 0)))
    latitudes = np.concatenate([[latitudes[0] - _LATITUDE_STEP_DEG], latitudes])
    grid.flags.writeable = latitudes.flags.writeable = False
    return grid, latitudes


def season_weights(month: ArrayLike, latitude_deg: ArrayLike) -> NDArray[np.float64]:
    """
    Share of winter, equinox and summer at a time of the year.

    Parameters
    ----------
    month : array_like
        Month of the year counted at its middle: 1 is mid-January, 6.5 the turn from
        June to July. Any number of whole years (12) may be added.
    latitude_deg : array_like
        Latitude; its sign gives the hemisphere. Broadcasts with ``month``. [deg]

    Returns
    -------
    weights : numpy.ndarray
        Shape (3, ...): winter, equinox, summer; they add up to 1.

    Notes
    -----
    The middle of every month lies fully in its own season; between the middles of
    two months of different seasons one fades into the other.

    Examples
    --------
    >>> season_weights([1.0, 2.5, 7.0], 60.0)
    array([[1. , 0.5, 0. ], [0. , 0.5, 0. ], [0. , 0. , 1. ]])
    """
    phase, latitude = np.broadcast_arrays(
        np.asarray(month, dtype=float), np.asarray(latitude_deg, dtype=float)
    )
    phase = phase + np.where(latitude < 0.0, 6.0, 0.0)
    months = np.arange(1.0, 13.0)
    winter = np.interp(phase, months, _WINTER_MONTHS, period=12.0)
    summer = np.interp(phase, months, _SUMMER_MONTHS, period=12.0)
    return np.stack([winter, 1.0 - winter - summer, summer])


def auroral_loss_db(
    distance_km: ArrayLike,
    geomagnetic_lat_deg: ArrayLike,
    local_hour: ArrayLike,
    month: ArrayLike,
) -> NDArray[np.float64]:
    """
    Monthly-median auroral and other losses of a path at one place.

    Parameters
    ----------
    distance_km : array_like
        Length of the path. [km]
    geomagnetic_lat_deg : array_like
        Geomagnetic latitude of the place, -90 to 90. [deg]
    local_hour : array_like
        Local mean time at the place; any whole days may be added. [h]
    month : array_like
        Month counted at its middle, as in `season_weights`. All broadcast.

    Returns
    -------
    loss_db : numpy.ndarray
        Loss of the whole path; average it over the places at which the
        absorption is taken. NaN where an input is NaN or the latitude is beyond a
        pole. [dB]

    Notes
    -----
    The standard's table has classes with steps between them. Here a class's value
    holds at its middle (latitude, local time, month) and runs straight to the next
    class's; above 80 degrees it is held. Below the lowest class the loss runs
    straight to 0 at 40 degrees, so that it is halved where the standard drops it at
    42.5. The two columns for paths below and above 2500 km are blended from 2000 to
    3000 km.

    References
    ----------
    ITU-R P.533-14, section 5.2, Table 2 (values from memory).

    Examples
    --------
    >>> auroral_loss_db([1000.0, 4000.0], 65.0, 5.5, 1.0).round(1)
    array([16.,  7.])
    >>> auroral_loss_db(1000.0, [38.0, 42.5, 45.0], 8.5, 7.0).round(1)
    array([0. , 0.4, 0.8])
    """
    distance, latitude, hour, phase = np.broadcast_arrays(
        *(
            np.asarray(value, dtype=float)
            for value in (distance_km, geomagnetic_lat_deg, local_hour, month)
        )
    )
    valid = np.isfinite(distance + hour + phase) & (np.abs(latitude) <= 90.0)
    grid, latitudes = _grid()
    row = np.interp(
        np.where(valid, np.abs(latitude), 0.0), latitudes, np.arange(latitudes.size)
    )
    lower = np.minimum(row.astype(np.int64), latitudes.size - 2)
    up = row - lower
    column = (
        (np.where(valid, hour, 0.0) - _FIRST_HOUR) / _HOUR_STEP % len(_HOUR_COLUMNS)
    )
    # A tiny negative hour rounds up to exactly 8 in the remainder.
    before = column.astype(np.int64) % len(_HOUR_COLUMNS)
    on = column % 1.0
    after = (before + 1) % len(_HOUR_COLUMNS)
    profile = (1.0 - up) * (
        (1.0 - on) * grid[:, :, lower, before] + on * grid[:, :, lower, after]
    ) + up * (
        (1.0 - on) * grid[:, :, lower + 1, before] + on * grid[:, :, lower + 1, after]
    )
    far = np.interp(distance, _DISTANCE_KNOTS_KM, (0.0, 1.0))
    by_season = (1.0 - far) * profile[0] + far * profile[1]
    loss = (season_weights(phase, latitude) * by_season).sum(axis=0)
    return np.asarray(np.where(valid, loss, np.nan))
