"""Who may speak to the bench, and what a page of it may do.

Invariants
----------
* Every request names the bench's own host, so that a foreign name that has been pointed at this machine is
  turned away.
* Every request carries the cookie that only the one-time address could set.
* What changes something comes from a page of the bench (its Origin), as JSON, of bounded size; no form of
  another site can send that.
* A page runs the bench's own script and style sheets, nothing else, and nothing turns text into markup.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

__all__ = ["Guard"]

LARGEST_BODY = 1_000_000
"""Bytes that one request may bring: a pasted list of some thousand cables."""

MOST_ADDRESSES = 16
"""One-time addresses that are good at the same time; the oldest goes when another is asked for."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

Answering = Callable[[Request], Awaitable[Response]]


@dataclass
class Guard:
    """The bench's door: its hosts, its key, and addresses that open it once."""

    hosts: frozenset[str]
    port: int
    key: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _once: dict[str, None] = field(default_factory=dict)

    def fresh_token(self) -> str:
        """A token that lets one browser in, once."""
        token = secrets.token_urlsafe(24)
        self._once[token] = None
        while len(self._once) > MOST_ADDRESSES:
            self._once.pop(next(iter(self._once)))
        return token

    @property
    def cookie(self) -> str:
        """The cookie's name; cookies know no ports, so two benches must not share one."""
        return f"loomlore-{self.port}"

    async def __call__(self, request: Request, answer: Answering) -> Response:
        """Answer a request, or say why not."""
        refusal = self._refused(request) or await _too_large(request)
        response = refusal if refusal is not None else await answer(request)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        response.headers.setdefault("Cache-Control", "no-store")
        return response

    def _refused(self, request: Request) -> Response | None:
        host = request.headers.get("host", "").lower()
        if host not in self.hosts:
            return _said("This bench answers to its own address only.", 421)
        token = request.query_params.get("token")
        if token is not None and request.url.path == "/" and request.method == "GET":
            return self._let_in(token)
        if not hmac.compare_digest(request.cookies.get(self.cookie, "").encode(), self.key.encode()):
            return _said("Open the bench by the address that `loomlore open` printed; it works once.", 403)
        if request.method in ("GET", "HEAD"):
            return None
        if request.headers.get("origin", "").lower() != f"http://{host}":
            return _said("Only a page of this bench may change something.", 403)
        if request.headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return _said("Only a page of this bench may change something.", 403)
        if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
            return _said("The bench takes JSON only.", 415)
        return None

    def _let_in(self, token: str) -> Response:
        if token not in self._once:
            return _said("This address has been used. Ask for another at the foot of an open page.", 403)
        del self._once[token]
        response = RedirectResponse("/", status_code=303)
        response.set_cookie(self.cookie, self.key, httponly=True, samesite="strict", path="/")
        return response


def _said(words: str, status: int) -> Response:
    return PlainTextResponse(words + "\n", status_code=status)


async def _too_large(request: Request) -> Response | None:
    """Read a body up to the limit; starlette keeps what was read for the one who answers."""
    if request.method in ("GET", "HEAD"):
        return None
    said = request.headers.get("content-length", "0")
    if not said.isdigit() or int(said) > LARGEST_BODY:
        return _said("That is more than the bench takes at once; send it in parts.", 413)
    read = bytearray()
    try:
        async for piece in request.stream():
            read += piece
            if len(read) > LARGEST_BODY:
                return _said("That is more than the bench takes at once; send it in parts.", 413)
    except ClientDisconnect:
        return _said("The other side has gone.", 400)
    request.state.body = bytes(read)
    return None
