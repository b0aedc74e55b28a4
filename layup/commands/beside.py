"""The page for tablets beside the app, or alone: its server, where it is, and what a device needs to come in."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from layup.errors import LayupError

if TYPE_CHECKING:
    from layup.app.app import LayupApp
    from layup.page.server import BenchServer, PageHost

UNSAFE = "nothing is encrypted on the way: do this only in a network whose users you trust"


def page_server(host: PageHost, *, port: int, lan: bool, watch: bool, say: Callable[[str], None]) -> BenchServer:
    """Return the server of the page; LayupError where its libraries are not installed."""
    try:
        from layup.page.door import Door
        from layup.page.server import BenchServer
    except ImportError as error:
        raise LayupError(
            "layup serve",
            "needs a part that is not installed",
            value=error.name,
            todo="install it with: pip install 'layup[serve]'",
        ) from error
    from layup.session.clock import SystemClock

    door = Door(lan=lan, port=port, role="viewer" if watch else "writer", say=say)
    return BenchServer(host, door, SystemClock())


def address(port: int, *, lan: bool) -> str:
    """Return where the page is."""
    from layup.page.door import LOOPBACK, lan_address

    return f"http://{lan_address() if lan else LOOPBACK}{'' if port == 80 else f':{port}'}/"


def code(where: str, word: str) -> str:
    """Return a square code of blocks: the address, with the word where no log and no other site sees it."""
    import io

    import segno

    out = io.StringIO()
    segno.make(f"{where}#{word}", micro=False).terminal(out, compact=True, border=2)
    return out.getvalue()


class Beside:
    """The page of the day that the app shows, in the app's own loop."""

    def __init__(self, app: LayupApp, *, port: int, lan: bool, watch: bool) -> None:
        self._app = app
        self.where = address(port, lan=lan)
        self.server = page_server(app, port=port, lan=lan, watch=watch, say=self._say)
        self.word = self.server.door.word

    async def start(self) -> None:
        """Listen, and say where; what is in the way is said too, and the app goes on without a page."""
        try:
            await self.server.start()
        except OSError as error:
            self._app.say(f"no page: port {self.server.door.port} cannot be used ({error.strerror or error})")
            return
        self._app.say(f"tablet: {self.where}   9 shows {'its word' if self.word else 'this'} again")

    async def stop(self) -> None:
        """Close the pages."""
        await self.server.stop()

    def words(self) -> str:
        """Return where the page is, the word for the next device, and both as a code for its camera."""
        if not self.word:
            return f"{self.where}\n\nOn this machine only: --lan lets tablets in."
        return f"{self.where}\nword for the next device: {self.word}\n\n{code(self.where, self.word)}\n{UNSAFE}"

    def _say(self, word: str) -> None:
        self.word = word
        if self._app.is_running:
            self._app.say("a device was let in; 9 shows the word for the next")
