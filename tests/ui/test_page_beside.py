"""The page for tablets beside the app: what is tapped is on the laptop at once, and what is keyed on the tablet."""

import asyncio
import json
import socket

from aiohttp import ClientSession
from app_driver import begin_day, press, running, said, workshop
from textual.widgets import Static

from layup.app.keys import works
from layup.app.place import PHONE_IN
from layup.commands.app import Beside


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


async def shown(stream) -> dict[str, object]:
    """Return the next view that the page is sent."""
    async with asyncio.timeout(10):
        while True:
            block = await stream.content.readuntil(b"\n\n")
            if block.startswith(b"data: "):
                return json.loads(block.removeprefix(b"data: "))


async def test_laptop_and_tablet_log_into_one_session_and_each_sees_the_other(tmp_path):
    async with running(workshop(tmp_path)) as (app, pilot):
        app.beside = Beside(app, port=free_port(), watch=False)
        app.beside.build(lan=False)
        await app.beside.start()
        assert app.beside.where in said(app)
        ours = {"Origin": app.beside.where.rstrip("/")}
        async with ClientSession() as tablet:
            stream = await tablet.get(f"{app.beside.where}stream")
            assert (await shown(stream))["day"] is None
            await begin_day(app, pilot)
            view = await shown(stream)
            while view.get("day", 0) is None or view["act"]["kind"] == "wait":
                view = await shown(stream)
            act = {key: view["act"][key] for key in ("kind", "words", "batch", "step")}
            before = app.day.state.seq
            done = await tablet.post(
                f"{app.beside.where}tap/act",
                json={**act, "question": "scale", "answer": "", "surface": "tablet"},
                headers=ours,
            )
            assert (await done.json())["done"] is True
            assert app.day.state.seq == before + 1
            assert said(app).startswith("tablet: resin")
            await press(app, pilot, "h")
            while not view["cups"]:
                view = await shown(stream)
            assert view["cups"][0]["batch"] == 1
            stream.close()
        await app.beside.stop()


async def test_a_port_that_is_taken_keeps_nobody_from_the_app(tmp_path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        async with running(workshop(tmp_path)) as (app, pilot):
            app.beside = Beside(app, port=other.getsockname()[1], watch=False)
            await press(app, pilot, "9", "c")
            assert "no page: port" in said(app)
            await begin_day(app, pilot)


async def test_one_key_shows_where_the_page_is_and_the_word_for_the_next_device(tmp_path):
    async with running(workshop(tmp_path), size=(80, 40)) as (app, pilot):
        await press(app, pilot, "9")
        assert "no page" in said(app)
        app.beside = Beside(app, port=free_port(), watch=False)
        await press(app, pilot, "9", "c")
        assert "On this computer only" in "\n".join(str(each.content) for each in app.screen.query(Static))
        await press(app, pilot, "escape", "9", "t")
        async with ClientSession() as tablet:
            page = await tablet.get(f"http://127.0.0.1:{app.beside.server.door.port}/")
            assert page.status == 200
        shown_words = "\n".join(str(each.content) for each in app.screen.query(Static))
        assert app.beside.word in shown_words
        assert app.beside.where in shown_words
        assert "nothing is encrypted" in shown_words
        await app.beside.stop()


async def test_the_way_in_is_shown_once_as_the_app_begins_and_its_key_stands_there_until_a_phone_came_in(tmp_path):
    async with running(workshop(tmp_path), size=(80, 40)) as (app, pilot):
        app.beside = Beside(app, port=free_port(), watch=False)
        app.beside.build(lan=True)
        await app.beside.start()
        app.to_begin = True
        app.beside.show_first()
        await pilot.pause()
        shown_words = "\n".join(str(each.content) for each in app.screen.query(Static))
        assert app.beside.word in shown_words
        assert app.beside.where in shown_words
        assert not app.to_begin, "nothing else is asked meanwhile"
        await press(app, pilot, "escape")
        assert app.screen is not app.base, "whether to begin is asked after it"
        await press(app, pilot, "escape")
        app.said_until_s = 0.0
        app.tick()
        assert said(app) == PHONE_IN
        home = f"http://127.0.0.1:{app.beside.server.door.port}"
        async with ClientSession() as phone:
            entered = await phone.post(f"{home}/enter", json={"word": app.beside.word}, headers={"Origin": home})
            assert entered.status == 200
        assert said(app).startswith("a device was let in")
        app.said_until_s = 0.0
        app.tick()
        assert said(app) == ""
        app.beside.show_first()
        assert app.screen is app.base
        await app.beside.stop()


async def test_one_key_turns_the_bell_off_and_on_but_a_digit_on_mix_is_a_reading_and_no_key_is_offered_there(tmp_path):
    async with running(workshop(tmp_path), size=(160, 50)) as (app, pilot):
        app.beside = Beside(app, port=free_port(), watch=False)
        await press(app, pilot, "0")
        assert not app.sound.on
        assert "sound off" in said(app)
        await press(app, pilot, "0")
        assert app.sound.on
        await begin_day(app, pilot)
        assert app.place.id == "mix"
        await press(app, pilot, "9", "0")
        assert app.place.typed == "90"
        assert not {"tablet", "sound"} & works(app)
        await press(app, pilot, "b")
        assert {"tablet", "sound"} <= works(app)
