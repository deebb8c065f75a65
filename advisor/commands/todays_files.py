"""
What is taken from the files that ``--fetch`` reads: the figure, if it is of now.

Each is checked for range and age before it is used.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from advisor.commands import service
from geo.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from geo.bulletins import Kp, Outlook, Xrays
    from geo.ionosphere.absorption_map import AbsorptionMap

OUTLOOK_FROM = timedelta(hours=48)
"""From here on the outlook for 27 days is asked for: the forecast of Kp ends in the
third day."""

_FLUX_AGE = timedelta(days=4)
_KP_AGE = timedelta(hours=9)
_OUTLOOK_AGE = timedelta(days=10)
_XRAY_AGE = timedelta(hours=1)
_PROTONS_AGE = timedelta(hours=3)
_BLOCK = timedelta(hours=3)
_BLOCKS = 13


def flux_of(
    text: str, now: datetime, start: datetime, outlook: Outlook | None = None
) -> tuple[float, str]:
    """
    Find the newest noon flux, halfway to its mean over 90 days.

    Parameters
    ----------
    text, now, start : str, datetime.datetime, datetime.datetime
        The file, the moment and the first hour asked about.
    outlook : Outlook, optional
        Flux day by day, for an hour that lies days ahead.

    Returns
    -------
    flux_sfu : float
        Mean of the day's flux and its mean over months, as solar proxies for the
        upper atmosphere take it; the day's alone if the mean is missing. [sfu]
    words : str
        What it was made from.

    Raises
    ------
    InputError
        If there is none that can be used.

    References
    ----------
    Richards, Fennelly and Torr (1994), J. Geophys. Res. 99, 8981: P = (F10.7 +
    F10.7A) / 2 (from memory; there the mean is over 81 days about the day).
    """
    import numpy as np

    from geo import bulletins
    from geo.ionosphere.measured import age_words

    found = bulletins.noon_flux(text)
    known = np.isfinite(found.flux_sfu) & (found.times <= as_numpy(now + _BLOCK))
    if not known.any():
        raise InputError("it has no flux of a noon")
    newest = int(np.flatnonzero(known)[-1])
    moment = as_datetime(found.times[newest])
    if now - moment > _FLUX_AGE:
        raise InputError(f"the newest is of {moment:%Y-%m-%d}")
    flux = float(found.flux_sfu[newest])
    old = age_words(as_numpy(now), found.times[newest])
    words = f"flux {flux:g} sfu of {moment:%Y-%m-%d %H}Z ({old})"
    if outlook is not None and start > now + OUTLOOK_FROM:
        days = np.abs(outlook.times - as_numpy(start)) / np.timedelta64(1, "D")
        nearest = int(days.argmin())
        if days[nearest] <= 1.0 and np.isfinite(outlook.flux_sfu[nearest]):
            flux = float(outlook.flux_sfu[nearest])
            words = f"flux {flux:g} sfu of the outlook for that day"
    mean = found.mean_sfu[known & np.isfinite(found.mean_sfu)][-1:]
    if mean.size:
        flux, words = (
            0.5 * (flux + mean[0]),
            f"{words} and its 90-day mean of {mean[0]:g}",
        )
    return float(flux), f"{words} ({service.WHOSE})"


def observed_kp(found: Kp, now: datetime) -> Kp:
    """
    Keep what was observed up to now, if the past day and a half is whole.

    Parameters
    ----------
    found, now : Kp, datetime.datetime
        The file, and the moment with its zone.

    Returns
    -------
    observed : Kp
        The thirteen blocks that the storm model weighs.

    Raises
    ------
    InputError
        If they are not there.
    """
    import numpy as np

    known = np.isfinite(found.kp) & found.is_observed & (found.times <= as_numpy(now))
    if not known.any():
        raise InputError("it has no Kp")
    times = found.times[known]
    newest = as_datetime(times[-1])
    if now - newest > _KP_AGE:
        raise InputError(f"the newest is of {newest:%Y-%m-%d %H}Z")
    if times.size < _BLOCKS or times[-1] - times[-_BLOCKS] != np.timedelta64(
        (_BLOCKS - 1) * _BLOCK
    ):
        raise InputError("the past day and a half has gaps")
    last = np.flatnonzero(known)[-_BLOCKS:]
    return found._replace(
        times=found.times[last],
        kp=found.kp[last],
        is_observed=found.is_observed[last],
    )


def joined_kp(
    observed: Kp, forecast: Kp | None, outlook: Outlook | None
) -> tuple[Any, Any]:
    """
    Join Kp as observed, as forecast for three days and by the outlook's days.

    Parameters
    ----------
    observed, forecast : Kp, Kp or None
        From `observed_kp`, and blocks of the coming days.
    outlook : Outlook or None
        Days after them, each with one A index for all of it.

    Returns
    -------
    times, kp : numpy.ndarray
        Blocks in order; what comes first in the list above wins.
    """
    import numpy as np

    from geo.ionosphere.storm import kp_from_ap

    times, kp = observed.times, observed.kp
    more = [] if forecast is None else [(forecast.times, forecast.kp)]
    if outlook is not None:
        blocks = np.arange(8) * np.timedelta64(3, "h")
        days = (outlook.times[:, None] + blocks).ravel()
        more.append((days, np.repeat(kp_from_ap(outlook.ap), 8)))
    for later, value in more:
        is_new = (later > times[-1]) & np.isfinite(value)
        times = np.concatenate([times, later[is_new]])
        kp = np.concatenate([kp, value[is_new]])
    return times, kp


def storm_protons(text: str, now: datetime) -> float:
    """
    Find how many protons there are at least.

    Parameters
    ----------
    text, now : str, datetime.datetime
        The file of NOAA's scales, and the moment with its zone.

    Returns
    -------
    proton_flux : float
        Above 10 MeV; 0 below a storm. [1/(cm2 s sr)]

    Raises
    ------
    InputError
        If it does not tell, or not of today.

    References
    ----------
    NOAA Space Weather Scales (1999): S1 from 10 on, S2 from 100, to S5 from 100 000.
    """
    import math

    import numpy as np

    from geo.bulletins import radiation_scale

    scale, time = radiation_scale(text)
    if math.isnan(scale) or np.isnat(time):
        raise InputError("it tells none of now")
    young(time, now, _PROTONS_AGE)
    return 10.0**scale if scale else 0.0


def read_xrays(text: str, now: datetime) -> Xrays:
    """
    Read the X-rays up to now.

    Parameters
    ----------
    text, now : str, datetime.datetime
        The file, and the moment with its zone.

    Returns
    -------
    xrays : Xrays
        Readings that are none left out.

    Raises
    ------
    InputError
        If the newest is too old to say anything of now.
    """
    import numpy as np

    from geo.bulletins import xrays

    found = xrays(text)
    known = np.isfinite(found.flux_w_m2) & (found.times <= as_numpy(now + _BLOCK))
    found = found._replace(times=found.times[known], flux_w_m2=found.flux_w_m2[known])
    if not found.times.size:
        raise InputError("it has no reading")
    newest = as_datetime(found.times[-1])
    if now - newest > _XRAY_AGE:
        raise InputError(f"the newest is of {newest:%Y-%m-%d %H:%M}Z")
    return found


def young(time: np.datetime64, now: datetime, most: timedelta) -> np.datetime64:
    """
    Refuse what is of hours ago.

    Parameters
    ----------
    time : numpy.datetime64
        When it is of, UTC.
    now : datetime.datetime
        The moment, with its zone.
    most : datetime.timedelta
        How old it may be.

    Returns
    -------
    time : numpy.datetime64
        The same.

    Raises
    ------
    InputError
        If it is older.
    """
    if abs(now - as_datetime(time)) > most:
        raise InputError(f"the newest is of {as_datetime(time):%Y-%m-%d %H:%M}Z")
    return time


def absorption_now(text: str, now: datetime) -> AbsorptionMap:
    """
    Read the map of absorption.

    Parameters
    ----------
    text, now : str, datetime.datetime
        The file, and the moment with its zone.

    Returns
    -------
    found : AbsorptionMap
        As it was drawn.

    Raises
    ------
    InputError
        If it is not of now.
    """
    from geo.ionosphere.absorption_map import absorption_map

    found = absorption_map(text)
    young(found.time, now, _XRAY_AGE)
    return found


def recent_outlook(found: Outlook, now: datetime) -> Outlook:
    """
    Refuse an outlook of old.

    Parameters
    ----------
    found, now : Outlook, datetime.datetime
        The outlook, and the moment with its zone.

    Returns
    -------
    found : Outlook
        The same.

    Raises
    ------
    InputError
        If it begins too long ago.
    """
    begun = as_datetime(found.times[0])
    if now - begun > _OUTLOOK_AGE:
        raise InputError(f"it begins on {begun:%Y-%m-%d}")
    return found


def as_numpy(moment: datetime) -> np.datetime64:
    """
    Write a moment as numpy has it.

    Parameters
    ----------
    moment : datetime.datetime
        With its zone.

    Returns
    -------
    time : numpy.datetime64
        UTC, to the second.
    """
    import numpy as np

    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "s")


def as_datetime(time: np.datetime64) -> datetime:
    """
    Read a moment of numpy.

    Parameters
    ----------
    time : numpy.datetime64
        UTC.

    Returns
    -------
    moment : datetime.datetime
        With its zone.
    """
    return datetime.fromisoformat(f"{time.astype('datetime64[s]')}+00:00")
