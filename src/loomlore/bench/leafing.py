"""The pages, by address: what each is made of, and what is seen where it cannot be made.

A page is made in a thread, and loads the modules that it needs when it is first turned to.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import Response

from loomlore.bench.workbench import Bench
from loomlore.findings import LoomloreError, UnfitRecord, UnknownName

__all__ = ["PAGES", "SHORT_WAIT", "answered", "plate_sheet"]

SHORT_WAIT = 0.4
"""Seconds that a page is held back for its plate; then it comes without, and asks for it."""


async def answered(bench: Bench, request: Request, make: Callable[[Bench, Request], Any]) -> Response:
    """Make a page in a thread, or say on a page why it cannot be made.

    Parameters
    ----------
    bench
        What there is.
    request
        For the page.
    make
        One of ``PAGES``.

    Returns
    -------
    Response
        HTML.
    """
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
        at=asked.get("at", "")[:200],
        first=int(first) if first.isdigit() and len(first) < 7 else 0,
    )  # fmt: skip
    return _framed(bench, request, TITLES[word], "/record/item", body, "record")


def _findings(bench: Bench, request: Request) -> str:
    from loomlore.bench.pages import findings_page

    return _framed(
        bench, request, "Pencil marks", "/findings", findings_page(bench.desk.findings()), "findings"
    )


def plate_sheet(bench: Bench) -> Callable[[Request], Any]:
    """Make the route of a service's plate as a sheet to be printed.

    Parameters
    ----------
    bench
        What there is.

    Returns
    -------
    callable
        From a request to SVG.
    """

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


def _worked_sheet(bench: Bench, request: Request) -> str:
    from loomlore.bench.workings import sheet_page

    what, of, standard = request.path_params["what"], request.path_params["of"], _standard(bench, request)
    title, body = sheet_page(
        bench.desk.fresh(), bench.desk.plant(standard), what, of,
        card=request.query_params.get("card", ""), standard=standard,
    )  # fmt: skip
    return _framed(bench, request, title, "", body, "sheet")


PAGES: dict[str, Callable[[Bench, Request], str]] = {
    "/": _contents,
    "/service/{service}": _service,
    "/where": _where,
    "/item/{item}": _item,
    "/faults": _faults,
    "/faults/{hunt}": _fault_hunt,
    "/sources": _sources,
    "/record/{table}": _record,
    "/findings": _findings,
    "/sheet/{what}/{of}": _worked_sheet,
}
"""By address."""
