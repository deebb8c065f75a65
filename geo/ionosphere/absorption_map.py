"""
A map of absorption in the D region as an office works it out, minute by minute.

It holds X-rays and protons alike, each place by its own sun and magnetic latitude, so
that it serves where readings of X-rays cannot be had and over the polar caps.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo import sun
from geo.errors import InputError
from geo.ionosphere.flare import fadeout_frequency_mhz
from geo.ionosphere.measured_map import on_grid
from geo.records import ContentRecord

MOST_MHZ = 500.0
"""A figure above this is a slip. By the law of `geo.ionosphere.flare.polar_cap_db` it
goes as the cube root of the flux of protons: 63 MHz by day at 90 of them above 10 MeV
per cm2, s and sr, 490 MHz at 43 000, the most since 1976 (from memory). [MHz]"""

_WIDEST_DEG = 60.0
"""Points further apart than this are no map of the whole world. [deg]"""

_VALID = re.compile(r"Valid At\s*:\s*(\d{4}-\d\d-\d\d)[ T](\d\d:\d\d)")


class AbsorptionMap(ContentRecord):
    """
    Frequency that loses 1 dB straight up, over a grid of the whole world.

    Attributes
    ----------
    time : numpy.datetime64
        Of when it is, UTC.
    lat_deg, lon_deg : numpy.ndarray
        Rising, (A,) and (B,). [deg]
    fadeout_mhz : numpy.ndarray
        0 where nothing is lost, (A, B). [MHz]
    """

    time: np.datetime64
    lat_deg: NDArray[np.float64]
    lon_deg: NDArray[np.float64]
    fadeout_mhz: NDArray[np.float64]

    def at(self, lat_deg: ArrayLike, lon_deg: ArrayLike) -> NDArray[np.float64]:
        """
        Read the map between its points.

        Parameters
        ----------
        lat_deg, lon_deg : array_like
            Places, (P,). [deg]

        Returns
        -------
        frequency_mhz : numpy.ndarray
            Shape (P,), the quiet sun's share in it. [MHz]
        """
        return on_grid(self.lat_deg, self.lon_deg, lat_deg, lon_deg, self.fadeout_mhz)[
            0
        ]

    def over_quiet_mhz(
        self, lat_deg: ArrayLike, lon_deg: ArrayLike, quiet_w_m2: float
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """
        Read what it has over the quiet sun, which the month's absorption holds.

        Parameters
        ----------
        lat_deg, lon_deg : array_like
            Places, (P,). [deg]
        quiet_w_m2 : float
            X-rays of the quiet sun. [W/m2]

        Returns
        -------
        by_xrays_mhz, by_protons_mhz : numpy.ndarray
            Shape (P,): losses in dB are taken off each other, which go as the power
            1.5 of it. [MHz]

        Notes
        -----
        Where the sun is overhead no protons come: what the map has there is of X-rays,
        and by their law tells their share elsewhere. What is more than that, over a
        polar cap or by night, cannot be X-rays.
        """
        sub_lat, sub_lon = sun.subsolar_point(np.atleast_1d(self.time))
        zenith = sun.zenith_deg(
            np.atleast_1d(lat_deg), np.atleast_1d(lon_deg), sub_lat, sub_lon
        )
        quiet = fadeout_frequency_mhz(quiet_w_m2, zenith) ** 1.5
        every = self.at(lat_deg, lon_deg) ** 1.5
        flux = 10.0 ** ((self.at(sub_lat, sub_lon) - 65.0) / 10.0)
        xrays = np.minimum(every, fadeout_frequency_mhz(flux, zenith) ** 1.5)
        by_xrays = np.maximum(xrays - quiet, 0.0) ** (1.0 / 1.5)
        return by_xrays, (every - xrays) ** (1.0 / 1.5)


def absorption_map(text: str) -> AbsorptionMap:
    """
    Read a map of D-region absorption.

    Parameters
    ----------
    text : str
        Lines of comment, one of which says when it is valid; a line of longitudes;
        then a latitude, a bar and a figure for each longitude. [deg], [MHz]

    Returns
    -------
    found : AbsorptionMap
        The map.

    Raises
    ------
    InputError
        If it is another file, or only a part of one.
    """
    valid = _VALID.search(text)
    if valid is None:
        raise InputError("it is no map of absorption: it does not say when it is valid")
    rows, lon = {}, np.empty(0)
    try:
        time = np.datetime64(f"{valid[1]}T{valid[2]}", "s")
        for line in text.splitlines():
            if line.startswith("#") or not line.strip(" -|\t"):
                continue
            head, bar, cells = line.partition("|")
            figures = np.array((cells if bar else head).split(), dtype=float)
            if bar:
                rows[float(head)] = figures
            else:
                lon = figures
    except ValueError:
        raise InputError("what it holds has another form than expected") from None
    lat = np.array(sorted(rows))
    if any(rows[each].shape != lon.shape for each in lat) or lon.size < 2:
        raise InputError("a row of it is not whole")
    order = np.argsort(lon)
    lon = lon[order]
    around = np.diff(np.append(lon, lon[0] + 360.0))
    if np.diff([-90.0, *lat, 90.0]).max() > _WIDEST_DEG or (
        around.min() <= 0.0 or around.max() > _WIDEST_DEG
    ):
        raise InputError("it is no map of the whole world")
    grid = np.array([rows[each][order] for each in lat])
    if not ((grid >= 0.0) & (grid <= MOST_MHZ)).all():
        raise InputError(f"a figure of it is outside 0 to {MOST_MHZ:g} MHz")
    return AbsorptionMap(time, lat, lon, grid)
