"""
Today's sky, where ``--fetch`` asks for it, in the place of the month's.

What cannot be had is told in one line on standard error, and the month serves in its
place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from advisor.commands import service
from advisor.commands import todays_files as files
from advisor.commands.common import cache_dir
from advisor.commands.options import APP
from geo.errors import InputError, one_line

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from advisor.engine.question import SolarIndex
    from geo.ionosphere.measured import MeasuredSky
    from geo.ionosphere.measured_map import MeasuredMap

AHEAD = timedelta(days=26)
"""How far ahead a question may reach: as far as the outlook does."""

BEHIND = timedelta(hours=24)
"""How far back it may begin: the day that a date alone names."""


_XRAY_AHEAD = timedelta(hours=3)
"""By then a flare is over."""

_PROTONS_AHEAD = timedelta(hours=24)
"""A storm of protons lasts for days."""

_MAP_AGE = timedelta(hours=3)
_MAP_AHEAD = timedelta(hours=9)
"""By then a twentieth of what a map says is left."""


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
    start = files.as_datetime(first)
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
    start = files.as_datetime(first)
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
    if end > now + files.OUTLOOK_FROM:
        outlook = asking.ask(
            service.OUTLOOK_PATH,
            "outlook",
            lambda text: files.recent_outlook(bulletins.outlook(text), now),
        )
    flux = asking.ask(
        service.FLUX_PATH, "flux", lambda text: files.flux_of(text, now, start, outlook)
    )
    observed = asking.ask(
        service.KP_PATH,
        "Kp",
        lambda text: files.observed_kp(bulletins.kp_blocks(text), now),
    )
    measured = MeasuredSky(files.as_numpy(now), service.WHOSE, parse_place(place))
    if observed is not None:
        forecast = asking.ask(
            service.FORECAST_PATH, "forecast of Kp", bulletins.kp_blocks
        )
        times, kp = files.joined_kp(observed, forecast, outlook)
        measured = replace(
            measured, kp_times=times, kp=kp, kp_observed=observed.times.size
        )
    if start < now + _XRAY_AHEAD:
        found = asking.ask(
            service.XRAY_PATH, "X-rays", lambda text: files.read_xrays(text, now)
        )
        if found is not None:
            measured = replace(
                measured, xray_times=found.times, xray_w_m2=found.flux_w_m2
            )
        absorption = asking.ask(
            service.ABSORPTION_PATH,
            "map of absorption",
            lambda text: files.absorption_now(text, now),
        )
        measured = replace(measured, absorption=absorption)
    if start < now + _PROTONS_AHEAD:
        protons = asking.ask(
            service.SCALES_PATH, "protons", lambda text: files.storm_protons(text, now)
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


def _asked_map(asking: _Asking) -> MeasuredMap | None:
    """Ask for the newest map of the F2 layer; None if it cannot be had."""
    from geo import bulletins
    from geo.ionosphere.measured_map import MeasuredMap

    def newest(text: str) -> tuple[str, np.datetime64]:
        path, time = bulletins.newest_map(text)
        return path, files.young(time, asking.now, _MAP_AGE)

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
