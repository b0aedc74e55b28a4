"""The web server of `layup serve`: our own page around the app, and a door that asks for a word on the LAN.

Needs the optional extra `serve`; only `serve.py` imports this, and only when it runs. On loopback a page of another
site must not reach the app through the browser, so the host and, for the socket, the origin of a request have to be
ours.
"""

from __future__ import annotations

import asyncio
import hmac
import logging
import secrets
from collections.abc import Awaitable, Callable
from contextlib import suppress
from html import escape
from importlib.resources import files
from string import Template
from typing import Any
from urllib.parse import urlsplit

from aiohttp import web
from textual_serve.app_service import AppService
from textual_serve.server import Server, to_int

from layup.app.keys import PLACES
from layup.commands.served_app import EVERYWHERE, LOOPBACK

SYLLABLES = 4
"""Of 80 each: 41 million words."""
WRONG_LIMIT = 20
"""After so many wrong words nobody else is let in."""
LEAVE_S = 5.0
"""How long an app may take to end once its page is gone; a writer's journal must not stay locked."""
_CONSONANTS, _VOWELS = "bdfghjklmnprstvz", "aeiou"
_PAGE_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; font-src 'self'; "
        "img-src 'self' data:; connect-src 'self' ws://{host} wss://{host}; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cache-Control": "no-store",
}


class Door:
    """Who may come in: on loopback whoever uses this machine, on the LAN each device once it has said its word.

    Each word lets one device in; then the next is said. It stays in by a cookie until the server ends.
    """

    def __init__(self, *, lan: bool, port: int, say: Callable[[str], None]) -> None:
        self.lan = lan
        self.port = port
        self.word = ""
        self._say = say
        self._tokens: set[str] = set()
        self._wrong = 0

    @property
    def cookie(self) -> str:
        """The name of the cookie; browsers do not keep those of two ports apart."""
        return f"layup-{self.port}"

    def show_word(self) -> None:
        """Make up the next word and say it, where one is needed."""
        if self.lan:
            self.word = "".join(secrets.choice(_CONSONANTS) + secrets.choice(_VOWELS) for _ in range(SYLLABLES))
            self._say(f"word for the next device: {self.word}")

    def open_to(self, said: str) -> str | None:
        """Return a token for a device that says the word, or None; a word is good once."""
        if not self.word:
            return None
        if not hmac.compare_digest(said.strip().lower().encode(), self.word.encode()):
            self._wrong += 1
            if self._wrong >= WRONG_LIMIT:
                self.word = ""
                self._say(f"{WRONG_LIMIT} wrong words: no new device is let in until you start this again")
            return None
        token = secrets.token_urlsafe(32)
        self._tokens.add(token)
        self.show_word()
        return token

    def knows(self, token: str | None) -> bool:
        """Return whether a device may see the app."""
        return not self.lan or token in self._tokens

    def is_ours(self, host: str) -> bool:
        """Return whether a request was meant for us. On the LAN any name may be; there the word decides."""
        return self.lan or host in {f"{name}:{self.port}" for name in (LOOPBACK, "localhost", "[::1]")}


class PageApp(AppService):
    """The app of one page: it does not outlive the page."""

    async def stop(self) -> None:
        """Ask the app to end, and end it if it does not."""
        process = self._process
        try:
            with suppress(TimeoutError):
                async with asyncio.timeout(LEAVE_S):
                    await super().stop()
                    if process is not None:
                        await process.wait()
        finally:
            if process is not None and process.returncode is None:
                process.kill()
                await process.wait()


class BenchServer(Server):
    """Serve the app: our page, our door, nothing from other machines."""

    def __init__(self, command: str, door: Door, *, looking_on: bool) -> None:
        super().__init__(command, host=EVERYWHERE if door.lan else LOOPBACK, port=door.port, title="layup")
        self.door = door
        self.looking_on = looking_on
        self._sockets: set[web.WebSocketResponse] = set()

    def initialize_logging(self) -> None:
        """Keep quiet, so that the word stays on the screen."""
        logging.basicConfig(level="WARNING", format="%(message)s")

    async def on_startup(self, app: web.Application) -> None:
        """Say nothing: the command has said where the app is."""

    async def on_shutdown(self, app: web.Application) -> None:
        """Close the pages, so that their apps end now and not when the last of them is left."""
        del app
        for socket in tuple(self._sockets):
            await socket.close(message=b"the server was stopped")

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self.guard)
        app.on_response_prepare.append(self._add_headers)
        app.add_routes([web.post("/enter", self.handle_word), web.get("/page.js", self.handle_script)])
        return app

    @web.middleware
    async def guard(
        self, request: web.Request, handler: Callable[[web.Request], Awaitable[web.StreamResponse]]
    ) -> web.StreamResponse:
        """Let a request through, ask for the word, or send it away."""
        if not self.door.is_ours(request.host):
            raise web.HTTPForbidden(text="This is not the address that the app is at.")
        origin = request.headers.get("Origin")
        foreign = origin is not None and urlsplit(origin).netloc != request.host
        if foreign or (request.path == "/ws" and origin is None):
            raise web.HTTPForbidden(text="Another page may not use the app.")
        if request.path == "/enter" or self.door.knows(request.cookies.get(self.door.cookie)):
            return await handler(request)
        if request.path != "/":
            raise web.HTTPUnauthorized(text="Say the word first.")
        return _page("word.html", status=401, wrong="")

    async def _add_headers(self, request: web.Request, response: web.StreamResponse) -> None:
        for name, value in _PAGE_HEADERS.items():
            response.headers[name] = value.format(host=request.host)

    async def handle_word(self, request: web.Request) -> web.Response:
        """Let a device in that says the word."""
        said = (await request.post()).get("word", "")
        token = self.door.open_to(said) if isinstance(said, str) else None
        if token is None:
            return _page("word.html", status=401, wrong="That is not the word that stands on the bench computer now.")
        found = web.Response(status=303, headers={"Location": "/"})
        found.set_cookie(self.door.cookie, token, httponly=True, samesite="Strict")
        return found

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """Run an app for as long as a page is open."""
        socket = web.WebSocketResponse(heartbeat=15)
        await socket.prepare(request)

        async def close() -> None:
            await socket.close()

        app = PageApp(
            self.command,
            write_bytes=socket.send_bytes,
            write_str=socket.send_str,
            close=close,
            download_manager=self.download_manager,
        )
        await app.start(to_int(request.query.get("width", ""), 80), to_int(request.query.get("height", ""), 24))
        self._sockets.add(socket)
        try:
            await self._process_messages(socket, app)
        finally:
            self._sockets.discard(socket)
            await app.stop()
        return socket

    async def handle_script(self, _request: web.Request) -> web.Response:
        """Return the page's own script."""
        return web.Response(text=_text("page.js"), content_type="text/javascript")

    async def handle_index(self, request: web.Request) -> Any:  # Any: the template decorator of the base hides its type
        """Return the page with the app in it."""
        buttons = "".join(
            f'<button type="button" data-key="{escape(key)}">{escape(title)}</button>'
            for key, (_, title, _) in PLACES.items()
        )
        scheme = "wss" if request.scheme == "https" else "ws"
        size = request.query.get("fontsize", "")
        return _page(
            "page.html",
            socket=f"{scheme}://{request.host}/ws",
            size=size if size.isascii() and size.isdigit() else "",
            looking_on="yes" if self.looking_on else "no",
            buttons=buttons,
        )


def _text(name: str) -> str:
    """Return a file of the page."""
    return (files("layup.commands") / "served" / name).read_text(encoding="utf-8")


def _page(name: str, *, status: int = 200, buttons: str = "", **words: str) -> web.Response:
    """Return a page with words filled in; `buttons` is markup already."""
    filled = Template(_text(name)).substitute({key: escape(word) for key, word in words.items()}, buttons=buttons)
    return web.Response(text=filled, status=status, content_type="text/html")
