"""What every request must pass: host, origin, key and size; and what every answer carries."""

from __future__ import annotations

import asyncio
import hmac
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

__all__ = ["Guard"]

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Message, Receive, Send], Awaitable[None]]

_LARGEST_BODY = 300_000  # bytes: a machine's text is at most 100 kB
_SLOWEST_S = 10.0  # between two pieces of a body

_HEADERS = {
    # Nothing may come from anywhere but this server, nor stand in the page itself.
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' data: blob:; connect-src 'self'; "
    "form-action 'none'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}


class Guard:
    """Refuses requests that are not the page's own.

    Parameters
    ----------
    inside
        The application.
    hosts
        What the ``Host`` line may say, for instance ``127.0.0.1:8000``.
    key
        Secret of this server, which its page sends along with everything it asks.
    """

    def __init__(self, inside: Application, hosts: frozenset[str], key: str) -> None:
        self._inside = inside
        self._hosts = hosts
        self._key = key.encode()

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] == "lifespan":
            await self._inside(scope, receive, send)
            return
        if scope["type"] != "http":  # no other kind is offered
            await send({"type": "websocket.close", "code": 1008})
            return
        headers = {name.lower(): value for name, value in scope["headers"]}
        refusal = self._refusal(scope["method"], headers)
        guarded = _with_headers(send)
        if refusal is not None:
            await _refuse(guarded, *refusal)
            return
        await self._inside(scope, _limited(receive), guarded)

    def _refusal(self, method: str, headers: dict[bytes, bytes]) -> tuple[int, str] | None:
        host = headers.get(b"host", b"").decode("latin-1").lower()
        if host not in self._hosts:
            return 421, "this server does not answer to that name"
        origin = headers.get(b"origin")
        if origin is not None and origin.decode("latin-1").lower() != f"http://{host}":
            return 403, "requests from other sites are refused"
        if method not in ("GET", "HEAD"):
            if not hmac.compare_digest(headers.get(b"x-fieldsim-key", b""), self._key):
                return 403, "the key is missing; open the address that the program printed"
            length = headers.get(b"content-length", b"0")
            if not length.isdigit() or int(length) > _LARGEST_BODY:
                return 413, "that is larger than any machine"
        return None


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = [(name.encode(), value.encode()) for name, value in _HEADERS.items()]
            message = {**message, "headers": [*message.get("headers", []), *own]}
        await send(message)

    return sending


def _limited(receive: Receive) -> Receive:
    """Return what gives the body's pieces, but not too many and not too slowly."""
    seen = 0

    async def receiving() -> Message:
        nonlocal seen
        try:
            async with asyncio.timeout(_SLOWEST_S):
                message = await receive()
        except TimeoutError:
            return {"type": "http.disconnect"}
        seen += len(message.get("body", b""))
        return {"type": "http.disconnect"} if seen > _LARGEST_BODY else message

    return receiving


async def _refuse(send: Send, status: int, words: str) -> None:
    body = words.encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"),
               (b"content-length", str(len(body)).encode()), (b"connection", b"close")]  # fmt: skip
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
