"""
What was measured of today's sky, and how far it moves the month's.

A month's median says nothing of this evening. Kp by the hour, observed and forecast, is
put into the storm model in place of one figure.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.storm import steady_kp, storm_factor_from_kp
from geo.magnetic import decimal_year_of, geomagnetic_latitude_deg
from geo.places import Place
from geo.records import ContentRecord


@dataclass(frozen=True, eq=False)
class MeasuredSky(ContentRecord):
    """
    What was measured of one day's sky; empty arrays for what was not.

    Attributes
    ----------
    asked : numpy.datetime64
        When it was asked for, UTC: ages are of this moment.
    source : str
        Whose figures they are.
    place : Place
        Where the words tell what they changed.
    kp_times : numpy.ndarray
        When blocks of three hours begin, datetime64[s], (K,).
    kp : numpy.ndarray
        Planetary index Kp of each, (K,).
    kp_observed : int
        How many of them were observed; the rest is forecast.
    """

    asked: np.datetime64
    source: str
    place: Place
    kp_times: NDArray[np.datetime64] = field(
        default_factory=lambda: np.empty(0, "datetime64[s]")
    )
    kp: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    kp_observed: int = 0

    def steady_kp(self, times: ArrayLike) -> NDArray[np.float64] | None:
        """
        Weigh Kp as the storm model does.

        Parameters
        ----------
        times : array_like of datetime64
            UTC, (T,).

        Returns
        -------
        kp : numpy.ndarray or None
            Shape (T,), see `geo.ionosphere.storm.steady_kp`; None if there is none.
        """
        if not self.kp.size:
            return None
        return steady_kp(self.kp_times, self.kp, np.atleast_1d(np.asarray(times)))

    def words(self, times: ArrayLike) -> tuple[str, ...]:
        """
        Say what was measured, how old it is and what it changed.

        Parameters
        ----------
        times : array_like of datetime64
            Hours of the question, (T,), UTC.

        Returns
        -------
        words : tuple of str
            Whole sentences, the first of which says that the sky is today's.
        """
        minute = f"{self.asked.astype('datetime64[m]')}Z".replace("T", " ")
        words = [f"The sky is today's, asked for at {minute} ({self.source})."]
        return (*words, *self._kp_words(np.atleast_1d(np.asarray(times))))

    def _kp_words(self, times: NDArray[np.datetime64]) -> tuple[str, ...]:
        """Say what Kp was and will be, and what becomes of foF2 here."""
        steady = self.steady_kp(times)
        if steady is None:
            return ()
        newest = self.kp_times[self.kp_observed - 1]
        told = (
            f"Kp {self.kp[self.kp_observed - 1]:g} in the three hours from "
            f"{_hour(newest)} ({age_words(self.asked, newest)})"
        )
        ahead = self.kp[self.kp_observed :]
        if ahead.size:
            worst = int(ahead.argmax()) + self.kp_observed
            told += (
                f", forecast to {_hour(self.kp_times[-1])} with at most "
                f"{self.kp[worst]:g} at {_hour(self.kp_times[worst])}"
            )
        else:
            told += ", no forecast: it is held"
        lat = geomagnetic_latitude_deg(
            self.place.lat_deg, self.place.lon_deg, decimal_year_of(times[0])
        )
        day = (times - times.astype("datetime64[Y]")) / np.timedelta64(86400, "s") + 1.0
        factor = storm_factor_from_kp(steady, lat, day)
        return (
            f"{told}; weighed over a day and a half it stands for "
            f"{_span(steady, 1)} in these hours, foF2 at {self.place.label} times "
            f"{_span(factor, 2)}.",
        )


def age_words(asked: np.datetime64, then: np.datetime64) -> str:
    """
    Say how old something is.

    Parameters
    ----------
    asked, then : numpy.datetime64
        When that is asked, and of when the thing is, UTC.

    Returns
    -------
    words : str
        Minutes, hours or days.

    Examples
    --------
    >>> age_words(np.datetime64("2026-12-05T12:00"), np.datetime64("2026-12-05T09:10"))
    '3 h old'
    """
    minutes = max(int((asked - then) / np.timedelta64(1, "m")), 0)
    if minutes < 120:
        return f"{minutes} min old"
    hours = minutes / 60.0
    return f"{hours:.0f} h old" if hours < 48.0 else f"{hours / 24.0:.0f} days old"


def _span(values: NDArray[np.float64], digits: int) -> str:
    """Write the least and the largest of some values, once if they look alike."""
    low, high = (f"{v:.{digits}f}" for v in (values.min(), values.max()))
    return low if low == high else f"{low} to {high}"


def _hour(time: np.datetime64) -> str:
    """Write an hour with its date, UTC."""
    return f"{time.astype('datetime64[h]')}Z".replace("T", " ")
