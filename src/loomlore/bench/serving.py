"""The bench's server: its routes behind one guard, its socket, and how it is opened.

Pages are in :mod:`loomlore.bench.leafing`, what they ask for in :mod:`loomlore.bench.replying`, scripts and
faces in :mod:`loomlore.bench.furnishing`.
"""

from __future__ import annotations

import socket
import sys
import webbrowser
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from threading import Thread
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from loomlore.bench.connections import TimelyConnection
from loomlore.bench.furnishing import asset, nothing
from loomlore.bench.guarding import Guard
from loomlore.bench.leafing import PAGES, answered, plate_sheet
from loomlore.bench.replying import REPLIES, Threaded, replied
from loomlore.bench.workbench import Bench

__all__ = ["bench_application", "listening_socket", "open_bench"]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")

LEAST_PACKED, PACKED = 16_000, 3
"""Bytes from which an answer is packed for the way, and how hard: working the controls is never held up by it."""


class _Guarded:
    """The guard in front of every route, those that are not there too."""

    def __init__(self, app: ASGIApp, guard: Guard) -> None:
        self.app, self.guard = app, guard

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def answer(request: Request) -> Response:
            return await _collected(self.app, request)

        response = await self.guard(Request(scope, receive), answer)
        await response(scope, receive, send)


async def _collected(app: ASGIApp, request: Request) -> Response:
    """An inner answer as one response; every answer of the bench is short."""
    started: dict[str, Any] = {}
    body = bytearray()

    async def take(message: Any) -> None:
        if message["type"] == "http.response.start":
            started.update(message)
        else:
            body.extend(message.get("body", b""))

    await app(request.scope, request.receive, take)
    response = Response(bytes(body), status_code=started["status"])
    response.raw_headers = list(started["headers"])
    return response


def bench_application(folder: Path, *, guard: Guard) -> Starlette:
    """Make the application of one dossier.

    Parameters
    ----------
    folder
        Of the dossier.
    guard
        The door.

    Returns
    -------
    Starlette
        To be served.
    """
    bench = Bench(folder, guard)

    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        del app
        bench.warming = True
        Thread(target=bench.warm, daemon=True, name="warming").start()
        yield
        bench.close()

    def page(path: str, make: Callable[[Bench, Request], str]) -> Route:
        async def answer(request: Request) -> Response:
            return await answered(bench, request, make)

        return Route(path, answer)

    def reply(path: str, make: Callable[[Bench, dict[str, Any]], Any], threaded: Threaded) -> Route:
        async def answer(request: Request) -> Response:
            return await replied(bench, request, make, threaded)

        return Route(path, answer, methods=["POST"])

    routes = [
        *[page(path, make) for path, make in PAGES.items()],
        *[reply(path, make, threaded) for path, (make, threaded) in REPLIES.items()],
        Route("/plate/{service}.svg", plate_sheet(bench)),
        Route("/assets/{name}", asset),
        Route("/favicon.ico", nothing),
    ]
    application = Starlette(routes=routes, lifespan=life)
    application.add_middleware(GZipMiddleware, minimum_size=LEAST_PACKED, compresslevel=PACKED)
    application.add_middleware(_Guarded, guard=guard)
    return application


def listening_socket(host: str, port: int) -> socket.socket:
    """A socket that says it is TCP.

    One made by ``socket.create_server`` does not, asyncio then leaves Nagle's delay on, and every answer of two
    packets waits 40 ms for the other side's acknowledgement.

    Parameters
    ----------
    host
        Address.
    port
        0 takes a free one.

    Returns
    -------
    socket
        Listening.

    Raises
    ------
    OSError
        Where the address cannot be listened on.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if sys.platform != "win32":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((host, port))
        listening.listen(64)
    except OSError:
        listening.close()
        raise
    return listening


def open_bench(
    folder: Path,
    *,
    host: str = "127.0.0.1",
    port: int = 0,
    browser: bool = True,
    say: Callable[[str], None] | None = None,
) -> None:
    """Serve a dossier until the user stops it.

    Parameters
    ----------
    folder
        Of the dossier.
    host
        Address to listen on; the loopback address unless told otherwise.
    port
        0 takes a free one.
    browser
        Whether to open the browser.
    say
        Told what the user must know: the address.

    Raises
    ------
    FileNotFoundError
        Where there is no such folder.
    OSError
        Where the address cannot be listened on.
    """
    if not folder.is_dir():
        raise FileNotFoundError(f"there is no folder {str(folder)!r}")
    listening = listening_socket(host, port)
    taken = listening.getsockname()[1]
    shown = f"[{host}]" if ":" in host else host
    names = {*LOOPBACK, shown} if shown in LOOPBACK else {shown, socket.gethostname().lower(), *LOOPBACK}
    guard = Guard(hosts=frozenset(f"{name}:{taken}" for name in names), port=taken)
    address = f"http://{shown}:{taken}/?token={guard.fresh_token()}"
    told = say or (lambda words: sys.stdout.write(f"{words}\n"))
    told(f"The bench is open at {address}\nThe address lets one browser in, once. Stop with Ctrl-C.")
    if browser:
        webbrowser.open(address)
    config = uvicorn.Config(
        bench_application(folder, guard=guard), log_level="warning", access_log=False, server_header=False,
        timeout_graceful_shutdown=2, ws="none", http=TimelyConnection,
    )  # fmt: skip
    uvicorn.Server(config).run(sockets=[listening])
