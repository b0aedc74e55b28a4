"""A day that a real browser shows: a server in a thread of its own, and headless Chromium from the system."""

import asyncio
import shutil
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from typing import Any

import pytest
from playwright.sync_api import Browser, sync_playwright
from scripted_days import day_of

from layup.bench.day import PressDay
from layup.page.door import Door
from layup.page.server import BenchServer
from layup.session.clock import ManualClock, SystemClock

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")


class Shown:
    """One day and its page's server, which run in their own loop; `do` is the way in from the test."""

    def __init__(self, day: PressDay, port: int = 0, role: str = "writer") -> None:
        self.day: PressDay | None = day
        self.role = role
        self.port = port
        self.heard: list[str] = []
        self.loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self.loop.run_forever, daemon=True)
        self._thread.start()
        self.server: BenchServer
        self.up()

    def page_logged(self, words: str) -> None:
        self.heard.append(words)

    def do(self, work: Callable[[], Any]) -> Any:
        """Run something in the server's loop, where nothing else runs meanwhile."""
        done: Future[Any] = Future()

        def run() -> None:
            try:
                done.set_result(work())
            except BaseException as error:  # noqa: BLE001 - raised again in the test's own thread
                done.set_exception(error)

        self.loop.call_soon_threadsafe(run)
        return done.result(timeout=10)

    def later(self, seconds: float) -> None:
        """Let time pass on the bench."""
        assert self.day is not None
        clock = self.day.clock
        assert isinstance(clock, ManualClock)
        self.do(lambda: clock.advance(seconds))

    def up(self) -> None:
        """Listen, on the same port as before."""

        async def start() -> None:
            door = Door(lan=False, port=self.port, role=self.role, say=lambda _: None)
            self.server = BenchServer(self, door, SystemClock())
            await self.server.start()
            assert self.server._server is not None
            self.port = door.port = self.server._server.sockets[0].getsockname()[1]

        asyncio.run_coroutine_threadsafe(start(), self.loop).result(timeout=10)

    def down(self) -> None:
        """Stop listening."""
        asyncio.run_coroutine_threadsafe(self.server.stop(), self.loop).result(timeout=10)

    def end(self) -> None:
        """Stop for good."""
        self.down()
        self.loop.call_soon_threadsafe(self.loop.stop)
        self._thread.join(timeout=10)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium as the system has it."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    assert found, "install Chromium: the page is tried in a real browser"
    with sync_playwright() as playwright:
        one = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield one
        one.close()


@pytest.fixture
def shown(request: pytest.FixtureRequest) -> Iterator[Shown]:
    """A press day of two at 20 °C that begins now, for somebody who may log unless another role is asked for."""
    found = Shown(day_of(), role=getattr(request, "param", "writer"))
    yield found
    found.end()
