"""
Who may speak to the live page: this machine's own browser, with the token, slowly.

A page from elsewhere cannot read the token in the address, a name that points here
does not pass as this host, and no more is read or worked out than one person asks.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

MOST_BYTES = 32_000
"""Of a request; half of what a station file may hold, a few kilobytes are usual."""

MOST_A_SECOND, MOST_AT_ONCE = 40.0, 80.0
"""Requests that one person's browser makes, and how many may come together."""

HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; "
        b"style-src-attr 'unsafe-inline'; connect-src 'self'; img-src data:; "
        b"base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)
"""Sent with every answer; styles of single elements are places on the ribbon."""


class _TooMuch(Exception):
    """A request went on after its most bytes."""


class Guard:
    """
    Refuse what is not from the page itself, before anything reads it.

    Parameters
    ----------
    app : callable
        The application (ASGI 3.0); it sees paths without the token.
    host : str
        Address and port, as a browser names them.
    token : str
        First part of every path.
    clock : callable, optional
        Seconds that only go forward.
    """

    def __init__(
        self,
        app: App,
        host: str,
        token: str,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._app, self._host, self._clock = app, host, clock
        self._token = token.encode()
        self._left, self._seen = MOST_AT_ONCE, clock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        status, path = self._judged(scope)
        if status:
            await _refuse(status, send)
            return
        count, is_sent = 0, False

        async def bounded() -> Message:
            nonlocal count
            message = await receive()
            count += len(message.get("body", b""))
            if count > MOST_BYTES:
                raise _TooMuch
            return message

        async def guarded(message: Message) -> None:
            nonlocal is_sent
            if message["type"] == "http.response.start":
                is_sent = True
                message["headers"] = [*message.get("headers", ()), *HEADERS]
            await send(message)

        inner = {**scope, "path": path, "raw_path": path.encode()}
        try:
            await self._app(inner, bounded, guarded)
        except _TooMuch:
            if not is_sent:
                await _refuse(413, send)

    def _judged(self, scope: Scope) -> tuple[int, str]:
        """Tell the status to refuse a request with, 0 for none, and its inner path."""
        named: dict[bytes, list[bytes]] = {}
        for name, value in scope["headers"]:
            named.setdefault(name.lower(), []).append(value)
        host, method = self._host.encode(), scope["method"]
        if named.get(b"host") != [host]:
            return 403, ""
        origin = named.get(b"origin", [])
        if origin not in ([], [b"http://" + host]) or (method == "POST" and not origin):
            return 403, ""
        if named.get(b"sec-fetch-site", [b"none"])[0] not in (b"same-origin", b"none"):
            return 403, ""
        token, slash, rest = scope["path"].lstrip("/").partition("/")
        if not secrets.compare_digest(token.encode(), self._token) or not slash:
            return 404, ""
        now = self._clock()
        gained = MOST_A_SECOND * (now - self._seen)
        self._left, self._seen = min(self._left + gained, MOST_AT_ONCE), now
        if self._left < 1.0:
            return 429, ""
        self._left -= 1.0
        if method not in ("GET", "POST"):
            return 405, ""
        if method == "POST":
            length = named.get(b"content-length", [b""])[0]
            if not length.isdigit():
                return 411, ""
            if int(length) > MOST_BYTES:
                return 413, ""
            if named.get(b"content-type", []) != [b"application/json"]:
                return 415, ""
        return 0, f"/{rest}"


async def _refuse(status: int, send: Send) -> None:
    """Answer with a bare status."""
    headers = [*HEADERS, (b"content-length", b"0"), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": b""})
