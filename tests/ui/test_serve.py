"""The app in a browser: at home only, asks for a word on the LAN, lends itself to no other page, and only looks on."""

import argparse
import asyncio
import os
import re
import select
import shlex
import subprocess
import sys
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from aiohttp import ClientResponse, ClientWebSocketResponse, DummyCookieJar, WSMsgType, WSServerHandshakeError
from aiohttp.test_utils import TestClient, TestServer

from layup.bench.opening import begin
from layup.bench.planner import Planner
from layup.commands import serve, serving
from layup.commands.serving import WRONG_LIMIT, BenchServer, Door
from layup.errors import InputError, LayupError, StorageError
from layup.files.names import JOURNAL
from layup.files.workshop import new_workshop
from layup.session.clock import SystemClock

PORT = 8737
HERE = {"Host": f"127.0.0.1:{PORT}"}
OWN = HERE | {"Origin": f"http://127.0.0.1:{PORT}"}


class Served:
    """A server with what it said, and clients that send the cookies they are told to."""

    def __init__(self, *, lan: bool, command: str = "false") -> None:
        self.said: list[str] = []
        self.door = Door(lan=lan, port=PORT, say=self.said.append)
        self.server = BenchServer(command, self.door, looking_on=True)
        self.door.show_word()

    async def client(self) -> TestClient:
        """Return a client; it is closed with the test's loop."""
        client = TestClient(TestServer(await self.server._make_app()), cookie_jar=DummyCookieJar())
        await client.start_server()
        return client

    async def say_word(self, client: TestClient, word: str) -> ClientResponse:
        """Send a word as the page does."""
        return await client.post("/enter", data={"word": word}, headers=OWN, allow_redirects=False)


@pytest.fixture
async def home() -> AsyncIterator[TestClient]:
    """Return a client of a server on loopback."""
    client = await Served(lan=False).client()
    yield client
    await client.close()


@pytest.fixture
async def lan() -> AsyncIterator[tuple[Served, TestClient]]:
    """Return a server on the LAN and a device that has not said the word."""
    served = Served(lan=True)
    client = await served.client()
    yield served, client
    await client.close()


# -- on this machine ---------------------------------------------------------------------------------------------------


async def test_the_page_loads_nothing_from_elsewhere(home: TestClient) -> None:
    answer = await home.get("/", headers=HERE)
    page = await answer.text()
    assert answer.status == 200
    assert re.findall(r"(?:https?|wss?)://[^\s\"']+", page) == [f"ws://127.0.0.1:{PORT}/ws"]
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    for place in re.findall(r"(?:src|href)=\"([^\"]+)\"|url\(\"([^\"]+)\"\)", page):
        found = await home.get(place[0] or place[1], headers=HERE)
        assert found.status == 200, place


async def test_the_letters_of_the_page_can_be_made_larger_and_nothing_else(home: TestClient) -> None:
    assert 'data-font-size="22"' in await (await home.get("/?fontsize=22", headers=HERE)).text()
    assert 'data-font-size=""' in await (await home.get('/?fontsize="><script>', headers=HERE)).text()


@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1:1", f"127.0.0.1.evil.example:{PORT}"]
)
async def test_a_name_that_another_site_points_here_is_sent_away(home: TestClient, host: str) -> None:
    for path in ("/", "/page.js", "/static/js/textual.js", "/ws"):
        answer = await home.get(path, headers={"Host": host})
        assert answer.status == 403


@pytest.mark.parametrize("origin", [None, "http://evil.example", f"http://localhost.evil.example:{PORT}", "null"])
async def test_the_socket_is_for_our_own_page_only(home: TestClient, origin: str | None) -> None:
    headers = HERE | ({} if origin is None else {"Origin": origin})
    with pytest.raises(WSServerHandshakeError, match="403"):
        await home.ws_connect("/ws", headers=headers)


# -- on the LAN --------------------------------------------------------------------------------------------------------


async def test_nothing_is_shown_before_the_word(lan: tuple[Served, TestClient]) -> None:
    served, device = lan
    page = await device.get("/", headers=HERE)
    assert page.status == 401
    assert "terminal" not in await page.text()
    assert served.door.word not in await page.text()
    for path in ("/page.js", "/static/js/textual.js", "/download/x", "/no-such"):
        assert (await device.get(path, headers=HERE)).status == 401
    with pytest.raises(WSServerHandshakeError, match="401"):
        await device.ws_connect("/ws", headers=OWN)


async def test_the_word_lets_one_device_in_and_then_another_word_is_said(lan: tuple[Served, TestClient]) -> None:
    served, device = lan
    word = served.door.word
    assert re.fullmatch(r"([bdfghjklmnprstvz][aeiou]){4}", word)
    assert (await served.say_word(device, "wrong")).status == 401
    answer = await served.say_word(device, f" {word.upper()} ")
    assert (answer.status, answer.headers["Location"]) == (303, "/")
    assert re.search(r"HttpOnly.*SameSite=Strict", answer.headers["Set-Cookie"])
    token = answer.cookies[served.door.cookie].value
    assert served.said == [f"word for the next device: {word}", f"word for the next device: {served.door.word}"]
    assert served.door.word != word
    in_ = HERE | {"Cookie": f"{served.door.cookie}={token}"}
    assert (await device.get("/", headers=in_)).status == 200
    assert (await device.get("/page.js", headers=in_)).status == 200
    assert (await served.say_word(device, word)).status == 401, "a word is good once"
    assert (await device.get("/", headers=HERE | {"Cookie": f"{served.door.cookie}=x{token[1:]}"})).status == 401


async def test_another_page_cannot_say_the_word(lan: tuple[Served, TestClient]) -> None:
    served, device = lan
    headers = HERE | {"Origin": "http://evil.example"}
    answer = await device.post("/enter", data={"word": served.door.word}, headers=headers)
    assert answer.status == 403


async def test_after_many_wrong_words_the_door_stays_shut_for_new_devices(lan: tuple[Served, TestClient]) -> None:
    served, device = lan
    first = (await served.say_word(device, served.door.word)).cookies[served.door.cookie].value
    word = served.door.word
    for _ in range(WRONG_LIMIT):
        assert (await served.say_word(device, "bababaaa")).status == 401
    assert (await served.say_word(device, word)).status == 401
    assert (await served.say_word(device, "")).status == 401
    assert "no new device is let in" in served.said[-1]
    assert (await device.get("/", headers=HERE | {"Cookie": f"{served.door.cookie}={first}"})).status == 200


# -- the command -------------------------------------------------------------------------------------------------------


def arguments(words: list[str]) -> argparse.Namespace:
    """Return what `layup serve` makes of its words."""
    parser = argparse.ArgumentParser()
    serve.add_arguments(parser)
    return parser.parse_args(words)


def test_it_listens_on_this_machine_and_looks_on_unless_told_otherwise() -> None:
    given = arguments([])
    assert (given.lan, given.writer) == (False, False)
    assert Served(lan=False).server.host == "127.0.0.1"
    assert Served(lan=True).server.host == "0.0.0.0"
    words = serve.opening_words(PORT, lan=False, writer=False)
    assert words.startswith(f"the app is at http://127.0.0.1:{PORT}/  (on this machine only, looking on only)")
    assert "nothing is encrypted" in serve.opening_words(PORT, lan=True, writer=True)


@pytest.mark.skipif(sys.platform == "win32", reason="the words of a POSIX shell")
def test_a_folder_with_odd_characters_stays_one_word_of_the_command() -> None:
    root = Path("/sheds/it's $HOME; a `shed`")
    words = ["exec", sys.executable, "-m", "layup.commands.served_app", str(root)]
    assert shlex.split(serve.command(root, writer=True)) == words
    assert shlex.split(serve.command(root, writer=False)) == [*words, "--watch"]


def test_without_its_extra_it_says_how_to_install_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    new_workshop(tmp_path / "w")
    monkeypatch.setitem(sys.modules, "textual_serve.server", None)
    monkeypatch.delitem(sys.modules, "layup.commands.serving")
    with pytest.raises(LayupError, match=r"needs a part that is not installed .* pip install 'layup\[serve\]'"):
        serve.run(arguments(["--workshop", str(tmp_path / "w")]))


def test_what_cannot_be_served_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"--port: is no port \(0\)"):
        serve.run(arguments(["--port", "0"]))
    with pytest.raises(StorageError, match="is not a workshop"):
        serve.run(arguments(["--workshop", str(tmp_path)]))


# -- looking on, end to end --------------------------------------------------------------------------------------------


async def test_who_looks_on_sees_the_day_and_never_writes(tmp_path: Path) -> None:
    new_workshop(tmp_path / "w")
    planner = Planner(tmp_path / "w")
    planner.load()
    assert planner.figures is not None, planner.problem
    day = begin(planner, planner.figures, SystemClock())
    assert day.hardener_in(1).done
    day.close()
    before = {path: path.read_bytes() for path in (tmp_path / "w").rglob("*") if path.is_file()}
    served = Served(lan=False, command=serve.command(tmp_path / "w", writer=False))
    client = await served.client()
    async with client.ws_connect("/ws?width=100&height=30", headers=OWN) as socket:
        await shown(socket, "LOOKING ON")
        for keys, answer in (
            *(("d", "only looking on"), ("n", "anything worth knowing"), ("x\r", "only looking on")),
            *(("s", "TEMPERATURE WINDOW"), ("g", "looking on only"), ("l", "LOGBOOK  1 session")),
        ):
            await socket.send_json(["stdin", keys])
            await shown(socket, answer)
        await socket.send_json(["stdin", "q"])
        while (await socket.receive()).type == WSMsgType.BINARY:
            pass
    await client.close()
    assert {path: path.read_bytes() for path in (tmp_path / "w").rglob("*") if path.is_file()} == before
    assert (day.folder / JOURNAL) in before


async def test_an_app_that_does_not_end_with_its_page_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serving, "LEAVE_S", 0.1)
    said = tmp_path / "process"
    code = f"import os, time; open({str(said)!r}, 'w').write(str(os.getpid())); print('__GANGLION__', flush=True)"
    served = Served(lan=False, command=f"exec {shlex.join([sys.executable, '-c', code + '; time.sleep(600)'])}")
    client = await served.client()
    async with client.ws_connect("/ws", headers=OWN):
        async with asyncio.timeout(30):
            while not said.exists() or not said.read_text(encoding="ascii"):
                await asyncio.sleep(0.01)
        process_id = int(said.read_text(encoding="ascii"))
        os.kill(process_id, 0)
    await client.close()
    with pytest.raises(ProcessLookupError, match="No such process"):
        os.kill(process_id, 0)


SERVER = """
import os, subprocess, sys
app = subprocess.Popen(
    [sys.executable, "-m", "layup.commands.served_app", sys.argv[1]], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    pass_fds=[int(sys.argv[2])], env={**os.environ, "TEXTUAL_DRIVER": "textual.drivers.web_driver:WebDriver"},
)
os.close(int(sys.argv[2]))
print(app.stdout.readline().decode(), end="", flush=True)
while app.stdout.read1():
    pass
"""


@pytest.mark.skipif(os.name != "posix", reason="needs SIGKILL")
def test_an_app_does_not_outlive_a_server_that_was_killed(tmp_path: Path) -> None:
    new_workshop(tmp_path / "w")
    end, held_by_app = os.pipe()
    words = [sys.executable, "-c", SERVER, str(tmp_path / "w"), str(held_by_app)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, pass_fds=[held_by_app]) as server:
        os.close(held_by_app)
        assert server.stdout is not None
        assert server.stdout.readline() == "__GANGLION__\n"
        server.kill()
    ready, _, _ = select.select([end], [], [], 60.0)
    assert ready, "the app runs on"
    assert os.read(end, 1) == b"", "the app has ended, and nothing holds the pipe any more"
    os.close(end)


async def shown(socket: ClientWebSocketResponse, words: str) -> None:
    """Wait until some words were sent to the screen."""
    seen = ""
    async with asyncio.timeout(30):
        while words not in seen:
            message = await socket.receive()
            assert message.type == WSMsgType.BINARY, f"closed after {seen[-500:]}"
            seen += re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", message.data.decode())
