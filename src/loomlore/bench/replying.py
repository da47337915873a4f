"""What a page asks for while it is worked: the controls, cards, proofs, hunts, edits.

Operating is done in the event loop itself, since it takes milliseconds; reading, drawing and proving go to
threads. Whatever a request brings is checked before anything is done with it, and a slip of the user's comes
back as a sentence, never as a trace.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from loomlore.bench.leafing import SHORT_WAIT
from loomlore.bench.workbench import Bench
from loomlore.findings import LoomloreError, UnknownName, UnreadableValue

__all__ = ["REPLIES", "replied"]

SITTING = 64
"""Letters of a sitting's name that count."""

Asked = dict[str, Any]
Threaded = bool | Callable[[Asked], bool]


async def replied(
    bench: Bench, request: Request, make: Callable[[Bench, dict[str, Any]], Any], threaded: Threaded
) -> Response:
    """Do what a page asks for.

    Parameters
    ----------
    bench
        What there is.
    request
        With an object as JSON, which the guard has read.
    make
        One of ``REPLIES``.
    threaded
        Whether it is done in a thread.

    Returns
    -------
    Response
        JSON; with ``refused``, a sentence, where it could not be done.
    """
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
    from loomlore.bench.restyling import restyled
    from loomlore.bench.telling import seen_now

    desk, standard, service = bench.desk, str(asked.get("standard", "")), str(asked.get("service", ""))
    sitting = desk.sitting(_reader(asked), standard)
    action = asked.get("action")
    if isinstance(action, dict):
        if action.get("do") == "moves" and "statement" in action:
            action = {"do": "moves", "moves": desk.moves(standard, str(action["statement"]))}
        sitting.work(action)
    plate, seen = desk.plate_at_hand(standard, service), seen_now(sitting, service)
    classes = restyled(plate, sitting.shown, sitting.now.settled) if plate is not None else {}
    amounts = {what: seen[what] for what in ("levers", "amounts")}
    page = str(asked.get("page", ""))[:SITTING]
    number, new = bench.pages.changes(page, plate, {**classes, **amounts}, has=asked.get("has"))
    seen |= {what: new.pop(what) for what in amounts}
    return {"number": number, "classes": new, "seen": seen, "version": desk.version}


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


REPLIES: dict[str, tuple[Callable[[Bench, Asked], Any], Threaded]] = {
    "/operate": (_operate, _waits),
    "/drawn": (_drawn, True),
    "/card": (_card, False),
    "/functions": (_functions, True),
    "/verdicts": (_verdicts, True),
    "/stop": (_stop, True),
    "/hunt": (_hunt, True),
    "/ohms": (_ohms, True),
    "/worked": (_worked, True),
    "/edit": (_edit, True),
    "/try": (_try, True),
    "/version": (_version, True),
    "/another": (_another, False),
}
"""By address: what is done, and whether in a thread."""
