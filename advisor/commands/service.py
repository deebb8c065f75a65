"""
The public service that ``--fetch`` asks: its addresses, and how a file is read.

This is the only module that opens a connection. It runs only when ``--fetch`` is typed,
which cannot be set by the environment or a file. Time and size are limited, headers
included; only HTTPS is spoken, and only with the service itself. What was read is kept
in the user's cache, so that the next question within minutes asks nobody.

The service is that of the NOAA Space Weather Prediction Center, whose data are in the
public domain.
"""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from advisor.commands.options import APP
from geo.errors import one_line

if TYPE_CHECKING:
    from http.client import HTTPMessage
    from urllib.request import OpenerDirector

SERVICE = "https://services.swpc.noaa.gov"
WHOSE = "NOAA SWPC"

FLUX_PATH = "/json/f107_cm_flux.json"
KP_PATH = "/products/noaa-planetary-k-index.json"
FORECAST_PATH = "/products/noaa-planetary-k-index-forecast.json"
XRAY_PATH = "/json/goes/primary/xrays-6-hour.json"
SCALES_PATH = "/products/noaa-scales.json"
ABSORPTION_PATH = "/text/drap_global_frequencies.txt"
MAPS_PATH = "/products/glotec/geojson_2d_urt.json"
"""Index of the maps; it names their paths."""

OUTLOOK_PATH = "/text/27-day-outlook.txt"

TIMEOUT_S = 6.0
"""Longest wait for one file, from first to last byte, for each megabyte allowed. [s]"""

MOST_BYTES = 1_000_000
"""Longest file that is read, unless more is allowed; most are far shorter."""

MAP_BYTES = 4_000_000
"""Longest map that is read; they have some 2.5 million."""

FRESH_S = 600.0
"""How long a file that is kept stands for a new one. [s]"""


class UnusableError(Exception):
    """What the service gave cannot be used; the message says why."""


class UnreachableError(Exception):
    """The service cannot be reached; the message says why."""


@dataclass(frozen=True)
class Read:
    """
    One file of the service.

    Attributes
    ----------
    text : str
        What it holds.
    why_kept : UnusableError or UnreachableError or None
        Why it is one kept from before, though no longer fresh; None if it is not.
    """

    text: str
    why_kept: UnusableError | UnreachableError | None = None


def read(
    path: str,
    now: datetime,
    cache_dir: Path | None,
    most_bytes: int = MOST_BYTES,
    out_of_reach: str = "",
) -> Read:
    """
    Read one file: a fresh one of the cache, else the service's, else an older one.

    Parameters
    ----------
    path : str
        Its path at the service.
    now : datetime.datetime
        The moment, with its zone.
    cache_dir : pathlib.Path or None
        Where files are kept; None to keep none.
    most_bytes : int, optional
        Longest file that is read.
    out_of_reach : str, optional
        Why the service is not to be asked, for it could not be reached just now.

    Returns
    -------
    read : Read
        Its text. How old its figures are, they say themselves.

    Raises
    ------
    UnusableError, UnreachableError
        If it cannot be had and none is kept.
    """
    import numpy as np

    from advisor.antenna.solver.cache_files import fetch, keep

    name = f"sky\n{SERVICE}{path}"
    held = fetch(cache_dir, name)
    kept = None
    if held is not None and {"body", "read_at"} <= set(held):
        kept = held["body"].tobytes().decode(errors="replace")
        age = now - datetime.fromtimestamp(float(held["read_at"]), now.tzinfo)
        if timedelta(0) <= age < timedelta(seconds=FRESH_S):
            return Read(kept)
    try:
        if out_of_reach:
            raise UnreachableError(out_of_reach)
        body = _in_time(SERVICE + path, most_bytes)
        text = body.decode()
    except UnicodeDecodeError:
        raise UnusableError("what it sent is not text") from None
    except (UnusableError, UnreachableError) as reason:
        if kept is None:
            raise
        return Read(kept, reason)
    arrays = {"body": np.frombuffer(body, np.uint8), "read_at": now.timestamp()}
    keep(cache_dir, name, arrays)
    return Read(text)


def opener() -> OpenerDirector:
    """
    Build what opens a connection: HTTPS, with the proxy of the system, nothing else.

    Returns
    -------
    opener : urllib.request.OpenerDirector
        Follows redirections only by HTTPS and to the host that was asked.
    """
    from urllib import request

    class SameHost(request.HTTPRedirectHandler):
        def redirect_request(self, req: request.Request, *given: Any) -> Any:
            new = super().redirect_request(req, *given)
            if new is not None and new.type != "https":
                raise UnusableError(f"it sends on to {new.type}, not https")
            if new is not None and new.host != req.host:
                raise UnusableError(f"it sends on to {new.host}")
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
            except (UnusableError, ValueError):
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
        SameHost(),
        request.UnknownHandler(),
    ):
        built.add_handler(handler)
    built.addheaders = [("User-Agent", _agent()), ("Accept", "*/*")]
    return built


def _agent() -> str:
    """Name program and version, nothing of the user."""
    from importlib.metadata import version

    return f"{APP}/{version(APP)}"


def _in_time(address: str, most_bytes: int) -> bytes:
    """Read one file, within time and size."""
    got: list[bytes | Exception] = []
    timeout_s = TIMEOUT_S * most_bytes / MOST_BYTES

    def reading() -> None:
        try:
            got.append(_body(address, most_bytes, timeout_s))
        except (UnusableError, UnreachableError) as reason:
            # Without what it came from, which may hold a connection open.
            got.append(type(reason)(*reason.args))

    # Headers that trickle in pass every limit of the socket's own: only a second
    # thread can stop waiting for them.
    reader = threading.Thread(target=reading, daemon=True)
    reader.start()
    reader.join(timeout_s)
    if not got:
        raise UnreachableError(f"no answer in {timeout_s:g} s")
    if isinstance(got[0], Exception):
        raise got[0]
    return got[0]


def _body(address: str, most_bytes: int, timeout_s: float) -> bytes:
    """Read one file, however long it takes up to its first byte."""
    from http.client import HTTPException
    from urllib.error import HTTPError

    end = time.monotonic() + timeout_s
    try:
        with opener().open(address, timeout=timeout_s) as answer:
            if "html" in (answer.headers.get("Content-Type") or ""):
                raise UnusableError("it sent a page to look at, not data")
            parts = []
            left = most_bytes
            while part := answer.read1(min(left + 1, 65536)):
                left -= len(part)
                if left < 0:
                    raise UnusableError(f"it sent over {most_bytes} bytes")
                if time.monotonic() > end:
                    raise UnreachableError(f"not all came in {timeout_s:g} s")
                parts.append(part)
            if getattr(answer, "length", None):
                raise UnusableError("it broke off in the middle")
    except TimeoutError:
        raise UnreachableError(f"no answer in {timeout_s:g} s") from None
    except (OSError, ValueError, HTTPException) as error:
        reason = getattr(error, "reason", None) or error
        code = getattr(error, "code", None)
        if isinstance(error, HTTPError):
            error.close()
        if code:
            raise UnusableError(f"it answered {code}") from None
        if isinstance(reason, TimeoutError):
            raise UnreachableError(f"no answer in {timeout_s:g} s") from None
        reason = getattr(reason, "strerror", None) or reason
        said = one_line(" ".join(f"{reason}".split()))
        raise UnreachableError(f"it cannot be reached: {said}") from None
    return b"".join(parts)
