"""The page with many readers and two who tap at once: nothing is lost or logged twice, everybody is up to date.

A few readers by default; LAYUP_READERS=20 with -s takes twenty and 200 taps, and says what one of them costs.
"""

import asyncio
import json
import os
import socket
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from aiohttp import ClientSession, TCPConnector
from simulate.shop import Day, desk_for, workshop

from layup.bench.day import PressDay
from layup.bench.opening import begin
from layup.bench.scale_readings import STIR_S
from layup.page.door import Door
from layup.page.server import MOST_OF_ONE, BenchServer
from layup.session.clock import ManualClock
from layup.session.reader import read_journal
from layup.units import temperature

FEW = 3
READERS = int(os.environ.get("LAYUP_READERS", f"{FEW}"))
TAPS = 10 * READERS
STEPS = 5
"""So many steps are tapped by both at once."""
DEAREST = 2.0
"""How much more CPU a tap may cost with all readers than with the two who tap."""


@dataclass
class Laptop:
    """The day that is served, and what it hears of the taps."""

    day: PressDay
    heard: list[str] = field(default_factory=list)

    def page_logged(self, words: str) -> None:
        self.heard.append(words)


@dataclass
class Page:
    """One page that follows the day; each at an address of its own, as devices are."""

    session: ClientSession
    where: str
    views: list[bytes] = field(default_factory=list)
    came: asyncio.Event = field(default_factory=asyncio.Event)

    async def follow(self) -> None:
        async with self.session.get(f"{self.where}stream") as stream:
            while True:
                block = await stream.content.readuntil(b"\n\n")
                if block.startswith(b"data: "):
                    self.views.append(block.removeprefix(b"data: "))
                    self.came.set()

    async def tap(self, name: str, **fields: object) -> dict[str, object]:
        headers = {"Origin": self.where.rstrip("/")}
        async with self.session.post(f"{self.where}tap/{name}", json=fields, headers=headers) as answer:
            return {"status": answer.status, **await answer.json()}

    async def sure(self, name: str, **fields: object) -> dict[str, object]:
        """Tap, and say yes where that is asked first."""
        answer = await self.tap(name, **fields)
        asked = answer.get("question")
        return await self.tap(name, **fields, question=asked["kind"], answer=True) if asked else answer

    def last(self) -> dict[str, object]:
        return json.loads(self.views[-1])


def spoken(tenths: int) -> str:
    """Return one of the temperatures that are tapped, each only once, as a page offers it."""
    return temperature(283.15 + tenths / 10.0, ".1f")


@dataclass(frozen=True)
class Tapped:
    """What was confirmed on the pages of a day, and what a tap cost."""

    day: PressDay
    begun: int
    """The last entry before the first tap."""
    tap_s: float
    told: list[str]
    back: int
    steps: int


async def press_day(root, readers: int) -> Tapped:
    """Let two of the readers tap at once, each its own temperatures and undo, then both each step."""
    desk = desk_for(root, Day(people=2, temperature_K=293.15))
    clock = ManualClock()
    day = begin(desk, desk.figures, clock)
    for batch in [one.number for one in day.state.batches]:
        for do in (lambda n: day.read_scale(n, ""), day.hardener_in, lambda n: day.read_scale(n, "")):
            assert do(batch).done
    clock.advance(STIR_S)
    begun = day.state.seq
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = BenchServer(Laptop(day), Door(lan=False, port=port, role="writer", say=lambda _: None), clock)
    await server.start()
    where = f"http://127.0.0.1:{port}/"
    homes = [f"127.0.0.{2 + at // MOST_OF_ONE}" for at in range(readers)]
    pages = [Page(ClientSession(connector=TCPConnector(local_addr=(home, 0))), where) for home in homes]
    followers = [asyncio.create_task(page.follow()) for page in pages]
    try:
        async with asyncio.timeout(300):
            await shows(pages, bool)
            began_s = time.process_time()
            two = (pages[0], pages[-1])
            found = await asyncio.gather(
                *(tapping(page, range(at, TAPS // 2, 2), f"{at}") for at, page in enumerate(two))
            )
            tap_s = (time.process_time() - began_s) / TAPS
            steps = 0
            for number in [step.number for step in day.state.steps if step.left][:STEPS]:
                await shows(pages, lambda view: step_of(view)["step"] == number)  # noqa: B023 - awaited at once
                drawn = {key: step_of(pages[0].last())[key] for key in ("kind", "words", "batch", "step")}
                answers = await asyncio.gather(*(page.sure("act", **drawn) for page in two))
                assert {answer["status"] for answer in answers} <= {200, 409}
                steps += sum(bool(answer["done"]) for answer in answers)
            air, done = temperature(day.air_K, ".1f"), sum(step.done_s is not None for step in day.state.steps)
            await shows(pages, lambda view: (view["temperatures"][3], view["steps_done"]) == (air, done))
    finally:
        for follower in followers:
            follower.cancel()
        for page in pages:
            await page.session.close()
        await server.stop()
        day.close()
    return Tapped(day, begun, tap_s, [*found[0][0], *found[1][0]], found[0][1] + found[1][1], steps)


def step_of(view: dict[str, object]) -> dict[str, object]:
    """Return the step that a page shows, wherever it stands on it."""
    found = (view["act"], *view["others"], view["beside"])
    return next((act for act in found if act and act["kind"] == "step"), {"step": None})


async def shows(pages: list[Page], wanted: Callable[[dict[str, object]], bool]) -> None:
    """Wait until every page shows what is wanted, one after the other: nobody taps meanwhile."""
    for page in pages:
        while not (page.views and wanted(page.last())):
            page.came.clear()
            await page.came.wait()


async def tapping(page: Page, tenths: range, device: str) -> tuple[list[str], int]:
    """Tap temperatures and take each back again, whosever is the newest; return what was confirmed."""
    told, back = [], 0
    surface = {"surface": "phone", "device": device}
    for each in tenths:
        answer = await page.tap("temperature", value=spoken(each), **surface)
        if answer.get("done"):
            told.append(spoken(each))
        answer = await page.tap("undo", **surface)
        if asked := answer.get("question"):
            answer = await page.tap("undo", question="undo", about=asked["about"], answer=True, **surface)
        back += bool(answer.get("done"))
    return told, back


async def test_with_many_readers_each_confirmed_tap_is_in_the_journal_once_and_everybody_is_up_to_date(tmp_path):
    few = await press_day(workshop(tmp_path / "few"), 2)
    many = await press_day(workshop(tmp_path / "many"), READERS)
    kept, problems = read_journal(many.day.folder)
    assert problems == []
    kept = [record for record in kept if record.seq > many.begun]
    logged = [temperature(one.temperature_K, ".1f") for one in kept if one.event == "temperature-read"]
    assert len(many.told) == TAPS // 2, "each tap was answered"
    assert sorted(logged) == sorted(many.told), "each is in the journal, and once"
    assert sum(one.event == "undone" for one in kept) == many.back > TAPS // 4
    assert sum(one.event == "step-done" for one in kept) == many.steps == STEPS, "of two taps on one act one counts"
    print(
        f"\n{READERS} readers, {TAPS} taps of two: {1000.0 * many.tap_s:.0f} ms CPU a tap,"
        f" {many.tap_s / few.tap_s:.2f} of that with two readers; {many.steps} steps, two taps each"
    )
    if READERS > FEW:  # a cost is measured on demand alone: over few taps it is noise
        assert many.tap_s < DEAREST * few.tap_s
