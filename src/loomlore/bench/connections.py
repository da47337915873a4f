"""Connections that must get on with it: whoever opens one and says nothing, or says it drop by drop, is cut off.

A server that waits for ever can be filled up by anybody who can reach it, without any key. Here a request has
some seconds to come in whole, and when too many connections have not yet brought one, the oldest of them goes.
"""

from __future__ import annotations

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["MOST_SILENT", "TIME_FOR_A_REQUEST", "TimelyConnection"]

TIME_FOR_A_REQUEST = 10.0
"""Seconds in which a request must have come in, once it has begun or the connection is made."""

MOST_SILENT = 64
"""Connections that may be open without having brought a request; a browser makes about six."""

_INCOMPLETE = (h11.IDLE, h11.SEND_BODY)


class TimelyConnection(H11Protocol):
    """One connection, with a time limit for each request."""

    silent: dict[TimelyConnection, None] = {}  # noqa: RUF012  all connections share it, in the order they came
    _limit: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Begin, with the clock running; make room where too many say nothing."""
        super().connection_made(transport)
        self.silent[self] = None
        while len(self.silent) > MOST_SILENT:
            next(iter(self.silent)).cut_off()
        self._start()

    def connection_lost(self, exc: Exception | None) -> None:
        """End."""
        self._stop()
        self.silent.pop(self, None)
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what has come; the clock stops when a request is whole."""
        super().data_received(data)
        if self.conn.their_state in _INCOMPLETE:
            self._start()
        else:
            self._stop()
            self.silent.pop(self, None)

    def _start(self) -> None:
        if self._limit is None:
            self._limit = self.loop.call_later(TIME_FOR_A_REQUEST, self.cut_off)

    def _stop(self) -> None:
        if self._limit is not None:
            self._limit.cancel()
            self._limit = None

    def cut_off(self) -> None:
        """Close the connection without a word."""
        self._limit = None
        self.silent.pop(self, None)
        if not self.transport.is_closing():
            self.transport.abort()
