"""The bench's server: routes to the pages and to what the pages ask for while they are worked.

Operating is done in the event loop itself, since it takes milliseconds; reading, drawing and proving go to
threads. Whatever a request brings is checked before anything is done with it, and a slip of the user's comes
back as a sentence, never as a trace.
"""

from __future__ import annotations

import json
import socket
import sys
import webbrowser
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from pathlib import Path
from threading import Event, Lock, Thread
from typing import Any

import uvicorn
from anyio import to_thread
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from loomlore.bench.connections import TimelyConnection
from loomlore.bench.guarding import Guard
from loomlore.findings import LoomloreError, UnfitRecord, UnknownName, UnreadableValue

__all__ = ["Bench", "bench_application", "listening_socket", "open_bench"]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
ASSETS = {
    "bench.css": "text/css",
    "bench.js": "text/javascript",
    "hunting.js": "text/javascript",
    "ledger.js": "text/javascript",
}
SITTING = 64
FIRST_PAGE = 3.0
"""Seconds at most for which the first page has the processor to itself."""

SHORT_WAIT = 0.4
"""Seconds that a page is held back for its plate; then it comes without, and asks for it."""

Threaded = bool | Callable[[dict[str, Any]], bool]


@dataclass
class Bench:
    """What the routes work with; ``desk`` is made when first asked for, so that the door is open at once."""

    folder: Path
    guard: Guard
    _desk: Any = None
    _ledger: Any = None
    _hunts: Any = None
    _lock: Lock = field(default_factory=Lock)
    _said_so: bool = False
    warming: bool = False
    first_answered: Event = field(default_factory=Event)

    @property
    def desk(self) -> Any:
        """The open dossier."""
        with self._lock:
            if self._desk is None:
                from loomlore.bench.desk import Desk

                self._desk = Desk(self.folder)
            return self._desk

    @property
    def ledger(self) -> Any:
        """Its edits."""
        if self._ledger is None:
            from loomlore.bench.ledger import Ledger

            self._ledger = Ledger(self.desk)
        return self._ledger

    @property
    def hunts(self) -> Any:
        """Its hunts for faults."""
        with self._lock:
            if self._hunts is None:
                from loomlore.bench.hunts import Hunts

                self._hunts = Hunts(self.folder)
            return self._hunts

    def warm(self) -> None:
        """Read the record before anybody asks; the rest waits until the first page is out."""
        desk = self.desk
        with suppress(LoomloreError, OSError):
            desk.fresh()
        self.warming = False
        self.first_answered.wait(FIRST_PAGE)
        desk.warm()

    def says_it_reads(self) -> bool:
        """Whether a page is to say that the record is being read: once, and only while it is."""
        says, self._said_so = self.warming and not self._said_so, True
        return says

    def close(self) -> None:
        """Give up what goes on beside."""
        if self._desk is not None:
            self._desk.close()
        if self._hunts is not None:
            self._hunts.close()


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

    def page(path: str, make: Callable[[Bench, Request], Any]) -> Route:
        async def answer(request: Request) -> Response:
            return await _page(bench, request, make)

        return Route(path, answer)

    def data(path: str, make: Callable[[Bench, dict[str, Any]], Any], *, threaded: Threaded) -> Route:
        async def answer(request: Request) -> Response:
            return await _data(bench, request, make, threaded)

        return Route(path, answer, methods=["POST"])

    routes = [
        page("/", _contents),
        page("/service/{service}", _service),
        page("/where", _where),
        page("/item/{item}", _item),
        page("/faults", _faults),
        page("/faults/{hunt}", _fault_hunt),
        page("/sources", _sources),
        page("/record/{table}", _record),
        page("/findings", _findings),
        page("/sheet/{what}/{of}", _worked_sheet),
        Route("/plate/{service}.svg", _sheet(bench)),
        Route("/assets/{name}", _asset),
        Route("/favicon.ico", _nothing),
        data("/operate", _operate, threaded=_waits),
        data("/drawn", _drawn, threaded=True),
        data("/card", _card, threaded=False),
        data("/functions", _functions, threaded=True),
        data("/verdicts", _verdicts, threaded=True),
        data("/stop", _stop, threaded=True),
        data("/hunt", _hunt, threaded=True),
        data("/ohms", _ohms, threaded=True),
        data("/worked", _worked, threaded=True),
        data("/edit", _edit, threaded=True),
        data("/try", _try, threaded=True),
        data("/version", _version, threaded=True),
        data("/another", _another, threaded=False),
    ]
    application = Starlette(routes=routes, lifespan=life)
    application.add_middleware(_Guarded, guard=guard)
    return application


# -- pages ---------------------------------------------------------------------------------------------------


async def _page(bench: Bench, request: Request, make: Callable[[Bench, Request], Any]) -> Response:
    if bench.says_it_reads():
        return Response(_reading_page(bench.folder.name), media_type="text/html; charset=utf-8")
    try:
        made = await to_thread.run_sync(make, bench, request)
        bench.first_answered.set()
        return Response(made, media_type="text/html; charset=utf-8")
    except UnknownName as error:
        return _refusal("There is no such page", [f"{error}."], 404)
    except UnfitRecord as error:
        return _refusal(
            "The record cannot be read", [f"{f.place}: {f.message} {f.hint}" for f in error.findings], 422
        )
    except (LoomloreError, OSError) as error:
        return _refusal("The record cannot be shown", [str(error)], 422)


def _reading_page(name: str) -> str:
    """What is seen while the record is being read: it asks for the same page again, which then waits."""
    from loomlore.bench.markup import Markup, joined, tag

    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", http_equiv="refresh", content="0"),
        tag("title", name),
        tag("link", rel="stylesheet", href="/assets/bench.css"),
    )
    said = tag("main", tag("h1", name), tag("p", "The record is being read …", role="status"))
    return joined(Markup("<!doctype html>\n"), tag("html", head, tag("body", said), lang="en"))


def _refusal(title: str, words: list[str], status: int) -> Response:
    from loomlore.bench.pages import refusal_page

    return Response(refusal_page(title, words), status_code=status, media_type="text/html; charset=utf-8")


def _standard(bench: Bench, request: Request) -> str:
    standard = request.query_params.get("standard", "")
    bench.desk.fresh().fits(standard)
    return standard


def _framed(bench: Bench, request: Request, title: str, here: str, body: Any, kind: str) -> str:
    from loomlore.bench.pages import frame

    desk = bench.desk
    opened = desk.fresh()
    return frame(
        opened, title=title, here=here, version=desk.version, body=body, marks=len(desk.findings()),
        standard=_standard(bench, request), kind=kind,
    )  # fmt: skip


def _contents(bench: Bench, request: Request) -> str:
    from loomlore.bench.pages import contents_page

    standard = _standard(bench, request)
    opened = bench.desk.fresh()
    installation, _ = opened.joined(opened.fits(standard))
    body = contents_page(opened, installation, standard)
    return _framed(bench, request, "Services", "/", body, "contents")


def _service(bench: Bench, request: Request) -> str:
    from loomlore.bench.plates import undrawn
    from loomlore.bench.spreads import service_page

    desk, standard = bench.desk, _standard(bench, request)
    name = request.path_params["service"]
    opened, plant = desk.fresh(), desk.plant(standard)
    if name not in opened.dossier.services:
        raise UnknownName("service", name, opened.dossier.services)
    drawn = desk.plate(standard, name, wait=SHORT_WAIT)
    plate = drawn or undrawn(plant, name)
    body = service_page(opened, plant, plate, standard, desk.findings(), being_drawn=drawn is None)
    return _framed(bench, request, plate.title, "/", body, "service")


def _where(bench: Bench, request: Request) -> str:
    from loomlore.bench.searching import search
    from loomlore.bench.things import looms_of, where_page

    desk, standard = bench.desk, _standard(bench, request)
    asked = request.query_params.get("for", "")[:200]
    opened, plant = desk.fresh(), desk.plant(standard)
    found = search(opened.dossier, asked)
    plans = desk.plans(standard, looms_of(opened, found), wait=SHORT_WAIT)
    body = where_page(opened, plant, standard, asked, plans, found)
    return _framed(bench, request, "Where things are", "/where", body, "where")


def _item(bench: Bench, request: Request) -> str:
    from loomlore.bench.things import item_page

    desk, standard = bench.desk, _standard(bench, request)
    name = request.path_params["item"]
    opened = desk.fresh()
    if name not in opened.dossier.items:
        raise UnknownName("item", name, opened.dossier.items)
    body = item_page(opened, desk.plant(standard), name, standard)
    return _framed(bench, request, opened.dossier.items[name].name, "/where", body, "item")


def _faults(bench: Bench, request: Request) -> str:
    from loomlore.bench.finding import begin_page

    standard, service = _standard(bench, request), request.query_params.get("service", "")
    body = begin_page(bench.desk.fresh(), bench.desk.plant(standard), standard, service, bench.hunts.kept())
    return _framed(bench, request, "Fault finding", "/faults", body, "hunting")


def _fault_hunt(bench: Bench, request: Request) -> str:
    from loomlore.bench.finding import hunt_page

    name = request.path_params["hunt"]
    body = hunt_page(
        bench.desk.fresh(), bench.desk.plant(_standard(bench, request)), name, bench.hunts.data(name)
    )
    return _framed(bench, request, "Fault finding", "/faults", body, "hunting")


def _sources(bench: Bench, request: Request) -> str:
    from loomlore.bench.pages import sources_page
    from loomlore.evidence.disagreements import weigh

    desk, standard = bench.desk, _standard(bench, request)
    opened = desk.fresh()
    weighed = weigh(opened.dossier, opened.kinds, place_of=opened.reading.place_of)
    body = sources_page(opened, desk.plant(standard), weighed)
    return _framed(bench, request, "Sources", "/sources", body, "sources")


def _record(bench: Bench, request: Request) -> str:
    from loomlore.bench.ledger import TITLES, record_page

    desk, asked = bench.desk, request.query_params
    first = asked.get("first", "0")
    word = request.path_params["table"]
    body = record_page(
        desk.fresh(), word, desk.findings(), service=asked.get("service", ""), about=asked.get("about", "")[:200],
        first=int(first) if first.isdigit() and len(first) < 7 else 0,
    )  # fmt: skip
    return _framed(bench, request, TITLES[word], "/record/item", body, "record")


def _findings(bench: Bench, request: Request) -> str:
    from loomlore.bench.pages import findings_page

    return _framed(
        bench, request, "Pencil marks", "/findings", findings_page(bench.desk.findings()), "findings"
    )


def _sheet(bench: Bench) -> Callable[[Request], Any]:
    def draw(request: Request) -> str:
        standard = _standard(bench, request)
        plant = bench.desk.plant(standard)
        service = request.path_params["service"]
        if service not in plant.installation.dossier.services:
            raise UnknownName("service", service, plant.installation.dossier.services)
        svg: str = bench.desk.drawing("sheet", standard, service)
        return svg

    async def answer(request: Request) -> Response:
        try:
            svg = await to_thread.run_sync(draw, request)
        except (LoomloreError, OSError) as error:
            return _refusal("There is no such plate", [f"{error}"], 404)
        # A sheet carries its own style and no script; nothing else of the page's rights is given to it.
        policy = {
            "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"
        }
        return Response(svg, media_type="image/svg+xml", headers=policy)

    return answer


# -- assets --------------------------------------------------------------------------------------------------


async def _nothing(request: Request) -> Response:
    """Browsers ask for a small picture of the page; a handbook has none."""
    del request
    return Response(status_code=204)


async def _asset(request: Request) -> Response:
    name = request.path_params["name"]
    found = await to_thread.run_sync(_asset_bytes, name)
    if found is None:
        return Response("There is no such file.\n", status_code=404, media_type="text/plain")
    content, media = found
    return Response(content, media_type=media, headers={"Cache-Control": "private, max-age=600"})


@lru_cache(maxsize=32)
def _asset_bytes(name: str) -> tuple[bytes, str] | None:
    """One of the bench's own files, the plates' style sheet, or a face; found by name, never by path."""
    if name in ASSETS:
        return resources.files("loomlore.bench").joinpath("assets", name).read_bytes(), ASSETS[name]
    if name == "plate.css":
        return _plate_style().encode(), "text/css"
    from loomlore.drawing.typefaces import FILES, font_file

    faces = {font_file(face).name: font_file(face) for face in FILES}
    if name in faces:
        return faces[name].read_bytes(), "font/ttf"
    return None


def _plate_style() -> str:
    from loomlore.drawing.looks import COLOURS, stylesheet
    from loomlore.drawing.painting import face_rules

    faces = face_rules("/assets").replace("src:", "font-display:swap;src:")
    paper = "".join(f"--{name}:{shades['paper']};" for name, shades in COLOURS.items())
    dark = "".join(f"--{name}:{shades['dark']};" for name, shades in COLOURS.items())
    hues = f":root{{{paper}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
    inside = stylesheet("dark", live=True)
    return f"{faces}{hues}{stylesheet('paper', live=True)}@media screen and (prefers-color-scheme:dark){{{inside}}}\n"


# -- what a page asks for ------------------------------------------------------------------------------------


async def _data(
    bench: Bench, request: Request, make: Callable[[Bench, dict[str, Any]], Any], threaded: Threaded
) -> Response:
    try:
        asked = json.loads(request.state.body or b"{}")
        if not isinstance(asked, dict):
            raise UnreadableValue("The bench takes an object.", "Send one.")
        beside = threaded(asked) if callable(threaded) else threaded
        made = await to_thread.run_sync(make, bench, asked) if beside else make(bench, asked)
        return JSONResponse(made)
    except (json.JSONDecodeError, UnicodeDecodeError, RecursionError):
        return JSONResponse({"refused": "That was no JSON."}, status_code=400)
    except (LoomloreError, OSError) as error:
        return JSONResponse({"refused": str(error)}, status_code=409)


def _reader(asked: dict[str, Any]) -> str:
    return str(asked.get("sitting", ""))[:SITTING]


def _operate(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    from loomlore.bench.plates import restyled
    from loomlore.bench.telling import seen_now

    desk, standard, service = bench.desk, str(asked.get("standard", "")), str(asked.get("service", ""))
    sitting = desk.sitting(_reader(asked), standard)
    action = asked.get("action")
    if isinstance(action, dict):
        if action.get("do") == "moves" and "statement" in action:
            action = {"do": "moves", "moves": desk.moves(standard, str(action["statement"]))}
        sitting.work(action)
    plate = desk.plate_at_hand(standard, service)
    return {
        "classes": restyled(plate, sitting.shown, sitting.now.settled) if plate is not None else {},
        "seen": seen_now(sitting, service),
        "version": desk.version,
    }


def _waits(asked: dict[str, Any]) -> bool:
    """Whether working the controls may have to wait for a proof: then it is not done in the event loop."""
    action = asked.get("action")
    return isinstance(action, dict) and "statement" in action


def _drawn(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    standard, service = str(asked.get("standard", "")), str(asked.get("service", ""))
    return {"drawn": bench.desk.plate(standard, service, wait=SHORT_WAIT) is not None}


def _card(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    from loomlore.bench.telling import card_of

    desk = bench.desk
    sitting = desk.sitting(_reader(asked), str(asked.get("standard", "")))
    return card_of(desk.recent(), sitting, str(asked.get("name", "")))


def _functions(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    standard, service = str(asked.get("standard", "")), str(asked.get("service", ""))
    opened = bench.desk.fresh()
    opened.fits(standard)
    if service not in opened.dossier.services:
        raise UnknownName("service", service, opened.dossier.services)
    task = bench.desk.functions(standard, service)
    return {"finished": task.finished, "failed": task.failed, "result": task.result}


def _verdicts(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = bench.desk.verdicts(str(asked.get("standard", "")), str(asked.get("service", "")))
    return found


def _stop(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    bench.desk.stop_proving(str(asked.get("standard", "")), str(asked.get("service", "")))
    return {}


def _hunt(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    from loomlore.bench.telling import setting_of

    bench.desk.fresh()
    if asked.get("do") == "set":
        return {"set": bench.desk.sitting(_reader(asked), str(asked.get("standard", ""))).moved_words()}
    if asked.get("as_set"):
        sitting = bench.desk.sitting(_reader(asked), str(asked.get("standard", "")))
        asked = {**asked, "setting": setting_of(sitting)}
    made: dict[str, Any] = bench.hunts.work(asked, bench.desk.version)
    return made


def _ohms(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    from loomlore.bench.telling import ohms_data

    sitting = bench.desk.sitting(_reader(asked), str(asked.get("standard", "")))
    return ohms_data(sitting, str(asked.get("from", "")), str(asked.get("to", "")))


def _worked(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    from loomlore.bench.workings import progress

    return progress(bench.desk, asked)


def _worked_sheet(bench: Bench, request: Request) -> str:
    from loomlore.bench.workings import sheet_page

    what, of, standard = request.path_params["what"], request.path_params["of"], _standard(bench, request)
    title, body = sheet_page(
        bench.desk.fresh(), bench.desk.plant(standard), what, of,
        card=request.query_params.get("card", ""), standard=standard,
    )  # fmt: skip
    return _framed(bench, request, title, "", body, "sheet")


def _edit(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    made: dict[str, Any] = bench.ledger.work(asked)
    return made


def _try(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    from loomlore.bench.suggesting import suggested

    made: dict[str, Any] = bench.ledger.tried(asked)
    word, key, text = (str(asked.get(part, "")) for part in ("subject", "key", "text"))
    opened, plant = bench.desk.recent(), bench.desk.plant("")
    named = suggested(opened, plant, word.partition(" ")[0], key, text[:200])
    return made | ({"choices": named["choices"]} if made["wrong"] else named)


def _version(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    del asked
    bench.desk.fresh()
    return {"version": bench.desk.version, "marks": len(bench.desk.findings())}


def _another(bench: Bench, asked: dict[str, Any]) -> dict[str, Any]:
    del asked
    return {"token": bench.guard.fresh_token()}


# -- serving -------------------------------------------------------------------------------------------------


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
