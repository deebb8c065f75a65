r"""
What was heard and what was not, and how far that tells of other paths and hours.

A day is a set of ranks at the places where the rays are turned. What was heard at one
place and hour makes some ranks likelier there, and with them those near by and soon
after. How much is a matter of correlation, as with soundings: a Gaussian copula ties
the ranks of a layer together over distance and hours.
"""

from __future__ import annotations

import numpy as np

from advisor.reliability.today import LEAST_SPREAD, Today
from advisor.station.bands import Band
from geo.arrays import Floats, Times
from geo.ionosphere.sounding import CORRELATION_KM, correlation, hours_between
from geo.paths import STATIONS, Paths
from geo.places import Target
from geo.records import ContentRecord
from geo.sphere import distance_km

LONGEST_HOP_KM = (2000.0, 4000.0, 2000.0)
"""Of E, F2 and sporadic E: shorter paths are turned at their middle, longer ones half a
hop from either end, ITU-R P.533-14 table 1 (from memory). [km]"""

CORRELATIONS_KM = (CORRELATION_KM, CORRELATION_KM, 500.0)
"""Distances over which the ranks of E, F2 and sporadic E come apart to 1/e. That of F2
is that of soundings; E is given the same, and sporadic E, which comes in patches, a
quarter: the project's choices, no source. [km]"""

FADED = 0.05
"""Correlation below which nothing is carried over: a twentieth of a deviation."""

_JITTER = 1e-6

DAYS, DRAWN = 512, 4096
"""Days like today that are kept, of how many days of the month."""


class Reception(ContentRecord):
    """
    One thing heard, or listened for in vain.

    Attributes
    ----------
    band : Band
        The band.
    target : Target
        Where from; of several points the middle one counts.
    time : numpy.datetime64
        The hour, UTC.
    is_heard : bool
        Whether it was heard.
    snr_db_hz : float or None
        Ratio read, to the noise in 1 Hz. [dB Hz]
    is_beacon : bool
        Whether it is a beacon, `advisor.station.beacons.BEACON_END` in Morse code, and
        not a station like those asked about.
    """

    band: Band
    target: Target
    time: np.datetime64
    is_heard: bool
    snr_db_hz: float | None = None
    is_beacon: bool = False


class Heard(ContentRecord):
    """
    What K receptions say of the sky.

    Attributes
    ----------
    receptions : tuple of Reception
        What was heard and what was not.
    usual : numpy.ndarray
        Shape (K,): share of the month's days on which a usual station there is heard.
    lat_deg, lon_deg : numpy.ndarray
        Shapes (3, K, 2): where E, F2 and sporadic E turned the rays. [deg]
    days : numpy.ndarray
        Shape (3, K, N): deviates of their ranks there on N days like today.
    """

    receptions: tuple[Reception, ...]
    usual: Floats
    lat_deg: Floats
    lon_deg: Floats
    days: Floats

    @property
    def words(self) -> tuple[str, ...]:
        """What was heard and what was not, in whole sentences."""
        told = []
        for each, usual in zip(self.receptions, self.usual, strict=True):
            hour = f"{each.time.astype('datetime64[h]').astype(object):%d %b %H}Z"
            found = "Heard" if each.is_heard else "Listened for in vain"
            sender = "it" if each.is_beacon else "a usual station there"
            ratio = (
                f", {each.snr_db_hz:.0f} dB over the noise in 1 Hz"
                if each.snr_db_hz is not None
                else ""
            )
            silence = "" if each.is_heard else ", if it sends: one in two is taken to"
            told.append(
                f"{found}: {each.target.name} on {each.band.name}, "
                f"{hour.lstrip('0')}{ratio}. "
                f"By the month {sender} is heard on {10 * usual:.1f} days "
                f"in ten{silence}."
            )
        return tuple(told)

    def over(self, paths: Paths, times: Times, bands: int) -> Today:
        """
        Carry what was heard over to other paths and hours.

        Parameters
        ----------
        paths : Paths
            P paths.
        times : numpy.ndarray of datetime64
            T hours, UTC.
        bands : int
            B, how many bands.

        Returns
        -------
        today : Today
            ``row`` over (P, T, B), -1 where every correlation has `FADED`.

        Notes
        -----
        Given the deviates of the receptions, that of another place and hour is normal
        (simple kriging, as of `geo.ionosphere.sounding.carried_over`).
        """
        then = np.array([each.time for each in self.receptions], dtype="datetime64[s]")
        mean, spread, near = [], [], np.zeros(paths.distance_km.size * times.size)
        for layer, days in enumerate(self.days):
            there = self.lat_deg[layer], self.lon_deg[layer]
            space = in_common(layer, turned_at(paths, layer), there)
            later = correlation(0.0, hours_between(times[:, None], then))
            across = (space[:, None] * later).reshape(near.size, then.size)
            weight = np.linalg.solve(self.among(layer), across.T)
            mean.append(weight.T @ days)
            left = 1.0 - (weight * across.T).sum(axis=0)
            spread.append(np.sqrt(np.clip(left, LEAST_SPREAD**2, 1.0)))
            near = np.maximum(near, across.max(axis=1))
        known = near > FADED
        row = np.where(known, np.cumsum(known) - 1, -1).reshape(-1, times.size, 1)
        return Today(
            np.repeat(row, bands, axis=2),
            np.stack(mean)[:, known],
            np.stack(spread)[:, known],
        )

    def among(self, layer: int) -> Floats:
        """
        Correlate the deviates of the receptions themselves.

        Parameters
        ----------
        layer : int
            0, 1, 2 for E, F2 and sporadic E.

        Returns
        -------
        correlation : numpy.ndarray
            Shape (K, K), fit to be inverted.
        """
        return among(self.receptions, layer, self.lat_deg[layer], self.lon_deg[layer])


def among(
    receptions: tuple[Reception, ...], layer: int, lat_deg: Floats, lon_deg: Floats
) -> Floats:
    """
    Correlate the deviates of receptions.

    Parameters
    ----------
    receptions : tuple of Reception
        K of them.
    layer : int
        0, 1, 2 for E, F2 and sporadic E.
    lat_deg, lon_deg : numpy.ndarray
        Shapes (K, 2): where it turned the rays. [deg]

    Returns
    -------
    correlation : numpy.ndarray
        Shape (K, K), with so little on its diagonal that it can be inverted.
    """
    then = np.array([each.time for each in receptions], dtype="datetime64[s]")
    places = lat_deg, lon_deg
    later = correlation(0.0, hours_between(then[:, None], then))
    return in_common(layer, places, places) * later + _JITTER * np.eye(then.size)


def turned_at(paths: Paths, layer: int) -> tuple[Floats, Floats]:
    """
    Say where a layer turns the rays next to both ends.

    Parameters
    ----------
    paths : Paths
        P paths.
    layer : int
        0, 1, 2 for E, F2 and sporadic E.

    Returns
    -------
    lat_deg, lon_deg : numpy.ndarray
        Shapes (P, 2), twice the middle of a short path. [deg]
    """
    half_hop = 0.5 * LONGEST_HOP_KM[layer]
    part = np.minimum(0.5, half_hop / np.maximum(paths.distance_km, half_hop))
    near = np.rint(part * (STATIONS - 1)).astype(np.intp)
    station = np.stack([near, STATIONS - 1 - near], axis=1)
    lat, lon = (
        np.take_along_axis(each, station, axis=1)
        for each in (paths.control_lat_deg, paths.control_lon_deg)
    )
    return lat, lon


def in_common(
    layer: int, here: tuple[Floats, Floats], there: tuple[Floats, Floats]
) -> Floats:
    """
    Correlate the ranks of a layer on paths at one hour.

    Parameters
    ----------
    layer : int
        0, 1, 2 for E, F2 and sporadic E.
    here, there : tuple of numpy.ndarray
        Latitudes and longitudes, (A, 2) and (B, 2), of `turned_at`. [deg]

    Returns
    -------
    correlation : numpy.ndarray
        Shape (A, B): that of the means over the two places of each; 1 on one path.
    """
    scale = CORRELATION_KM / CORRELATIONS_KM[layer]

    def mean(one: tuple[Floats, Floats], two: tuple[Floats, Floats]) -> Floats:
        return np.asarray(
            correlation(scale * distance_km(*one, *two), 0.0).mean((0, 1))
        )

    def alone(one: tuple[Floats, Floats]) -> Floats:
        lat, lon = (each.T for each in one)
        return mean((lat[:, None], lon[:, None]), (lat[None], lon[None]))

    far = tuple(each.T[None, :, None, :] for each in there)
    near = tuple(each.T[:, None, :, None] for each in here)
    whole = mean((near[0], near[1]), (far[0], far[1]))
    return np.asarray(whole / np.sqrt(np.outer(alone(here), alone(there))))
