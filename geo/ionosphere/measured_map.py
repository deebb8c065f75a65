r"""
A map of foF2 and hmF2 from measured electron content, and how much of it to believe.

Receivers of navigation satellites see the electrons along a ray; where and how high
they lie is the map-maker's model. Such maps follow the day well and stand 20 to 50 %
high at many a night. So a map never takes the month's place: its departure from the
month counts by how far days depart at all against how far such maps err.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.layers import Layers
from geo.ionosphere.sounding import CORRELATION_HOURS, LEAST_SPREAD, hours_between
from geo.records import ContentRecord

DAY_ERROR, NIGHT_ERROR = 0.10, 0.35
"""Error of the map's foF2, rms: by night the middle of 20 to 50 %, by day the project's
choice."""

DEPARTURE = 0.145
"""How far a day's foF2 and the month's map differ, rms, as for a sounding."""

DAY_ERROR_KM, NIGHT_ERROR_KM, DEPARTURE_KM = 25.0, 50.0, 20.0
"""The same for hmF2; the project's choice. [km]"""

MOST_HIGHER_KM = 60.0
"""hmF2 is moved no further. The project's choice. [km]"""

DAY_ZENITH_DEG, NIGHT_ZENITH_DEG = 80.0, 100.0
"""Zenith angles of the sun between which the error goes from day's to night's. [deg]"""

RATIO_RANGE = (0.4, 2.5)
"""A map further off the month than this is not believed there."""

_SHIMAZAKI_KM = 176.0


class MeasuredMap(ContentRecord):
    """
    F2 layer over a grid of the whole world at one moment.

    Attributes
    ----------
    time : numpy.datetime64
        Of when it is, UTC.
    lat_deg, lon_deg : numpy.ndarray
        Rising, (A,) and (B,). [deg]
    fof2_mhz, hmf2_km : numpy.ndarray
        Critical frequency and height of the peak, NaN where there is none, (A, B).
        [MHz], [km]
    """

    time: np.datetime64
    lat_deg: NDArray[np.float64]
    lon_deg: NDArray[np.float64]
    fof2_mhz: NDArray[np.float64]
    hmf2_km: NDArray[np.float64]

    def at(
        self, lat_deg: ArrayLike, lon_deg: ArrayLike
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """
        Read the map between its points.

        Parameters
        ----------
        lat_deg, lon_deg : array_like
            Places, (P,). [deg]

        Returns
        -------
        fof2_mhz, hmf2_km : numpy.ndarray
            Shape (P,), on straight lines, round the world; held towards the poles; NaN
            beside a point that has none. [MHz], [km]
        """
        fof2, height = on_grid(
            *(self.lat_deg, self.lon_deg, lat_deg, lon_deg),
            *(self.fof2_mhz, self.hmf2_km),
        )
        return fof2, height

    def departure(
        self, month: Layers, times: ArrayLike
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        r"""
        How far the map moves the month's layers, and what it leaves of the spread.

        Parameters
        ----------
        month : Layers
            The layers without it, at its moment, (1, P).
        times : array_like of datetime64
            Moments asked about, (T,), UTC.

        Returns
        -------
        factor : numpy.ndarray
            Shape (T, P): what foF2 is to be multiplied by.
        spread : numpy.ndarray
            Shape (T, P): share of the day-to-day spread that remains.
        higher_km : numpy.ndarray
            Shape (T, P): what is to be added to hmF2. [km]

        Notes
        -----
        .. math:: \ln f = w\rho \ln r,\quad s^2 = 1 - w\rho^2,\quad
                  w = \frac{\sigma_d^2}{\sigma_d^2 + \sigma_e^2},\quad
                  \rho = e^{-|t|/3\,\mathrm{h}}

        with :math:`r` map over month, :math:`\sigma_d` the departures and
        :math:`\sigma_e` the map's error: 0.68 of a departure counts by day, 0.15 by
        night; of hmF2 0.39 and 0.14.

        References
        ----------
        The best linear guess from one reading with an error: C. E. Rasmussen and
        C. K. I. Williams, Gaussian Processes for Machine Learning (2006), equations
        (2.25) and (2.26).
        """
        fof2, height = self.at(month.lat_deg, month.lon_deg)
        zenith = month.zenith_deg[0]
        ratio = fof2 / month.fof2_mhz[0]
        known = (ratio >= RATIO_RANGE[0]) & (ratio <= RATIO_RANGE[1])
        share = np.where(
            known, believed(zenith, DEPARTURE, DAY_ERROR, NIGHT_ERROR), 0.0
        )
        tall = believed(zenith, DEPARTURE_KM, DAY_ERROR_KM, NIGHT_ERROR_KM)
        hours = np.atleast_1d(hours_between(times, self.time))[:, None]
        kept = np.exp(-np.abs(hours) / CORRELATION_HOURS)
        factor = np.exp(kept * share * np.log(np.where(known, ratio, 1.0)))
        spread = np.maximum(np.sqrt(1.0 - share * kept**2), LEAST_SPREAD)
        higher = known * np.nan_to_num(height - month.hmf2_km[0])
        most = MOST_HIGHER_KM
        return factor, spread, np.clip(kept * tall * higher, -most, most)


def on_grid(
    grid_lat_deg: NDArray[np.float64],
    grid_lon_deg: NDArray[np.float64],
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    *grids: NDArray[np.float64],
) -> tuple[NDArray[np.float64], ...]:
    """
    Read maps of the whole world between their points.

    Parameters
    ----------
    grid_lat_deg, grid_lon_deg : numpy.ndarray
        Rising, (A,) and (B,). [deg]
    lat_deg, lon_deg : array_like
        Places, (P,). [deg]
    *grids : numpy.ndarray
        What is mapped, (A, B) each.

    Returns
    -------
    values : tuple of numpy.ndarray
        Shape (P,) each, on straight lines, round the world; held towards the poles.
    """
    lat, lon = (np.atleast_1d(np.asarray(v, float)) for v in (lat_deg, lon_deg))
    first = grid_lon_deg[0]
    around = np.append(grid_lon_deg, first + 360.0)
    at = []
    for grid, value in (
        (grid_lat_deg, lat),
        (around, (lon - first) % 360.0 + first),
    ):
        spot = np.clip(value, grid[0], grid[-1])
        low = np.clip(np.searchsorted(grid, spot, "right") - 1, 0, grid.size - 2)
        at.append((low, (spot - grid[low]) / (grid[low + 1] - grid[low])))
    (row, up), (column, on) = at
    east = (column + 1) % grid_lon_deg.size
    return tuple(
        (1.0 - up) * ((1.0 - on) * each[row, column] + on * each[row, east])
        + up * ((1.0 - on) * each[row + 1, column] + on * each[row + 1, east])
        for each in grids
    )


def believed(
    zenith_deg: ArrayLike, departure: float, day_error: float, night_error: float
) -> NDArray[np.float64]:
    """
    Share of a departure shown by a map that is believed.

    Parameters
    ----------
    zenith_deg : array_like
        Zenith angle of the sun. [deg]
    departure : float
        How far days depart from the month, rms.
    day_error, night_error : float
        Error of the map, rms, in the same unit.

    Returns
    -------
    share : numpy.ndarray
        0 to 1.

    Examples
    --------
    >>> believed([30.0, 90.0, 120.0], DEPARTURE, DAY_ERROR, NIGHT_ERROR).round(2)
    array([0.68, 0.29, 0.15])
    """
    error = np.interp(
        np.asarray(zenith_deg, dtype=float),
        (DAY_ZENITH_DEG, NIGHT_ZENITH_DEG),
        (day_error, night_error),
    )
    return np.asarray(departure**2 / (departure**2 + error**2))


def m3000f2_ratio(before_km: ArrayLike, after_km: ArrayLike) -> NDArray[np.float64]:
    """
    Move M(3000)F2 as the peak moves.

    Parameters
    ----------
    before_km, after_km : array_like
        hmF2. [km]

    Returns
    -------
    ratio : numpy.ndarray
        After over before.

    References
    ----------
    T. Shimazaki, J. Radio Res. Labs. Japan 2 (1955) 85: hmF2 = 1490 / M - 176 (from
    memory).

    Examples
    --------
    >>> m3000f2_ratio(300.0, 324.0).round(2)
    np.float64(0.95)
    """
    before, after = (np.asarray(v, dtype=float) for v in (before_km, after_km))
    return np.asarray((before + _SHIMAZAKI_KM) / (after + _SHIMAZAKI_KM))
