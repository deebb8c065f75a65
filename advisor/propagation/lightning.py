"""
Lightning noise: flashes as satellites counted them, carried to the receiver.

The table holds the median noise of the hours of each month all over the world. It was
worked out once, by ``docs/studies/build_lightning.py``, from NASA's monthly climatology
of flashes, their course over the day and the ways a wave takes from there to here. It
is not the standard's chart and must not bear its name. A storm one can hear thunder of
is another question, and louder by far.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import ArrayLike

from advisor.propagation.noise import Noise
from geo.arrays import Floats, Ints
from geo.tables import read_arrays

LOWEST_MHZ = 1.0
"""Below this no noise is told. [MHz]"""

MODEL_ERROR_DB = 10.0
"""How far the median may be off, not part of the deciles: 6 dB by night on 3 to 15 MHz,
10 on 1.8 MHz, at coasts and in high latitudes, more by day below 5 MHz. [dB]"""

FLOOR_DB = 5.0
"""Least noise factor of the table: below any man-made noise. [dB]"""

_DAY_ZENITH_DEG, _NIGHT_ZENITH_DEG = 80.0, 95.0
_NIGHT_DB = (8.0, 6.5)
_LOW_DAY_DB, _HIGH_DAY_DB = (15.0, 12.0), (9.0, 7.0)
# The day's deciles change at 5 MHz; blended over most of an octave about it.
_LOW_MHZ, _HIGH_MHZ = 4.0, 6.25


def lightning_noise_db(
    frequency_mhz: ArrayLike,
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    month: ArrayLike,
    utc_hour: ArrayLike,
    r12: ArrayLike,
) -> Floats:
    """
    Median noise of lightning.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, 1 or more. [MHz]
    lat_deg, lon_deg : array_like
        Receiving place; beyond latitude 80 that of 80 is taken. [deg]
    month : array_like
        Month of the year counted at its middle, `geo.sun.month_phase`: 1 is
        mid-January, 6.5 the turn from June to July.
    utc_hour : array_like
        Hour of the day, UTC; whole days may be added. [h]
    r12 : array_like
        Twelve-month smoothed sunspot number on the scale of the maps; held within 20
        and 120. All broadcast.

    Returns
    -------
    factor_db : numpy.ndarray
        Noise factor over kT0B, at least `FLOOR_DB`; NaN where an input is NaN or out
        of range. [dB]

    Notes
    -----
    Straight lines, in dB, between the table's places (10 degrees), hours (2), months,
    levels of the sun and, in the logarithm, frequencies; at either end of them the
    nearest slope goes on.

    References
    ----------
    D. J. Cecil, D. E. Buechler, R. J. Blakeslee, Atmospheric Research 135-136 (2014)
    404, doi 10.5067/LIS/LIS-OTD/DATA302, for the flashes.

    Examples
    --------
    Central Africa and the middle of the Pacific on a January evening, 7 MHz:

    >>> lightning_noise_db(7.0, [-5.0, 0.0], [20.0, -150.0], 1.0, [20.0, 7.0],
    ...                    60.0).round(0)
    array([58., 40.])
    """
    table = read_arrays("lightning_noise")
    frequency, lat, lon, phase, hour, spots = (
        np.asarray(v, dtype=float)
        for v in (frequency_mhz, lat_deg, lon_deg, month, utc_hour, r12)
    )
    usable = (frequency >= LOWEST_MHZ) & (np.abs(lat) <= 90.0)
    usable = usable & np.isfinite(frequency + lat + lon + phase + hour + spots)
    axes = (
        _between(np.clip(spots, *table["r12"][[0, -1]]), table["r12"]),
        _around(phase - 1.0, 12),
        _around(hour * table["utc_hour"].size / 24.0, table["utc_hour"].size),
        _between(np.clip(lat, *table["lat_deg"][[0, -1]]), table["lat_deg"]),
        _around((lon - table["lon_deg"][0]) / 10.0, table["lon_deg"].size),
        _between(
            np.log(np.maximum(frequency, LOWEST_MHZ)), np.log(table["frequency_mhz"])
        ),
    )
    noise, strides = table["noise_db"], np.cumprod((1, *table["noise_db"].shape[:0:-1]))
    every = noise.ravel()
    corners = _corners(axes, strides[::-1].tolist(), np.zeros((), int), np.ones(()))
    factor = sum((weight * every[place] for place, weight in corners), np.zeros(()))
    return np.asarray(np.where(usable, np.maximum(factor, FLOOR_DB), np.nan))


_Axis = tuple[Ints, Ints, Floats]


def _corners(
    axes: Sequence[_Axis], strides: Sequence[int], place: Ints, weight: Floats
) -> Iterator[tuple[Ints, Floats]]:
    """Places around in the flat table and their weights; steps in common done once."""
    if not axes:
        yield place, weight
        return
    (low, high, up), step = axes[0], strides[0]
    for i, share in ((low, 1.0 - up), (high, up)):
        yield from _corners(axes[1:], strides[1:], place + i * step, weight * share)


def _between(value: Floats, nodes: Floats) -> _Axis:
    """Neighbours on an axis and how far towards the upper; goes on beyond its ends."""
    value = np.nan_to_num(value)
    low = np.clip(np.searchsorted(nodes, value, side="right") - 1, 0, nodes.size - 2)
    return low, low + 1, (value - nodes[low]) / (nodes[low + 1] - nodes[low])


def _around(value: Floats, size: int) -> _Axis:
    """Neighbours on an axis that closes on itself, in steps of one."""
    value = np.nan_to_num(value)
    whole = np.floor(value)
    low = whole.astype(np.int64) % size
    return low, (low + 1) % size, value - whole


def atmospheric_noise(
    frequency_mhz: ArrayLike,
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    month: ArrayLike,
    utc_hour: ArrayLike,
    r12: ArrayLike,
    zenith_deg: ArrayLike,
) -> Noise:
    r"""
    Median lightning noise and its spread over the days.

    Parameters
    ----------
    frequency_mhz, lat_deg, lon_deg, month, utc_hour, r12 : array_like
        As in `lightning_noise_db`. [MHz], [deg], [deg], [1], [h], [1]
    zenith_deg : array_like
        Solar zenith angle at the place. All broadcast. [deg]

    Returns
    -------
    noise : Noise
        Median and deciles; NaN as in `lightning_noise_db`. The error of the median,
        `MODEL_ERROR_DB`, is not in the deciles.

    Notes
    -----
    By night many storms are heard together and the days are alike: 8 dB up, 6.5 down.
    By day, below 5 MHz, only near storms are heard, which come by chance: 15 and 12.
    By day above that: 9 and 7. Blended between zenith angles of 80 and 95 degrees and
    about 5 MHz. These are the widths of the sums of storms that the table's builder
    draws, with 5 dB rms for the days of the ionosphere (ours).

    Examples
    --------
    >>> noise = atmospheric_noise([3.6, 14.1], 50.0, 10.0, 7.0, 22.0, 60.0, 110.0)
    >>> noise.factor_db.round(0), noise.upper_db
    (array([63., 31.]), array([8., 8.]))
    """
    factor = lightning_noise_db(frequency_mhz, lat_deg, lon_deg, month, utc_hour, r12)
    zenith = np.asarray(zenith_deg, dtype=float)
    dark = np.interp(zenith, (_DAY_ZENITH_DEG, _NIGHT_ZENITH_DEG), (0.0, 1.0))
    log_f = np.log(np.asarray(frequency_mhz, dtype=float))
    high = np.interp(log_f, np.log((_LOW_MHZ, _HIGH_MHZ)), (0.0, 1.0))
    sides = (
        dark * night + (1.0 - dark) * ((1.0 - high) * low_day + high * high_day)
        for night, low_day, high_day in zip(
            _NIGHT_DB, _LOW_DAY_DB, _HIGH_DAY_DB, strict=True
        )
    )
    upper, lower = (np.asarray(np.broadcast_to(side, factor.shape)) for side in sides)
    return Noise(factor, upper, lower)
