"""The server of the page: what it offers, and to whom."""

from __future__ import annotations

import asyncio
import gzip
import os
import secrets
import socket
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from fieldsim.errors import FieldsimError, ImpossibleError
from fieldsim.live.draft import PARTS, draft_of_json
from fieldsim.live.guard import Guard
from fieldsim.live.start import beginning
from fieldsim.live.tasks import FILES, Tasks
from fieldsim.live.workers import Busy, Superseded, TookTooLong, Workers
from fieldsim.machine_file.starting import starting_kinds

__all__ = ["Opened", "application", "open_socket", "serve"]

_HERE = "127.0.0.1"
_USUAL_PORT = 8137
_SCRIPTS = ("page.js", "scene.js", "draw.js", "chart.js", "make.js", "state.js")
_QUICK = ("light", "meters")
_LONGEST_VISITOR = 64


@dataclass(frozen=True)
class Opened:
    """Where the server listens.

    Parameters
    ----------
    socket
        Bound and listening.
    host, port
        Its address.
    key
        Secret of this server.
    room
        Whether others than this computer may come.
    """

    socket: socket.socket
    host: str
    port: int
    key: str
    room: bool

    @property
    def names(self) -> tuple[str, ...]:
        """Host names by which it may be called."""
        if not self.room:
            return (_HERE, "localhost")
        found = dict.fromkeys([_HERE, "localhost", self.host, *_own_addresses()])
        return tuple(name for name in found if name not in ("0.0.0.0", "::"))  # noqa: S104

    @property
    def addresses(self) -> tuple[str, ...]:
        """What to type into a browser, the one for others first where others may come."""
        shown = self.names[2:] if self.room and len(self.names) > 2 else self.names[:1]
        return tuple(f"http://{_bracketed(name)}:{self.port}/?key={self.key}" for name in shown)


def open_socket(host: str | None = None, port: int | None = None) -> Opened:
    """Return a socket to serve the page at.

    Parameters
    ----------
    host
        Address to listen at; by default this computer alone.
    port
        By default 8137, or any that is free.

    Raises
    ------
    ImpossibleError
        If the address is not this computer's, or the port is in use.
    """
    where = host or _HERE
    asked = [port] if port is not None else [_USUAL_PORT, 0]
    for number in asked:
        family = socket.AF_INET6 if ":" in where else socket.AF_INET
        # Said to be TCP, so that asyncio sends at once instead of waiting for what may follow.
        made = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            made.bind((where, number))
            made.listen()  # until it listens, others may take the same port
        except OSError as error:
            made.close()
            if number == asked[-1]:
                text = error.strerror or str(error)
                raise ImpossibleError(
                    f"cannot listen at {where} port {number}: {text}; choose another with --port, "
                    "or leave --port away for any that is free"
                ) from None
            continue
        room = where not in (_HERE, "localhost", "::1")
        return Opened(made, where, made.getsockname()[1], secrets.token_urlsafe(12), room)
    raise ImpossibleError("no port is free")


def _own_addresses() -> list[str]:
    """Return this computer's addresses as others see them, and its name."""
    found: list[str] = []
    name = socket.gethostname().lower()
    try:
        found = [str(each[4][0]) for each in socket.getaddrinfo(name, None, socket.AF_INET)]
    except OSError:
        found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Nothing is sent: this only asks which of its addresses the computer would use.
            probe.connect(("192.0.2.1", 9))
            found.insert(0, probe.getsockname()[0])
        except OSError:
            pass
    return [*(a for a in dict.fromkeys(found) if not a.startswith("127.")), name]


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name else name


def application(
    opened: Opened, text: str, workers: Workers, slow: Workers, stop: Callable[[], None]
) -> Guard:
    """Return the application.

    Parameters
    ----------
    opened
        Where it listens.
    text
        Of the machine that the page begins with.
    workers, slow
        Who answers at once, and who does what takes longer.
    stop
        Ends the server; only a page on this computer may ask for it.
    """

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        await workers.start()
        await slow.start()
        try:
            yield
        finally:
            await workers.stop()
            await slow.stop()

    async def page(request: Request) -> Response:
        if not secrets.compare_digest(request.query_params.get("key", ""), opened.key):
            return HTMLResponse(_NO_KEY, status_code=403)
        return HTMLResponse(
            _page(opened.key, text, opened.room), headers={"cache-control": "no-store"}
        )

    async def answer(request: Request) -> Response:
        draft, sent = draft_of_json(await request.body())
        part, visitor = sent.get("part", "light"), _visitor(sent)
        if part not in PARTS:
            raise ImpossibleError(f"there is no such part; there are: {', '.join(PARTS)}")
        crew = workers if part in _QUICK else slow
        found = await crew.ask(visitor, ("answer", (visitor, draft, part)))
        if opened.room and "gzip" in request.headers.get("accept-encoding", ""):
            packed = gzip.compress(found, 1)  # many share one wireless network
            headers = {"content-encoding": "gzip"}
            return Response(packed, media_type="application/json", headers=headers)
        return Response(found, media_type="application/json")

    async def file(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in FILES:
            return Response(f"there are: {', '.join(FILES)}", status_code=404)
        draft, sent = draft_of_json(await request.body())
        made = await slow.ask(f"{_visitor(sent)} file", ("file", (draft, name)))
        return Response(made, media_type=FILES[name])

    async def begin(request: Request) -> Response:
        return JSONResponse({"text": beginning(request.path_params["kind"])})

    async def end(_: Request) -> Response:
        if opened.room:
            return Response("only whoever started the program may end it", status_code=403)
        asyncio.get_running_loop().call_later(0.2, stop)
        return JSONResponse({"stopped": True})

    async def script(request: Request) -> Response:
        name = request.url.path.rsplit("/", 1)[-1]
        body, kind = _asset(name)
        headers = {"content-encoding": "gzip", "cache-control": "max-age=3600"}
        return Response(body, media_type=kind, headers=headers)

    routes = [
        Route("/", page),
        Route("/answer", answer, methods=["POST"]),
        Route("/file/{name}", file, methods=["POST"]),
        Route("/begin/{kind}", begin, methods=["POST"]),
        Route("/stop", end, methods=["POST"]),
        *(Route(f"/{name}", script) for name in _ASSETS),
    ]
    inside = Starlette(
        routes=routes, lifespan=lifespan, exception_handlers={
            FieldsimError: _refused, ClientDisconnect: _gone
        },
    )  # fmt: skip
    hosts = frozenset(f"{_bracketed(name)}:{opened.port}" for name in opened.names)
    return Guard(inside, hosts, opened.key)


_STATUS = {Superseded: 409, Busy: 503, TookTooLong: 504}


async def _refused(_: Request, error: Exception) -> Response:
    words = error.in_one_line if isinstance(error, FieldsimError) else str(error)
    status = next((code for kind, code in _STATUS.items() if isinstance(error, kind)), 422)
    return JSONResponse({"problem": {"words": words}}, status_code=status)


async def _gone(_: Request, __: Exception) -> Response:
    return Response(status_code=400)


def _visitor(sent: dict[str, Any]) -> str:
    visitor = sent.get("visitor")
    if not isinstance(visitor, str) or not 8 <= len(visitor) <= _LONGEST_VISITOR:
        raise ImpossibleError("whoever asks must say a visitor's name of 8 to 64 letters")
    return visitor


_ASSETS = {
    **dict.fromkeys(_SCRIPTS, "text/javascript; charset=utf-8"),
    "page.css": "text/css; charset=utf-8",
}
_NO_KEY = (
    "<!doctype html><html lang=en><meta charset=utf-8><title>fieldsim</title>"
    "<p>Open the whole address that the program printed, with its key."
)


@cache
def _asset(name: str) -> tuple[bytes, str]:
    """Return a file of the page, packed, and its type."""
    raw = files("fieldsim.live").joinpath("page", name).read_bytes()
    return gzip.compress(raw, 6), _ASSETS[name]


def _page(key: str, text: str, room: bool) -> str:
    from jinja2 import Environment, PackageLoader

    environment = Environment(loader=PackageLoader("fieldsim.live", "page"), autoescape=True)
    return environment.get_template("page.html").render(
        key=key, text=text, room=room, files=FILES, kinds=starting_kinds().values()
    )


def serve(
    opened: Opened, text: str, *, processes: int, ready: Callable[[Sequence[str]], None]
) -> None:
    """Serve the page until Ctrl-C or until the page says so.

    Parameters
    ----------
    opened
        From `open_socket`.
    text
        Of the machine that the page begins with.
    processes
        How many answer at once; one more does what takes longer.
    ready
        Called with the addresses when the page can be opened.
    """
    import uvicorn

    from fieldsim.live.patience import Impatient

    def stop() -> None:
        server.should_exit = True

    quick, slow = Workers(Tasks, processes), Workers(Tasks, 1)
    app = application(opened, text, quick, slow, stop)
    config = uvicorn.Config(
        app, log_level="critical", access_log=False, server_header=False, date_header=False,
        timeout_keep_alive=20, timeout_graceful_shutdown=2, lifespan="on", ws="none",
        http=Impatient,
    )  # fmt: skip

    class Server(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            if self.started:
                ready(opened.addresses)

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            # First, so that no request goes on for long.
            quick.end()
            slow.end()
            await super().shutdown(sockets)

    server = Server(config)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # each process has a processor to itself
    with suppress(KeyboardInterrupt):  # the usual way to end it
        server.run(sockets=[opened.socket])
