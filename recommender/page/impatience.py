"""Connections whose headers don't come, or whose answers nobody takes: let go, so that nobody holds them for ever."""

from __future__ import annotations

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol


class ImpatientProtocol(H11Protocol):
    """HTTP/1.1 as uvicorn speaks it, to whom the headers of a request come whole within `headers_within` seconds.

    Whoever asked something takes a part of the answer within `taken_within` seconds, and the next, or is let go.
    """

    headers_within: float = 10.0
    taken_within: float = 30.0

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._patience: asyncio.TimerHandle | None = None
        self._untaken: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Wait on where a request has begun and its headers aren't whole; a request that is there is not hurried."""
        super().data_received(data)
        if self.conn.their_state is not h11.IDLE:
            self._stop_waiting()
        elif self._patience is None:
            self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait for nothing any more."""
        self._stop_waiting()
        self.resume_writing()
        super().connection_lost(exc)

    def pause_writing(self) -> None:
        """Begin to wait for somebody to take what was answered: more of it isn't put aside."""
        super().pause_writing()
        # what is closed politely would wait for the reader still
        self._untaken = self._untaken or self.loop.call_later(self.taken_within, self.transport.abort)

    def resume_writing(self) -> None:
        """Go on: a part of the answer was taken."""
        super().resume_writing()
        if self._untaken is not None:
            self._untaken.cancel()
            self._untaken = None

    def _wait(self) -> None:
        self._patience = self.loop.call_later(self.headers_within, self._let_go)

    def _stop_waiting(self) -> None:
        if self._patience is not None:
            self._patience.cancel()
            self._patience = None

    def _let_go(self) -> None:
        if not self.transport.is_closing():
            self.transport.close()
