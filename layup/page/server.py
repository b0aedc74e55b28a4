"""The server of the page: it shows the bench view as it changes, and passes on what is tapped.

Needs the optional extra `page`. It decides nothing about the day: what is shown is `bench.view`, what a tap logs is
`bench.doing`. It lives in the loop of the app, or in one of its own under `layup serve`.
"""

from __future__ import annotations

import asyncio
import json
from collections import Counter
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass, field
from importlib.resources import files
from typing import Protocol

from aiohttp import web

from layup.bench.day import PressDay
from layup.errors import InputError, LayupError
from layup.page.door import EVERYWHERE, LOOPBACK, Door
from layup.page.taps import NO_DAY, TAPS, ChangedError, surface_of, tap, view_of
from layup.session.clock import Clock

LOOK_S = 0.2
"""How often to see whether the day changed: a key on the laptop is on the tablet within half a second."""
HEARTBEAT_S = 4.0
"""So often a page hears of us though nothing changed; one that hears nothing longer says that its data are old."""
MOST_STREAMS, MOST_OF_ONE = 32, 6
"""Pages that may be open at once, in all and of one address."""
MOST_OPEN, MOST_OPEN_OF_ONE = 128, 24
"""Connections that may be open at once, in all and of one address."""
RETRY_MS = 1000
"""After how long a page that lost us comes back."""
SWEEP_S = 1.0
PATIENCE_S = 10.0
"""How long a connection may take to ask, or to take what it is sent."""
LONGEST_BODY, LONGEST_HEADER = 4096, 4096
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src data:; "
        "form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "Cross-Origin-Resource-Policy": "same-origin",
}
PAGE = {
    "/": ("page.html", "text/html"),
    "/page.css": ("page.css", "text/css"),
    "/page.js": ("page.js", "text/javascript"),
}
OPEN_TO_ALL = frozenset({*PAGE, "/enter"})
"""What a device may have before it said the word: nothing of the day stands there."""


class PageHost(Protocol):
    """Whose day is shown: the app, or `layup serve`."""

    @property
    def day(self) -> PressDay | None:
        """The day that is shown, if there is one."""
        ...

    def page_logged(self, words: str) -> None:
        """Hear what a tap logged, and on what, so that the laptop shows it too."""
        ...


@dataclass(slots=True, eq=False)
class Stream:
    """One page that listens; of what it has not taken yet only the newest is kept."""

    address: str
    transport: asyncio.BaseTransport | None = None
    latest: str = ""
    wake: asyncio.Event = field(default_factory=asyncio.Event)

    def offer(self, text: str) -> None:
        """Give it the newest view."""
        self.latest = text
        self.wake.set()


class BenchServer:
    """Serves one day's bench to the pages that are open."""

    def __init__(self, host: PageHost, door: Door, clock: Clock) -> None:
        self.host = host
        self.door = door
        self.clock = clock
        self._streams: set[Stream] = set()
        self._asked_s: dict[asyncio.BaseProtocol, float] = {}
        """When each open connection asked last."""
        self._runner: web.AppRunner | None = None
        self._server: asyncio.Server | None = None
        self._tasks: list[asyncio.Task[None]] = []
        self._moment: tuple[object, ...] | None = ()
        self._said = ""
        self._told_s = float("-inf")

    # -- life -------------------------------------------------------------------------------------------------------

    def app(self) -> web.Application:
        """Return what answers requests."""
        app = web.Application(middlewares=[self._guard], client_max_size=LONGEST_BODY)
        app.add_routes([web.get(path, self._page) for path in PAGE])
        app.add_routes([web.get("/stream", self._stream), web.post("/enter", self._enter)])
        app.add_routes([web.post("/tap/{name}", self._tap)])
        app.on_response_prepare.append(_add_headers)
        return app

    async def start(self) -> None:
        """Listen; OSError where the port cannot be used."""
        self._runner = web.AppRunner(
            self.app(),
            access_log=None,
            keepalive_timeout=PATIENCE_S,
            max_line_size=LONGEST_HEADER,
            max_field_size=LONGEST_HEADER,
            shutdown_timeout=1.0,
        )
        await self._runner.setup()
        loop = asyncio.get_running_loop()
        where = EVERYWHERE if self.door.lan else LOOPBACK
        self._server = await loop.create_server(self._connection, where, self.door.port, backlog=MOST_OPEN)
        self._tasks = [asyncio.create_task(self._look()), asyncio.create_task(self._sweep())]

    async def stop(self) -> None:
        """Close every page and stop listening, within a few seconds."""
        for task in self._tasks:
            task.cancel()
        for stream in self._streams:
            stream.offer("")
        if self._server is not None:
            self._server.close()
        if self._runner is not None:
            with suppress(TimeoutError):
                async with asyncio.timeout(3.0):
                    await self._runner.cleanup()

    def _connection(self) -> asyncio.BaseProtocol:
        """Return the protocol of a new connection, which is watched until it ends."""
        assert self._runner is not None
        assert self._runner.server is not None
        protocol = self._runner.server()
        self._asked_s[protocol] = self.clock.monotonic_s()
        return protocol

    async def _sweep(self) -> None:
        while True:
            await asyncio.sleep(SWEEP_S)
            self.end_idle()

    def end_idle(self) -> None:
        """End the connections that take too long, and those beyond what one address may have."""
        now_s = self.clock.monotonic_s()
        by_address: Counter[str] = Counter()
        for protocol, asked_s in sorted(self._asked_s.items(), key=lambda item: item[1], reverse=True):
            transport = getattr(protocol, "transport", None)
            if transport is None or transport.is_closing():
                if now_s - asked_s > SWEEP_S:
                    del self._asked_s[protocol]
                continue
            address = str((transport.get_extra_info("peername") or ("",))[0])
            by_address[address] += 1
            streams = any(stream.transport is transport for stream in self._streams)
            too_many = by_address[address] > MOST_OPEN_OF_ONE or by_address.total() > MOST_OPEN
            if not streams and (too_many or now_s - asked_s > PATIENCE_S):
                transport.abort()

    # -- requests ---------------------------------------------------------------------------------------------------

    @web.middleware
    async def _guard(
        self, request: web.Request, handler: Callable[[web.Request], Awaitable[web.StreamResponse]]
    ) -> web.StreamResponse:
        """Let a request through, or send it away with a reason."""
        self._asked_s[request.protocol] = self.clock.monotonic_s()
        if not self.door.is_ours(request.headers.get("Host", "")):
            raise web.HTTPForbidden(text="This is not the address of the bench.")
        if not self.door.comes_from_us(request.headers, changes=request.method != "GET"):
            raise web.HTTPForbidden(text="Another page may not use the bench.")
        role = self.door.role_of(request.cookies.get(self.door.cookie))
        if role is None and request.path not in OPEN_TO_ALL:
            raise web.HTTPUnauthorized(text="Say the word first.")
        if role != "writer" and request.method != "GET" and request.path != "/enter":
            raise web.HTTPForbidden(text="This device looks on only.")
        return await handler(request)

    async def _page(self, request: web.Request) -> web.Response:
        name, kind = PAGE[request.path]
        text = (files("layup.page") / name).read_text(encoding="utf-8")
        return web.Response(text=text, content_type=kind)

    async def _enter(self, request: web.Request) -> web.Response:
        """Let a device in that says the word."""
        said = (await _fields(request)).get("word")
        found = self.door.enter(said if isinstance(said, str) else "", request.remote or "", self.clock.monotonic_s())
        if isinstance(found, float):
            answer = {"wait_s": found, "said": "That is not the word on the bench computer now."}
            return web.json_response(answer, status=403)
        response = web.json_response({"said": "in"})
        response.set_cookie(self.door.cookie, found, httponly=True, samesite="Strict", path="/")
        return response

    async def _tap(self, request: web.Request) -> web.Response:
        """Do what was tapped, or say why not, or what has to be asked first."""
        day, name = self.host.day, request.match_info["name"]
        if name not in TAPS:
            raise web.HTTPNotFound(text="There is no such button.")
        if day is None:
            return web.json_response({"said": "no press day is running", "done": False}, status=409)
        given = await _fields(request)
        try:
            answer = tap(day, name, given)
        except ChangedError:
            return web.json_response({"said": "the act has changed: read it again", "done": False}, status=409)
        except LayupError as error:
            status = 400 if isinstance(error, InputError) else 409
            return web.json_response({"said": str(error), "done": False}, status=status)
        if answer.get("said"):
            self.host.page_logged(f"{surface_of(given).kind}: {answer['said']}")
        self._show()
        return web.json_response(answer)

    async def _stream(self, request: web.Request) -> web.StreamResponse:
        """Send the view whenever it changes, for as long as the page takes it."""
        address = request.remote or ""
        of_one = sum(stream.address == address for stream in self._streams)
        if len(self._streams) >= MOST_STREAMS or of_one >= MOST_OF_ONE:
            raise web.HTTPServiceUnavailable(text="Too many pages are open.", headers={"Retry-After": "5"})
        response = web.StreamResponse(headers={"Content-Type": "text/event-stream", "X-Accel-Buffering": "no"})
        stream = Stream(address, request.transport)
        self._streams.add(stream)
        try:
            await response.prepare(request)
            await response.write(f"retry: {RETRY_MS}\n\n".encode())
            stream.offer(_text(self._data()))
            await self._send(request, response, stream)
        finally:
            self._streams.discard(stream)
        return response

    async def _send(self, request: web.Request, response: web.StreamResponse, stream: Stream) -> None:
        """Send what is new until the page is gone, takes too long, or the server ends."""
        with suppress(ConnectionError, TimeoutError):
            while True:
                await stream.wake.wait()
                stream.wake.clear()
                if not stream.latest:
                    return
                async with asyncio.timeout(PATIENCE_S):
                    await response.write(f"data: {stream.latest}\n\n".encode())
                self._asked_s[request.protocol] = self.clock.monotonic_s()

    # -- the view ---------------------------------------------------------------------------------------------------

    async def _look(self) -> None:
        """Look at the day all the time, and tell the pages what is new."""
        while True:
            self._show()
            await asyncio.sleep(LOOK_S)

    def _show(self) -> None:
        """Send the view to every page where it says something new, or nothing was said for long."""
        if not self._streams:
            return
        day, now_s = self.host.day, self.clock.monotonic_s()
        moment = None if day is None else (day.folder, day.state.seq, day.fault, int(day.now_s()))
        due = now_s - self._told_s >= HEARTBEAT_S
        if moment == self._moment and not due:
            return
        self._moment = moment
        data = self._data()
        said = lasting(data)
        if said == self._said and not due:
            return
        self._said, self._told_s = said, now_s
        for stream in self._streams:
            stream.offer(_text(data))

    def _data(self) -> dict[str, object]:
        day = self.host.day
        data: dict[str, object] = dict(NO_DAY) if day is None else view_of(day)
        return {**data, "writer": self.door.role == "writer" and (day is None or not day.watching)}


def _roughly(acts: object) -> object:
    """Return acts with the times at which they come to half a minute: a forecast that creeps is no news."""
    if isinstance(acts, list):
        return [_roughly(act) for act in acts]
    expected_s = acts.get("expected_s") if isinstance(acts, dict) else None
    if not isinstance(acts, dict) or expected_s is None:
        return acts
    return {**acts, "expected_s": round(expected_s / 30.0)}


def lasting(data: dict[str, object]) -> str:
    """Return what a view says beside what the page counts by itself."""
    kept = {key: value for key, value in data.items() if key not in ("at_s", "step", "press")}
    step, press = data.get("step"), data.get("press")
    kept["step"] = {**step, "spent_s": None} if isinstance(step, dict) else None
    for name in ("act", "beside", "then", "others"):
        kept[name] = _roughly(data.get(name))
    if isinstance(press, dict):
        slow = ("ready_s", "spare_s", "if_poured_s")
        kept["press"] = {key: round(value / 30.0) if key in slow and value else value for key, value in press.items()}
    return json.dumps(kept, sort_keys=True)


def _text(data: dict[str, object]) -> str:
    return json.dumps(data, ensure_ascii=False, allow_nan=False)


async def _fields(request: web.Request) -> dict[str, object]:
    """Return what a request says, as one JSON object; anything else is refused as such."""
    try:
        found = json.loads((await request.read()).decode("utf-8"))
    except ValueError as error:
        raise web.HTTPBadRequest(text=f"This is no JSON object in UTF-8 ({type(error).__name__}).") from None
    if not isinstance(found, dict):
        raise web.HTTPBadRequest(text="This is no JSON object.")
    return found


async def _add_headers(request: web.Request, response: web.StreamResponse) -> None:
    del request
    response.headers.update(HEADERS)
    response.headers["Server"] = "layup"
