"""The server of the live page: one question at a time, until the page is closed."""

from __future__ import annotations

import asyncio
import json
import secrets
import socket
from collections.abc import AsyncIterator, Callable, Mapping
from typing import TYPE_CHECKING, Any

from advisor.live.form import choices
from advisor.live.guard import App, Guard
from advisor.live.workbench import Overtaken, Workbench
from advisor.show.page.live import FILES, live_file, live_html
from geo.errors import InputError, one_line

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

LOOPBACK = "127.0.0.1"

MOST_WAITING = 8
"""Requests that wait for an answer; the page itself has one under way."""

BEAT_S, GRACE_S = 3.0, 8.0
"""How often an open page is written to, and how long after the last one is gone the
server stays: it may only have been loaded again. [s]"""

Write = Callable[[Mapping[str, Any], str], str]
"""Writes ``station`` or ``sheet`` from what the page says; tells what it wrote."""


class OneAtATime:
    """Work in a thread, one piece at a time; what has been overtaken is dropped."""

    def __init__(self) -> None:
        self._free = asyncio.Lock()
        self._newest = 0
        self.waiting = 0

    async def run(
        self, work: Callable[[], Any], *, may_drop: bool = True
    ) -> tuple[bool, Any]:
        """
        Run one piece of work.

        Parameters
        ----------
        work : callable
            The work.
        may_drop : bool, optional
            Whether a newer piece takes its place.

        Returns
        -------
        is_done : bool
            Whether it was done.
        found : object
            What it returned; None if it was not.
        """
        if may_drop:
            self._newest += 1
        mine = self._newest
        self.waiting += 1
        try:
            async with self._free:
                if may_drop and mine != self._newest:
                    return False, None
                return True, await asyncio.to_thread(work)
        finally:
            self.waiting -= 1


def live_app(
    bench: Workbench,
    made_by: str,
    writes: str = "",
    write: Write | None = None,
    on_closed: Callable[[], None] = lambda: None,
) -> App:
    """
    Make the application behind the guard.

    Parameters
    ----------
    bench : Workbench
        Answers.
    made_by : str
        Program and version.
    writes : str, optional
        Name of the files that are written, as the page shows it.
    write : callable, optional
        Writes them.
    on_closed : callable, optional
        Called when the last page has been closed for a while.

    Returns
    -------
    app : callable
        ASGI 3.0.
    """
    from starlette.applications import Starlette
    from starlette.responses import (
        HTMLResponse,
        JSONResponse,
        PlainTextResponse,
        Response,
        StreamingResponse,
    )
    from starlette.routing import Route

    queue = OneAtATime()
    bench.is_overtaken = lambda: queue.waiting > 1
    open_pages = opened = 0

    async def page(_: Request) -> Response:
        return HTMLResponse(live_html(bench.start(), choices(), made_by, writes))

    async def file(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in FILES:
            return PlainTextResponse("", 404)
        return Response(live_file(name), media_type=FILES[name])

    async def worked(
        request: Request, work: Callable[[Any], Any], *, may_drop: bool
    ) -> Response:
        try:
            said = json.loads(await request.body())
        except (ValueError, RecursionError):
            said = None
        if not isinstance(said, dict):
            return JSONResponse({"error": "this is no JSON object"}, 400)
        if queue.waiting >= MOST_WAITING:
            return Response(status_code=429)
        try:
            is_done, found = await queue.run(lambda: work(said), may_drop=may_drop)
        except InputError as error:
            # No failure of the page: the person is told, the browser's log is not.
            return JSONResponse({"error": one_line(str(error))})
        except Overtaken:
            is_done = False
        if not is_done:
            # Overtaken: no failure either.
            return Response(status_code=204)
        return JSONResponse(found)

    async def answer(request: Request) -> Response:
        return await worked(request, bench.answer, may_drop=True)

    async def world(request: Request) -> Response:
        return await worked(request, bench.world, may_drop=True)

    async def written(request: Request) -> Response:
        def work(said: Any) -> dict[str, str]:
            if write is None:
                raise InputError("nothing may be written: start with --write NAME")
            return {"said": write(said, str(said.get("what")))}

        return await worked(request, work, may_drop=False)

    async def beats() -> AsyncIterator[bytes]:
        nonlocal open_pages, opened
        open_pages += 1
        opened += 1
        try:
            while True:
                yield b": here\n\n"
                await asyncio.sleep(BEAT_S)
        finally:
            open_pages -= 1
            asyncio.get_running_loop().call_later(GRACE_S, closed, opened)

    def closed(then: int) -> None:
        if not open_pages and opened == then:
            on_closed()

    async def events(_: Request) -> Response:
        return StreamingResponse(beats(), media_type="text/event-stream")

    return Starlette(
        routes=[
            Route("/", page),
            Route("/files/{name}", file),
            Route("/events", events),
            Route("/answer", answer, methods=["POST"]),
            Route("/world", world, methods=["POST"]),
            Route("/write", written, methods=["POST"]),
        ]
    )


def serve(
    make: Callable[[Callable[[], None]], App],
    told: Callable[[str], None],
    port: int = 0,
) -> None:
    """
    Serve the page on this machine alone until it is closed or Ctrl-C is pressed.

    Parameters
    ----------
    make : callable
        Makes the application from what it calls when the page is closed.
    told : callable
        Takes the address once it can be opened.
    port : int, optional
        Port; 0 for one that is free.

    Raises
    ------
    InputError
        If the port is taken.
    """
    import uvicorn

    token = secrets.token_urlsafe(24)
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listening:
        try:
            listening.bind((LOOPBACK, port))
        except OSError as error:
            raise InputError(f"port {port} cannot be used: {error.strerror}") from None
        host = f"{LOOPBACK}:{listening.getsockname()[1]}"

        def stop() -> None:
            server.should_exit = True

        config = uvicorn.Config(
            Guard(make(stop), host, token),
            log_config=None,
            # That pages are still open when it ends is no error to tell of.
            log_level="critical",
            access_log=False,
            server_header=False,
            date_header=False,
            lifespan="off",
            ws="none",
            http="h11",
            limit_concurrency=40,
            timeout_graceful_shutdown=1,
        )
        server = uvicorn.Server(config)
        listening.listen()
        told(f"http://{host}/{token}/")
        server.run(sockets=[listening])
