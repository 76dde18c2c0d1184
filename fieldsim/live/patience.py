"""Connections that say nothing, or dribble, are closed after a while."""

from __future__ import annotations

import asyncio

from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["Impatient"]

_HEAD_WITHIN_S = 10.0


class Impatient(H11Protocol):
    """The library's protocol, with a limit on the time until a request's head is complete."""

    _limit: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Take a piece; a request whose head is complete is waited for no longer."""
        if self._limit is None:
            self._wait()
        super().data_received(data)
        if self.cycle is not None and not self.cycle.response_complete:
            self._wait_no_more()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no more."""
        self._wait_no_more()
        super().connection_lost(exc)

    def _wait(self) -> None:
        self._limit = self.loop.call_later(_HEAD_WITHIN_S, self._too_late)

    def _wait_no_more(self) -> None:
        if self._limit is not None:
            self._limit.cancel()
            self._limit = None

    def _too_late(self) -> None:
        self._limit = None
        if self.cycle is None or self.cycle.response_complete:
            self.transport.close()
