"""The page's server: shows what the bench shows, passes taps on, lets in only who belongs, and outlives bad clients."""

import asyncio
import json
import re
import socket
from collections.abc import AsyncIterator
from contextlib import suppress
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest
from aiohttp import ClientResponse, CookieJar
from aiohttp.test_utils import TestClient, TestServer
from scripted_days import day_of

from layup.bench.day import PressDay
from layup.bench.view import bench_view, press_words, view_data
from layup.commands.view import view_lines
from layup.page.door import Door
from layup.page.server import HEADERS, LONGEST_BODY, MOST_OF_ONE, MOST_OPEN_OF_ONE, PATIENCE_S, BenchServer, lasting
from layup.page.taps import TAPS, view_of
from layup.session.clock import ManualClock
from layup.session.day_events import Note, SessionEnded
from layup.session.state_parts import PLAYED

HOME = "127.0.0.1:8737"
OURS = {"Host": HOME, "Origin": f"http://{HOME}"}


class Laptop:
    """A day that somebody else shows, too."""

    def __init__(self, day: PressDay | None) -> None:
        self.day = day
        self.heard: list[str] = []

    def page_logged(self, words: str) -> None:
        self.heard.append(words)


class Bench:
    """A server without a socket of its own, and a client of it."""

    def __init__(self, *, lan: bool = False, role: str = "writer", day: PressDay | None = None) -> None:
        self.day = day or day_of()
        self.laptop = Laptop(self.day)
        self.clock = ManualClock()
        self.door = Door(lan=lan, port=8737, role=role, say=lambda _: None)
        self.server = BenchServer(self.laptop, self.door, self.clock)
        self.client: TestClient

    async def __aenter__(self) -> "Bench":
        self.client = TestClient(TestServer(self.server.app()), cookie_jar=CookieJar(unsafe=True))
        await self.client.start_server()
        return self

    async def __aexit__(self, *_: object) -> None:
        for stream in self.server._streams:
            stream.offer("")
        await self.client.close()

    async def tap(self, name: str, /, headers: dict[str, str] = OURS, **fields: object) -> ClientResponse:
        return await self.client.post(f"/tap/{name}", json=fields, headers=headers)

    async def act(self, **more: object) -> dict[str, object]:
        drawn = bench_view(self.day).act
        fields = {"kind": drawn.kind, "words": drawn.words, "batch": drawn.batch, "step": drawn.step}
        return await (await self.tap("act", **fields, **more)).json()

    async def listen(self) -> ClientResponse:
        return await self.client.get("/stream", headers=OURS)


async def heard(response: ClientResponse) -> dict[str, object]:
    """Return the next view that a page is sent."""
    async with asyncio.timeout(5):
        line = b"retry"
        while line.startswith(b"retry"):
            line = await response.content.readuntil(b"\n\n")
    return json.loads(line.removeprefix(b"data: "))


@pytest.fixture
async def bench() -> AsyncIterator[Bench]:
    async with Bench() as found:
        yield found


# -- what is shown ---------------------------------------------------------------------------------------------------


async def test_a_page_gets_the_bench_view_at_once_and_every_change_of_it(bench):
    first, second = await bench.listen(), await bench.listen()
    for response in (first, second):
        view = await heard(response)
        expected = json.loads(json.dumps(view_data(bench.day, bench_view(bench.day))))
        assert {key: view[key] for key in expected} == expected
        assert view["writer"] is True
    bench.day.log(Note(text="the tip lifts"), "")
    bench.day.step_done()
    await bench.act(question="scale", answer="")
    for response in (first, second):
        assert (await heard(response))["act"] != view["act"]


async def test_the_page_says_what_the_scale_shows_what_to_add_and_whether_to_tare_and_ticks_no_waiting(bench):
    said = []
    for _ in range(4):
        view = view_of(bench.day)
        said.append([view["says"][name] for name in ("button", "of_number", "how")])
        await bench.act(question="scale", answer="")
    weigh, pour, read = "TARE CUP, resin first", "+86 g, DO NOT TARE", "DO NOT TARE"
    assert said[0] == [f"WEIGH BATCH 1\nSCALE TO 286 g\n{weigh}", "SCALE TO", weigh]
    assert said[1] == [f"POUR HARDENER\nSCALE TO 372 g\n{pour}", "SCALE TO", pour]
    assert said[3][0] == "", "it is stirred: what only takes time is no button"
    assert said[2] == [f"READ THE SCALE\nSHOULD BE 372 g\n{read}", "SHOULD BE", read]


async def test_nothing_is_sent_for_seconds_that_the_page_counts_itself_but_it_hears_of_us(bench):
    response = await bench.listen()
    before = await heard(response)
    bench.day.clock.advance(1.0)
    bench.server._told_s = bench.clock.monotonic_s()
    bench.server._said = lasting(before)
    bench.server._show()
    assert not any(stream.wake.is_set() for stream in bench.server._streams)
    bench.clock.advance(60.0)
    bench.server._show()
    assert (await heard(response))["at_s"] > before["at_s"]


async def test_without_a_day_the_page_says_so():
    async with Bench() as bench:
        bench.laptop.day = None
        assert (await heard(await bench.listen()))["day"] is None
        answer = await bench.tap("undo")
        assert answer.status == 409
        assert "no press day" in (await answer.json())["said"]


def test_the_page_is_small_needs_no_other_site_and_runs_no_script_of_its_own_lines():
    page = {name: (files("layup.page") / name).read_text("utf-8") for name in ("page.html", "page.css", "page.js")}
    assert sum(len(text.encode()) for text in page.values()) < 60_000
    assert not re.search(r"https?://|@import|\beval\(|innerHTML|outerHTML|document\.write", "".join(page.values()))
    assert not re.search(r"\son[a-z]+=|style=", page["page.html"])


# -- taps ------------------------------------------------------------------------------------------------------------


async def test_a_tap_logs_what_the_act_says_and_the_laptop_hears_of_it(bench):
    asked = await bench.act()
    assert asked["question"]["kind"] == "scale"
    assert asked["question"]["number"] == "286 g"
    answer = await bench.act(question="scale", answer="")
    assert answer["done"] is True
    assert bench.laptop.heard == [f"page: {answer['said']}"]
    assert bench.day.readings(1).poured_g == (286.0,)


async def test_an_empty_field_is_no_reading_and_one_far_off_is_asked_about_once(bench):
    refused = await bench.act(question="scale", answer=" ", typed=True)
    assert refused["done"] is False
    assert "is empty" in refused["said"]
    assert bench.day.readings(1).poured_g == ()
    await bench.act(question="scale", answer="200", typed=True)
    await bench.act(question="sure", about="200", answer=True)
    await bench.act()
    asked = (await bench.act(question="scale", answer="290", typed=True))["question"]
    assert asked["title"] == "290 g, not 260 g, 50 % too much hardener: typed right?"
    assert len(bench.day.readings(1).poured_g) == 1
    again = await bench.act(question="sure", about="290", answer=False)
    assert again["question"]["kind"] == "scale", "no: it is typed again"
    answer = await bench.act(question="sure", about="290", answer=True)
    assert answer["done"] is True
    assert bench.day.readings(1).poured_g == pytest.approx((200.0, 90.0))


async def test_an_act_that_has_changed_meanwhile_is_not_done(bench):
    answer = await bench.tap("act", kind="close", words="CLOSE THE PRESS", batch=None, step=None)
    assert answer.status == 409
    assert "read it again" in (await answer.json())["said"]
    assert bench.day.state.closed_s is None


async def test_looks_temperature_undo_and_seen_are_buttons_of_their_own(bench):
    await bench.act(question="scale", answer="")
    await bench.act()
    assert (await (await bench.tap("looks", batch=1, word="runny")).json())["done"] is True
    assert bench.day.state.batch(1).observations[-1][1] == "runny"
    assert (await (await bench.tap("temperature", value="18,5")).json())["done"] is True
    assert bench.day.air_K == pytest.approx(291.65)
    assert (await (await bench.tap("undo")).json())["done"] is True
    assert bench.day.air_K == pytest.approx(293.15)
    assert (await bench.tap("seen")).status == 200


@pytest.mark.parametrize(
    ("name", "fields"),
    [
        ("looks", {"batch": 1, "word": "<script>"}),
        ("looks", {"batch": True, "word": "runny"}),
        ("looks", {"batch": 99, "word": "runny"}),
        ("looks", {}),
        ("temperature", {"value": "warm"}),
        ("temperature", {"value": 20}),
        ("temperature", {"value": "2" * 500}),
        ("temperature", {"value": "900"}),
    ],
)
async def test_what_is_not_allowed_is_refused_in_words_and_nothing_is_logged(bench, name, fields):
    before = bench.day.state.seq
    answer = await bench.tap(name, **fields)
    assert answer.status in (400, 409)
    assert (await answer.json())["said"]
    assert bench.day.state.seq == before


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"\xff\xfe{}", b"1", b'{"a":' * 500, b"null"])
async def test_a_body_that_is_no_object_is_a_bad_request(bench, body):
    for kind in ("application/json; charset=nonsense", "multipart/form-data; boundary=", "text/plain"):
        answer = await bench.client.post("/tap/undo", data=body, headers=OURS | {"Content-Type": kind})
        assert answer.status == 400
        assert "Traceback" not in await answer.text()


async def test_what_is_too_long_is_refused(bench):
    answer = await bench.client.post("/tap/undo", data=b" " * (LONGEST_BODY + 1), headers=OURS)
    assert answer.status == 413
    assert (await bench.client.get("/", headers=OURS | {"X": "x" * 20_000})).status == 400


# -- who may ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "bench.example:8737", "Origin": "http://bench.example:8737"},
        {"Host": HOME, "Origin": "http://evil.example"},
        {"Host": HOME},
        {"Host": HOME, "Origin": f"http://{HOME}", "Sec-Fetch-Site": "cross-site"},
    ],
)
async def test_another_site_can_do_nothing_through_somebodys_browser(bench, headers):
    before = bench.day.state.seq
    for name in TAPS:
        assert (await bench.tap(name, headers=headers)).status == 403
    assert bench.day.state.seq == before


async def test_a_viewer_can_do_nothing():
    async with Bench(role="viewer") as bench:
        assert (await heard(await bench.listen()))["writer"] is False
        before = bench.day.state.seq
        for name in TAPS:
            assert (await bench.tap(name)).status == 403
        assert bench.day.state.seq == before


async def test_on_the_lan_a_device_says_the_word_first_and_stays_in_by_a_cookie():
    async with Bench(lan=True) as bench:
        assert (await bench.client.get("/", headers=OURS)).status == 200
        assert (await bench.client.get("/stream", headers=OURS)).status == 401
        assert (await bench.tap("undo")).status == 401
        wrong = await bench.client.post("/enter", json={"word": "wrong"}, headers=OURS)
        assert wrong.status == 403
        assert (await wrong.json())["wait_s"] == 1.0
        bench.clock.advance(2.0)
        right = await bench.client.post("/enter", json={"word": bench.door.word}, headers=OURS)
        cookie = right.headers["Set-Cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=Strict" in cookie
        assert (await heard(await bench.listen()))["writer"] is True


async def test_every_answer_says_what_a_page_may_load_and_names_no_version(bench):
    for path in ("/", "/page.js", "/page.css", "/nowhere"):
        answer = await bench.client.get(path, headers=OURS)
        assert {name: answer.headers[name] for name in HEADERS} == HEADERS
        assert answer.headers["Server"] == "layup"


# -- bad clients -----------------------------------------------------------------------------------------------------


async def test_one_address_gets_only_so_many_pages(bench):
    pages = [await bench.listen() for _ in range(MOST_OF_ONE)]
    assert all(page.status == 200 for page in pages)
    assert (await bench.listen()).status == 503
    pages[0].close()
    await heard(pages[1])
    bench.day.log(Note(text="x"), "")
    async with asyncio.timeout(5):
        while len(bench.server._streams) == MOST_OF_ONE:
            bench.clock.advance(60.0)
            bench.server._show()
            await asyncio.sleep(0)
            await heard(pages[1])


async def test_connections_that_never_ask_are_ended_and_a_page_that_listens_stays_live():
    """200 connections that send half a request, as slow clients do, beside one page."""
    found = Bench()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = BenchServer(found.laptop, Door(lan=False, port=port, role="writer", say=lambda _: None), found.clock)
    await server.start()
    try:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(f"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        async with asyncio.timeout(5):
            await reader.readuntil(b"data: ")
        slow = [await asyncio.open_connection("127.0.0.1", port) for _ in range(200)]
        for _, each in slow:
            each.write(b"GET / HTTP/1.1\r\nHost: ")
            await each.drain()
        server.end_idle()
        found.clock.advance(2.0 * PATIENCE_S)
        server.end_idle()
        for end, _ in slow:
            with suppress(ConnectionError):
                async with asyncio.timeout(5):
                    assert await end.read() == b""
        assert len(server._streams) == 1
        found.day.log(Note(text="still here"), "")
        found.day.read_scale(1, "281")
        async with asyncio.timeout(5):
            await reader.readuntil(b"POUR HARDENER")
        writer.close()
    finally:
        async with asyncio.timeout(5):
            await server.stop()


def test_the_limits_leave_room_for_what_one_browser_opens():
    assert MOST_OPEN_OF_ONE > 2 * MOST_OF_ONE


def test_the_page_is_in_the_package():
    assert {path.name for path in Path(str(files("layup.page"))).iterdir()} >= {"page.html", "page.css", "page.js"}


@pytest.mark.parametrize(
    ("kind", "mark"), [("press", ""), ("dry run", "DRY RUN"), ("play", "PLAY"), ("a note on play", "")]
)
async def test_the_page_gets_its_words_and_says_what_is_no_press_day(kind, mark):
    day = day_of()
    if kind == "play":
        day.log(Note(text=f"{PLAYED}an invented day"), "")
    if kind == "a note on play":
        day.log(Note(text="play: the hinge has some"), "")
    if kind == "dry run":
        day.source.state = replace(day.state, start=day.state.start.model_copy(update={"kind": "dry run"}))
    says = view_of(day)["says"]
    assert says["mode"] == mark
    assert says["act"].endswith(bench_view(day).act.words)
    assert says["press"].endswith("estimates")


async def test_of_a_press_that_was_never_closed_an_ended_session_says_nothing():
    day = day_of()
    day.log(SessionEnded(), "")
    assert press_words(day, bench_view(day)) == ([], False)
    assert "PRESS" not in "\n".join(view_lines(day, bench_view(day), width=80))


def test_the_page_keeps_no_words_for_stages_times_and_questions_of_its_own():
    script = (files("layup.page") / "page.js").read_text("utf-8")
    for words in ("last time", "LAPTOP", "empty by", "thickens", "open until", "PRESS BY", "may be over", "spare", "●"):
        assert words not in script, f"{words!r} is the server's to say"
