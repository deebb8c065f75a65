r"""
Geomagnetic storms: how far foF2 falls (or rises) below its monthly median.

A storm heats the upper atmosphere near the poles; the changed air drifts towards the
equator, mostly in the summer hemisphere, and eats electrons there for a day or so.
The STORM model ties that to the past day and a half of the index ap, the season and
the magnetic latitude. It says nothing of local time or of single storms' character:
take it as the mean over many storms.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.tables import read_table

HISTORY_VALUES = 13
"""Three-hour values of ap that the integral needs, the last one being now."""

QUIET_RAP, FULL_RAP = 200.0, 300.0
"""Integral of ap up to which nothing happens and from which the curves hold."""

LARGEST_RAP = 2550.0
"""Integral of ap above which the factor is held, Kp 7.2 held on. Past it the cubics of
summer turn back up, others run off where no storm was measured; the project's
choice."""

# One weight for each of the 36 hours before now, the oldest first.
_WEIGHTS = np.concatenate(
    [[0.0, 0.0], np.arange(1, 28) / 27.0, np.array([2, 1, 0, 1, 2, 3]) / 3.0, [0.7]]
)

_BLOCK_HOURS = 3.0
_FIRST_DAY, _SEASON_DAYS, _SEASONS = 82.0, 45.6, 8
_SOUTHERN_SHIFT_DAYS, _YEAR_DAYS = 172.0, 365.0


def ap_from_kp(kp: ArrayLike) -> NDArray[np.float64]:
    """
    Three-hour index ap that belongs to Kp.

    Parameters
    ----------
    kp : array_like
        Planetary index Kp, 0 to 9; 5+ is 5.33 and 5- is 4.67.

    Returns
    -------
    ap : numpy.ndarray
        Index ap in units of 2 nT, on a straight line between thirds of Kp; NaN
        outside 0 to 9.

    References
    ----------
    J. Bartels' conversion, International Service of Geomagnetic Indices (from
    memory).

    Examples
    --------
    >>> ap_from_kp([0.0, 3.0, 5.0, 9.0])
    array([  0.,  15.,  48., 400.])
    """
    table = read_table("kp_ap")
    return np.asarray(
        np.interp(
            np.asarray(kp, dtype=float),
            table.numbers("kp"),
            table.numbers("ap"),
            left=np.nan,
            right=np.nan,
        )
    )


def kp_from_ap(ap: ArrayLike) -> NDArray[np.float64]:
    """
    Kp that belongs to an index ap, also to one averaged over hours or a day.

    Parameters
    ----------
    ap : array_like
        Index ap, 0 to 400; held beyond. [2 nT]

    Returns
    -------
    kp : numpy.ndarray
        0 to 9, the other way round of `ap_from_kp`; NaN where ``ap`` is.

    Examples
    --------
    >>> kp_from_ap([0.0, 15.0, 48.0])
    array([0., 3., 5.])
    """
    table = read_table("kp_ap")
    known = table.numbers("ap"), table.numbers("kp")
    return np.asarray(np.interp(np.asarray(ap, dtype=float), *known))


def integral_of_ap(
    ap_history: ArrayLike, hours_into_block: float = 1.5
) -> NDArray[np.float64]:
    r"""
    Weighted sum of the past 36 hours' ap, the RAP of the storm model.

    Parameters
    ----------
    ap_history : array_like
        Shape (..., 13): three-hour values of ap, the oldest first, the last one that
        of the current three hours. [2 nT]
    hours_into_block : float, optional
        How much of the current three hours has passed, 0 to 3. [h]

    Returns
    -------
    rap : numpy.ndarray
        Shape (...): 17.7 times ap if ap stays the same.

    Notes
    -----
    Hourly values are read off straight lines between the middles of the three-hour
    blocks, the last value being held. The weights rise from 0 at 35 hours ago to 1
    at 7 hours ago, dip to 0 at 4 hours ago and end at 0.7 now.

    References
    ----------
    E. A. Araujo-Pradere, T. J. Fuller-Rowell and M. V. Codrescu, Radio Science 37(5)
    (2002) 1070; weights as coded in the International Reference Ionosphere 2020.

    Examples
    --------
    >>> integral_of_ap(np.full(13, 48.0)).round(0)
    np.float64(850.)
    """
    history = np.asarray(ap_history, dtype=float)
    middles = _BLOCK_HOURS * np.arange(1 - HISTORY_VALUES, 1)
    offset = hours_into_block - 0.5 * _BLOCK_HOURS
    hours = offset + np.arange(1 - _WEIGHTS.size, 1)
    place = np.clip((hours - middles[0]) / _BLOCK_HOURS, 0.0, HISTORY_VALUES - 1.0)
    before = np.minimum(place.astype(np.int64), HISTORY_VALUES - 2)
    on = place - before
    hourly = (1.0 - on) * history[..., before] + on * history[..., before + 1]
    return np.asarray((_WEIGHTS * hourly).sum(axis=-1))


def steady_kp(
    block_times: ArrayLike, kp: ArrayLike, times: ArrayLike
) -> NDArray[np.float64]:
    """
    Kp that, held for a day and a half, gives the integral of ap that a moment has.

    Parameters
    ----------
    block_times : array_like of datetime64
        When blocks of three hours begin, in order, (K,), UTC. Blocks between them are
        read off a straight line of ap; the first and the last are held.
    kp : array_like
        Kp of each, 0 to 9, (K,).
    times : array_like of datetime64
        Moments asked about, (T,), UTC.

    Returns
    -------
    kp : numpy.ndarray
        Shape (T,).

    Examples
    --------
    >>> blocks = np.arange("2026-12-05T00", "2026-12-07T00", 3, "datetime64[h]")
    >>> steady_kp(blocks, [2.0] * 12 + [6.0] * 4, blocks[[11, 13, 15]]).round(1)
    array([2. , 3.2, 4.3])
    """
    begun = np.asarray(block_times, dtype="datetime64[s]").astype(float) / 3600.0
    when = np.asarray(times, dtype="datetime64[s]").astype(float) / 3600.0
    block = np.floor(when / _BLOCK_HOURS) * _BLOCK_HOURS
    back = _BLOCK_HOURS * np.arange(1 - HISTORY_VALUES, 1)
    history = np.interp(block[:, None] + back, begun, ap_from_kp(kp))
    rap = [
        integral_of_ap(each, into)
        for each, into in zip(history, when - block, strict=True)
    ]
    return kp_from_ap(np.array(rap) / _WEIGHTS.sum())


@cache
def _curves() -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.float64]]:
    """Coefficients (20, 4), curve at each node (latitude, season), node latitudes."""
    curves, nodes = read_table("storm_curves"), read_table("storm_nodes")
    coefficients = np.stack(
        [curves.numbers(name) for name in ("c0", "c1", "c2", "c3")], axis=-1
    )
    seasons = [nodes.numbers(f"season_{i}") for i in range(1, _SEASONS + 1)]
    which = np.stack(seasons, axis=-1).astype(np.int64) - 1
    return coefficients, which, nodes.numbers("magnetic_lat_deg")


def storm_factor(
    rap: ArrayLike, magnetic_lat_deg: ArrayLike, day_of_year: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Storm-time foF2 over the quiet monthly median.

    Parameters
    ----------
    rap : array_like
        Integral of ap, `integral_of_ap`.
    magnetic_lat_deg : array_like
        Geomagnetic latitude, -90 to 90. [deg]
    day_of_year : array_like
        1 to 366; fractions are fine. All broadcast.

    Returns
    -------
    factor : numpy.ndarray
        1 for a quiet day, down to about 0.58 in summer at middle and high latitudes
        and up to about 1.25 at low ones in winter. NaN where an input is NaN or the
        latitude is beyond a pole.

    Notes
    -----
    Above RAP = 300 a cubic in RAP at each of eight seasons and six latitudes, read
    between the nodes on straight lines; 1 up to RAP = 200 and a straight line
    between. The factor is held above `LARGEST_RAP`. The southern hemisphere takes
    the season of 172 days later, as the published code has it; the hemispheres
    therefore differ at the equator by up to 3 %.

    References
    ----------
    E. A. Araujo-Pradere, T. J. Fuller-Rowell and M. V. Codrescu, Radio Science 37(5)
    (2002) 1070; coefficients as coded in the International Reference Ionosphere 2020.

    Examples
    --------
    >>> storm_factor([100.0, 850.0, 1500.0], 50.0, 173.2).round(2)
    array([1.  , 0.84, 0.74])
    """
    strength, latitude, day = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (rap, magnetic_lat_deg, day_of_year))
    )
    valid = np.isfinite(strength + day) & (np.abs(latitude) <= 90.0)
    strength, latitude, day = (
        np.where(valid, v, 0.0) for v in (strength, latitude, day)
    )
    day = day + np.where(latitude < 0.0, _SOUTHERN_SHIFT_DAYS, 0.0)
    season = (day - _FIRST_DAY) % _YEAR_DAYS / _SEASON_DAYS
    coefficients, which, node_latitudes = _curves()
    row = np.interp(np.abs(latitude), node_latitudes, np.arange(node_latitudes.size))
    low = np.minimum(row.astype(np.int64), node_latitudes.size - 2)
    first = season.astype(np.int64)
    up, on = row - low, season - first
    held = np.clip(strength, FULL_RAP, LARGEST_RAP)
    powers = held[..., None] ** np.arange(4)

    def at(lat_node: NDArray[np.int64], node: NDArray[np.int64]) -> NDArray[np.float64]:
        chosen = coefficients[which[lat_node, node % _SEASONS]]
        return np.asarray((chosen * powers).sum(axis=-1))

    stormy = (1.0 - up) * ((1.0 - on) * at(low, first) + on * at(low, first + 1))
    stormy = stormy + up * (
        (1.0 - on) * at(low + 1, first) + on * at(low + 1, first + 1)
    )
    share = np.clip((strength - QUIET_RAP) / (FULL_RAP - QUIET_RAP), 0.0, 1.0)
    return np.asarray(np.where(valid, 1.0 + share * (stormy - 1.0), np.nan))


def storm_factor_from_kp(
    kp: ArrayLike, magnetic_lat_deg: ArrayLike, day_of_year: ArrayLike
) -> NDArray[np.float64]:
    """
    Storm factor if Kp has been the same for a day and a half.

    Parameters
    ----------
    kp : array_like
        Planetary index Kp, 0 to 9.
    magnetic_lat_deg : array_like
        Geomagnetic latitude. [deg]
    day_of_year : array_like
        1 to 366. All broadcast.

    Returns
    -------
    factor : numpy.ndarray
        Factor on foF2: 1 up to Kp 2+. A single high value in a quiet day does less.
        NaN as in `storm_factor` and outside Kp 0 to 9.

    References
    ----------
    As `storm_factor`; the constant Kp is the project's assumption.

    Examples
    --------
    >>> storm_factor_from_kp([2.0, 5.0, 7.0], 50.0, 173.2).round(2)
    array([1.  , 0.84, 0.69])
    """
    rap = ap_from_kp(kp) * _WEIGHTS.sum()
    return storm_factor(rap, magnetic_lat_deg, day_of_year)


def exceeds_published_range(kp: float) -> bool:
    """
    Whether Kp, held for a day and a half, is past what the curves were drawn for.

    Parameters
    ----------
    kp : float
        Planetary index Kp, 0 to 9.

    Returns
    -------
    exceeds : bool
        True where the factor is held at that of `LARGEST_RAP`.

    Examples
    --------
    >>> exceeds_published_range(7.0), exceeds_published_range(8.0)
    (False, True)
    """
    return bool(ap_from_kp(kp) * _WEIGHTS.sum() > LARGEST_RAP)
