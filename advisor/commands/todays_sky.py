"""
Today's sky, where ``--fetch`` asks for it, in the place of the month's.

Each figure is checked for range and age before it is used. What cannot be had is told
in one line on standard error, and the month serves in its place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from advisor.commands import service
from advisor.commands.common import cache_dir
from advisor.commands.options import APP
from geo.errors import InputError, one_line

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from advisor.engine.question import SolarIndex
    from geo.bulletins import Kp, Outlook, Xrays
    from geo.ionosphere.absorption_map import AbsorptionMap
    from geo.ionosphere.measured import MeasuredSky
    from geo.ionosphere.measured_map import MeasuredMap

AHEAD = timedelta(days=26)
"""How far ahead a question may reach: as far as the outlook does."""

BEHIND = timedelta(hours=24)
"""How far back it may begin: the day that a date alone names."""

_OUTLOOK_FROM = timedelta(hours=48)
"""From here on the outlook for 27 days is asked for: the forecast of Kp ends in the
third day."""

_FLUX_AGE = timedelta(days=4)
_KP_AGE = timedelta(hours=9)
_XRAY_AGE = timedelta(hours=1)
_XRAY_AHEAD = timedelta(hours=3)
"""By then a flare is over."""

_PROTONS_AGE = timedelta(hours=3)
_PROTONS_AHEAD = timedelta(hours=24)
"""A storm of protons lasts for days."""

_MAP_AGE = timedelta(hours=3)
_MAP_AHEAD = timedelta(hours=9)
"""By then a twentieth of what a map says is left."""

_OUTLOOK_AGE = timedelta(days=10)
_BLOCK = timedelta(hours=3)
_BLOCKS = 13

FETCHED = f"{APP}.fetched"
"""Where the context of a command keeps what was fetched, in words."""

T = TypeVar("T")


@dataclass(frozen=True)
class Today:
    """
    What was fetched.

    Attributes
    ----------
    flux_sfu : float or None
        10.7 cm flux that stands for the layers' state. [sfu]
    flux_words : str
        What it was made from; empty if there is none.
    measured : MeasuredSky or None
        All the rest.
    """

    flux_sfu: float | None
    flux_words: str
    measured: MeasuredSky | None


def check_fetch(options: Mapping[str, Any], first: np.datetime64) -> None:
    """
    Refuse to fetch what would be of no use, before anything else is looked at.

    Parameters
    ----------
    options : mapping
        Options of the command, ``hours`` among them.
    first : numpy.datetime64
        First hour of the question, UTC.

    Raises
    ------
    InputError
        If the question is not about the coming weeks, or the same was given by hand.
    """
    if not options.get("fetch"):
        return
    for name in ("r12", "flux", "kp"):
        if options.get(name) is not None:
            raise InputError(
                f"--fetch and --{name} both given: they say the same, give one"
            )
    now = datetime.now(UTC)
    hours = options["hours"]
    start = _datetime(first)
    # The hour that has begun may be asked about whole.
    latest = now + AHEAD + timedelta(hours=1)
    if start < now - BEHIND or start + timedelta(hours=min(hours, 1000)) > latest:
        raise InputError(
            f"--fetch: today's figures say nothing of {start:%Y-%m-%d %H}Z and {hours} "
            f"h from there; ask about the next {AHEAD.days} days, or leave it out"
        )


def with_today(
    options: Mapping[str, Any], first: np.datetime64, place: str
) -> tuple[dict[str, Any], Today | None]:
    """
    Put today's sky in the place of the options, if that is asked for.

    Parameters
    ----------
    options : mapping
        Options of the command, which `check_fetch` has let through.
    first : numpy.datetime64
        First hour of the question, UTC.
    place : str
        Where from; it goes into words alone and to nobody.

    Returns
    -------
    options : dict
        The same with ``flux``, ``kp`` and ``measured``, as far as they could be had.
    today : Today or None
        What was used; None if nothing was.
    """
    if not options.get("fetch"):
        return dict(options), None
    hours = timedelta(hours=options["hours"])
    start = _datetime(first)
    now = datetime.now(UTC)
    today = fetch(now, start, start + hours, place, cache_dir(options))
    if today.flux_sfu is None and today.measured is None:
        return dict(options), None
    import numpy as np

    kp = None
    if today.measured is not None:
        times = first + np.arange(options["hours"]) * np.timedelta64(1, "h")
        steady = today.measured.steady_kp(times)
        kp = None if steady is None else round(float(steady.max()), 2)
    # A page tells how to make it again: with these figures, not with another fetch.
    context = click.get_current_context()
    given = {"flux": today.flux_sfu, "kp": kp}
    given = {name: value for name, value in given.items() if value is not None}
    for name, value in given.items():
        context.params[name] = value
        context.set_parameter_source(name, click.core.ParameterSource.COMMANDLINE)
    told = [today.flux_words]
    if today.measured is not None:
        told += today.measured.words(np.array([first]))
    context.meta[FETCHED] = " ".join(each for each in told if each)
    return {**options, **given, "measured": today.measured}, today


def todays_solar(
    solar: SolarIndex, times: NDArray[np.datetime64], today: Today
) -> SolarIndex:
    """
    Say with the solar index what was fetched, and what the month would have.

    Parameters
    ----------
    solar : SolarIndex
        Made from the options that `with_today` gave.
    times : numpy.ndarray of datetime64[s]
        Its hours, UTC.
    today : Today
        What was used, from there too.

    Returns
    -------
    solar : SolarIndex
        The same; its basis names the figures, their hours and whose they are.
    """
    if today.flux_sfu is None:
        return solar
    from advisor.answers.ask import solar_index

    month = solar_index(times).r12.mean()
    basis = (
        f"R12 {solar.r12.mean():.0f} (IG12 {solar.ig12.mean():.0f}) from "
        f"{today.flux_words}, in place of the month's {month:.0f}"
    )
    return replace(solar, basis=basis)


class _Asking:
    """Files asked for one after the other, and what could not be had of them."""

    def __init__(self, now: datetime, directory: Path | None) -> None:
        self.now, self.directory = now, directory
        self.lacks: list[str] = []
        self.kept: list[str] = []
        self.got = 0
        self.out_of_reach = ""

    def ask(
        self, path: str, what: str, made: Callable[[str], T], most_bytes: int = 0
    ) -> T | None:
        """Read a file and make of it what is wanted; None if it cannot be had."""
        most = most_bytes or service.MOST_BYTES
        try:
            # What cannot be reached once is not waited for a second time.
            found = service.read(
                path, self.now, self.directory, most, self.out_of_reach
            )
            if isinstance(found.why_kept, service.UnreachableError):
                self.out_of_reach = str(found.why_kept)
            usable = made(found.text)
            if found.why_kept is not None:
                self.kept.append(what)
            self.got += 1
            return usable
        except service.UnreachableError as reason:
            self.out_of_reach = str(reason)
        except (service.UnusableError, InputError) as reason:
            self.lacks.append(f"no {what} ({reason})")
        return None

    def tell(self) -> None:
        """Say on standard error what could not be had."""
        if self.out_of_reach:
            what = "nothing more" if self.got or self.lacks else "nothing at all"
            self.lacks.append(f"{what} ({self.out_of_reach})")
        if self.kept:
            self.lacks.append(f"{' and '.join(self.kept)} as kept from before")
        if not self.lacks:
            return
        rest = "the month serves for the rest" if self.got else "the month's sky it is"
        # A proxy's words may hold anything, such as codes that a terminal obeys.
        click.echo(
            f"{APP}: --fetch: {one_line(', '.join(self.lacks))} from {service.WHOSE}; "
            f"{rest}",
            err=True,
        )


def fetch(
    now: datetime,
    start: datetime,
    end: datetime,
    place: str,
    directory: Path | None,
) -> Today:
    """
    Fetch what is of use; what cannot be had is told on standard error and left out.

    Parameters
    ----------
    now, start, end : datetime.datetime
        The moment, the first hour asked about and the end of the last, with zone.
    place : str
        Where from.
    directory : pathlib.Path or None
        Cache of files.

    Returns
    -------
    today : Today
        None for what could not be had.
    """
    from geo import bulletins
    from geo.ionosphere.measured import MeasuredSky
    from geo.places import parse_place

    asking = _Asking(now, directory)
    outlook = None
    if end > now + _OUTLOOK_FROM:
        outlook = asking.ask(
            service.OUTLOOK_PATH,
            "outlook",
            lambda text: _recent(bulletins.outlook(text), now),
        )
    flux = asking.ask(
        service.FLUX_PATH, "flux", lambda text: flux_of(text, now, start, outlook)
    )
    observed = asking.ask(
        service.KP_PATH, "Kp", lambda text: observed_kp(bulletins.kp_blocks(text), now)
    )
    measured = MeasuredSky(_time(now), service.WHOSE, parse_place(place))
    if observed is not None:
        forecast = asking.ask(
            service.FORECAST_PATH, "forecast of Kp", bulletins.kp_blocks
        )
        times, kp = joined_kp(observed, forecast, outlook)
        measured = replace(
            measured, kp_times=times, kp=kp, kp_observed=observed.times.size
        )
    if start < now + _XRAY_AHEAD:
        found = asking.ask(
            service.XRAY_PATH, "X-rays", lambda text: read_xrays(text, now)
        )
        if found is not None:
            measured = replace(
                measured, xray_times=found.times, xray_w_m2=found.flux_w_m2
            )
        absorption = asking.ask(
            service.ABSORPTION_PATH,
            "map of absorption",
            lambda text: _absorption(text, now),
        )
        measured = replace(measured, absorption=absorption)
    if start < now + _PROTONS_AHEAD:
        protons = asking.ask(
            service.SCALES_PATH, "protons", lambda text: storm_protons(text, now)
        )
        measured = replace(measured, proton_flux=protons or 0.0)
    if start < now + _MAP_AHEAD:
        measured = replace(measured, electron_map=_asked_map(asking))
    asking.tell()
    return Today(
        flux[0] if flux else None,
        flux[1] if flux else "",
        measured if asking.got else None,
    )


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
    known = np.isfinite(found.flux_sfu) & (found.times <= _time(now + _BLOCK))
    if not known.any():
        raise InputError("it has no flux of a noon")
    newest = int(np.flatnonzero(known)[-1])
    moment = _datetime(found.times[newest])
    if now - moment > _FLUX_AGE:
        raise InputError(f"the newest is of {moment:%Y-%m-%d}")
    flux = float(found.flux_sfu[newest])
    old = age_words(_time(now), found.times[newest])
    words = f"flux {flux:g} sfu of {moment:%Y-%m-%d %H}Z ({old})"
    if outlook is not None and start > now + _OUTLOOK_FROM:
        days = np.abs(outlook.times - _time(start)) / np.timedelta64(1, "D")
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

    known = np.isfinite(found.kp) & found.is_observed & (found.times <= _time(now))
    if not known.any():
        raise InputError("it has no Kp")
    times = found.times[known]
    newest = _datetime(times[-1])
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


def _asked_map(asking: _Asking) -> MeasuredMap | None:
    """Ask for the newest map of the F2 layer; None if it cannot be had."""
    from geo import bulletins
    from geo.ionosphere.measured_map import MeasuredMap

    def newest(text: str) -> tuple[str, np.datetime64]:
        path, time = bulletins.newest_map(text)
        return path, _young(time, asking.now, _MAP_AGE)

    what = "map of electron content"
    index = asking.ask(service.MAPS_PATH, what, newest)
    if index is None:
        return None
    path, time = index
    return asking.ask(
        path,
        what,
        lambda text: MeasuredMap(time, *bulletins.electron_map(text)),
        service.MAP_BYTES,
    )


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
    _young(time, now, _PROTONS_AGE)
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
    known = np.isfinite(found.flux_w_m2) & (found.times <= _time(now + _BLOCK))
    found = found._replace(times=found.times[known], flux_w_m2=found.flux_w_m2[known])
    if not found.times.size:
        raise InputError("it has no reading")
    newest = _datetime(found.times[-1])
    if now - newest > _XRAY_AGE:
        raise InputError(f"the newest is of {newest:%Y-%m-%d %H:%M}Z")
    return found


def _young(time: np.datetime64, now: datetime, most: timedelta) -> np.datetime64:
    """Refuse what is of hours ago."""
    if abs(now - _datetime(time)) > most:
        raise InputError(f"the newest is of {_datetime(time):%Y-%m-%d %H:%M}Z")
    return time


def _absorption(text: str, now: datetime) -> AbsorptionMap:
    """Read the map of absorption, if it is of now."""
    from geo.ionosphere.absorption_map import absorption_map

    found = absorption_map(text)
    _young(found.time, now, _XRAY_AGE)
    return found


def _recent(found: Outlook, now: datetime) -> Outlook:
    """Refuse an outlook of old."""
    begun = _datetime(found.times[0])
    if now - begun > _OUTLOOK_AGE:
        raise InputError(f"it begins on {begun:%Y-%m-%d}")
    return found


def _time(moment: datetime) -> np.datetime64:
    """Write a moment as numpy has it."""
    import numpy as np

    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "s")


def _datetime(time: np.datetime64) -> datetime:
    """Read a moment of numpy, UTC."""
    return datetime.fromisoformat(f"{time.astype('datetime64[s]')}+00:00")
