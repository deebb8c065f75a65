r"""
How far foF2 strays from its monthly median from one day to the next.

A numerical map gives the median of a month. On one day in ten foF2 is below the
lower decile, on one in ten above the upper: here, as ratios to the median.

Status of the numbers
---------------------
ITU-R P.1239 tabulates these ratios by latitude, season, hour and solar activity. Those
tables could not be had, and nothing here stands in for them; nor could the open ones
of Sowers and PoKempner (NTIA TR-90-263, 1990, 21 stations, by magnetic latitude). What
is used:

* the world-wide pair 0.85 and 1.15, the classic rule that the optimum working
  frequency is 0.85 of the MUF (from memory);
* public ionograms of a quiet year (2019), evaluated for this project: at middle
  latitudes 0.85 to 0.92 and 1.08 to 1.18, tighter by day and wider in winter nights;
  at low latitudes 0.85 to 0.92 and 1.1 to 1.2 by day, but 0.73 to 0.84 and 1.25 to 1.42
  from sunset to midnight;
* published: the spread of the peak density over Moscow is least in July by day and
  greatest in December by night (which gives the seasonal sense, not the amount).

Smooth bumps in local time, season and latitude were laid through the middle of
those ranges. Solar activity and storms are left out; a year more disturbed than 2019
spreads wider. Polar latitudes are given the middle-latitude values for want of data.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

LOW_LATITUDE_EDGE_DEG = 25.0  # the after-sunset spread belongs to the equatorial zone
LOW_LATITUDE_WIDTH_DEG = 4.0
EVENING_PEAK_HOUR = 21.0
EVENING_SHARPNESS = 2.37  # half of the peak 3 h before and after it
DEEPEST_NIGHT_HOUR = 1.0
MIDWINTER_DAY_NORTH = 355.0  # 21 December
HEMISPHERE_WIDTH_DEG = 15.0  # seasons fade over this latitude towards the equator


def winter_share(times: ArrayLike, lat_deg: ArrayLike) -> Floats:
    """
    Say how much it is winter: 1 at midwinter, 0 at midsummer.

    Parameters
    ----------
    times : array_like of datetime64
        UTC, (T,) or scalar.
    lat_deg : array_like
        Geographic latitude, (P,) or scalar. [deg]

    Returns
    -------
    winter : numpy.ndarray
        Shape (T, P), 0 to 1, a cosine through the year, one half at the equator.
        NaN for a time or place that is missing. [1]

    Examples
    --------
    >>> winter_share("2026-12-21", [52.0, 0.0, -52.0]).round(1)
    array([[1. , 0.5, 0. ]])
    """
    when = np.atleast_1d(np.asarray(times, dtype="datetime64[s]"))
    day = (when - when.astype("datetime64[Y]")) / np.timedelta64(1, "D") + 1.0
    northern = np.cos(2.0 * np.pi * (day - MIDWINTER_DAY_NORTH) / 365.25)
    lat = np.atleast_1d(np.asarray(lat_deg, dtype=float))
    side = np.tanh(lat / HEMISPHERE_WIDTH_DEG)
    share: Floats = 0.5 * (1.0 + northern[:, None] * side)
    return share


def fof2_decile_ratios(
    abs_lat_deg: ArrayLike, local_hour: ArrayLike, winter: ArrayLike
) -> tuple[Floats, Floats]:
    r"""
    Estimate the lower and upper decile of foF2 as ratios to the median.

    The status of the numbers is set out at the top of this module: a smooth
    fit to ranges seen in a quiet year, not the tables of ITU-R P.1239.

    Parameters
    ----------
    abs_lat_deg : array_like
        Distance from the magnetic equator: absolute dip latitude
        (:func:`geo.magnetic.dip_latitude_deg`); the sign is ignored. [deg]
    local_hour : array_like
        Local solar time, any turn. [h]
    winter : array_like
        0 midsummer to 1 midwinter (:func:`winter_share`). Values outside are held. [1]

    Returns
    -------
    lower, upper : numpy.ndarray
        foF2 exceeded on 90 and on 10 of 100 days, over the median, in the broadcast
        shape. Lower 0.79 to 0.90, upper 1.09 to 1.33. NaN where an argument is
        NaN. [1]

    Notes
    -----
    With :math:`w` the winter share, :math:`n` a cosine bump in the night (peak 01 h)
    and :math:`e` a bump in the evening (peak 21 h, half of it 3 h away):

    ===============  ===========================  ============  ============
    zone             spread                       lower         upper
    ===============  ===========================  ============  ============
    middle latitude  u = 0.2 w + n (0.5 + 0.3 w)  0.90 - 0.06u  1.09 + 0.10u
    low latitude     e                            0.88 - 0.09e  1.15 + 0.18e
    ===============  ===========================  ============  ============

    joined by a logistic step at 25 deg, 4 deg wide.

    Examples
    --------
    >>> lower, upper = fof2_decile_ratios([0.0, 50.0], [21.0, 12.0], 0.5)
    >>> lower, upper
    (array([0.79, 0.89]), array([1.33, 1.10]))
    """
    lat, hour, share = np.broadcast_arrays(
        *(np.asarray(a, dtype=float) for a in (abs_lat_deg, local_hour, winter))
    )
    share = np.clip(share, 0.0, 1.0)
    turn = np.pi / 12.0
    night = 0.5 * (1.0 + np.cos(turn * (hour - DEEPEST_NIGHT_HOUR)))
    evening = np.exp(
        EVENING_SHARPNESS * (np.cos(turn * (hour - EVENING_PEAK_HOUR)) - 1.0)
    )
    spread = 0.2 * share + night * (0.5 + 0.3 * share)
    beyond = (np.abs(lat) - LOW_LATITUDE_EDGE_DEG) / LOW_LATITUDE_WIDTH_DEG
    low = 0.5 * (1.0 - np.tanh(0.5 * beyond))
    lower = low * (0.88 - 0.09 * evening) + (1.0 - low) * (0.90 - 0.06 * spread)
    upper = low * (1.15 + 0.18 * evening) + (1.0 - low) * (1.09 + 0.10 * spread)
    return lower, upper
