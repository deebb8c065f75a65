"""
What was measured of today's sky, and how far it moves the month's.

A month's median says nothing of this evening. Kp by the hour, observed and forecast, is
put into the storm model in place of one figure; X-rays above their quiet level add to
absorption by the law of a flare.
"""

from __future__ import annotations

from dataclasses import field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo import sun
from geo.ionosphere.absorption_map import AbsorptionMap
from geo.ionosphere.flare import fadeout_frequency_mhz, flare_class
from geo.ionosphere.measured_map import MeasuredMap
from geo.ionosphere.storm import steady_kp, storm_factor_from_kp
from geo.magnetic import decimal_year_of, geomagnetic_latitude_deg
from geo.places import Place
from geo.records import ContentRecord

FLARE_DECAY_HOURS = 0.5
"""Time in which X-rays over the quiet level fall to 1/e once nothing newer is known.
The project's choice: most flares fade within ten minutes to an hour (from memory).
[h]"""

PROTONS_LAST_HOURS = 24.0
"""For so long what a map of absorption shows and X-rays cannot do is held: protons last
for hours to days, and nothing tells when they end. The project's choice. [h]"""

QUIET_QUARTILE, MOST_QUIET_W_M2 = 0.25, 1e-5
"""The quiet level, which the month's absorption holds already, is the lower quartile of
the readings, M1 at most. The project's choice."""

USUAL_QUIET_W_M2 = 1e-6
"""The quiet level where no reading tells it: C1, of an active sun. The project's
choice. [W/m2]"""

OUTLOOK_HOURS = 48
"""From so far ahead on an answer is one of outlook and forecast alone. [h]"""

NO_FADE_MHZ = 1.0
"""Below this frequency a fade is not worth a word. [MHz]"""


def _no_times() -> NDArray[np.datetime64]:
    """No moment at all."""
    return np.empty(0, "datetime64[s]")


def _no_figures() -> NDArray[np.float64]:
    """No figure at all."""
    return np.empty(0)


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
    xray_times : numpy.ndarray
        Minutes of the readings, datetime64[s], (N,).
    xray_w_m2 : numpy.ndarray
        Soft X-rays, 0.1 to 0.8 nm, (N,). [W/m2]
    electron_map : MeasuredMap or None
        F2 layer from measured electron content.
    absorption : AbsorptionMap or None
        Frequency that loses 1 dB in the D region, as the office works it out.
    proton_flux : float
        Protons above 10 MeV, at least, by NOAA's S scale; 0 below it. [1/(cm2 s sr)]
    """

    asked: np.datetime64
    source: str
    place: Place
    kp_times: NDArray[np.datetime64] = field(default_factory=_no_times)
    kp: NDArray[np.float64] = field(default_factory=_no_figures)
    kp_observed: int = 0
    xray_times: NDArray[np.datetime64] = field(default_factory=_no_times)
    xray_w_m2: NDArray[np.float64] = field(default_factory=_no_figures)
    electron_map: MeasuredMap | None = None
    absorption: AbsorptionMap | None = None
    proton_flux: float = 0.0

    def strongest_kp(self, times: ArrayLike) -> float | None:
        """
        Find the largest Kp of some hours.

        Parameters
        ----------
        times : array_like of datetime64
            Hours of the question, (T,), UTC.

        Returns
        -------
        kp : float or None
            Of the blocks they lie in and of the one before, observed or forecast; None
            if there is none.
        """
        hours = np.atleast_1d(np.asarray(times, dtype="datetime64[s]"))
        block = np.timedelta64(3, "h")
        near = self.kp_times > hours.min() - 2 * block
        near &= self.kp_times <= hours.max()
        return float(self.kp[near].max()) if near.any() else None

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

    @property
    def quiet_w_m2(self) -> float:
        """X-rays in W/m2 that the month's absorption holds already."""
        if not self.xray_w_m2.size:
            return USUAL_QUIET_W_M2
        # One of the readings, so that a level that never moves is no flare by a bit.
        low = np.quantile(self.xray_w_m2, QUIET_QUARTILE, method="lower")
        return min(float(low), MOST_QUIET_W_M2)

    def xrays_at(self, times: ArrayLike) -> NDArray[np.float64]:
        """
        X-rays that stand for an hour.

        Parameters
        ----------
        times : array_like of datetime64
            Hours, (T,), UTC.

        Returns
        -------
        flux_w_m2 : numpy.ndarray
            Shape (T,): the reading of half past, the newest in its own hour, and after
            it what is left of its excess over the quiet level. [W/m2]
        """
        hours = (np.atleast_1d(times) - self.xray_times[-1]) / np.timedelta64(1, "h")
        known = (self.xray_times - self.xray_times[-1]) / np.timedelta64(1, "h")
        asked = np.where((hours > -1.0) & (hours <= 0.0), 0.0, hours + 0.5)
        quiet = self.quiet_w_m2
        read = np.interp(asked, known, self.xray_w_m2, left=quiet)
        left = np.exp(-np.maximum(asked, 0.0) / FLARE_DECAY_HOURS)
        return np.asarray(quiet + (read - quiet) * left)

    def fadeout_mhz(
        self, times: ArrayLike, zenith_deg: ArrayLike
    ) -> NDArray[np.float64]:
        r"""
        Frequency that loses 1 dB more, straight up and down, than in the month.

        Parameters
        ----------
        times : array_like of datetime64
            Hours, (T,), UTC.
        zenith_deg : array_like
            Zenith angle of the sun, (T, P). [deg]

        Returns
        -------
        frequency_mhz : numpy.ndarray
            Shape (T, P); 0 by night, at the quiet level, and with no reading. [MHz]

        Notes
        -----
        .. math:: f^{1.5} = HAF(F)^{1.5} - HAF(F_q)^{1.5}

        with `geo.ionosphere.flare.fadeout_frequency_mhz`, the law of NOAA SWPC's
        D-region product; losses in dB add, and go as the power 1.5 of its frequency.
        """
        zenith = np.asarray(zenith_deg, dtype=float)
        if not self.xray_times.size:
            return np.zeros(zenith.shape)
        all_of_it, quiet = (
            fadeout_frequency_mhz(flux, zenith) ** 1.5
            for flux in (self.xrays_at(times)[:, None], self.quiet_w_m2)
        )
        return np.asarray(np.maximum(all_of_it - quiet, 0.0) ** (1.0 / 1.5))

    def mapped_fadeout_mhz(
        self, times: ArrayLike, lat_deg: ArrayLike, lon_deg: ArrayLike
    ) -> NDArray[np.float64]:
        """
        Frequency that loses 1 dB more than in the month, by the map of absorption.

        Parameters
        ----------
        times : array_like of datetime64
            Hours, (T,), UTC.
        lat_deg, lon_deg : array_like
            Places, (P,). [deg]

        Returns
        -------
        frequency_mhz : numpy.ndarray
            Shape (T, P): in the hour of the map what it has over the quiet sun; after
            it what is left of the X-rays', and the protons' for `PROTONS_LAST_HOURS`;
            before it 0. [MHz]
        """
        when = np.atleast_1d(np.asarray(times, dtype="datetime64[s]"))
        if self.absorption is None:
            return np.zeros((when.size, np.atleast_1d(lat_deg).size))
        by_xrays, by_protons = self.absorption.over_quiet_mhz(
            lat_deg, lon_deg, self.quiet_w_m2
        )
        hours = ((when - self.absorption.time) / np.timedelta64(1, "h"))[:, None]
        left = np.exp(-np.maximum(hours + 0.5, 0.0) / FLARE_DECAY_HOURS)
        left = np.where(hours > 0.0, left, 1.0)
        lost = left * by_xrays**1.5 + (hours < PROTONS_LAST_HOURS) * by_protons**1.5
        return np.asarray((lost * (hours > -1.0)) ** (1.0 / 1.5))

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
            Whole sentences, the first of which says that the sky is today's, or of the
            outlook where the first hour lies days ahead.
        """
        minute = f"{self.asked.astype('datetime64[m]')}Z".replace("T", " ")
        when = np.atleast_1d(np.asarray(times))
        far = when[0] - self.asked > np.timedelta64(OUTLOOK_HOURS, "h")
        whose = "of today's outlook" if far else "today's"
        words = [f"The sky is {whose}, asked for at {minute} ({self.source})."]
        words += [*self._kp_words(when), *self._xray_words(when)]
        words += self._absorption_words(when)
        if self.proton_flux:
            words.append(
                f"Radiation storm: at least {self.proton_flux:g} protons above 10 MeV "
                "per cm2, second and steradian, taken to last; they absorb over the "
                "polar caps."
            )
        known = self.electron_map
        if known is not None:
            mhz, km = (v[0] for v in known.at(self.place.lat_deg, self.place.lon_deg))
            words.append(
                f"Map of measured electron content of {str(known.time)[11:16]}Z "
                f"({age_words(self.asked, known.time)}): foF2 {mhz:.1f} MHz and hmF2 "
                f"{km:.0f} km at {self.place.label}."
            )
        return tuple(words)

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

    def _xray_words(self, times: NDArray[np.datetime64]) -> tuple[str, ...]:
        """Say what the X-rays are, and what they absorb here."""
        if not self.xray_times.size:
            return ()
        sub_lat, sub_lon = sun.subsolar_point(times)
        here = self.place.lat_deg, self.place.lon_deg
        zenith = sun.zenith_deg(*here, sub_lat, sub_lon)
        overhead, here_mhz = self.fadeout_mhz(
            times, np.column_stack([np.zeros(times.size), zenith])
        ).T
        worst = int(overhead.argmax())
        does = "no short-wave fade"
        if overhead[worst] >= NO_FADE_MHZ:
            does = (
                f"at {_hour(times[worst])} 1 dB more is lost straight up and down on "
                f"{overhead[worst]:.1f} MHz where the sun is overhead, on "
                f"{here_mhz[worst]:.1f} MHz at {self.place.label}"
            )
        return (
            f"X-rays {flare_class(self.xray_w_m2[-1])} at "
            f"{str(self.xray_times[-1])[11:16]}Z "
            f"({age_words(self.asked, self.xray_times[-1])}), quiet level "
            f"{flare_class(self.quiet_w_m2)}: {does}.",
        )

    def _absorption_words(self, times: NDArray[np.datetime64]) -> tuple[str, ...]:
        """Say what the map of absorption has here, and what it adds."""
        known = self.absorption
        if known is None:
            return ()
        here = self.place.lat_deg, self.place.lon_deg
        more = self.mapped_fadeout_mhz(times, *here)[:, 0]
        worst = int(more.argmax())
        does = "no more is lost here than in the month"
        if more[worst] >= NO_FADE_MHZ:
            does = (
                f"at {_hour(times[worst])} it adds 1 dB straight up and down on "
                f"{more[worst]:.1f} MHz"
            )
        return (
            f"Map of D-region absorption of {str(known.time)[11:16]}Z "
            f"({age_words(self.asked, known.time)}): 1 dB on {known.at(*here)[0]:.1f} "
            f"MHz at {self.place.label}, on {known.fadeout_mhz.max():.1f} MHz where "
            f"most; {does}.",
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
