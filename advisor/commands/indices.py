"""
Today's solar flux and Kp from the public service of a space-weather office.

Nothing here runs unless ``--fetch-indices`` is typed: it cannot be set by the
environment or a file, and nothing is kept. This is the only module that opens a
connection. What comes back is checked for form, range and age before it is used; if
anything is wrong the shipped tables serve and one line on standard error says so.

The service is that of the NOAA Space Weather Prediction Center, whose data are in the
public domain; addresses and form of the two files are from memory.
"""

from __future__ import annotations

import json
import math
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import IO, TYPE_CHECKING, Any

import click

from advisor.commands.options import APP
from geo.errors import InputError, one_line

if TYPE_CHECKING:
    from http.client import HTTPMessage
    from urllib.request import OpenerDirector

    import numpy as np

    from advisor.engine.question import SolarIndex

SERVICE = "https://services.swpc.noaa.gov"
WHOSE = "NOAA SWPC"
FLUX_PATH = "/json/f107_cm_flux.json"
KP_PATH = "/products/noaa-planetary-k-index.json"

TIMEOUT_S = 6.0
"""Longest wait for one file, from first to last byte. [s]"""

MOST_BYTES = 1_000_000
"""Longest file that is read; both are far shorter."""

AHEAD = timedelta(hours=48)
"""How far ahead a question may reach: today's figures say little of later."""

BEHIND = timedelta(hours=24)
"""How far back it may begin: the day that a date alone names."""

_FLUX_AGE = timedelta(days=4)
_KP_AGE = timedelta(hours=9)
_BLOCK = timedelta(hours=3)
_BLOCKS = 13

FETCHED = f"{APP}.fetched"
"""Where the context of a command keeps what was fetched, in words."""


class _UnusableError(Exception):
    """What the service gave cannot be used; the message says why."""


class _UnreachableError(Exception):
    """The service cannot be reached; the message says why."""


@dataclass(frozen=True)
class Indices:
    """
    What was fetched.

    Attributes
    ----------
    flux_sfu : float or None
        10.7 cm flux that stands for the layers' state. [sfu]
    kp : float or None
        Kp that, held for a day and a half, moves foF2 as the past day and a half did.
    words : str
        Which figures of which moment were used, and whose they are.
    """

    flux_sfu: float | None
    kp: float | None
    words: str


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
        If the question is not about the next two days, or the same was given by hand.
    """
    if not options.get("fetch_indices"):
        return
    for name in ("r12", "flux", "kp"):
        if options.get(name) is not None:
            raise InputError(
                f"--fetch-indices and --{name} both given: they say the same, give one"
            )
    now = datetime.now(UTC)
    hours = options["hours"]
    start = datetime.fromisoformat(f"{first.astype('datetime64[s]')}+00:00")
    # The hour that has begun may be asked about whole.
    latest = now + AHEAD + timedelta(hours=1)
    if start < now - BEHIND or start + timedelta(hours=min(hours, 1000)) > latest:
        raise InputError(
            f"--fetch-indices: today's flux and Kp say nothing of {start:%Y-%m-%d %H}Z "
            f"and {hours} h from there; ask about the next 48 hours, or leave it out"
        )


def with_indices(options: Mapping[str, Any]) -> tuple[dict[str, Any], str | None]:
    """
    Put today's flux and Kp in the place of the options, if that is asked for.

    Parameters
    ----------
    options : mapping
        Options of the command, which `check_fetch` has let through.

    Returns
    -------
    options : dict
        The same with ``flux`` and ``kp``, as far as they could be had.
    source : str or None
        What was used and of when; None if nothing was.
    """
    if not options.get("fetch_indices"):
        return dict(options), None
    found = fetch(datetime.now(UTC))
    given = {"flux": found.flux_sfu, "kp": found.kp}
    given = {name: value for name, value in given.items() if value is not None}
    if not given:
        return dict(options), None
    # A page tells how to make it again: with these figures, not with another fetch.
    context = click.get_current_context()
    for name, value in given.items():
        context.params[name] = value
        context.set_parameter_source(name, click.core.ParameterSource.COMMANDLINE)
    context.meta[FETCHED] = found.words
    return {**options, **given}, found.words


def fetched_solar(
    solar: SolarIndex, options: Mapping[str, Any], source: str
) -> SolarIndex:
    """
    Say with the solar index what was fetched.

    Parameters
    ----------
    solar : SolarIndex
        Made from the options.
    options : mapping
        Options, from `with_indices`.
    source : str
        What was used, from there too.

    Returns
    -------
    solar : SolarIndex
        The same; its basis names the figures, their hours and whose they are.
    """
    basis = f"{solar.basis}; {source}"
    if options.get("flux") is not None:
        index = f"R12 {solar.r12.mean():.0f} (IG12 {solar.ig12.mean():.0f})"
        basis = f"{index} from {source}"
    return replace(solar, basis=basis)


def fetch(now: datetime) -> Indices:
    """
    Fetch both figures; what cannot be had is told on standard error and left out.

    Parameters
    ----------
    now : datetime.datetime
        The moment, with its zone.

    Returns
    -------
    found : Indices
        None for what could not be had.
    """
    flux, kp, words, lacks = None, None, [], []
    try:
        try:
            flux, said = read_flux(_json(SERVICE + FLUX_PATH), now)
            words.append(said)
        except _UnusableError as reason:
            lacks.append(f"no flux ({reason})")
        try:
            kp, said = read_kp(_json(SERVICE + KP_PATH), now)
            words.append(said)
        except _UnusableError as reason:
            lacks.append(f"no Kp ({reason})")
    except _UnreachableError as reason:
        # What cannot be reached once is not waited for a second time.
        what = "no Kp" if words or lacks else "neither flux nor Kp"
        lacks.append(f"{what} ({reason})")
    if lacks:
        # A proxy's words may hold anything, such as codes that a terminal obeys.
        click.echo(
            f"{APP}: --fetch-indices: {one_line(', '.join(lacks))} from {WHOSE}; what "
            "is shipped is used instead",
            err=True,
        )
    return Indices(flux, kp, f"{'; '.join(words)} ({WHOSE})" if words else "")


def opener() -> OpenerDirector:
    """
    Build what opens a connection: HTTPS, with the proxy of the system, nothing else.

    Returns
    -------
    opener : urllib.request.OpenerDirector
        Follows redirections to HTTPS only.
    """
    from urllib import request

    class HttpsOnly(request.HTTPRedirectHandler):
        def redirect_request(self, *given: Any, **more: Any) -> Any:
            new = super().redirect_request(*given, **more)
            if new is not None and new.type != "https":
                raise _UnusableError(f"it sends on to {new.type}, not https")
            return new

        def http_error_302(
            self,
            req: request.Request,
            fp: IO[bytes],
            code: int,
            msg: str,
            headers: HTTPMessage,
        ) -> Any:
            try:
                return super().http_error_302(req, fp, code, msg, headers)
            except (_UnusableError, ValueError):
                fp.close()
                raise

        http_error_301 = http_error_303 = http_error_307 = http_error_302
        http_error_308 = http_error_302

    built = request.OpenerDirector()
    for handler in (
        request.ProxyHandler(),
        request.HTTPSHandler(),
        request.HTTPDefaultErrorHandler(),
        request.HTTPErrorProcessor(),
        HttpsOnly(),
        request.UnknownHandler(),
    ):
        built.add_handler(handler)
    built.addheaders = [("User-Agent", _agent()), ("Accept", "application/json")]
    return built


def _agent() -> str:
    """Name program and version, nothing of the user."""
    from importlib.metadata import version

    return f"{APP}/{version(APP)}"


def _json(address: str) -> Any:
    """Read one file, within time and size."""
    got: list[Any] = []

    def read() -> None:
        try:
            got.append(_read(address))
        except (_UnusableError, _UnreachableError) as reason:
            # Without what it came from, which may hold a connection open.
            got.append(type(reason)(*reason.args))

    # Headers that trickle in pass every limit of the socket's own: only a second
    # thread can stop waiting for them.
    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    reader.join(TIMEOUT_S)
    if not got:
        raise _UnreachableError(f"no answer in {TIMEOUT_S:g} s")
    if isinstance(got[0], Exception):
        raise got[0]
    return got[0]


def _read(address: str) -> Any:
    """Read one file, however long it takes up to its first byte."""
    from http.client import HTTPException
    from urllib.error import HTTPError

    end = time.monotonic() + TIMEOUT_S
    try:
        with opener().open(address, timeout=TIMEOUT_S) as answer:
            parts = []
            left = MOST_BYTES
            while part := answer.read1(min(left + 1, 65536)):
                left -= len(part)
                if left < 0:
                    raise _UnusableError(f"it sent over {MOST_BYTES} bytes")
                if time.monotonic() > end:
                    raise _UnreachableError(f"not all came in {TIMEOUT_S:g} s")
                parts.append(part)
    except TimeoutError:
        raise _UnreachableError(f"no answer in {TIMEOUT_S:g} s") from None
    except (OSError, ValueError, HTTPException) as error:
        reason = getattr(error, "reason", None) or error
        code = getattr(error, "code", None)
        if isinstance(error, HTTPError):
            error.close()
        if code:
            raise _UnusableError(f"it answered {code}") from None
        if isinstance(reason, TimeoutError):
            raise _UnreachableError(f"no answer in {TIMEOUT_S:g} s") from None
        said = " ".join(f"{reason}".split())
        raise _UnreachableError(f"cannot reach it: {said}") from None
    try:
        return json.loads(b"".join(parts))
    except (ValueError, RecursionError):
        raise _UnusableError("what it sent is not JSON") from None


def read_flux(data: Any, now: datetime) -> tuple[float, str]:
    """
    Read the newest 10.7 cm flux, halfway to its mean over 90 days.

    Parameters
    ----------
    data : object
        List of records with ``time_tag``, ``flux`` and, in some, ``ninety_day_mean``.
    now : datetime.datetime
        The moment, with its zone.

    Returns
    -------
    flux_sfu : float
        Mean of the day's flux and its mean over months, as solar proxies for the
        upper atmosphere take it; the day's alone if the mean is missing. [sfu]
    words : str
        What it was made from.

    Raises
    ------
    Exception
        A private one, if anything is missing, out of range or too old.

    References
    ----------
    Richards, Fennelly and Torr (1994), J. Geophys. Res. 99, 8981: P = (F10.7 +
    F10.7A) / 2 (from memory; there the mean is over 81 days about the day).
    """
    from geo.solar import LEAST_FLUX_SFU, MOST_FLUX_SFU

    def checked(value: Any) -> float:
        figure = _number(value)
        if not LEAST_FLUX_SFU <= figure <= MOST_FLUX_SFU:
            raise _UnusableError(
                f"{figure:g} sfu is outside {LEAST_FLUX_SFU:g} to {MOST_FLUX_SFU:g}"
            )
        return figure

    found = []
    for row in _records(data):
        moment = _moment(row.get("time_tag"))
        if moment <= now + _BLOCK and row.get("flux") is not None:
            found.append((moment, row))
    if not found:
        raise _UnusableError("it has no flux")
    moment, newest = max(found, key=lambda each: each[0])
    if now - moment > _FLUX_AGE:
        raise _UnusableError(f"the newest is of {moment:%Y-%m-%d}")
    flux = checked(newest["flux"])
    words = f"flux {flux:g} sfu of {moment:%Y-%m-%d %H}Z"
    means = [
        each for each in found if each[1].get("ninety_day_mean") not in (None, 0, -1)
    ]
    if means:
        when, row = max(means, key=lambda each: each[0])
        mean = checked(row["ninety_day_mean"])
        if now - when <= _FLUX_AGE:
            return 0.5 * (flux + mean), f"{words} and its 90-day mean of {mean:g}"
    return flux, words


def read_kp(data: Any, now: datetime) -> tuple[float, str]:
    """
    Read Kp of the past day and a half and weigh it as the storm model does.

    Parameters
    ----------
    data : object
        Records with ``time_tag`` and ``Kp``, three hours apart: a list of mappings, or
        of lists under a list of names.
    now : datetime.datetime
        The moment, with its zone.

    Returns
    -------
    kp : float
        Kp that, held all the time, gives the same weighted sum.
    words : str
        What it was made from.

    Raises
    ------
    Exception
        A private one, if anything is missing, out of range or too old.
    """
    found: dict[datetime, float] = {}
    for row in _records(data):
        moment = _moment(row.get("time_tag"))
        figure = _number(row.get("Kp", row.get("kp")))
        if not 0.0 <= figure <= 9.0:
            raise _UnusableError(f"Kp {figure:g} is outside 0 to 9")
        if moment <= now:
            found[moment] = figure
    if not found:
        raise _UnusableError("it has no Kp")
    newest = max(found)
    if now - newest > _KP_AGE:
        raise _UnusableError(f"the newest is of {newest:%Y-%m-%d %H}Z")
    moments = [newest - _BLOCK * i for i in reversed(range(_BLOCKS))]
    if any(moment not in found for moment in moments):
        raise _UnusableError("the past day and a half has gaps")
    import numpy as np

    from geo.ionosphere.storm import ap_from_kp, integral_of_ap

    scale = np.arange(28) / 3.0
    history = ap_from_kp([found[moment] for moment in moments])
    ap = integral_of_ap(history) / integral_of_ap(np.ones(_BLOCKS))
    kp = round(float(np.interp(ap, ap_from_kp(scale), scale)), 2)
    return kp, f"Kp of {moments[0]:%Y-%m-%d %H}Z to {newest:%Y-%m-%d %H}Z, as {kp:g}"


def _records(data: Any) -> list[dict[str, Any]]:
    """Rows as mappings; a first row of names is taken as such."""
    if isinstance(data, list) and data and isinstance(data[0], list):
        names, *rows = data
        if all(isinstance(row, list) and len(row) == len(names) for row in rows):
            data = [dict(zip(map(str, names), row, strict=True)) for row in rows]
    if not (isinstance(data, list) and all(isinstance(row, dict) for row in data)):
        raise _UnusableError("what it sent has another form than expected")
    return data


def _moment(value: Any) -> datetime:
    """Read a time tag, which is UTC."""
    try:
        moment = datetime.fromisoformat(value)
    except (TypeError, ValueError):
        raise _UnusableError("what it sent has a time that is none") from None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment


def _number(value: Any) -> float:
    """Read a finite number."""
    try:
        figure = math.nan if isinstance(value, bool) else float(value)
    except (TypeError, ValueError, OverflowError):
        figure = math.nan
    if not math.isfinite(figure):
        raise _UnusableError("what it sent has a figure that is no number")
    return figure
